"""Milling request: what comes off one head, and what is known of all that it moves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Annotated, Literal

import numpy as np
from msgspec import Meta

from headbench.api.cylinders.chambers import MOST_CHAMBERS, MilledChamber, ShapeField, shape_faults, shape_of
from headbench.api.cylinders.compression_ratio import QuenchMinimum
from headbench.api.cylinders.cylinder import (
    Clearances,
    Cylinder,
    clearances_over_pistons,
    cylinder_faults,
    gasket_faults,
    room_faults,
)
from headbench.api.cylinders.wanted import wanted_faults
from headbench.api.exchange.envelope import Job, JobAsked
from headbench.api.intake.manifold import Intake, IntakeFit, fit_intake, intake_faults
from headbench.api.milling.cam_drive import CamDrive, timing_moves
from headbench.api.milling.chambers import MilledChambers, chamber_cut_faults, mill_chambers
from headbench.api.milling.wanted import MillingTargets
from headbench.api.movement.moved import (
    Cut,
    Moved,
    MovedPosition,
    Movement,
    deck_edge_faults,
    movement_faults,
    movement_of,
    position_run_out_faults,
    run_out_faults,
    seat_faults,
    sunk_valves,
)
from headbench.api.pistons.clearances import (
    Clearance,
    ClearanceFit,
    HeadDiameter,
    PlacedClearance,
    ValveClearanceLimits,
    clearance_faults,
    fit_clearances,
    lean_faults,
)
from headbench.api.pushrods.lifters import Lifters, lifter_faults
from headbench.api.pushrods.pushrods import (
    AdjusterField,
    Placed,
    Pushrod,
    PushrodFit,
    RockerRatio,
    fit_pushrods,
    pushrod_faults,
    stand_pushrods,
)
from headbench.api.vocabulary.positions import MOST_POSITIONS, raise_if_any, repeated_ids
from headbench.api.vocabulary.quantities import Columns, Length, Name, Units
from headbench.api.vocabulary.targets import OffTarget
from headbench.calc import FloatArray
from headbench.calc.pistons.piston_to_valve import SunkValve
from headbench.errors import Pointed


class MillingLimits(ValveClearanceLimits, kw_only=True, frozen=True):
    """Limits for what is left after the work."""

    quench_minimum: QuenchMinimum = None
    head_thickness_minimum: Annotated[
        Length | None,
        Meta(
            description="Minimum head thickness its maker allows, deck to cover rail; null = not given, not checked.",
            examples=[5.040],
        ),
    ] = None
    off_target: OffTarget = "borderline"


class MilledPosition(MovedPosition, kw_only=True, frozen=True):
    """One valve of the head, and what it works with; leave out what you do not need."""

    chamber: Annotated[
        Name | None, Meta(description="Id of its chamber, for a seat that was cut; null = not given.", examples=["1"])
    ] = None
    head_diameter: HeadDiameter = None
    rocker_ratio: RockerRatio = None
    pushrod: Annotated[
        Pushrod | None,
        Meta(description="Its pushrod as it was; null = not asked, or there is none.", examples=[{"preload": 0.034}]),
    ] = None
    piston_to_valve: Annotated[
        Clearance | None,
        Meta(
            description="Its piston-to-valve clearance as measured before the work; null = not asked.",
            examples=[{"valve_angle": 18, "crown": "flat", "read": {"kind": "clay", "thinnest_clay": 0.131}}],
        ),
    ] = None


PouredWhen = Literal["before_seats", "after_seats"]


class MillingRequest(Moved, kw_only=True, frozen=True):
    """What comes off one head, and whatever is known of what it moves."""

    cut: Annotated[
        Cut,
        Meta(
            description="What comes off the head's deck; a flat cut of 0 to ask without cutting.",
            examples=[{"kind": "flat", "depth": 0.030}],
        ),
    ]
    units: Units = Units()
    job: JobAsked = Job()
    limits: Annotated[
        MillingLimits,
        Meta(
            description="Limits for what is left after the work.",
            examples=[{"head_thickness_minimum": 5.040, "quench_minimum": 0.035}],
        ),
    ] = MillingLimits()
    chambers: Annotated[
        list[MilledChamber],
        Meta(
            max_length=MOST_CHAMBERS,
            description="The head's chambers before the cut.",
            examples=[[{"id": "1", "chamber_volume": 57.3, "head_thickness": 5.085}]],
        ),
    ] = []
    chambers_measured: Annotated[
        PouredWhen | None,
        Meta(
            description="Whether the chambers were cc'd before or after the seats were cut; only seats that were cut "
            "need it. Null = not given.",
            examples=["before_seats"],
        ),
    ] = None
    chamber_shape: ShapeField = None
    cylinder: Annotated[
        Cylinder | None,
        Meta(
            description="Bore, stroke, piston and gasket before the work; null = not given, no ratio and no quench.",
            examples=[{"bore": 3.84, "stroke": 3.26, "deck_clearance": 0.010}],
        ),
    ] = None
    targets: Annotated[
        MillingTargets | None,
        Meta(description="Volume, ratio or quench wanted; null = not asked.", examples=[{"static_ratio": 10.5}]),
    ] = None
    positions: Annotated[
        list[MilledPosition],
        Meta(
            max_length=MOST_POSITIONS,
            description="The head's valves, as far as they matter.",
            examples=[[{"id": "1I", "valve": "intake", "chamber": "1", "seat_ground": 0.005, "head_diameter": 1.86}]],
        ),
    ] = []
    lifters: Annotated[Lifters, Meta(description="Hydraulic lifters' preload and pushrod stock.")] = Lifters()
    adjuster: AdjusterField = None
    cam_drive: Annotated[
        CamDrive | None,
        Meta(description="Drive of an overhead cam; null = none.", examples=[{"pitch_radius": 2.1}]),
    ] = None
    intake_side: Annotated[
        Intake | None,
        Meta(
            description="Intake side of a V; null = not asked, or the engine is no V.",
            examples=[{"bank_angle": 72, "face_tilt": 7}],
        ),
    ] = None


@dataclass(frozen=True, slots=True)
class MilledHead:
    """One head before and after; what was not asked for is None, or has no rows."""

    movement: Movement
    sunk: SunkValve
    chambers: MilledChambers
    before: Clearances | None
    after: Clearances | None
    pushrods: list[Placed]
    pushrod_fit: PushrodFit
    clearances: list[PlacedClearance]
    clearance_fit: ClearanceFit
    intake: IntakeFit | None


_POSITION = Columns(MilledPosition)


def mill(request: MillingRequest) -> MilledHead:
    """What the work does to the head; raises Contradiction with everything found wrong."""
    stated = list(_stated_faults(request))
    # what contradicts itself in these cannot be followed any further
    unusable = ("/cut", "/chamber_shape", "/intake_side")
    if any(fault.pointer.startswith(unusable) for fault in stated):
        raise_if_any(iter(stated))
    movement = replace(movement_of(request), places=_places(request))
    diameter = _POSITION.of(request.positions)["head_diameter"]
    sunk = sunk_valves(request.positions, diameter, np.full(len(request.positions), np.nan))
    chambers = mill_chambers(
        request.chambers,
        shape_of(request.chamber_shape),
        movement,
        _sunk_by_chamber(request, sunk),
    )
    before, after = _clearances(request, chambers)
    placed = list(enumerate(request.positions))
    pushrods = [Placed(place, one, one.pushrod, one.rocker_ratio) for place, one in placed if one.pushrod is not None]
    stands = stand_pushrods(pushrods, movement)
    clearances = clearances_of(request)
    stated += chamber_cut_faults(chambers, request.chambers)
    stated += room_faults(_states(request, chambers, before, after))
    stated += pushrod_faults(pushrods, stands, movement)
    stated += position_run_out_faults(movement, [(one.place, one.position) for one in clearances])
    stated += lean_faults(clearances, movement)
    stated += _intake_run_out(request, movement)
    if request.cam_drive is not None:
        stated += run_out_faults(movement, [("/cam_drive", "the cam", request.cam_drive.distance_across)])
    raise_if_any(_once(stated))
    return MilledHead(
        movement=movement,
        sunk=sunk,
        chambers=chambers,
        before=before,
        after=after,
        pushrods=pushrods,
        pushrod_fit=fit_pushrods(pushrods, stands, request.lifters, movement),
        clearances=clearances,
        clearance_fit=fit_clearances(
            clearances,
            request.limits,
            movement,
            rod_material=None if request.cylinder is None else request.cylinder.rod_material,
            timing_moved=request.cam_drive is not None and timing_moves(request.cam_drive, movement),
        ),
        intake=None if request.intake_side is None else fit_intake(request.intake_side, movement),
    )


def _places(request: MillingRequest) -> tuple[float, ...]:
    """Every place across the head that the job names beside the cut's own [m]."""
    pushrods = [one.pushrod for one in request.positions if one.pushrod is not None]
    sections = [part for part in (request.cam_drive, request.intake_side) if part is not None]
    named = [part.distance_across for part in (*request.chambers, *request.positions, *pushrods, *sections)]
    return tuple(across for across in named if across is not None)


