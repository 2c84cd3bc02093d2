"""Bench: steps that take the one bench, one at a time, in an order that keeps every need."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import pairwise

from headbench.calc.waiting.network import Task, chains_after, earliest_starts


def in_turns(tasks: Sequence[Task], turns: Sequence[int]) -> list[Task]:
    """The tasks with each that takes the bench needing the one that has it before.

    Parameters
    ----------
    tasks : sequence (T,) of Task
        No loop among them [-]
    turns : sequence of int
        Places of those that take the bench, in the order in which they have it [-]

    Returns
    -------
    list of Task

    >>> in_turns([Task(3), Task(2)], [1, 0])
    [Task(days=3, needs=(1,), from_day=0), Task(days=2, needs=(), from_day=0)]
    """
    one_by_one = [*tasks]
    for before, place in pairwise(turns):
        if before not in tasks[place].needs:
            one_by_one[place] = tasks[place]._replace(needs=(*tasks[place].needs, before))
    return one_by_one


def plan_bench(tasks: Sequence[Task], on_bench: Collection[int]) -> list[int | None]:
    """Start of each task with the bench taken by one at a time, in the order of `bench_turns`.

    Parameters
    ----------
    tasks : sequence (T,) of Task
        No loop among them [-]
    on_bench : collection of int
        Places of those that take the bench [-]

    Returns
    -------
    list of int or None
        None where the day of a task before it is not known [day]

    >>> plan_bench([Task(3), Task(2), Task(4, (1,))], {0, 1})
    [2, 0, 2]
    """
    return earliest_starts(in_turns(tasks, bench_turns(tasks, on_bench)))


def bench_turns(tasks: Sequence[Task], on_bench: Collection[int]) -> list[int]:
    """Order in which tasks have the bench: whenever it is free, the longest chain goes first.

    Parameters
    ----------
    tasks : sequence (T,) of Task
        No loop among them [-]
    on_bench : collection of int
        Places of those that take the bench [-]

    Returns
    -------
    list of int
        Without those that have no day [-]

    Notes
    -----
    List scheduling by the longest remaining chain, ties in the order given: a good plan and one that can be carried
    out, not always the shortest there is (R. L. Graham, Bounds on Multiprocessing Timing Anomalies, SIAM Journal on
    Applied Mathematics 17, 1969; from memory).

    >>> bench_turns([Task(3), Task(2), Task(4, (1,))], {0, 1})
    [1, 0]
    """
    known = earliest_starts(tasks)
    chains = chains_after(tasks)
    starts: list[int | None] = [None] * len(tasks)
    turns: list[int] = []
    left = {place for place, start in enumerate(known) if start is not None}
    free = min((start for start in known if start is not None), default=0)
    while left:
        ready = {place: _ready(tasks, starts, place) for place in left if left.isdisjoint(tasks[place].needs)}
        aside = [place for place in ready if place not in on_bench]
        if aside:
            for place in aside:
                starts[place] = ready[place]
        else:
            now = max(free, min(ready.values()))
            first = min((place for place in ready if ready[place] <= now), key=lambda place: (-chains[place], place))
            starts[first] = now
            free = now + tasks[first].days
            turns.append(first)
            aside = [first]
        left.difference_update(aside)
    return turns


def _ready(tasks: Sequence[Task], starts: Sequence[int | None], place: int) -> int:
    """Day from which a task could start, everything before it being planned."""
    finishes = [(starts[need] or 0) + tasks[need].days for need in tasks[place].needs]
    return max(tasks[place].from_day or 0, *finishes) if finishes else tasks[place].from_day or 0
