"""POST /v1/spring-load: what springs push at given heights, how they were read, and what they lost."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, Job, JobAnswered, JobAsked, Release
from headbench.api.exchange.resource import Resource
from headbench.api.gauges.tester import Tester
from headbench.api.gauges.tester_readings import RunRead
from headbench.api.springs.bind_notes import height_asked_notes, load_asked_notes, working_notes
from headbench.api.springs.coils import CoilLine, StressFactor, coil_notes, open_materials
from headbench.api.springs.curve import DrawnCurve, coil_lines, drawn_curve
from headbench.api.springs.dimensions import DimensionedCurve
from headbench.api.springs.notes import coil_bind_repeats, known_by_notes
from headbench.api.springs.ratings import LoadLoss, RatingDeviation, against_rating, open_ratings
from headbench.api.springs.runs import RunLine, run_lines
from headbench.api.springs.spring import (
    Spring,
    each_spring,
    open_springs,
    read_runs,
    read_springs,
    spring_faults,
)
from headbench.api.springs.tested import TestedSprings, open_tests, tested_notes, tested_springs
from headbench.api.vocabulary.checks import PercentCheck, VerdictName, worst_of
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for, merged, note
from headbench.api.vocabulary.positions import raise_if_any, unusual
from headbench.api.vocabulary.quantities import (
    Answer,
    ForceOut,
    Length,
    LengthOut,
    Model,
    PositiveForce,
    PositiveLength,
    RateOut,
    Units,
    UnitsUsed,
    units_used,
)
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import LossLimit, OffTarget
from headbench.calc.springs.spring_load import SpringLoads, find_loads
from headbench.errors import Pointed


class SpringLoadLimits(Model, kw_only=True, frozen=True):
    """How much load may be lost."""

    load_loss_maximum: LossLimit = None
    off_target: OffTarget = "borderline"


class WorkingHeights(Model, kw_only=True, frozen=True):
    """Heights the springs work between."""

    installed_height: Annotated[
        PositiveLength, Meta(description="Installed height of the outer spring, valve closed.", examples=[1.75])
    ]
    valve_lift: Annotated[Length, Meta(description="Valve lift.", examples=[0.49])]


class SpringLoadRequest(Model, kw_only=True, frozen=True):
    """Springs, and the heights or loads asked for."""

    units: Units = Units()
    job: JobAsked = Job()
    limits: Annotated[SpringLoadLimits, Meta(examples=[{"load_loss_maximum": 10}])] = SpringLoadLimits()
    tester: Annotated[
        Tester | None, Meta(description="Known loads the tester was checked with; null = not checked.")
    ] = None
    springs: Annotated[
        list[Spring], Meta(min_length=1, max_length=64, description="The springs.", examples=[[{"id": "S1"}]])
    ]
    heights: Annotated[
        list[PositiveLength],
        Meta(
            max_length=50,
            description="Heights of the outer spring to give the load at; nested springs stand shorter by seat_rise.",
            examples=[[1.75, 1.26]],
        ),
    ] = []
    loads: Annotated[
        list[PositiveForce], Meta(max_length=10, description="Loads to give the height for.", examples=[[160]])
    ] = []
    working_heights: Annotated[
        WorkingHeights | None,
        Meta(description="Working heights, for stress, fatigue and surge from dimensions; null = not given."),
    ] = None
    stress_factor: Annotated[
        StressFactor,
        Meta(
            description="Curvature factor for round wire; Bergstraesser's is the one of EN 13906-1:2013. Ovate wire "
            "goes by elasticity.",
            examples=["bergstraesser"],
        ),
    ] = "bergstraesser"
    curve_points: Annotated[
        Annotated[int, Meta(ge=2, le=100)] | None,
        Meta(description="How many points of each curve to give, for plotting; null = no curve.", examples=[25]),
    ] = None


class LoadPoint(Answer, kw_only=True, frozen=True):
    """A spring, or nested set, at one height."""

    height: Annotated[LengthOut, Meta(description="Height of the outer spring.")]
    load: Annotated[ForceOut | None, Meta(description="Load; null = not measured, or in coil bind.")]
    rate: Annotated[
        RateOut | None,
        Meta(description="Rate at this height, all springs together; null = not measured, or in coil bind."),
    ]
    beyond_readings: Annotated[
        LengthOut | None, Meta(description="How far outside the heights tested; 0 = inside, null = not tested.")
    ]


class HeightPoint(Answer, kw_only=True, frozen=True):
    """The height at which a spring, or nested set, makes one load."""

    load: Annotated[ForceOut, Meta(description="Load asked for.")]
    height: Annotated[
        LengthOut | None, Meta(description="Height of the outer spring; null = not measured, or coil bind comes first.")
    ]
    beyond_readings: Annotated[
        LengthOut | None, Meta(description="How far outside the heights tested; 0 = inside, null = not tested.")
    ]


class LoadLine(Answer, kw_only=True, frozen=True):
    """One spring or nested set."""

    id: Annotated[str, Meta(description="The spring.")]
    loads_at_heights: Annotated[list[LoadPoint], Meta(description="Load and rate at every height asked for.")]
    heights_at_loads: Annotated[list[HeightPoint], Meta(description="Height for every load asked for.")]
    mean_rate: Annotated[
        RateOut | None, Meta(description="Rate between the tallest and shortest height asked for; null = only one.")
    ]
    load_loss_check: LoadLoss
    rated_load_check: RatingDeviation
    tested_springs: Annotated[
        list[RunLine], Meta(description="Its springs that were tested, and how the readings agree.")
    ]
    dimensioned_springs: Annotated[list[CoilLine], Meta(description="Its springs that are known by their dimensions.")]
    curve: Annotated[DrawnCurve | None, Meta(description="Points for plotting; null = not asked, or not measured.")]
    verdict: Annotated[VerdictName | None, Meta(description="Worst of its checks; null = nothing to judge.")]


class SpringLoadAnswer(Answer, kw_only=True, frozen=True):
    """Every spring's loads and rates."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: UnitsUsed
    verdict: Annotated[VerdictName | None, Meta(description="Worst of all springs; null = nothing to judge.")]
    springs: Annotated[list[LoadLine], Meta(description="One line per spring.")]
    open_items: list[OpenItem]
    notes: list[Note]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


