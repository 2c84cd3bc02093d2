"""Load log lines: each spring's losses, and what each set came to."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.gauges.tester_readings import RunRead
from headbench.api.load_log.request import (
    MOST_RUNS,
    LoadLogRequest,
    LoggedSpring,
    logs_of,
    loss_maximum,
    settled_maximum,
)
from headbench.api.vocabulary.checks import (
    LengthCheck,
    PercentCheck,
    VerdictName,
    length_check,
    percent_check,
    worst_of,
)
from headbench.api.vocabulary.quantities import Answer, ForceOut, LengthOut, PercentOut
from headbench.calc.judging.grid import on_grid
from headbench.calc.judging.limits import COIL_BIND_CLEARANCE_MINIMUM
from headbench.calc.judging.touching import clearance_verdict
from headbench.calc.judging.verdicts import accepted_if_proven, at_most, setting_verdict
from headbench.calc.load_log.load_log import Followed, Log, drift_of, fast_of, follow, without_slips

_UNKNOWN: Final = "null = not measured."
_HAIR: Final = 1e-6
"""What rounding of floats takes of a run, at most [-]."""


class TestedLine(Answer, kw_only=True, frozen=True):
    """One test."""

    label: Annotated[str, Meta(description="When it was, as entered.")]
    load: Annotated[ForceOut | None, Meta(description=f"Load at the installed height; {_UNKNOWN}")]
    own_load_loss_check: Annotated[
        PercentCheck | None,
        Meta(
            description="Load lost against its own first test; only the last one counts toward the verdict. Null = the "
            "first test."
        ),
    ]


class LogLine(Answer, kw_only=True, frozen=True):
    """One spring through its tests."""

    id: Annotated[str, Meta(description="The spring.")]
    set: Annotated[str, Meta(description="Its set.")]
    tests: Annotated[list[TestedLine], Meta(description="Its tests, in the order given.")]
    load_lost: Annotated[PercentOut | None, Meta(description=f"Lost so far, of its own first test; {_UNKNOWN}")]
    heat_cycle_loss: Annotated[
        PercentOut | None, Meta(description="Lost over the first heat cycle; null = not measured, or none was logged.")
    ]
    settled_loss: Annotated[
        PercentOut | None,
        Meta(
            description="Lost since the first heat cycle, since the first test where none was logged; null = no test "
            "since."
        ),
    ]
    settled_loss_check: Annotated[
        PercentCheck | None,
        Meta(description="That against its limit; null = no limit, as in service, or no test since."),
    ]
    loss_per_10_runs: Annotated[
        PercentOut | None,
        Meta(description="Slope of these losses over ten runs, by least squares; null = runs not known."),
    ]
    runs_left: Annotated[
        int | None,
        Meta(description="Whole runs until the limit at that rate, no promise; null = not known, or it loses nothing."),
    ]
    falling_fast_check: Annotated[
        PercentCheck | None,
        Meta(
            description="Its loss per ten runs, its settled loss where no runs are known of its set, against twice the "
            "median of the set, or what a tester tells if that is more; null = a set of fewer than three."
        ),
    ]
    shim_needed: Annotated[
        LengthOut | None,
        Meta(description="Shim that brings the first load back; 0 = no difference a tester tells; null = not known."),
    ]
    coil_bind_with_shim_check: Annotated[
        LengthCheck | None,
        Meta(
            description="Coil-bind clearance at full lift with that shim; does not count toward the verdict on the "
            "springs as they are. Null = no shim is needed, or none is known."
        ),
    ]
    verdict: Annotated[VerdictName, Meta(description="The worst of the checks that count.")]


class SetLine(Answer, kw_only=True, frozen=True):
    """The springs of one set together."""

    set: Annotated[str, Meta(description="The set.")]
    count: Annotated[int, Meta(description="How many of its springs were tested twice or more.")]
    mean_loss: Annotated[PercentOut | None, Meta(description=f"Mean of their losses; {_UNKNOWN}")]
    worst_loss: Annotated[PercentOut | None, Meta(description=f"Largest of their losses; {_UNKNOWN}")]
    worst_at: Annotated[str | None, Meta(description="The spring that lost most; null = none was tested twice.")]
    load_spread_first: Annotated[
        ForceOut | None,
        Meta(
            description="Largest load less the smallest at their first tests; null = not measured, or they work at "
            "different heights."
        ),
    ]
    load_spread_last: Annotated[ForceOut | None, Meta(description="The same at their last tests.")]
    load_spread_drift: Annotated[ForceOut | None, Meta(description="How much further apart they are now.")]


@dataclass(frozen=True, slots=True)
class Logged:
    """One spring, worked: as it was entered, read and counted, what it came to, and its line."""

    spring: LoggedSpring
    read: Log
    log: Log
    found: Followed
    line: LogLine
    is_fast_by_tester: bool


def logged_springs(request: LoadLogRequest, runs: dict[str, RunRead]) -> list[Logged]:
    """Every spring, followed, and held against its set."""
    read = logs_of(request, runs)
    logs = [without_slips(log) for log in read]
    found = [follow(log) for log in logs]
    fast: dict[int, tuple[PercentCheck | None, bool]] = {}
    for places in by_set(request).values():
        fast |= _fast_checks(request, places, found)
    each = zip(request.springs, read, logs, found, strict=True)
    return [
        Logged(spring, raw, log, own, _line(request, spring, own, fast[place][0]), fast[place][1])
        for place, (spring, raw, log, own) in enumerate(each)
    ]


def by_set(request: LoadLogRequest) -> dict[str, list[int]]:
    """Places of the springs of each set."""
    sets: dict[str, list[int]] = {}
    for place, spring in enumerate(request.springs):
        sets.setdefault(spring.set, []).append(place)
    return sets


def goes_by_run(request: LoadLogRequest, places: list[int]) -> bool:
    """Whether the runs of any of a set's tests are known, so that all go by them."""
    return any(test.runs is not None for place in places for test in request.springs[place].tests)


