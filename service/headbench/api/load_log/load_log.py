"""POST /v1/load-log: what springs lose through heat cycles and runs, which fall fast, and what shim restores."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, JobAnswered, Release
from headbench.api.exchange.resource import Resource
from headbench.api.gauges.tester_readings import RunRead
from headbench.api.load_log.lines import Logged, LogLine, SetLine, by_set, goes_by_run, logged_springs, set_lines
from headbench.api.load_log.notes import NOTES, log_notes
from headbench.api.load_log.request import LoadLogRequest, height_of, heights_slipped, log_faults, runs_of
from headbench.api.springs.tested import TestedSprings, tested_notes
from headbench.api.vocabulary.checks import VerdictName, worst_of
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for, merged
from headbench.api.vocabulary.names import named
from headbench.api.vocabulary.positions import measure_again, raise_if_any, unusual
from headbench.api.vocabulary.quantities import Answer, UnitsUsed, number_of, units_used
from headbench.api.vocabulary.saying import say
from headbench.calc.judging.possible import is_possible
from headbench.calc.judging.rules import POSSIBLE_COIL_BIND_HEIGHT, POSSIBLE_LIFT
from headbench.calc.load_log import limits
from headbench.calc.load_log.load_log import slipped_tests


class LoadLogAnswer(Answer, kw_only=True, frozen=True):
    """Every spring through its tests."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of all springs.")]
    springs: Annotated[list[LogLine], Meta(description="A line per spring, in the order given.")]
    sets: Annotated[list[SetLine], Meta(description="A line per set, in the order they are first named.")]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


_RATES: Final = ["loss_per_10_runs", "runs_left"]
_FAST: Final = "falling_fast_check"
_BOUND: Final = ["coil_bind_with_shim_check"]
_SHIMMED: Final = ["shim_needed", *_BOUND]
_LOST: Final = [
    "load", "own_load_loss_check", "load_lost", "heat_cycle_loss", "settled_loss", "settled_loss_check", *_RATES, _FAST,
    *_SHIMMED,
]  # fmt: skip


def _item(pointer: str, spring: str | None, needed_for: Sequence[str], detail: str) -> OpenItem:
    return OpenItem(pointer=pointer, position=None, spring=spring, needed_for=list(needed_for), detail=detail)


def _open_items(request: LoadLogRequest, logged: Sequence[Logged], runs: Mapping[str, RunRead]) -> Iterator[OpenItem]:
    if any(height_of(request, spring) is None for spring in request.springs):
        yield _item("/installed_height", None, _LOST, "Enter the installed height the springs work at.")
    for place in heights_slipped(request):
        spring = request.springs[place]
        own = spring.installed_height is not None
        detail = f"{named(spring.id, '')}: {measure_again('its installed height', height_of(request, spring) or 0.0)}"
        yield _item(f"/springs/{place}/installed_height" if own else "/installed_height", spring.id, _LOST, detail)
    shimmed = any(one.line.coil_bind_with_shim_check is not None for one in logged)
    if shimmed and request.valve_lift is None:
        yield _item("/valve_lift", None, _BOUND, "Enter the valve lift.")
    elif request.valve_lift is not None and not is_possible(request.valve_lift, POSSIBLE_LIFT):
        detail = f"Valve lift: {measure_again('it', request.valve_lift)}"
        yield _item("/valve_lift", None, _BOUND, detail)
    counted = {place for places in by_set(request).values() if goes_by_run(request, places) for place in places}
    for place, one in enumerate(logged):
        yield from _open_spring(request, place, one, runs, by_run=place in counted)


def _open_spring(
    request: LoadLogRequest, place: int, one: Logged, runs: Mapping[str, RunRead], *, by_run: bool
) -> Iterator[OpenItem]:
    spring, pointer, name = one.spring, f"/springs/{place}", named(one.spring.id, "")
    height = height_of(request, spring)
    if len(spring.tests) == 1:
        at = "the height it works at" if height is None else say(height, "length")
        detail = f"{name}: tested once; test it again after its heat cycle or runs, at {at}."
        yield _item(f"{pointer}/tests", spring.id, _LOST[1:], detail)
    if height is not None:
        yield from _open_tests(pointer, one, height, runs)
    start = one.found.settled_from
    for number, test in enumerate(spring.tests if by_run and len(spring.tests) > start + 1 else ()):
        if number >= start and test.runs is None:
            detail = f'{name}, "{test.label}": enter the runs behind it by then.'
            yield _item(f"{pointer}/tests/{number}/runs", spring.id, [*_RATES, _FAST], detail)
    yield from _open_bind(pointer, one)


