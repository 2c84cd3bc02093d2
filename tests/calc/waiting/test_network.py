"""Network: the passes against arithmetic by hand, and against longest paths of another library."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.waiting.network import (
    Task,
    all_before,
    chains_after,
    deciding_chain,
    earliest_starts,
    find_loops,
    finish_of,
    in_order,
    latest_starts,
)

# by hand: A takes 3 days, B 4 and C 2 after A, D 1 after both. A 0 to 3, B 3 to 7, C 3 to 5, D 7 to 8.
BY_HAND = [Task(3), Task(4, (0,)), Task(2, (0,)), Task(1, (1, 2))]


def test_the_passes_are_those_worked_by_hand() -> None:
    starts = earliest_starts(BY_HAND)
    assert starts == [0, 3, 3, 7]
    assert finish_of(BY_HAND, starts, 3) == 8
    # backward from 8: D 7, B 3, C 5, A 0; so C alone has slack, 2 days
    latest = latest_starts(BY_HAND, 8)
    assert latest == [0, 3, 5, 7]
    assert [late - (start or 0) for late, start in zip(latest, starts, strict=True)] == [0, 0, 2, 0]
    assert deciding_chain(BY_HAND, starts, range(4)) == [0, 1, 3]


def test_a_task_without_a_day_leaves_what_follows_without_one_and_nothing_else() -> None:
    tasks = [Task(0, (), None), Task(2, (0,)), Task(1, (1,)), Task(3)]
    assert earliest_starts(tasks) == [None, None, None, 0]
    assert deciding_chain(tasks, earliest_starts(tasks), [2, 3]) == []
    assert deciding_chain(tasks, earliest_starts(tasks), [3]) == [3]


def test_what_a_chain_waits_for_stands_at_its_beginning() -> None:
    tasks = [Task(0, (), 10), Task(0, (), 4), Task(2, (0, 1)), Task(1)]
    assert deciding_chain(tasks, earliest_starts(tasks), [2, 3]) == [0, 2]


@pytest.mark.parametrize(
    ("needs", "loops"),
    [
        ([], []),
        ([(), (0,), (0, 1)], []),
        ([(0,)], [[0]]),
        ([(1,), (2,), (0,)], [[0, 1, 2]]),
        ([(1,), (0,), (3,), (2,), (0, 2)], [[0, 1], [2, 3]]),
    ],
)
def test_loops_are_found_each_once(needs: list[tuple[int, ...]], loops: list[list[int]]) -> None:
    assert sorted(find_loops(needs)) == loops


any_needs = st.integers(0, 9).flatmap(
    lambda count: st.lists(st.sets(st.integers(0, max(count - 1, 0)), max_size=4), min_size=count, max_size=count)
)


@given(needs=any_needs)
def test_loops_are_loops_and_there_are_none_where_tasks_can_be_put_in_order(needs: list[set[int]]) -> None:
    loops = find_loops(needs)
    for loop in loops:
        assert all(after in needs[before] for before, after in pairwise([*loop, loop[0]]))
    assert len({one for loop in loops for one in loop}) == sum(map(len, loops))
    # another library's strongly connected components: a loop is there if one has two members, or needs itself
    graph = np.zeros((len(needs), len(needs)))
    for place, own in enumerate(needs):
        graph[place, list(own)] = 1.0
    if needs:
        count, _ = scipy.sparse.csgraph.connected_components(graph, directed=True, connection="strong")
        assert bool(loops) == (count < len(needs) or any(place in own for place, own in enumerate(needs)))


@st.composite
def networks(draw: st.DrawFn) -> list[Task]:
    count = draw(st.integers(1, 10))
    return [
        Task(
            draw(st.integers(0, 9)),
            tuple(draw(st.sets(st.integers(0, place - 1), max_size=4))) if place else (),
            draw(st.integers(0, 30)),
        )
        for place in range(count)
    ]


def longest_paths(tasks: list[Task]) -> list[int]:
    """Earliest starts as longest paths from a source: shortest paths where each arc counts negative."""
    count = len(tasks)
    start = np.array([float(task.from_day or 0) for task in tasks])
    best = start.copy()
    graph = np.full((count, count), np.inf)
    for place, task in enumerate(tasks):
        for need in task.needs:
            graph[need, place] = -float(tasks[need].days)
    within = scipy.sparse.csgraph.csgraph_from_dense(graph, null_value=np.inf)
    lengths = -scipy.sparse.csgraph.bellman_ford(within, directed=True)
    for place in range(count):
        best[place] = max(start[one] + lengths[one, place] for one in range(count) if np.isfinite(lengths[one, place]))
    return [int(one) for one in best]


@given(tasks=networks())
def test_earliest_starts_are_the_longest_paths_of_another_library(tasks: list[Task]) -> None:
    assert earliest_starts(tasks) == longest_paths(tasks)


@given(tasks=networks())
def test_latest_starts_leave_the_finish_where_it_is_and_a_day_later_does_not(tasks: list[Task]) -> None:
    starts = earliest_starts(tasks)
    finish = max(finish_of(tasks, starts, place) or 0 for place in range(len(tasks)))
    for place, late in enumerate(latest_starts(tasks, finish)):
        for day, expected in ((late, finish), (late + 1, finish + 1)):
            moved = tasks[place]._replace(from_day=max(tasks[place].from_day or 0, day))
            held = [*tasks[:place], moved, *tasks[place + 1 :]]
            after = earliest_starts(held)
            assert max(finish_of(held, after, one) or 0 for one in range(len(tasks))) == expected


@given(tasks=networks(), data=st.data())
def test_an_earlier_day_or_one_need_less_delays_nothing(tasks: list[Task], data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(tasks) - 1))
    task = tasks[place]
    sooner = task._replace(from_day=data.draw(st.integers(0, task.from_day or 0)), needs=task.needs[1:])
    before = earliest_starts(tasks)
    after = earliest_starts([sooner if at == place else one for at, one in enumerate(tasks)])
    assert all((new or 0) <= (old or 0) for old, new in zip(before, after, strict=True))


@given(tasks=networks())
def test_the_chain_that_decides_has_no_slack_and_no_gap(tasks: list[Task]) -> None:
    starts = earliest_starts(tasks)
    chain = deciding_chain(tasks, starts, range(len(tasks)))
    finish = finish_of(tasks, starts, chain[-1])
    assert finish == max(finish_of(tasks, starts, place) or 0 for place in range(len(tasks)))
    for before, after in pairwise(chain):
        assert before in tasks[after].needs
        assert finish_of(tasks, starts, before) == starts[after]
    assert starts[chain[0]] == tasks[chain[0]].from_day
    late = latest_starts(tasks, finish or 0)
    assert all(late[place] == starts[place] for place in chain)


@given(tasks=networks())
def test_order_and_everything_before_keep_every_need(tasks: list[Task]) -> None:
    order = in_order(tasks)
    assert sorted(order) == list(range(len(tasks)))
    before = all_before(tasks)
    for place, task in enumerate(tasks):
        assert all(order.index(need) < order.index(place) for need in task.needs)
        # by stepping back one need at a time
        seen, left = set(), set(task.needs)
        while left:
            one = left.pop()
            seen.add(one)
            left |= set(tasks[one].needs) - seen
        assert before[place] == seen


@given(tasks=networks())
def test_chains_are_as_long_as_the_longest_of_all_ways_to_an_end(tasks: list[Task]) -> None:
    def ways(place: int) -> list[int]:
        after = [at for at, task in enumerate(tasks) if place in task.needs]
        return [tasks[place].days + more for at in after for more in ways(at)] or [tasks[place].days]

    assert chains_after(tasks) == [max(ways(place)) for place in range(len(tasks))]
