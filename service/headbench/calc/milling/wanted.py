"""Wanted: how deep to cut for what is wanted of a milled head, or how near one can come."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from headbench.calc.cylinders.chamber_shape import ChamberShape
from headbench.calc.cylinders.cylinder import Compression
from headbench.calc.cylinders.wanted import ForTargets, RatioTargets, Reached, for_targets, reach
from headbench.calc.milling.equal_chambers import EqualChambers, equal_chambers
from headbench.calc.movement.cuts import cut_for_ratio, cut_for_volume
from headbench.errors import NotReachable


@dataclass(frozen=True, slots=True)
class MillingTargets:
    """What is wanted of a head; depths are of one flat cut from the head as it was measured.

    ratio : RatioTargets, ratio and quench, for the cylinders [-]
    chamber_volume : float, to the new deck, sunk valves included; NaN not asked [m3]
    equal_chambers : bool, whether all are to come to one volume: that one, or the smallest there is [-]
    """

    ratio: RatioTargets = RatioTargets()  # noqa: RUF009 - it is frozen
    chamber_volume: float = math.nan
    equal_chambers: bool = False


@dataclass(frozen=True, slots=True)
class DepthWanted:
    """How deep to cut for one chamber.

    reached : Reached, the depth and what comes nearest
    beyond_pours : float, how far that goes deeper than the chamber was poured; NaN where there is no depth [m]
    """

    reached: Reached
    beyond_pours: float


@dataclass(frozen=True, slots=True)
class EqualWanted:
    """How the chambers of a bank come to one volume.

    aim : float, volume that all are brought to; NaN where none is measured [m3]
    nearest : float, the nearest that the largest one can have [m3]
    why : str, what is in the way, "" for nothing
    found : EqualChambers, NaN where it can't be reached, or nothing is measured
    beyond_pours : float, how far the cut goes deeper than the chamber was poured; NaN where there is none [m]
    """

    aim: float
    nearest: float
    why: str
    found: EqualChambers
    beyond_pours: float


@dataclass(frozen=True, slots=True)
class WantedOfHead:
    """What it takes to get there; None where it was not asked for, or cannot be without a cylinder.

    for_volume : list of DepthWanted or None (C)
    for_ratio : list of DepthWanted or None (C)
    cylinders : list of ForTargets or None (C), chamber or gasket instead, with this cut taken
    equal : EqualWanted or None
    """

    for_volume: list[DepthWanted] | None
    for_ratio: list[DepthWanted] | None
    cylinders: list[ForTargets] | None
    equal: EqualWanted | None


_UNKNOWN: Final = Reached(needed=math.nan, nearest=math.nan, why="")


def wanted_of_head(
    targets: MillingTargets,
    chamber_volume: Sequence[float],
    shape: ChamberShape | None,
    deepest_cut: float,
    bank: Compression | None,
    quench_minimum: float = 0.0,
) -> WantedOfHead:
    """Depth of cut, chamber or gasket that gives every chamber of a head what is wanted of it.

    Parameters
    ----------
    targets : MillingTargets
        What is wanted [-]
    chamber_volume : sequence of float (C)
        Volumes before the cut, sunk valves included; NaN where one is not measured [m3]
    shape : ChamberShape or None
        Volume that a depth takes; None not known [-]
    deepest_cut : float
        The most that may come off; infinite for no limit [m]
    bank : Compression or None
        The cylinders after the work; None where none is given [-]
    quench_minimum : float
        The least quench that is allowed; 0 where only touching is rejected [m]

    Returns
    -------
    WantedOfHead

    >>> from headbench.calc.cylinders.chamber_shape import from_area
    >>> wanted = wanted_of_head(MillingTargets(chamber_volume=59.0e-6), [64.0e-6], from_area(50.0e-4), math.inf, None)
    >>> round(wanted.for_volume[0].reached.needed * 1e3, 9)
    1.0
    """
    ratio = targets.ratio.static_ratio
    for_volume = for_ratio = cylinders = None
    if not math.isnan(targets.chamber_volume):
        for_volume = [
            _depth(reach(cut_for_volume, targets.chamber_volume, volume, shape, deepest_cut), shape)
            if shape is not None
            else DepthWanted(_UNKNOWN, math.nan)
            for volume in chamber_volume
        ]
    if bank is not None:
        cylinders = for_targets(targets.ratio, bank, quench_minimum)
        if ratio > 1.0:
            for_ratio = [
                _depth(
                    reach(cut_for_ratio, ratio, bank.swept_volume, over.without_chamber, volume, shape, deepest_cut),
                    shape,
                )
                if shape is not None
                else DepthWanted(_UNKNOWN, math.nan)
                for over, volume in zip(bank.pistons, chamber_volume, strict=True)
            ]
    equal = _equal(targets, chamber_volume, shape, deepest_cut) if targets.equal_chambers else None
    return WantedOfHead(for_volume, for_ratio, cylinders, equal)


def _depth(reached: Reached, shape: ChamberShape) -> DepthWanted:
    return DepthWanted(reached, shape.beyond_pours(reached.needed))


def _equal(
    targets: MillingTargets, volume: Sequence[float], shape: ChamberShape | None, deepest_cut: float
) -> EqualWanted:
    """The least cut that leaves no chamber too large, or the nearest volume the largest one can have."""
    known = [one for one in volume if not math.isnan(one)]
    complete = len(known) == len(volume) > 0
    asked = None if math.isnan(targets.chamber_volume) else targets.chamber_volume
    aim = min(known, default=math.nan) if asked is None else asked
    none = [math.nan] * len(volume)
    nothing = EqualChambers(math.nan, none, math.nan, none, none, math.nan, complete=complete)
    if shape is None or not known:
        return EqualWanted(aim, math.nan, "", nothing, math.nan)
    try:
        found = equal_chambers(volume, asked, shape, deepest_cut)
    except NotReachable as short:
        return EqualWanted(aim, short.nearest, str(short), nothing, math.nan)
    return EqualWanted(aim, found.wanted_volume, "", found, shape.beyond_pours(found.common_cut))
