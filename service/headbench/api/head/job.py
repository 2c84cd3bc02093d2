"""The job of a head: everything read at its valves and springs, as far as it was taken."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from headbench.api.clearances.retainer_clearance import OwnLift, RetainerToRocker, RetainerToSeal, SealToSpring
from headbench.api.exchange.envelope import Job, JobAsked, Parts, Text
from headbench.api.gauges.scale import ScaleUsed
from headbench.api.gauges.tester import Tester
from headbench.api.head.job_notes import Waivers
from headbench.api.head.left_out import AllNotFitted, TakenAsEqual
from headbench.api.heights.doubts import HeightDoubt
from headbench.api.heights.readings import HeightCorrections, HeightRead, HeightReadings
from headbench.api.heights.shims import Shims
from headbench.api.heights.suspects import Suspects
from headbench.api.masses.moving_mass import Masses, Weighed
from headbench.api.matching.on_sheet import MatchAsked
from headbench.api.springs.spring import SpringList, SpringsRead
from headbench.api.springs.tested import TestedSprings
from headbench.api.train.lobes import Lobes
from headbench.api.train.valvetrain import WholeValvetrain
from headbench.api.valve_float.setting import IntendedSpeed
from headbench.api.vocabulary.names import SpringName, ValveKind
from headbench.api.vocabulary.positions import MOST_POSITIONS
from headbench.api.vocabulary.quantities import Model, Name, PositiveForce, PositiveLength, Units
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import Limits, Targets, named_limit
from headbench.api.waiting.on_sheet import OutstandingAsked
from headbench.calc.heights.shims import MOST_SHIMS
from headbench.errors import Pointed


class Position(HeightReadings, kw_only=True, frozen=True):
    """Everything measured at one valve so far."""

    valve_lift: OwnLift = None
    seat_load_with_shims: Annotated[
        PositiveForce | None,
        Meta(
            description="Seat load measured on the head after assembly; it then counts in place of the figured one. "
            "Null = not measured.",
            examples=[117.5],
        ),
    ] = None
    shims_fitted: Annotated[
        Annotated[list[PositiveLength], Meta(max_length=MOST_SHIMS)] | None,
        Meta(
            description="The shims under a spring that is assembled already: they count as they are, and none are "
            "chosen or laid out. Empty = none fitted; null = shims are chosen.",
            examples=[[0.030, 0.015]],
        ),
    ] = None
    retainer_to_seal: RetainerToSeal = None
    retainer_to_rocker: RetainerToRocker = None
    seal_to_spring: SealToSpring = None
    bank: Annotated[
        Name | None,
        Meta(description="Its bank, where a pair of heads is one job; null = not given.", examples=["port side"]),
    ] = None
    spring: SpringName = None
    masses: Annotated[
        Masses, Meta(description="What the scale shows for its parts.", examples=[{"valve": 104.5, "retainer": 19.8}])
    ] = Masses()
    taken_as_equal: TakenAsEqual = []
    remarks: Annotated[Text | None, Meta(description="Remarks; null = none.", examples=["seat cut 0.010 deeper"])] = (
        None
    )
    parts: Parts = []


class HeadAssemblyRequest(Model, kw_only=True, frozen=True):
    """All readings of one head, or of a pair, as far as they were taken."""

    units: Units = Units()
    job: JobAsked = Job()
    limits: Annotated[
        Limits, Meta(description="Limits of the checks.", examples=[{"coil_bind_clearance_minimum": 0.060}])
    ] = Limits()
    shims: Annotated[
        Shims | None,
        Meta(
            description="The shims at hand; null = the usual sizes, noted.",
            examples=[{"thicknesses": [0.015, 0.030, 0.060]}],
        ),
    ] = None
    height_corrections: Annotated[
        HeightCorrections,
        Meta(description="Deduction and locator of each kind of valve.", examples=[{"intake": {"deduction": 0.07}}]),
    ] = HeightCorrections()
    valvetrain: Annotated[
        WholeValvetrain,
        Meta(description="Lift, motion and moving parts.", examples=[{"intake": {"valve_lift": 0.488}}]),
    ] = WholeValvetrain()
    targets: Annotated[
        Targets,
        Meta(description="Heights and loads wanted.", examples=[{"intake": {"installed_height": 1.82}}]),
    ] = Targets()
    intended_speed: IntendedSpeed = None
    tester: Annotated[
        Tester | None,
        Meta(
            description="How the spring tester was checked; null = readings are taken as they are.",
            examples=[{"calibration": [{"applied": 100, "indicated": 101}]}],
        ),
    ] = None
    scale: ScaleUsed = None
    springs: SpringList = []
    waivers: Waivers = []
    positions: Annotated[
        list[Position],
        Meta(
            min_length=1,
            max_length=MOST_POSITIONS,
            description="Every valve, in the order of work.",
            examples=[[{"id": "1I", "valve": "intake", "measured_height": 1.922}]],
        ),
    ]
    not_fitted: AllNotFitted = []
    match_springs: MatchAsked = None
    outstanding: OutstandingAsked = None


def fitted_stack(position: Position) -> float:
    """How thick the shims are that are fitted at a position already [m]; NaN where they are to be chosen."""
    return math.nan if position.shims_fitted is None else math.fsum(position.shims_fitted)


def fitted_faults(positions: Sequence[Position], heights: Sequence[HeightRead]) -> Iterator[Pointed]:
    """Shims that are thicker than the space they are said to lie in."""
    for place, (position, read) in enumerate(zip(positions, heights, strict=True)):
        stack = fitted_stack(position)
        if stack >= read.bare_height:
            detail = (
                f"{position.id}: the shims fitted, {say(stack, 'length')}, must be less than its height without shims, "
                f"{say(read.bare_height, 'length')}"
            )
            yield Pointed(f"/positions/{place}/shims_fitted", detail)


def without_speed(request: HeadAssemblyRequest, kind: ValveKind) -> list[str]:
    """The checks of float and surge that the job limits for a kind of valve while it says no speed to judge them at."""
    if request.intended_speed is not None:
        return []
    limited = {"float_reserve_minimum": "float_reserve_check", "surge_ratio_minimum": "surge_ratio_check"}
    return [check for limit, check in limited.items() if named_limit(request.limits, limit, kind) is not None]


@dataclass(frozen=True, slots=True)
class HeadRead:
    """What the request comes to, position by position, beside the numbers of the sheet."""

    ids: Sequence[str]
    valves: Sequence[ValveKind]
    lifts: Mapping[ValveKind, float]
    lobes: Lobes
    springs: SpringsRead
    used: set[str]
    weighed: Sequence[Weighed]
    heights: Sequence[HeightRead]
    suspects: Suspects
    doubts: Sequence[HeightDoubt]
    tested: TestedSprings