def _intake_run_out(request: MillingRequest, movement: Movement) -> Iterator[Pointed]:
    """An angle cut of either head that ends before the intake face."""
    if request.intake_side is None:
        return
    across = request.intake_side.distance_across
    yield from run_out_faults(movement, [("/intake_side", "the intake face", across)])
    if request.intake_side.other_head is not None:
        other = movement_of(request.intake_side.other_head)
        yield from run_out_faults(other, [("/intake_side", "the other head's intake face", across)])


def _once(faults: list[Pointed]) -> Iterator[Pointed]:
    """Every fault once by its pointer: a valve's place serves its pushrod and its clearance alike."""
    named: set[str] = set()
    for fault in faults:
        if fault.pointer.endswith("/distance_across") and fault.pointer in named:
            continue
        named.add(fault.pointer)
        yield fault


def clearances_of(request: MillingRequest) -> list[PlacedClearance]:
    """The positions whose piston-to-valve clearance is wanted."""
    return [
        PlacedClearance(place, one, one.piston_to_valve, one.head_diameter)
        for place, one in enumerate(request.positions)
        if one.piston_to_valve is not None
    ]


def _stated_faults(request: MillingRequest) -> Iterator[Pointed]:
    """Statements that contradict each other as they stand."""
    yield from movement_faults(request)
    yield from deck_edge_faults(request)
    yield from repeated_ids([chamber.id for chamber in request.chambers], "/chambers", "chamber")
    yield from repeated_ids([position.id for position in request.positions], "/positions", "position")
    yield from shape_faults(request.chamber_shape)
    if request.cylinder is not None:
        yield from cylinder_faults(request.cylinder)
        yield from gasket_faults(request.cylinder, request.gasket_thickness_change)
    yield from wanted_faults(request.targets)
    yield from seat_faults(request.positions)
    yield from _unknown_chambers(request)
    yield from clearance_faults(clearances_of(request))
    yield from lifter_faults(request.lifters, "/lifters")
    if request.intake_side is not None:
        yield from intake_faults(request.intake_side)
        if request.intake_side.other_head is not None:
            yield from deck_edge_faults(request.intake_side.other_head, "/intake_side/other_head")


