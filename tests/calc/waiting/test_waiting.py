"""Waiting: parts, readings and steps as one network, gone through at the soonest and at the latest."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.waiting.arrivals import PartTerms
from headbench.calc.waiting.waiting import Span, StepTerms, Waiting, work_waiting

TODAY = 100
# by hand: A takes 3 days, B 4 and C 2 after A, D 1 after both
BY_HAND = [StepTerms(3), StepTerms(4, steps=(0,)), StepTerms(2, steps=(0,)), StepTerms(1, steps=(1, 2))]


def test_without_parts_it_is_the_network_worked_by_hand() -> None:
    worked = work_waiting(TODAY, [], [], BY_HAND)
    assert worked.finish == Span(108, 108)
    assert worked.chains == ((0, 1, 3), (0, 1, 3))
    assert [step.slack for step in worked.steps] == [Span(0, 0), Span(0, 0), Span(2, 2), Span(0, 0)]


def test_a_part_with_a_range_carries_it_to_the_finish_and_may_change_what_decides() -> None:
    # by hand: C may begin on day 104 to 110, is done 106 to 112; B is done on 107. D follows the later of both.
    part = PartTerms(promised=(104, 110))
    steps = [*BY_HAND[:2], StepTerms(2, parts=(0,), steps=(0,)), BY_HAND[3]]
    worked = work_waiting(TODAY, [part], [], steps)
    assert worked.steps[2].start == Span(104, 110)
    assert worked.finish == Span(108, 113)
    # the part is place 0 of a chain, the steps follow
    assert worked.chains == ((1, 2, 4), (0, 3, 4))
    assert worked.parts[0].slack == Span(1, 0)
    assert worked.parts[0].steps == (2, 3)


def test_the_last_day_of_a_part_is_what_is_wanted_less_the_chain_after_it() -> None:
    # by hand: 120 - 1 for D - 2 for C
    steps = [*BY_HAND[:2], StepTerms(2, parts=(0,), steps=(0,)), BY_HAND[3]]
    worked = work_waiting(TODAY, [PartTerms()], [], steps, wanted=120)
    assert worked.parts[0].needed_by == 117
    assert work_waiting(TODAY, [PartTerms()], [], steps).parts[0].needed_by is None


def test_a_part_without_a_day_leaves_the_finish_without_one_and_the_rest_with_theirs() -> None:
    worked = work_waiting(TODAY, [PartTerms()], [(0,), ()], [StepTerms(2), StepTerms(1, parts=(0,), steps=(0,))])
    assert worked.finish == Span(None, None)
    assert worked.chains == ((), ())
    assert worked.steps[0].finish == Span(102, 102)
    assert worked.steps[1].start == Span(None, None)
    assert worked.steps[1].slack == Span(None, None)
    assert [one.day for one in worked.readings] == [Span(None, None), Span(100, 100)]
    assert (worked.steps[0].planned, worked.steps[1].planned, worked.plan_finish) == (100, None, None)


def test_a_part_that_feeds_nothing_holds_up_nothing() -> None:
    worked = work_waiting(TODAY, [PartTerms(), PartTerms(promised=(150, 150))], [], [StepTerms(2)], wanted=130)
    assert worked.finish == Span(102, 102)
    assert [one.feeds for one in worked.parts] == [False, False]
    assert worked.parts[0].needed_by is None


def test_what_is_here_is_waited_for_by_nothing() -> None:
    worked = work_waiting(TODAY, [PartTerms(in_hand=1)], [(0,)], [StepTerms(1, parts=(0,))])
    assert (worked.parts[0].readings, worked.parts[0].steps, worked.parts[0].feeds) == ((), (), True)
    assert worked.steps[0].missing == ()
    assert worked.finish == Span(101, 101)


def test_a_reading_takes_no_day_of_its_own() -> None:
    assert work_waiting(TODAY, [PartTerms(known=105)], [(0,)], []).finish == Span(105, 105)


def test_the_bench_is_taken_by_one_step_at_a_time_beside_parts_and_readings() -> None:
    # by hand: the longer chain first, 100 to 102 and then 102 to 105; what takes no bench waits for its part alone
    steps = [
        StepTerms(3, on_bench=True),
        StepTerms(2, on_bench=True),
        StepTerms(4, steps=(1,)),
        StepTerms(1, parts=(0,)),
    ]
    worked = work_waiting(TODAY, [PartTerms(known=101)], [(0,)], steps)
    assert [one.planned for one in worked.steps] == [102, 100, 102, 101]
    assert (worked.finish, worked.plan_finish) == (Span(106, 106), 106)


def test_nothing_asked_is_nothing_answered() -> None:
    assert work_waiting(TODAY, [], [], []) == Waiting((), (), (), Span(None, None), ((), ()), None, ())


@st.composite
def jobs(draw: st.DrawFn) -> tuple[list[PartTerms], list[list[int]], list[StepTerms]]:
    promised = st.tuples(st.integers(90, 130), st.integers(0, 20)).map(lambda one: (one[0], one[0] + one[1]))
    one = st.builds(lambda here, days: PartTerms(in_hand=here, promised=days), st.integers(0, 1), st.none() | promised)
    parts = draw(st.lists(one, max_size=4))
    places = st.integers(0, len(parts) - 1)
    some = st.sets(places, max_size=2) if parts else st.just(set[int]())
    readings = draw(st.lists(some.map(sorted), max_size=3))
    steps: list[StepTerms] = []
    for place in range(draw(st.integers(0, 6))):
        before = tuple(sorted(draw(st.sets(st.integers(0, place - 1), max_size=2)))) if place else ()
        steps.append(StepTerms(draw(st.integers(0, 5)), tuple(sorted(draw(some))), before, draw(st.booleans())))
    return parts, readings, steps


def spans(worked: Waiting) -> list[Span]:
    of_steps = [span for one in worked.steps for span in (one.start, one.finish)]
    return [*of_steps, *(one.day for one in worked.readings), worked.finish]


@given(job=jobs())
def test_the_soonest_is_never_after_the_latest_and_known_where_it_is(job: Any) -> None:
    for soonest, latest in spans(work_waiting(TODAY, *job)):
        assert (soonest is None) == (latest is None)
        assert soonest is None or latest is None or TODAY <= soonest <= latest


@given(job=jobs(), data=st.data())
def test_a_part_that_comes_earlier_delays_nothing(job: Any, data: st.DataObject) -> None:
    parts, readings, steps = job
    dated = [place for place, part in enumerate(parts) if part.promised is not None]
    if not dated:
        return
    place = data.draw(st.sampled_from(dated))
    first, last = parts[place].promised or (0, 0)
    by = data.draw(st.integers(0, max(last - TODAY, 0)))
    sooner = [*parts]
    sooner[place] = parts[place]._replace(promised=(first - by, last - by))
    before, after = work_waiting(TODAY, *job), work_waiting(TODAY, sooner, readings, steps)
    for old, new in zip(spans(before), spans(after), strict=True):
        for was, now in zip(old, new, strict=True):
            assert was is None or (now is not None and now <= was)


@given(job=jobs())
def test_what_waits_for_a_part_is_what_names_it_missing(job: Any) -> None:
    worked = work_waiting(TODAY, *job)
    for place, part in enumerate(worked.parts):
        assert part.steps == tuple(at for at, step in enumerate(worked.steps) if place in step.missing)
        assert part.readings == tuple(at for at, one in enumerate(worked.readings) if place in one.missing)
        assert not (part.arrival.is_here and (part.steps or part.readings))


def finish_in_turn(days: list[int], readings: list[list[int]], steps: list[StepTerms], turns: list[int]) -> int:
    """When all is done, parts coming on some days and the bench taking steps in some order; by hand, day by day."""
    ends: dict[int, int] = {}
    while len(ends) < len(steps):
        for at, one in enumerate(steps):
            before = turns[: turns.index(at)][-1:] if at in turns else []
            if at not in ends and all(need in ends for need in (*one.steps, *before)):
                from_ = [TODAY, *(days[need] for need in one.parts), *(ends[need] for need in (*one.steps, *before))]
                ends[at] = max(from_) + one.days
    return max([*ends.values(), *(days[need] for taken in readings for need in taken)])


@given(job=jobs())
def test_a_part_that_comes_by_its_last_day_keeps_the_finish_wanted_and_a_day_later_does_not(job: Any) -> None:
    parts, readings, steps = job
    # without zero days, so that starts tell the order
    steps = [one._replace(days=max(one.days, 1)) for one in steps]
    parts = [
        part._replace(promised=part.promised and (part.promised[0], max(part.promised[1], TODAY))) for part in parts
    ]
    parts = [part if part.promised else part._replace(promised=(TODAY, TODAY)) for part in parts]
    wanted = TODAY + 90
    worked = work_waiting(TODAY, parts, readings, steps, wanted)
    starts = {at: one.planned or 0 for at, one in enumerate(worked.steps) if steps[at].on_bench}
    turns = sorted(starts, key=starts.__getitem__)
    for place, own in enumerate(worked.parts):
        if own.needed_by is None:
            continue
        for late in (0, 1):
            here = [TODAY] * len(parts)
            here[place] = own.needed_by + late
            assert (finish_in_turn(here, readings, steps, turns) > wanted) == bool(late)


@given(job=jobs())
def test_what_is_to_spare_of_the_latest_day_is_so_in_the_plan(job: Any) -> None:
    parts, readings, steps = job
    steps = [one._replace(days=max(one.days, 1)) for one in steps]
    worked = work_waiting(TODAY, parts, readings, steps)
    starts = {at: one.planned for at, one in enumerate(worked.steps) if steps[at].on_bench}
    if worked.plan_finish is None or None in starts.values():
        return
    turns = sorted(starts, key=lambda at: starts[at] or 0)
    days = [one.arrival.latest or 0 for one in worked.parts]
    for place, own in enumerate(worked.parts):
        if own.slack.latest is not None:
            for late in (0, 1):
                later = [*days]
                later[place] += own.slack.latest + late
                assert (finish_in_turn(later, readings, steps, turns) > worked.plan_finish) == bool(late)