def answer(request: SpringLoadRequest) -> SpringLoadAnswer:
    """Answer one request; raises Contradiction."""
    springs = request.springs
    runs = read_runs(springs, request.tester)
    raise_if_any(_faults(request, runs))
    read = read_springs(springs, runs)
    tested = tested_springs(springs, set(read.sets), read)
    working = _working(request)
    found = [
        find_loads(own, request.heights, request.loads, working, request.curve_points or 0)
        for own in read.sets.values()
    ]
    most, rejects = request.limits.load_loss_maximum, request.limits.off_target == "reject"
    rated = [
        against_rating(spring, own.springs, most, misses_reject=rejects)
        for spring, own in zip(springs, found, strict=True)
    ]
    columns = zip(
        springs,
        found,
        rated,
        run_lines(springs, tested, read),
        coil_lines(springs, found, request.stress_factor),
        strict=True,
    )
    asked = bool(request.heights or request.loads)
    lines = [
        LoadLine(
            id=spring.id,
            loads_at_heights=[
                LoadPoint(
                    height=at.height,
                    load=at.load,
                    rate=at.rate,
                    beyond_readings=own.springs.beyond_readings(at.height),
                )
                for at in own.at_heights
            ],
            heights_at_loads=[
                HeightPoint(load=load, height=height, beyond_readings=own.springs.beyond_readings(height))
                for load, height in zip(request.loads, own.for_loads, strict=True)
            ],
            mean_rate=own.mean_rate,
            load_loss_check=loss,
            rated_load_check=deviation,
            tested_springs=runs_told,
            dimensioned_springs=coils,
            curve=drawn_curve(own),
            verdict=_worst([loss, deviation], asked=asked and not own.springs.is_known),
        )
        for spring, own, (loss, deviation), runs_told, coils in columns
    ]
    verdicts = [line.verdict for line in lines if line.verdict is not None]
    return SpringLoadAnswer(
        units=units_used(),
        verdict=worst_of(verdicts) if verdicts else None,
        springs=lines,
        open_items=merged(_open_items(request, [loss for loss, _ in rated], tested)),
        notes=[PLAIN_COMPARISON, *_notes(request, found, tested)],
        cautions=cautions_for("springs", "tester"),
    )