def _fast_checks(
    request: LoadLogRequest, places: list[int], found: list[Followed]
) -> dict[int, tuple[PercentCheck | None, bool]]:
    """Each spring of a set against twice its median, which hangs on every one of them, or what a tester tells."""
    fast = fast_of([found[place] for place in places], by_run=goes_by_run(request, places))
    if not fast:
        return dict.fromkeys(places, (None, False))
    complete = not any(math.isnan(one.value) for one in fast)
    sure = complete and all(one.is_proven for place in places for one in found[place].each)
    rejects = request.limits.off_target == "reject"
    checks: dict[int, tuple[PercentCheck | None, bool]] = {}
    for place, own in zip(places, fast, strict=True):
        verdict = accepted_if_proven(setting_verdict(at_most(own.value, own.limit), misses_reject=rejects), sure)
        checks[place] = percent_check(own.value, own.limit, "at_most", verdict), own.is_by_tester
    return checks


def _line(request: LoadLogRequest, spring: LoggedSpring, found: Followed, fast: PercentCheck | None) -> LogLine:
    most, rejects = loss_maximum(request), request.limits.off_target == "reject"
    tests: list[TestedLine] = []
    for number, (test, own) in enumerate(zip(spring.tests, found.each, strict=True)):
        verdict = accepted_if_proven(setting_verdict(at_most(own.loss, most), misses_reject=rejects), own.is_proven)
        check = percent_check(own.loss, most, "at_most", verdict, counts=number == len(spring.tests) - 1)
        tests.append(TestedLine(label=test.label, load=own.load, own_load_loss_check=check if number else None))
    last = tests[-1].own_load_loss_check
    settled = _settled(request, found)
    minimum = request.limits.coil_bind_clearance_minimum
    least = COIL_BIND_CLEARANCE_MINIMUM.value if minimum is None else minimum
    left = found.bind_clearance
    bind = length_check(left, least, "at_least", clearance_verdict(left, least), "damage", counts=False)
    verdicts: list[VerdictName] = ["not_measured" if last is None else last.verdict]
    return LogLine(
        id=spring.id,
        set=spring.set,
        tests=tests,
        load_lost=found.last.loss,
        heat_cycle_loss=found.heat_cycle_loss,
        settled_loss=found.settled_loss,
        settled_loss_check=settled,
        loss_per_10_runs=found.loss_per_10_runs,
        runs_left=_whole(found.runs_left),
        falling_fast_check=fast,
        shim_needed=found.shim,
        coil_bind_with_shim_check=bind if found.shim > 0.0 else None,
        verdict=worst_of([*verdicts, *(check.verdict for check in (settled, fast) if check is not None)]),
    )


def _whole(runs: float) -> int | None:
    """Runs that can be counted on, whole ones; None where they are more than a log could ever have."""
    return math.floor(runs + _HAIR) if runs <= MOST_RUNS else None


def _settled(request: LoadLogRequest, found: Followed) -> PercentCheck | None:
    """What a spring lost since its first heat cycle against its limit, where there is one and a test since."""
    most = settled_maximum(request)
    if math.isnan(most) or len(found.each) == found.settled_from + 1:
        return None
    rejects = request.limits.off_target == "reject"
    sure = found.last.is_proven and found.each[found.settled_from].is_proven
    verdict = accepted_if_proven(setting_verdict(at_most(found.settled_loss, most), misses_reject=rejects), sure)
    return percent_check(found.settled_loss, most, "at_most", verdict)


def set_lines(request: LoadLogRequest, logged: list[Logged]) -> list[SetLine]:
    """What every set came to, in the order they are first named."""
    lines = []
    for name, places in by_set(request).items():
        own = [logged[place] for place in places]
        drift = drift_of([one.found for one in own])
        known = [one for one in own if not math.isnan(one.found.last.loss)]
        heights = {on_grid(one.log.height) for one in known}
        first, last = (drift.spread_first, drift.spread_last) if len(heights) == 1 else (math.nan, math.nan)
        worst = max(
            (one for one in known if not one.found.last.came_back), key=lambda one: one.found.last.loss, default=None
        )
        lines.append(
            SetLine(
                set=name,
                count=len(known),
                mean_loss=drift.mean,
                worst_loss=drift.worst,
                worst_at=None if worst is None else worst.spring.id,
                load_spread_first=first,
                load_spread_last=last,
                load_spread_drift=last - first,
            )
        )
    return lines
