"""Bench: steps that take the one bench, one at a time, in an order that keeps every need."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from headbench.calc.waiting.network import Task, chains_after, earliest_starts


def plan_bench(tasks: Sequence[Task], on_bench: Collection[int]) -> list[int | None]:
    """Start of each task with the bench taken by one at a time: whenever it is free, the longest chain goes first.

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

    Notes
    -----
    List scheduling by the longest remaining chain, ties in the order given: a good plan and one that can be carried
    out, not always the shortest there is (R. L. Graham, Bounds on Multiprocessing Timing Anomalies, SIAM Journal on
    Applied Mathematics 17, 1969; from memory).

    >>> plan_bench([Task(3), Task(2), Task(4, (1,))], {0, 1})
    [2, 0, 2]
    """
    known = earliest_starts(tasks)
    chains = chains_after(tasks)
    starts: list[int | None] = [None] * len(tasks)
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
            aside = [first]
        left.difference_update(aside)
    return starts


def _ready(tasks: Sequence[Task], starts: Sequence[int | None], place: int) -> int:
    """Day from which a task could start, everything before it being planned."""
    finishes = [(starts[need] or 0) + tasks[need].days for need in tasks[place].needs]
    return max(tasks[place].from_day or 0, *finishes) if finishes else tasks[place].from_day or 0
