"""Milling request: what comes off one head, and what is known of all that it moves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Literal

from msgspec import Meta

from headbench.api.cylinders.chambers import MOST_CHAMBERS, MilledChamber, ShapeField, shape_faults, shape_of
from headbench.api.cylinders.compression_ratio import QuenchMinimum
from headbench.api.cylinders.cylinder import Cylinder, cylinder_faults, cylinder_of, gasket_faults, room_faults
from headbench.api.cylinders.wanted import wanted_faults
from headbench.api.intake.manifold import Intake, intake_faults, intake_of
from headbench.api.milling.cam_drive import CamDrive, cam_drive_of
from headbench.api.milling.chambers import chamber_cut_faults
from headbench.api.milling.wanted import MillingTargets, milling_targets
from headbench.api.movement.moved import (
    Cut,
    Moved,
    MovedPosition,
    deck_edge_faults,
    movement_faults,
    movement_of,
    position_run_out_faults,
    run_out_faults,
    seat_faults,
    seat_of,
)
from headbench.api.pistons.clearances import (
    Clearance,
    HeadDiameter,
    PlacedClearance,
    ValveClearanceLimits,
    clearance_faults,
    lean_faults,
    valves_over_pistons,
)
from headbench.api.pushrods.lifters import Lifters, lifter_faults, lifters_of
from headbench.api.pushrods.pushrods import (
    AdjusterField,
    Placed,
    Pushrod,
    RockerRatio,
    adjuster_of,
    pushrod_faults,
    pushrods_of,
)
from headbench.api.vocabulary.positions import MOST_POSITIONS, raise_if_any, repeated_ids
from headbench.api.vocabulary.quantities import Length, Name, Units, number_of
from headbench.api.vocabulary.targets import OffTarget
from headbench.calc.cylinders.cylinder import Compression
from headbench.calc.milling.milling import Head, HeadChamber, HeadSeat, MilledHead, mill
from headbench.calc.movement.movement import Movement
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
class Milled:
    """A request as it was followed: its positions that have a pushrod or a clearance, and what the work does."""

    pushrods: list[Placed]
    clearances: list[PlacedClearance]
    head: Head
    done: MilledHead

    @property
    def movement(self) -> Movement:
        """What comes off."""
        return self.head.movement


def followed(request: MillingRequest) -> Milled:
    """What the work does to the head; raises Contradiction with everything found wrong."""
    stated = list(_stated_faults(request))
    # what contradicts itself in these cannot be followed any further
    unusable = ("/cut", "/chamber_shape", "/intake_side")
    if any(fault.pointer.startswith(unusable) for fault in stated):
        raise_if_any(iter(stated))
    placed = list(enumerate(request.positions))
    pushrods = [Placed(place, one, one.pushrod, one.rocker_ratio) for place, one in placed if one.pushrod is not None]
    clearances = clearances_of(request)
    head = _head(request, pushrods, clearances)
    done = mill(head)
    stated += chamber_cut_faults(done.chambers, head.shape, request.chambers)
    stated += room_faults(_states(done))
    stated += pushrod_faults(pushrods, head.pushrods, head.movement)
    stated += position_run_out_faults(head.movement, [(one.place, one.position) for one in clearances])
    stated += lean_faults(clearances, head.movement)
    stated += _intake_run_out(request, head.movement)
    if request.cam_drive is not None:
        stated += run_out_faults(head.movement, [("/cam_drive", "the cam", request.cam_drive.distance_across)])
    raise_if_any(_once(stated))
    return Milled(pushrods, clearances, head, done)


def _head(request: MillingRequest, pushrods: list[Placed], clearances: list[PlacedClearance]) -> Head:
    """The head as it was measured, and what comes off it."""
    limits, cylinder, intake = request.limits, request.cylinder, request.intake_side
    row = {chamber.id: place for place, chamber in enumerate(request.chambers)}
    return Head(
        movement=movement_of(request, _places(request)),
        chambers=[
            HeadChamber(
                volume=number_of(chamber.chamber_volume),
                deck_clearance=number_of(chamber.deck_clearance),
                distance_across=number_of(chamber.distance_across),
                head_thickness=number_of(chamber.head_thickness),
            )
            for chamber in request.chambers
        ],
        shape=shape_of(request.chamber_shape),
        # a chamber that nobody listed is refused: what its seat adds goes nowhere
        seats=[
            HeadSeat(seat_of(one), None if one.chamber is None else row[one.chamber], number_of(one.head_diameter))
            if one.chamber is None or one.chamber in row
            else HeadSeat()
            for one in request.positions
        ],
        poured=request.chambers_measured,
        head_thickness_minimum=limits.head_thickness_minimum or 0.0,
        cylinder=None if cylinder is None else cylinder_of(cylinder),
        quench_minimum=limits.quench_minimum or 0.0,
        targets=None if request.targets is None else milling_targets(request.targets),
        pushrods=pushrods_of(pushrods),
        lifters=lifters_of(request.lifters),
        adjuster=adjuster_of(request.adjuster),
        misses_reject=limits.off_target == "reject",
        valves=valves_over_pistons(clearances, limits, None if cylinder is None else cylinder.rod_material),
        cam_drive=None if request.cam_drive is None else cam_drive_of(request.cam_drive),
        intake=None if intake is None else intake_of(intake),
        other_head=None if intake is None or intake.other_head is None else movement_of(intake.other_head),
    )


def _places(request: MillingRequest) -> Iterator[float | None]:
    """Every place across the head that the job names beside the cut's own [m]."""
    pushrods = [one.pushrod for one in request.positions if one.pushrod is not None]
    sections = [part for part in (request.cam_drive, request.intake_side) if part is not None]
    yield from (part.distance_across for part in (*request.chambers, *request.positions, *pushrods, *sections))


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


def _states(done: MilledHead) -> dict[str, Compression]:
    """Every state whose room over the pistons must be there for what is asked."""
    states = {
        "as measured": done.before,
        "with block decked and gasket changed": done.uncut,
        "after the work": done.after,
    }
    return {state: bank for state, bank in states.items() if bank is not None}
