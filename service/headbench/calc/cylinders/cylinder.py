"""Cylinder: what is left over the pistons of a bank, and the compression ratios that makes, chamber by chamber."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from headbench.calc.cylinders import compression_ratio as parts
from headbench.calc.cylinders.piston_travel import effective_ratio, find_crank_faults, piston_stroke
from headbench.calc.judging.touching import clearance_verdict


@dataclass(frozen=True, slots=True)
class Cylinder:
    """What all cylinders of a bank have in common, NaN where it was not measured.

    bore, stroke : float, cylinder bore, and twice the crank's throw [m]
    deck_clearance : float, flat of the crown below (+) or above (-) the block's deck at top dead center [m]
    dish_volume, dome_volume : float, below and above the flat of the crown [m3]
    gasket_thickness : float, of the head gasket once tightened down [m]
    gasket_bore, opening_area : float, of its opening: the bore where it is round, else the area [m, m2]
    ring_land : tuple of float, diameter and height of the piston above its top ring; None leaves the crevice out [m]
    rod_length, pin_offset : float, see `piston_travel` [m]
    intake_closing : float, crank angle after bottom dead center [rad]
    intake_closing_lift : float, lift at which that was read; without it a closing angle means nothing [m]
    """

    bore: float = math.nan
    stroke: float = math.nan
    deck_clearance: float = math.nan
    dish_volume: float = 0.0
    dome_volume: float = 0.0
    gasket_thickness: float = math.nan
    gasket_bore: float = math.nan
    opening_area: float = math.nan
    ring_land: tuple[float, float] | None = None
    rod_length: float = math.nan
    pin_offset: float = 0.0
    intake_closing: float = math.nan
    intake_closing_lift: float = math.nan


@dataclass(frozen=True, slots=True)
class Chamber:
    """One chamber and the piston under it, NaN where it was not measured.

    volume : float, of the chamber, to the head's deck [m3]
    deck_clearance : float, of its own piston, in place of the one all have in common [m]
    """

    volume: float = math.nan
    deck_clearance: float = math.nan


@dataclass(frozen=True, slots=True)
class OverPiston:
    """What is left over one piston at top dead center; NaN where a reading is missing.

    chamber_volume : float, to the head's deck [m3]
    deck_clearance : float, flat of the crown below (+) or above (-) the block's deck [m]
    quench : float, flat of the crown to flat of the head [m]
    quench_verdict : int, Verdict code: against the least that is allowed, touching rejected whatever that is [-]
    deck_volume : float, between crown and block's deck [m3]
    without_chamber, without_gasket : float, the clearance volume less one of its parts [m3]
    clearance_volume : float, all of it [m3]
    static_ratio, effective_ratio : float, from dead center, and from the closing of the intake valve; NaN also where
        no room is left [-]
    """

    chamber_volume: float
    deck_clearance: float
    quench: float
    quench_verdict: int
    deck_volume: float
    without_chamber: float
    without_gasket: float
    clearance_volume: float
    static_ratio: float
    effective_ratio: float


@dataclass(frozen=True, slots=True)
class Compression:
    """The compression of a bank; NaN where a reading is missing.

    swept_volume : float, of one piston; NaN also where its rod is too short to turn [m3]
    opening_area : float, of the gasket [m2]
    gasket_volume, crevice_volume : float, the crevice 0 where it is left out [m3]
    pistons : list of OverPiston (C)
    """

    swept_volume: float
    opening_area: float
    gasket_volume: float
    crevice_volume: float
    pistons: list[OverPiston]


def compression(
    cylinder: Cylinder,
    chambers: Sequence[Chamber],
    *,
    block_decked: float = 0.0,
    gasket_thickness_change: float = 0.0,
    quench_minimum: float = 0.0,
) -> Compression:
    """Clearance volume, quench and compression ratios of every cylinder of a bank.

    Parameters
    ----------
    cylinder : Cylinder
        What its cylinders have in common, before any work [-]
    chambers : sequence of Chamber (C)
        Its chambers [-]
    block_decked : float
        What comes off the block's deck [m]
    gasket_thickness_change : float
        New compressed gasket less the old one [m]
    quench_minimum : float
        The least quench that is allowed; 0 where only touching is rejected [m]

    Returns
    -------
    Compression

    Notes
    -----
    `compression_ratio` and `piston_travel` have the formulas and what they rest on; `find_crank_faults` and
    `find_ratio_faults` find what cannot be, and leaves no ratio.

    >>> bank = Cylinder(bore=0.100, stroke=0.080, deck_clearance=0.0, gasket_thickness=1.0e-3, opening_area=80.0e-4)
    >>> found = compression(bank, [Chamber(volume=62.0e-6)])
    >>> round(found.pistons[0].static_ratio, 3), round(found.pistons[0].quench * 1e3, 9)
    (9.976, 1.0)
    """
    bore, thickness = cylinder.bore, cylinder.gasket_thickness + gasket_thickness_change
    area = parts.round_opening(cylinder.gasket_bore) if math.isnan(cylinder.opening_area) else cylinder.opening_area
    in_gasket = parts.gasket_volume(area, thickness)
    crevice = 0.0 if cylinder.ring_land is None else parts.crevice_volume(bore, *cylinder.ring_land)
    crank = cylinder.stroke, cylinder.rod_length, cylinder.pin_offset
    turns = not find_crank_faults([crank[0]], [crank[1]], [crank[2]], [math.nan])
    travel = cylinder.stroke
    if cylinder.pin_offset != 0.0:
        travel = piston_stroke(*crank) if turns else math.nan
    swept = parts.swept_volume(bore, travel)
    closes = turns and not math.isnan(cylinder.intake_closing_lift)

    def over(chamber: Chamber) -> OverPiston:
        own = cylinder.deck_clearance if math.isnan(chamber.deck_clearance) else chamber.deck_clearance
        deck_clearance = own - block_decked
        deck = parts.deck_volume(bore, deck_clearance)
        piston = deck, cylinder.dish_volume, cylinder.dome_volume, crevice
        volume = parts.clearance_volume(chamber.volume, in_gasket, *piston)
        quench = parts.quench(deck_clearance, thickness)
        static = effective = math.nan
        if volume > 0.0:
            static = parts.static_ratio(swept, volume)
            effective = effective_ratio(bore, *crank, cylinder.intake_closing, volume) if closes else math.nan
        return OverPiston(
            chamber_volume=chamber.volume,
            deck_clearance=deck_clearance,
            quench=quench,
            quench_verdict=clearance_verdict(quench, quench_minimum),
            deck_volume=deck,
            without_chamber=parts.clearance_volume(0.0, in_gasket, *piston),
            without_gasket=parts.clearance_volume(chamber.volume, 0.0, *piston),
            clearance_volume=volume,
            static_ratio=static,
            effective_ratio=effective,
        )

    return Compression(
        swept_volume=swept,
        opening_area=area,
        gasket_volume=in_gasket,
        crevice_volume=crevice,
        pistons=[over(chamber) for chamber in chambers],
    )