def _open_tests(pointer: str, one: Logged, height: float, runs: Mapping[str, RunRead]) -> Iterator[OpenItem]:
    """Tests that do not tell the load at the height the spring works at, or not beyond doubt."""
    spring, name, stands = one.spring, named(one.spring.id, ""), say(height, "length")
    slips = slipped_tests(one.read)
    for number, (test, own) in enumerate(zip(spring.tests, one.log.tests, strict=True)):
        where = f"{pointer}/tests/{number}/readings"
        if slips[number]:
            yield _item(where, spring.id, _LOST, f'{name}, "{test.label}": {_slip(one, number)}')
        elif one.found.each[number].came_back:
            detail = f'{name}, "{test.label}": gained load since the test before; test it again at {stands}.'
            yield _item(where, spring.id, _LOST, detail)
        elif len(runs[where].averaged) == 1 and spring.rate is None and math.isnan(own.read_there):
            yield _item(f"{pointer}/rate", spring.id, _LOST, f"{name}: enter its rate, or test it at {stands}.")
        elif not own.is_proven(height):
            what = "its readings disagree; test it again" if runs[where].in_doubt else "test it"
            yield _item(where, spring.id, _LOST, f'{name}, "{test.label}": {what} at {stands}.')
    last = one.log.tests[-1]
    if math.isnan(one.found.shim) and last.curve is None and not math.isnan(last.read_there):
        detail = f"{name}: enter its rate, or test it at a second height, to know what shim restores."
        yield _item(f"{pointer}/rate", spring.id, _SHIMMED, detail)


def _slip(one: Logged, number: int) -> str:
    """What is to be done about a load that cannot be right beside that of the first test."""
    first, load = (one.read.tests[place].load_at(one.read.height) for place in (0, number))
    then = f"{say(load, 'force')} after {say(first, 'force')} at its first test"
    if load < first:
        return f"{then}: a decimal point slipped, or it is broken. Look at it, and test it again."
    return f"{then} can't be right, a decimal point may have slipped. Check both, and test it again."


def _open_bind(pointer: str, one: Logged) -> Iterator[OpenItem]:
    bind, name = one.spring.coil_bind_height, named(one.spring.id, "")
    if bind is not None and not is_possible(bind, POSSIBLE_COIL_BIND_HEIGHT):
        detail = f"{name}: {measure_again('its coil-bind height', bind)}"
        yield _item(f"{pointer}/coil_bind_height", one.spring.id, _BOUND, detail)
    elif bind is None and one.line.coil_bind_with_shim_check is not None:
        detail = f"{name}: measure its coil-bind height (square in the tester, guarded)."
        yield _item(f"{pointer}/coil_bind_height", one.spring.id, _BOUND, detail)


def answer(request: LoadLogRequest) -> LoadLogAnswer:
    """Answer one request; raises Contradiction."""
    runs = runs_of(request)
    raise_if_any(log_faults(request, runs))
    logged = logged_springs(request, runs)
    sets = set_lines(request, logged)
    heights = [number_of(height_of(request, spring)) for spring in request.springs]
    names = [named(spring.id, "") for spring in request.springs]
    return LoadLogAnswer(
        units=units_used(),
        verdict=worst_of([one.line.verdict for one in logged]),
        springs=[one.line for one in logged],
        sets=sets,
        open_items=merged(_open_items(request, logged, runs)),
        notes=[
            PLAIN_COMPARISON,
            *log_notes(request, logged, sets),
            *tested_notes(TestedSprings(list(runs.values()), {}, (), ())),
            *unusual("installed_height", heights, names, "/springs/{}"),
        ],
        cautions=cautions_for("springs", "tester"),
    )


RESOURCE: Final = Resource(
    kind="load-log",
    operation_id="followSpringLoads",
    summary="What springs lose through heat cycles and runs",
    description="Follow springs through their tests: load lost, loss per run, which fall fast, and what shim restores.",
    tag="Bench",
    request=LoadLogRequest,
    answer=LoadLogAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("load_log.json"),
    limits=limits.LIMITS,
    rules=limits.RULES,
    notes=NOTES,
)