def _unknown_chambers(request: MillingRequest) -> Iterator[Pointed]:
    known = [chamber.id for chamber in request.chambers]
    for place, position in enumerate(request.positions):
        if position.chamber is not None and position.chamber not in known:
            there = f"use one of: {', '.join(known)}" if known else "list the chambers"
            yield Pointed(f"/positions/{place}/chamber", f'no chamber "{position.chamber}"; {there}')


def _sunk_by_chamber(request: MillingRequest, sunk: SunkValve) -> FloatArray:
    """What the seats that were cut add to what was cc'd [m3].

    Nothing where the chambers were cc'd after the seats; NaN while nobody said when, and for all while a seat belongs
    to no chamber yet.
    """
    row = {chamber.id: place for place, chamber in enumerate(request.chambers)}
    gained = np.zeros(len(request.chambers))
    if request.chambers_measured == "after_seats":
        return gained
    unknown = 0.0 if request.chambers_measured == "before_seats" else np.nan
    for position, volume in zip(request.positions, sunk.chamber_volume.tolist(), strict=True):
        if not position.seat_moved:
            continue
        if position.chamber is None:
            gained += np.nan
        elif position.chamber in row:
            gained[row[position.chamber]] += volume + unknown
    return gained


def _clearances(request: MillingRequest, milled: MilledChambers) -> tuple[Clearances | None, Clearances | None]:
    """What is left over the pistons before and after the work."""
    if request.cylinder is None:
        return None, None
    before = clearances_over_pistons(request.cylinder, request.chambers, milled.chamber_volume_before)
    return before, _with_work(request, request.cylinder, milled.cut.chamber_volume)


def _with_work(request: MillingRequest, cylinder: Cylinder, chamber_volume: FloatArray) -> Clearances:
    return clearances_over_pistons(
        cylinder,
        request.chambers,
        chamber_volume,
        block_decked=request.block_decked,
        gasket_thickness_change=request.gasket_thickness_change,
    )


def _states(
    request: MillingRequest,
    milled: MilledChambers,
    before: Clearances | None,
    after: Clearances | None,
) -> dict[str, Clearances]:
    """Every state whose room over the pistons must be there for what is asked."""
    if request.cylinder is None or before is None or after is None:
        return {}
    uncut = _with_work(request, request.cylinder, milled.chamber_volume_before)
    return {"as measured": before, "with block decked and gasket changed": uncut, "after the work": after}
