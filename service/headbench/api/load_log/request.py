"""Load log readings: what a tester showed of springs, time after time."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Annotated, Final, Literal

from msgspec import Meta

from headbench.api.exchange.envelope import Job, JobAsked
from headbench.api.gauges.tester import Tester, tester_faults
from headbench.api.gauges.tester_readings import Reading, Run, RunRead, read_run, reading_faults
from headbench.api.vocabulary.names import named
from headbench.api.vocabulary.positions import repeated_ids
from headbench.api.vocabulary.quantities import (
    Length,
    Model,
    Name,
    Percent,
    PositiveLength,
    PositiveRate,
    Units,
    number_of,
)
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import CoilBindMinimum, OffTarget, by_default
from headbench.calc.judging.grid import on_grid
from headbench.calc.judging.limits import LOAD_LOSS_MAXIMUM
from headbench.calc.judging.possible import if_possible, is_possible
from headbench.calc.judging.rules import POSSIBLE_COIL_BIND_HEIGHT, POSSIBLE_HEIGHT, POSSIBLE_LIFT
from headbench.calc.load_log.limits import SETTLED_LOSS_MAXIMUM
from headbench.calc.load_log.load_log import Log, OnTester
from headbench.calc.springs.one_curve import curve_of_one_reading
from headbench.calc.springs.readings import curve_of_averaged
from headbench.errors import Pointed

MOST_LOGGED: Final = 64
MOST_TESTS: Final = 40
MOST_RUNS: Final = 1e6
_LINE: Final = 2
"""Heights that make a line."""


class LoadLogLimits(Model, kw_only=True, frozen=True):
    """How much load may be lost, and what is to be left between the coils."""

    load_loss_maximum: Annotated[
        Percent | None, by_default(LOAD_LOSS_MAXIMUM, "Largest loss of load against a spring's own first test.")
    ] = None
    settled_loss_maximum: Annotated[
        Percent | None,
        by_default(
            SETTLED_LOSS_MAXIMUM,
            "Largest loss of load since the first heat cycle, of the first load. In service null = none.",
        ),
    ] = None
    coil_bind_clearance_minimum: CoilBindMinimum = None
    off_target: OffTarget = "borderline"


class LoggedTest(Model, kw_only=True, frozen=True):
    """One time on the tester."""

    label: Annotated[Name, Meta(description="When it was, a date or what had been run.", examples=["after 12 passes"])]
    after: Annotated[
        Literal["new", "heat_cycle", "run"],
        Meta(description="What the spring had gone through since the test before.", examples=["run"]),
    ]
    runs: Annotated[
        Annotated[float, Meta(ge=0.0, le=MOST_RUNS, extra_json_schema={"x-quantity": "count"})] | None,
        Meta(description="Runs, passes or hours behind it in all; null = not known.", examples=[12]),
    ] = None
    readings: Annotated[
        list[Reading],
        Meta(
            min_length=1,
            max_length=6,
            description="What the tester showed, best at the height it works at; two heights give the rate, too.",
            examples=[[{"height": 1.85, "load": 126.0}]],
        ),
    ]


class LoggedSpring(Model, kw_only=True, frozen=True):
    """One spring, or a nested set that is tested together, and its tests."""

    id: Annotated[Name, Meta(description="Name of the spring.", examples=["S1"])]
    set: Annotated[Name, Meta(description="Springs of one set are held against each other.", examples=["intake"])] = (
        "all"
    )
    installed_height: Annotated[
        PositiveLength | None,
        Meta(
            description="Height it works at, valve closed; loads are compared there. Null = as the job says.",
            examples=[1.85],
        ),
    ] = None
    rate: Annotated[
        PositiveRate | None,
        Meta(
            description="Rate near that height, force per length, for tests at one height alone; null = not known.",
            examples=[380],
        ),
    ] = None
    coil_bind_height: Annotated[
        PositiveLength | None,
        Meta(description="Coil-bind height, of the first to touch; null = not measured.", examples=[1.1]),
    ] = None
    tests: Annotated[
        list[LoggedTest],
        Meta(
            min_length=1,
            max_length=MOST_TESTS,
            description="Its tests in the order they were taken; the first is what losses are figured from.",
            examples=[[{"label": "new", "after": "new", "readings": [{"height": 1.85, "load": 128}]}]],
        ),
    ]


class LoadLogRequest(Model, kw_only=True, frozen=True):
    """Springs and their tests, time after time."""

    units: Units = Units()
    job: JobAsked = Job()
    limits: Annotated[LoadLogLimits, Meta(description="Limits.", examples=[{"load_loss_maximum": 10}])] = (
        LoadLogLimits()
    )
    use: Annotated[
        Literal["service", "race"],
        Meta(
            description="What the springs are used for. In racing settled_loss_maximum has a default, in service none.",
            examples=["race"],
        ),
    ] = "service"
    installed_height: Annotated[
        PositiveLength | None,
        Meta(
            description="Height springs work at, valve closed, unless one says otherwise; null = not given.",
            examples=[1.85],
        ),
    ] = None
    valve_lift: Annotated[Length | None, Meta(description="Valve lift; null = not measured.", examples=[0.600])] = None
    tester: Annotated[
        Tester | None, Meta(description="Known loads the tester was checked with; null = not checked.")
    ] = None
    springs: Annotated[
        list[LoggedSpring],
        Meta(
            min_length=1,
            max_length=MOST_LOGGED,
            description="The springs.",
            examples=[
                [
                    {
                        "id": "S1",
                        "tests": [{"label": "new", "after": "new", "readings": [{"height": 1.85, "load": 128}]}],
                    }
                ]
            ],
        ),
    ]


def runs_of(request: LoadLogRequest) -> dict[str, RunRead]:
    """Every test's readings, corrected, by their pointer; none where the tester's own correction is wrong."""
    if any(tester_faults(request.tester)):
        return {}
    runs = [
        Run(
            pointer=f"/springs/{place}/tests/{number}/readings",
            spring=spring.id,
            readings=test.readings,
            coil_bind_height=spring.coil_bind_height,
            has_rate=spring.rate is not None,
        )
        for place, spring in enumerate(request.springs)
        for number, test in enumerate(spring.tests)
    ]
    return {run.pointer: read_run(run, request.tester) for run in runs}


def log_faults(request: LoadLogRequest, runs: Mapping[str, RunRead]) -> Iterator[Pointed]:
    """What of a request contradicts itself."""
    yield from repeated_ids([spring.id for spring in request.springs], "/springs", "spring")
    yield from tester_faults(request.tester)
    yield from reading_faults(runs.values())
    for place, spring in enumerate(request.springs):
        yield from _series_faults(spring, f"/springs/{place}")
        height = height_of(request, spring)
        if request.valve_lift is not None and height is not None and request.valve_lift >= height:
            lift, stands = say(request.valve_lift, "length"), say(height, "length")
            detail = f"{named(spring.id, '')}: valve lift {lift} must be less than installed height {stands}"
            yield Pointed("/valve_lift" if place == 0 else f"/springs/{place}/installed_height", detail)


def _series_faults(spring: LoggedSpring, pointer: str) -> Iterator[Pointed]:
    for number, test in enumerate(spring.tests):
        if number and test.after == "new":
            detail = f"{named(spring.id, '')}: only its first test can be new; a new spring is a spring of its own"
            yield Pointed(f"{pointer}/tests/{number}/after", detail)
    known = [(number, test.runs) for number, test in enumerate(spring.tests) if test.runs is not None]
    for (_, before), (number, after) in pairwise(known):
        if after < before:
            detail = (
                f"{named(spring.id, '')}: {after:g} runs behind it, and {before:g} at an earlier test; enter tests in "
                "the order they were taken"
            )
            yield Pointed(f"{pointer}/tests/{number}/runs", detail)


def height_of(request: LoadLogRequest, spring: LoggedSpring) -> float | None:
    """The height a spring works at as entered [m]."""
    return request.installed_height if spring.installed_height is None else spring.installed_height


def logs_of(request: LoadLogRequest, runs: Mapping[str, RunRead]) -> list[Log]:
    """Every spring as the kernels take it."""
    return [
        Log(
            tests=tuple(
                _on_tester(request, spring, test, runs[f"/springs/{place}/tests/{number}/readings"])
                for number, test in enumerate(spring.tests)
            ),
            height=if_possible(number_of(height_of(request, spring)), POSSIBLE_HEIGHT),
            valve_lift=if_possible(number_of(request.valve_lift), POSSIBLE_LIFT),
            coil_bind_height=if_possible(number_of(spring.coil_bind_height), POSSIBLE_COIL_BIND_HEIGHT),
            loss_maximum=loss_maximum(request),
            settled_maximum=settled_maximum(request),
        )
        for place, spring in enumerate(request.springs)
    ]


def loss_maximum(request: LoadLogRequest) -> float:
    """What a spring may lose in all [percent]."""
    given = request.limits.load_loss_maximum
    return LOAD_LOSS_MAXIMUM.value if given is None else given


def settled_maximum(request: LoadLogRequest) -> float:
    """What a spring may lose since its first heat cycle [percent]; NaN where nothing limits that alone."""
    given = request.limits.settled_loss_maximum
    if given is None:
        return SETTLED_LOSS_MAXIMUM.value if request.use == "race" else math.nan
    return given


def _on_tester(request: LoadLogRequest, spring: LoggedSpring, test: LoggedTest, read: RunRead) -> OnTester:
    averaged = read.averaged
    runs, cycled = number_of(test.runs), test.after == "heat_cycle"
    if len(averaged) >= _LINE:
        curve = replace(curve_of_averaged(averaged), in_doubt=read.in_doubt)
        return OnTester(curve, runs=runs, is_heat_cycle=cycled)
    if len(averaged) == 1 and spring.rate is not None:
        curve = replace(curve_of_one_reading(averaged[0].height, averaged[0].load, spring.rate), in_doubt=read.in_doubt)
        return OnTester(curve, runs=runs, is_heat_cycle=cycled)
    height = height_of(request, spring)
    at_height = height is not None and [on_grid(one.height) for one in averaged] == [on_grid(height)]
    return OnTester(None, averaged[0].load if at_height else math.nan, read.in_doubt, runs, cycled)


def heights_slipped(request: LoadLogRequest) -> Sequence[int]:
    """Springs whose height cannot be right."""
    return [
        place
        for place, spring in enumerate(request.springs)
        if not is_possible(number_of(height_of(request, spring)), POSSIBLE_HEIGHT)
    ]
