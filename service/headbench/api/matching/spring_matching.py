"""POST /v1/spring-matching: which spring goes where, and on which shims, so that loads come out alike."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import chain
from pathlib import Path
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.clearances.retainer_clearance import OwnLift
from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, Job, JobAnswered, JobAsked, Release
from headbench.api.exchange.resource import Resource
from headbench.api.gauges.tester import Tester
from headbench.api.gauges.tester_readings import RunRead
from headbench.api.heights.doubts import height_doubts, open_doubts, proven_heights
from headbench.api.heights.notes import slip_notes
from headbench.api.heights.readings import (
    MEASURE_HEIGHT,
    HeightCorrections,
    HeightRead,
    HeightReadings,
    corrected_heights,
    height_faults,
    reading_notes,
)
from headbench.api.heights.shims import Shims, assumed_shims, shim_faults, shims_at_hand
from headbench.api.heights.suspects import find_suspects
from headbench.api.matching.answers import Matched
from headbench.api.matching.matching import matched, solve
from headbench.api.matching.notes import NOTES, match_notes, open_matches
from headbench.api.matching.problem import PositionsRead, find_problem
from headbench.api.matching.wish import MatchWish, wish_faults
from headbench.api.springs.notes import coil_bind_repeats, open_binds_again
from headbench.api.springs.ratings import against_rating, open_ratings
from headbench.api.springs.spring import (
    SpringList,
    SpringsRead,
    read_runs,
    read_springs,
    spring_faults,
    unknown_springs,
)
from headbench.api.springs.tested import open_tests, tested_notes, tested_springs
from headbench.api.train.lift_notes import lift_notes, open_lift_slips, valve_lifts
from headbench.api.train.valvetrain import Valvetrain, lift_faults, lifts, open_lifts
from headbench.api.vocabulary.checks import PercentCheck, VerdictName, worst_of
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for, merged
from headbench.api.vocabulary.names import SpringName
from headbench.api.vocabulary.positions import MOST_POSITIONS, open_readings, raise_if_any
from headbench.api.vocabulary.quantities import Model, Units, UnitsUsed, units_used
from headbench.api.vocabulary.targets import (
    KindCoilBindLimits,
    LossLimit,
    OffTarget,
    OpenLoadTolerance,
    SeatLoadTolerance,
    Targets,
    named_limit,
    open_targets,
    target_faults,
)
from headbench.calc.matching import limits
from headbench.errors import Pointed


class KindMatchLimits(KindCoilBindLimits, kw_only=True, frozen=True):
    """Limits of one kind of valve."""

    seat_load_tolerance: SeatLoadTolerance = None
    open_load_tolerance: OpenLoadTolerance = None
    load_loss_maximum: LossLimit = None


_KIND: Final = Meta(
    description="Limits of these valves alone, in place of the job's; null = not given.",
    examples=[{"coil_bind_clearance_minimum": 0.06}],
)


class MatchLimits(KindMatchLimits, kw_only=True, frozen=True):
    """Limits that a match keeps to."""

    off_target: OffTarget = "borderline"
    intake: Annotated[KindMatchLimits | None, _KIND] = None
    exhaust: Annotated[KindMatchLimits | None, _KIND] = None


class MatchPosition(HeightReadings, kw_only=True, frozen=True):
    """One valve that wants a spring."""

    valve_lift: OwnLift = None
    spring: SpringName = None


class SpringMatchingRequest(Model, kw_only=True, frozen=True):
    """Springs, positions and shims."""

    units: Units = Units()
    job: JobAsked = Job()
    limits: Annotated[
        MatchLimits, Meta(description="Limits kept to.", examples=[{"coil_bind_clearance_minimum": 0.060}])
    ] = MatchLimits()
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
        Valvetrain, Meta(description="Lift of each kind of valve.", examples=[{"intake": {"valve_lift": 0.488}}])
    ] = Valvetrain()
    targets: Annotated[
        Targets,
        Meta(description="Heights and loads wanted.", examples=[{"intake": {"installed_height": 1.82}}]),
    ] = Targets()
    tester: Annotated[
        Tester | None,
        Meta(
            description="How the spring tester was checked; null = readings are taken as they are.",
            examples=[{"calibration": [{"applied": 100, "indicated": 101}]}],
        ),
    ] = None
    match_springs: Annotated[
        MatchWish, Meta(description="What springs are matched by.", examples=[{"equalize": "seat_load"}])
    ] = MatchWish()
    springs: SpringList = []
    positions: Annotated[
        list[MatchPosition],
        Meta(
            min_length=1,
            max_length=MOST_POSITIONS,
            description="Every valve, in the order of work; spring is the one that lies there now.",
            examples=[[{"id": "1I", "valve": "intake", "measured_height": 1.922, "spring": "S1"}]],
        ),
    ]


class SpringMatchingAnswer(Matched, kw_only=True, frozen=True):
    """Which spring goes where, and what that comes to."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of all positions.")]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


