"""Bench: a plan that can be carried out, the bench never idle while something waits for it."""

from __future__ import annotations

from itertools import combinations, pairwise, permutations

from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.waiting.bench import plan_bench
from headbench.calc.waiting.network import Task, chains_after, earliest_starts


@st.composite
def planned(draw: st.DrawFn) -> tuple[list[Task], set[int]]:
    count = draw(st.integers(1, 8))
    tasks = [
        Task(
            draw(st.integers(0, 6)),
            tuple(draw(st.sets(st.integers(0, place - 1), max_size=3))) if place else (),
            draw(st.integers(0, 12) | st.none() if place % 4 == 3 else st.integers(0, 12)),
        )
        for place in range(count)
    ]
    return tasks, draw(st.sets(st.integers(0, count - 1)))


def test_of_two_at_the_bench_the_one_with_more_behind_it_goes_first() -> None:
    # by hand: the second takes 2 days and 5 wait behind it; begun first all is done on day 7, else on day 10
    tasks = [Task(3), Task(2), Task(5, (1,))]
    assert plan_bench(tasks, {0, 1}) == [2, 0, 2]


def test_without_a_bench_the_plan_is_the_earliest_there_is() -> None:
    tasks = [Task(3), Task(4, (0,)), Task(2, (0,)), Task(1, (1, 2))]
    assert plan_bench(tasks, set()) == [0, 3, 3, 7]


def test_what_has_no_day_is_not_planned_and_holds_up_nothing_else() -> None:
    tasks = [Task(0, (), None), Task(2, (0,)), Task(3), Task(1, (2,))]
    assert plan_bench(tasks, {1, 2, 3}) == [None, None, 0, 3]


@given(job=planned())
def test_a_plan_keeps_every_need_every_day_and_the_one_bench(job: tuple[list[Task], set[int]]) -> None:
    tasks, bench = job
    starts = plan_bench(tasks, bench)
    known = earliest_starts(tasks)
    assert [start is None for start in starts] == [start is None for start in known]
    there = {place: start for place, start in enumerate(starts) if start is not None}
    for place, start in there.items():
        assert start >= (tasks[place].from_day or 0)
        assert all(start >= there[need] + tasks[need].days for need in tasks[place].needs)
        if place not in bench:
            day = [tasks[place].from_day or 0, *(there[need] + tasks[need].days for need in tasks[place].needs)]
            assert start == max(day)
    for one, other in combinations(sorted(bench & there.keys()), 2):
        first, second = sorted((one, other), key=lambda at: (there[at], there[at] + tasks[at].days))
        assert there[first] + tasks[first].days <= there[second]


@given(job=planned())
def test_the_bench_takes_the_longest_chain_that_waits_and_is_never_idle_meanwhile(
    job: tuple[list[Task], set[int]],
) -> None:
    tasks, bench = job
    starts = plan_bench(tasks, bench)
    there = {place: start for place, start in enumerate(starts) if start is not None}
    chains = chains_after(tasks)
    ready = {
        place: max([tasks[place].from_day or 0, *(there[need] + tasks[need].days for need in tasks[place].needs)])
        for place in there
    }
    mine = bench & there.keys()
    for place in mine:
        for other in mine - {place}:
            if ready[place] <= there[other] < there[place]:
                assert chains[other] >= chains[place]
        busy = {day for other in mine for day in range(there[other], there[other] + tasks[other].days)}
        assert set(range(ready[place], there[place])) <= busy


@given(job=planned())
def test_a_plan_is_never_shorter_than_the_best_and_never_longer_than_all_in_a_row(
    job: tuple[list[Task], set[int]],
) -> None:
    tasks, bench = job
    if any(task.from_day is None for task in tasks) or len(bench) > 5:
        return
    starts = plan_bench(tasks, bench)
    finish = max((start or 0) + task.days for start, task in zip(starts, tasks, strict=True))

    def carried_out(order: tuple[int, ...]) -> int | None:
        """The finish where the bench takes its steps in this order."""
        chained = list(tasks)
        for before, after in pairwise(order):
            chained[after] = chained[after]._replace(needs=(*chained[after].needs, before))
        try:
            found = earliest_starts(chained)
        except ValueError:  # the order asks for a step before what it needs
            return None
        return max((start or 0) + task.days for start, task in zip(found, tasks, strict=True))

    best = min(one for order in permutations(sorted(bench)) if (one := carried_out(order)) is not None)
    assert best <= finish <= max(task.from_day or 0 for task in tasks) + sum(task.days for task in tasks)
