"""Milling: everything that changes with what comes off a head, computed together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from headbench.calc.cylinders.chamber_shape import ChamberShape, from_area
from headbench.calc.cylinders.cylinder import Chamber, Compression, Cylinder, compression
from headbench.calc.intake.manifold import IntakeFit, IntakeSide, fit_manifold
from headbench.calc.judging.touching import clearance_verdict
from headbench.calc.milling.cam_timing import CamAfter, CamDrive, cam_after
from headbench.calc.milling.wanted import MillingTargets, WantedOfHead, wanted_of_head
from headbench.calc.movement.cuts import cut_chambers, head_thickness_after
from headbench.calc.movement.movement import Movement
from headbench.calc.movement.seats import Seat
from headbench.calc.pistons.clearances import ClearanceLeft, ValveOverPiston, clearances_left, sunk_by
from headbench.calc.pistons.piston_to_valve import SunkValve
from headbench.calc.pushrods.pushrods import Adjuster, Lifters, Pushrod, PushrodsAfter, pushrods_after


@dataclass(frozen=True, slots=True)
class HeadChamber:
    """One chamber of a head that is milled, NaN where it was not measured.

    volume : float, to the old deck [m3]
    deck_clearance : float, of its own piston, in place of the one all have in common [m]
    distance_across : float, where its middle lies, the centroid of its area at the deck; an angle cut asks for it [m]
    head_thickness : float, at this chamber before the cut, deck to cover rail [m]
    """

    volume: float = math.nan
    deck_clearance: float = math.nan
    distance_across: float = math.nan
    head_thickness: float = math.nan


@dataclass(frozen=True, slots=True)
class HeadSeat:
    """What was done to the seat of one valve, and where.

    seat : Seat
    chamber : int or None, place of the chamber it is in; None where nobody said [-]
    head_diameter : float, of the valve; NaN not measured [m]
    """

    seat: Seat = Seat()  # noqa: RUF009 - it is frozen
    chamber: int | None = None
    head_diameter: float = math.nan


@dataclass(frozen=True, slots=True)
class Head:
    """One head, what comes off it, and what is known of all that it moves.

    movement : Movement, what lets it drop
    chambers : sequence of HeadChamber (C)
    shape : ChamberShape or None, volume that a depth takes from a chamber; None not known
    seats : sequence of HeadSeat (V), its valves
    poured : str or None, whether the chambers were cc'd before or after the seats were cut; None where nobody said
    head_thickness_minimum : float, the least thickness its maker wants left; 0 where only nothing is too little [m]
    cylinder : Cylinder or None
    quench_minimum : float, the least quench that is allowed; 0 where only touching is rejected [m]
    targets : MillingTargets or None
    pushrods : sequence of Pushrod (P)
    lifters, adjuster : Lifters, and Adjuster or None
    misses_reject : bool, whether a preload off its range is rejected [-]
    valves : sequence of ValveOverPiston (L), valves whose clearance to the piston was read
    cam_drive : CamDrive or None, of an overhead cam
    intake : IntakeSide or None, of a V
    other_head : Movement or None, of the other bank; None for the same as this one
    """

    movement: Movement
    chambers: Sequence[HeadChamber] = ()
    shape: ChamberShape | None = None
    seats: Sequence[HeadSeat] = ()
    poured: Literal["before_seats", "after_seats"] | None = None
    head_thickness_minimum: float = 0.0
    cylinder: Cylinder | None = None
    quench_minimum: float = 0.0
    targets: MillingTargets | None = None
    pushrods: Sequence[Pushrod] = ()
    lifters: Lifters = Lifters()  # noqa: RUF009 - it is frozen
    adjuster: Adjuster | None = None
    misses_reject: bool = False
    valves: Sequence[ValveOverPiston] = ()
    cam_drive: CamDrive | None = None
    intake: IntakeSide | None = None
    other_head: Movement | None = None


@dataclass(frozen=True, slots=True)
class MilledChamber:
    """One chamber before and after the cut; NaN where a reading is missing.

    depth, head_drop : float, what comes off the deck at its middle, and how far the head drops there [m]
    volume_before, removed, sunk_volume, volume_after : float, as it was cc'd, what the cut takes, what the seats of its
        valves add to what was cc'd, and what that leaves [m3]
    beyond_pours : float, how much deeper the cut goes than the chamber was poured [m]
    thickness_left : float, of the head [m]
    thickness_verdict : int, Verdict code; nothing left is rejected whatever the least is [-]
    """

    depth: float
    head_drop: float
    volume_before: float
    removed: float
    sunk_volume: float
    volume_after: float
    beyond_pours: float
    thickness_left: float
    thickness_verdict: int


@dataclass(frozen=True, slots=True)
class MilledHead:
    """One head before and after; what was not asked for is None, or has no rows.

    movement : Movement
    seats : list of SunkValve (V), what the work on each seat does
    chambers : list of MilledChamber (C)
    before, uncut, after : Compression or None, as measured; with block decked and gasket changed alone; after the work
    wanted : WantedOfHead or None, what gives the targets
    pushrods : PushrodsAfter
    valves : list of ClearanceLeft (L)
    cam : CamAfter or None
    intake : IntakeFit or None
    """

    movement: Movement
    seats: list[SunkValve[float]]
    chambers: list[MilledChamber]
    before: Compression | None
    uncut: Compression | None
    after: Compression | None
    wanted: WantedOfHead | None
    pushrods: PushrodsAfter
    valves: list[ClearanceLeft]
    cam: CamAfter | None
    intake: IntakeFit | None


def mill(head: Head) -> MilledHead:
    """Every dimension that changes with what comes off a head: chambers, ratios, pushrods, clearances, cam and intake.

    Parameters
    ----------
    head : Head
        The head and what comes off it [-]

    Returns
    -------
    MilledHead

    Notes
    -----
    Each part rests on the kernels of its own room. What cannot be is found by their `find_..._faults`, before or after:
    nothing here refuses a number.

    >>> chamber = HeadChamber(volume=64.0e-6, head_thickness=0.130)
    >>> head = Head(Movement(depth=1.0e-3), [chamber], from_area(50.0e-4), pushrods=[Pushrod(0.2, 0.0, 0.5e-3)])
    >>> milled = mill(head)
    >>> round(milled.chambers[0].volume_after * 1e6, 9), round(milled.chambers[0].thickness_left, 9)
    (59.0, 0.129)
    >>> round(milled.pushrods.pushrods[0].preload * 1e3, 9)
    1.5
    """
    movement = head.movement
    seats = [sunk_by(one.seat, one.head_diameter, math.nan) for one in head.seats]
    chambers = [_chamber(one, sunk, head) for one, sunk in zip(head.chambers, _sunk_volumes(head, seats), strict=True)]
    before = uncut = after = None
    if head.cylinder is not None:
        before = _compression(head, head.cylinder, [one.volume_before for one in chambers], worked=False)
        uncut = _compression(head, head.cylinder, [one.volume_before for one in chambers])
        after = _compression(head, head.cylinder, [one.volume_after for one in chambers])
    wanted = None
    if head.targets is not None:
        volumes = [one.volume_before + one.sunk_volume for one in chambers]
        deepest = deepest_cut(head.chambers, head.head_thickness_minimum)
        wanted = wanted_of_head(head.targets, volumes, head.shape, deepest, after, head.quench_minimum)
    cam = None if head.cam_drive is None else cam_after(head.cam_drive, movement)
    other = movement if head.other_head is None else head.other_head
    return MilledHead(
        movement=movement,
        seats=seats,
        chambers=chambers,
        before=before,
        uncut=uncut,
        after=after,
        wanted=wanted,
        pushrods=pushrods_after(head.pushrods, head.lifters, movement, head.adjuster, misses_reject=head.misses_reject),
        valves=clearances_left(head.valves, movement, timing_moved=cam is not None and cam.timing_moved),
        cam=cam,
        intake=None if head.intake is None else fit_manifold(head.intake, movement, other),
    )


def deepest_cut(chambers: Sequence[HeadChamber], head_thickness_minimum: float) -> float:
    """The most that may come off, by the thinnest place that was measured, T - least.

    Parameters
    ----------
    chambers : sequence of HeadChamber (C)
        The head's chambers [-]
    head_thickness_minimum : float
        The least thickness that has to be left [m]

    Returns
    -------
    float
        Infinite where no thickness was measured [m]

    >>> round(deepest_cut([HeadChamber(head_thickness=0.130), HeadChamber()], 0.128), 9)
    0.002
    """
    known = [one.head_thickness for one in chambers if not math.isnan(one.head_thickness)]
    return max(min(known) - head_thickness_minimum, 0.0) if known else math.inf


def _chamber(one: HeadChamber, sunk_volume: float, head: Head) -> MilledChamber:
    movement = head.movement
    depth = movement.depth_at(one.distance_across)
    # with nothing cut no shape is needed to know what is left
    shape = head.shape or from_area(0.0 if movement.nothing_cut else math.nan)
    cut = cut_chambers(one.volume, depth, shape, sunk_volume)
    left = head_thickness_after(one.head_thickness, depth)
    return MilledChamber(
        depth=depth,
        head_drop=movement.drop_at(one.distance_across),
        volume_before=one.volume,
        removed=cut.removed,
        sunk_volume=sunk_volume,
        volume_after=cut.chamber_volume,
        beyond_pours=cut.beyond_pours,
        thickness_left=left,
        thickness_verdict=clearance_verdict(left, head.head_thickness_minimum),
    )


def _sunk_volumes(head: Head, seats: Sequence[SunkValve[float]]) -> list[float]:
    """What the seats that were cut add to what was cc'd of every chamber [m3].

    Nothing where the chambers were cc'd after the seats; NaN while nobody said when, and for all while a seat belongs
    to no chamber yet.
    """
    gained = [0.0] * len(head.chambers)
    if head.poured == "after_seats":
        return gained
    unknown = 0.0 if head.poured == "before_seats" else math.nan
    for one, sunk in zip(head.seats, seats, strict=True):
        if not one.seat.moved:
            continue
        if one.chamber is None:
            return [math.nan] * len(head.chambers)
        gained[one.chamber] += sunk.chamber_volume + unknown
    return gained


def _compression(head: Head, cylinder: Cylinder, volumes: Sequence[float], *, worked: bool = True) -> Compression:
    """The cylinders with such chambers [m3], block and gasket as they were or as they will be."""
    block, gasket = head.movement.block_decked, head.movement.gasket_thickness_change
    return compression(
        cylinder,
        [Chamber(volume, one.deck_clearance) for volume, one in zip(volumes, head.chambers, strict=True)],
        block_decked=block if worked else 0.0,
        gasket_thickness_change=gasket if worked else 0.0,
        quench_minimum=head.quench_minimum,
    )