_POINTER: Final = "/match_springs"
_HELD: Final = [
    "spring", "shims", "shim_stack", "installed_height", "seat_load", "open_load", "load_deviation",
    "seat_load_check", "open_load_check", "coil_bind_clearance_check",
]  # fmt: skip
_BEFORE: Final = "spring_before_deviation"
_ALL_HELD: Final = [*_HELD, _BEFORE]


def _faults(
    request: SpringMatchingRequest, runs: Mapping[str, RunRead], heights: Sequence[HeightRead]
) -> Iterator[Pointed]:
    names = [position.spring for position in request.positions]
    yield from shim_faults(request.shims)
    yield from lift_faults(request.valvetrain)
    yield from target_faults(request.targets)
    yield from spring_faults(request.springs, runs, request.tester)
    yield from height_faults(request.positions, heights)
    yield from unknown_springs(names, request.springs)
    known = [spring.id for spring in request.springs]
    lying = [name if name in known else None for name in names]
    yield from wish_faults(request.match_springs, request.positions, request.springs, lying, request.targets, _POINTER)


def _losses(request: SpringMatchingRequest, read: SpringsRead, found: Matched) -> list[PercentCheck | None]:
    """What the springs matched have lost, where they have a rating, or a limit wants one."""
    goes = {line.spring: line.valve for line in found.positions if line.spring is not None}
    return [
        against_rating(
            spring,
            read.at(spring.id),
            named_limit(request.limits, "load_loss_maximum", goes[spring.id]),
            misses_reject=False,
        )[0]
        if spring.id in goes
        else None
        for spring in request.springs
    ]


def answer(request: SpringMatchingRequest) -> SpringMatchingAnswer:
    """Answer one request; raises Contradiction."""
    positions = request.positions
    runs = read_runs(request.springs, request.tester)
    heights = corrected_heights(positions, request.height_corrections)
    raise_if_any(_faults(request, runs, heights))
    by_kind, valves = lifts(request.valvetrain), [position.valve for position in positions]
    suspects = find_suspects(positions, heights, request.units.length)
    doubts = height_doubts(positions, heights, suspects, request.units.length)
    springs = read_springs(request.springs, runs)
    sure = proven_heights(doubts, len(positions))
    read = PositionsRead(
        positions=positions,
        bare_height=[own.bare_height if proven else math.nan for own, proven in zip(heights, sure, strict=True)],
        valve_lift=valve_lifts(by_kind, positions),
        assembled=[own.is_read_back for own in heights],
    )
    at_hand = shims_at_hand(request.shims)
    problem = find_problem(
        request.match_springs, read, request.springs, springs, request.targets, request.limits, at_hand
    )
    solved = solve(problem)
    found = matched(solved)
    every = {spring.id for spring in request.springs}
    tested = tested_springs(request.springs, every, springs)
    held_by_springs = ["springs_left", _BEFORE]
    held = dict.fromkeys(("load_curve", "proof", "coil_bind_height"), held_by_springs)
    no_own_lift = [position.valve for position in positions if position.valve_lift is None]
    items = chain(
        open_targets(request.targets, valves, _ALL_HELD),
        open_lifts(request.valvetrain, by_kind, no_own_lift, _ALL_HELD),
        open_lift_slips(request.valvetrain, by_kind, positions, _ALL_HELD),
        open_matches(solved, _HELD, held_by_springs),
        open_ratings(request.springs, _losses(request, springs, found), tested),
        open_binds_again(request.springs, every, held_by_springs),
        open_tests(tested, every, held),
        open_readings(positions, "measured_height", _ALL_HELD, MEASURE_HEIGHT),
        open_doubts(doubts, [_ALL_HELD] * len(positions)),
    )
    return SpringMatchingAnswer(
        units=units_used(),
        verdict=worst_of([line.verdict for line in found.positions]),
        open_items=merged(items),
        notes=[
            PLAIN_COMPARISON,
            *match_notes(solved, _POINTER),
            *assumed_shims(request.shims),
            *reading_notes(positions, heights),
            *slip_notes(positions, heights, suspects, request.units.length),
            *lift_notes(request.valvetrain, by_kind, positions),
            *tested_notes(tested),
            *coil_bind_repeats(request.springs, every),
        ],
        cautions=cautions_for("springs", "tester"),
        **{field: getattr(found, field) for field in Matched.__struct_fields__},
    )


RESOURCE: Final = Resource(
    kind="spring-matching",
    operation_id="matchSprings",
    summary="The best place for every spring, and its shims",
    description="Enter springs, heights and shims; get the spring and the shims of every position so that loads come "
    "as near as can be to those wanted, with the moves in order.",
    tag="Bench",
    request=SpringMatchingRequest,
    answer=SpringMatchingAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("spring_matching.json"),
    limits=limits.LIMITS,
    rules=limits.RULES,
    notes=NOTES,
)
