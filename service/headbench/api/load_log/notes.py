"""Load log notes: what the sentences of load logs say, each ending in what to do."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import partial
from typing import Final

from headbench.api.load_log.lines import Logged, SetLine, by_set, goes_by_run
from headbench.api.load_log.request import LoadLogRequest, loss_maximum
from headbench.api.vocabulary.checks import PercentCheck
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.names import named
from headbench.api.vocabulary.saying import say, say_enough
from headbench.calc.judging.rules import TESTER_REPEATS, USUAL_SHIMS
from headbench.calc.load_log.limits import HEAT_CYCLE_LOSS

NOTES: Final = {
    "load_lost": "A spring lost more than it may of its own first load; a shim does not mend it.",
    "falling_fast": "A spring loses more than twice the median of its set.",
    "heat_cycle_usual": "What the first heat cycle took of the springs, and what is usual.",
    "heat_cycle_unusual": "The first heat cycle took more of a spring than is usual.",
    "load_came_back": "A spring pushed more than at the test before; springs do not gain load.",
    "first_test_not_new": "A spring was not new at its first test; what it lost before is not known.",
    "load_shims": "Shims that bring the first loads back, and what they leave between the coils.",
    "load_shim_binds": "The shim that brings the first load back would leave too little between the coils.",
    "set_drifts_apart": "The loads of a set are further apart than they were.",
}
"""The notes of load logs: code -> meaning."""

_MISSED: Final = {"borderline", "reject"}
_note = partial(note, known=NOTES)


def log_notes(request: LoadLogRequest, logged: Sequence[Logged], sets: Sequence[SetLine]) -> Iterator[Note]:
    """What was found of the springs, what to replace first."""
    counted = {place for places in by_set(request).values() if goes_by_run(request, places) for place in places}
    for place, one in enumerate(logged):
        yield from _lost(request, place, one, by_run=place in counted)
    for place, one in enumerate(logged):
        yield from _came_back(place, one)
    yield from _not_new(logged)
    yield from _heat_cycles(logged)
    yield from _shims(logged)
    for own in sets:
        drift, first, last = own.load_spread_drift, own.load_spread_first, own.load_spread_last
        if drift is not None and first is not None and last is not None and drift > TESTER_REPEATS.values[0]:
            detail = (
                f'Set "{own.set}": loads {say(first, "force")} apart at the first tests, {say(last, "force")} now; '
                f"{own.worst_at} lost most. Match or re-shim before the spread shows in the valve train."
            )
            yield _note("set_drifts_apart", "/springs", detail)


def _lost(request: LoadLogRequest, place: int, one: Logged, *, by_run: bool) -> Iterator[Note]:
    name, found, pointer = named(one.spring.id, ""), one.found, f"/springs/{place}/tests/{len(one.spring.tests) - 1}"
    settled = one.line.settled_loss_check
    if is_out(one):
        lost, most = f"{_percent(found.last.loss)} of its first load lost", loss_maximum(request)
        if settled is not None and not _misses(one.line.tests[-1].own_load_loss_check):
            since = "heat cycle" if found.settled_from else "first test"
            lost, most = f"{_percent(found.settled_loss)} of its first load lost since its {since}", settled.limit
        detail = (
            f'{name}: {lost} by "{one.spring.tests[-1].label}", {_percent(most)} is the limit. Replace it; a shim does '
            "not mend it."
        )
        yield _note("load_lost", pointer, detail)
    fast = one.line.falling_fast_check
    if fast is not None and fast.verdict in _MISSED and fast.value is not None:
        per, limit = " in ten runs" if by_run else "", _percent(fast.limit)
        usual = (
            f"its set loses less than the {limit} that a tester tells"
            if one.is_fast_by_tester
            else f"twice what its set loses would be {limit}"
        )
        detail = f"{name}: loses {_percent(fast.value)}{per}; {usual}. Replace it before it takes a valve along."
        yield _note("falling_fast", pointer, detail)


def is_out(one: Logged) -> bool:
    """Whether a spring lost more than it may, in all or since it has settled."""
    return _misses(one.line.tests[-1].own_load_loss_check) or _misses(one.line.settled_loss_check)


def _misses(check: PercentCheck | None) -> bool:
    return check is not None and check.to_spare is not None and check.verdict != "accept" and check.to_spare < 0.0


def _came_back(place: int, one: Logged) -> Iterator[Note]:
    for number, test in enumerate(one.found.each):
        if test.came_back:
            known = (earlier.load for earlier in reversed(one.found.each[:number]))
            before, now = next(load for load in known if not math.isnan(load)), test.load
            detail = (
                f'{named(one.spring.id, "")}: {say(now, "force")} at "{one.spring.tests[number].label}" after '
                f"{say(before, 'force')}. Springs do not gain load: check which spring it is, its height and tester."
            )
            yield _note("load_came_back", f"/springs/{place}/tests/{number}/readings", detail)


def _not_new(logged: Sequence[Logged]) -> Iterator[Note]:
    """The springs whose first loads are not those they were sold with."""
    used = [one.spring.id for one in logged if one.spring.tests[0].after != "new"]
    if used:
        detail = (
            f"{', '.join(used)}: not new at the first test, so what was lost before it is in no loss here. Hold the "
            "loads against the maker's, too."
        )
        yield _note("first_test_not_new", "/springs", detail)


def _heat_cycles(logged: Sequence[Logged]) -> Iterator[Note]:
    """What the first heat cycles took, all together; those that took more than usual by name."""
    low, high = HEAT_CYCLE_LOSS.values
    # what gained load tells nothing of heat
    known = [one for one in logged if one.found.heat_cycle_loss >= 0.0]
    if not known:
        return
    least, most = (pick(one.found.heat_cycle_loss for one in known) for pick in (min, max))
    took = _percent(least) if _percent(least) == _percent(most) else f"{_percent(least)} to {_percent(most)}"
    detail = (
        f"The first heat cycle took {took} of the first loads; {low:g} to {high:g} % is usual (from memory). Compare "
        "from there on."
    )
    yield _note("heat_cycle_usual", "/springs", detail)
    over = [one.spring.id for one in known if one.found.heat_cycle_loss > high]
    if over:
        detail = f"{', '.join(over)}: lost more than {high:g} % over the first heat cycle. Test them again before use."
        yield _note("heat_cycle_unusual", "/springs", detail)


def _shims(logged: Sequence[Logged]) -> Iterator[Note]:
    """What shims bring the first loads back; none for a spring that is to be replaced."""
    thinnest = USUAL_SHIMS.values[0]
    told, thin = [], []
    for place, one in enumerate(logged):
        check, shim = one.line.coil_bind_with_shim_check, one.found.shim
        fast = one.line.falling_fast_check
        if check is None or is_out(one) or (fast is not None and fast.verdict in _MISSED):
            continue
        if check.verdict == "reject":
            least = say(check.limit, "length")
            detail = (
                f"{named(one.spring.id, '')}: the {say_enough(shim, 'length')} of shim for its first load would leave "
                f"{say(one.found.bind_clearance, 'length')} before coil bind, {least} is the minimum. Leave it out; "
                "replace the spring if the load is needed."
            )
            yield _note("load_shim_binds", f"/springs/{place}", detail)
        elif shim < thinnest:
            thin.append(one.spring.id)
        else:
            left = (
                "once coil bind is known to allow it"
                if check.verdict == "not_measured"
                else f"leaves {say(one.found.bind_clearance, 'length')} before coil bind"
            )
            told.append(f"{one.spring.id} {say(shim, 'length')} ({left})")
    if told or thin:
        sentences = [f"Shims that bring the first loads back: {'; '.join(told)}."] if told else []
        if thin:
            least = say(thinnest, "length")
            few = f"{', '.join(thin)}: the shim for it would be thinner than {least}, the thinnest usual: leave as is."
            sentences.append(few)
        yield _note("load_shims", "/springs", " ".join(sentences))


def _percent(value: float) -> str:
    return f"{value:.1f} %"