def _faults(request: SpringLoadRequest, runs: Mapping[str, RunRead]) -> Iterator[Pointed]:
    yield from spring_faults(request.springs, runs, request.tester)
    working = request.working_heights
    if working is not None and working.valve_lift >= working.installed_height:
        lift, height = (say(value, "length") for value in (working.valve_lift, working.installed_height))
        detail = f"valve lift {lift} must be less than installed height {height}; check both"
        yield Pointed("/working_heights/valve_lift", detail)


def _worst(checks: Sequence[PercentCheck | None], *, asked: bool) -> VerdictName | None:
    """Worst of a spring's checks; a load that is asked of a spring nobody tested is not measured."""
    verdicts: list[VerdictName] = ["not_measured"] if asked else []
    verdicts += [check.verdict for check in checks if check is not None]
    return worst_of(verdicts) if verdicts else None


def _working(request: SpringLoadRequest) -> tuple[float, float]:
    """Installed and open height of the outer spring [m], NaN where they are not given."""
    if request.working_heights is None:
        return math.nan, math.nan
    installed = request.working_heights.installed_height
    return installed, installed - request.working_heights.valve_lift


def _open_items(
    request: SpringLoadRequest, losses: Sequence[PercentCheck | None], tested: TestedSprings
) -> Iterator[OpenItem]:
    used = {spring.id for spring in request.springs}
    needed_for = {
        "load_curve": ["load", "rate", "beyond_readings", "mean_rate", "height", "curve"],
        "proof": ["load", "load_loss_check", "rated_load_check"],
    }
    yield from open_springs(request.springs, used, {"load_curve": needed_for["load_curve"]})
    yield from open_tests(tested, used, needed_for)
    yield from open_ratings(request.springs, losses, tested)
    yield from open_materials(request.springs)


def _notes(request: SpringLoadRequest, found: Sequence[SpringLoads], tested: TestedSprings) -> Iterator[Note]:
    installed, opened = _working(request)
    yield from unusual("valve_lift", [installed - opened], ["Working heights"], "/working_heights/valve_lift")
    yield from height_asked_notes(request.springs, found)
    yield from load_asked_notes(request.springs, found, request.loads)
    yield from working_notes(request.springs, found)
    yield from _extrapolated(request.springs, found)
    used = {spring.id for spring in request.springs}
    yield from known_by_notes(request.springs, used)
    yield from tested_notes(tested)
    yield from coil_bind_repeats(request.springs, used)
    for spring, pointer, one in each_spring(request.springs):
        if isinstance(one.load_curve, DimensionedCurve):
            yield from coil_notes(pointer, spring, one.load_curve)


def _extrapolated(springs: Sequence[Spring], found: Sequence[SpringLoads]) -> Iterator[Note]:
    """One note on all loads and heights that lie outside the heights tested by more than a little."""
    sentences: list[str] = []
    first = 0
    for place, (spring, own) in enumerate(zip(springs, found, strict=True)):
        asked = dict.fromkeys([*(at.height for at in own.at_heights if at.load > 0.0), *own.for_loads])
        outside = [say(height, "length") for height in asked if own.springs.works_outside_readings(height)]
        if outside:
            first = first if sentences else place
            sentences.append(f"Spring {spring.id} at {', '.join(outside)}")
    if sentences:
        detail = f"{'; '.join(sentences)}: outside the heights tested, load extrapolated. Test there."
        yield note("beyond_readings", f"/springs/{first}/load_curve", detail)


RESOURCE: Final = Resource(
    kind="spring-load",
    operation_id="findSpringLoad",
    summary="Load and rate of springs at given heights",
    description="Figure load and rate at heights, height for loads, load loss and stress, by test, rating or "
    "dimensions.",
    tag="Bench",
    request=SpringLoadRequest,
    answer=SpringLoadAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("spring_load.json"),
)
