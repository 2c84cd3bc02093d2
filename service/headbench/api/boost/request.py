"""Boost readings: pressures in ports and cylinder, the seats they work on, and the springs that hold against them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated

from msgspec import Meta

from headbench.api.clearances.retainer_clearance import OwnLift
from headbench.api.exchange.envelope import Job, JobAsked
from headbench.api.gauges.tester import Tester
from headbench.api.gauges.tester_readings import RunRead
from headbench.api.springs.spring import SpringList, spring_faults, unknown_springs
from headbench.api.train.valvetrain import Valvetrain, lift_faults
from headbench.api.vocabulary.names import KINDS, SpringName
from headbench.api.vocabulary.positions import MOST_POSITIONS, PositionModel, repeated_ids
from headbench.api.vocabulary.quantities import (
    Length,
    Model,
    PositiveForce,
    PositiveLength,
    Pressure,
    SignedPressure,
    Units,
)
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import CoilBindLimits, OffTarget, by_default
from headbench.calc.judging.limits import STACK_MAXIMUM
from headbench.errors import Pointed


class BoostLimits(CoilBindLimits, kw_only=True, frozen=True):
    """What may be shimmed, and how a load that is short is judged."""

    off_target: OffTarget = "borderline"
    stack_maximum: Annotated[Length | None, by_default(STACK_MAXIMUM, "Thickest stack of shims in one pocket.")] = None


class Pressures(Model, kw_only=True, frozen=True):
    """Gauge pressures, engine under load: what a gauge shows above the air around it."""

    boost: Annotated[
        SignedPressure | None,
        Meta(
            description="Highest pressure in the intake ports; negative = below the air around; null = not known.",
            examples=[15],
        ),
    ] = None
    back_pressure: Annotated[
        Pressure | None,
        Meta(
            description="Pressure in the exhaust ports ahead of the turbine, as its gauge shows it; null = not known.",
            examples=[22],
        ),
    ] = None
    cylinder_on_intake_stroke: Annotated[
        SignedPressure,
        Meta(
            description="Pressure in the cylinder on its intake stroke, while back pressure pushes its exhaust valve; "
            "negative with a shut throttle. 0 is the safe side under boost.",
            examples=[-8],
        ),
    ] = 0.0
    cylinder_at_exhaust_opening: Annotated[
        Pressure | None,
        Meta(
            description="Pressure in the cylinder as its exhaust valve opens; null = opening is not figured.",
            examples=[110],
        ),
    ] = None


class BoostedSeat(Model, kw_only=True, frozen=True):
    """The seats of one kind of valve, and what their springs push without pressure."""

    seat_diameter: Annotated[
        PositiveLength | None,
        Meta(description="Diameter where the seat seals; null = the head's is taken.", examples=[1.98]),
    ] = None
    head_diameter: Annotated[
        PositiveLength | None,
        Meta(
            description="Diameter of the valve's head, larger than the seat's: the safe side; null = not measured.",
            examples=[2.02],
        ),
    ] = None
    stem_diameter: Annotated[
        PositiveLength | None,
        Meta(
            description="Diameter of the stem, which pressure in the port does not work on; null = nothing taken off.",
            examples=[0.3415],
        ),
    ] = None
    seat_load_unboosted: Annotated[
        PositiveForce | None,
        Meta(
            description="Seat load that cam maker or builder want without pressure in the ports; null = not given.",
            examples=[120],
        ),
    ] = None


class BoostedSeats(Model, kw_only=True, frozen=True):
    """The seats of the intake and of the exhaust valves."""

    intake: Annotated[
        BoostedSeat | None, Meta(description="Intake valves; null = not given.", examples=[{"head_diameter": 2.02}])
    ] = None
    exhaust: Annotated[
        BoostedSeat | None, Meta(description="Exhaust valves; null = not given.", examples=[{"head_diameter": 1.6}])
    ] = None


class BoostPosition(PositionModel, kw_only=True, frozen=True):
    """One valve, its spring and where that stands."""

    spring: SpringName = None
    installed_height: Annotated[
        PositiveLength | None,
        Meta(
            description="Height of the outer spring with its shims, valve closed; null = not measured.", examples=[1.85]
        ),
    ] = None
    valve_lift: OwnLift = None
    seat_load: Annotated[
        PositiveForce | None,
        Meta(
            description="Seat load measured on the head; counts before the spring's curve; null = not measured.",
            examples=[128],
        ),
    ] = None
    shim_stack: Annotated[
        Length | None,
        Meta(
            description="Shims under it now, in all; null = not given, the pocket's limit is held against what is "
            "added alone.",
            examples=[0.030],
        ),
    ] = None


class BoostLoadRequest(Model, kw_only=True, frozen=True):
    """Pressures, seats and springs."""

    units: Units = Units()
    job: JobAsked = Job()
    limits: Annotated[BoostLimits, Meta(description="Limits.", examples=[{"coil_bind_clearance_minimum": 0.060}])] = (
        BoostLimits()
    )
    pressures: Annotated[
        Pressures, Meta(description="Gauge pressures.", examples=[{"boost": 15, "back_pressure": 22}])
    ] = Pressures()
    seats: Annotated[
        BoostedSeats, Meta(description="What pressure works on.", examples=[{"intake": {"head_diameter": 2.02}}])
    ] = BoostedSeats()
    valvetrain: Annotated[
        Valvetrain, Meta(description="Lift of each kind of valve.", examples=[{"intake": {"valve_lift": 0.488}}])
    ] = Valvetrain()
    tester: Annotated[
        Tester | None, Meta(description="Known loads the tester was checked with; null = not checked.")
    ] = None
    springs: SpringList = []
    positions: Annotated[
        list[BoostPosition],
        Meta(
            min_length=1,
            max_length=MOST_POSITIONS,
            description="Every valve, in the order of work.",
            examples=[[{"id": "1I", "valve": "intake", "installed_height": 1.85, "spring": "S1"}]],
        ),
    ]


def boost_faults(request: BoostLoadRequest, runs: Mapping[str, RunRead]) -> Iterator[Pointed]:
    """What of a request contradicts itself."""
    positions = request.positions
    yield from spring_faults(request.springs, runs, request.tester)
    yield from repeated_ids([position.id for position in positions], "/positions", "position")
    yield from unknown_springs([position.spring for position in positions], request.springs)
    yield from lift_faults(request.valvetrain)
    for kind in KINDS:
        seat: BoostedSeat | None = getattr(request.seats, kind)
        if seat is not None:
            yield from _seat_faults(seat, f"/seats/{kind}")


def _seat_faults(seat: BoostedSeat, pointer: str) -> Iterator[Pointed]:
    across = seat.seat_diameter if seat.seat_diameter is not None else seat.head_diameter
    if seat.seat_diameter is not None and seat.head_diameter is not None and seat.seat_diameter > seat.head_diameter:
        seals, head = say(seat.seat_diameter, "length"), say(seat.head_diameter, "length")
        yield Pointed(f"{pointer}/seat_diameter", f"seat diameter {seals} is above the valve head's {head}; check both")
    if across is not None and seat.stem_diameter is not None and seat.stem_diameter >= across:
        stem, seals = say(seat.stem_diameter, "length"), say(across, "length")
        yield Pointed(f"{pointer}/stem_diameter", f"stem diameter {stem} must be below {seals}; check both")
