"""Network: steps that need each other, when each can be done, what decides the finish, and what has days to spare."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from graphlib import CycleError, TopologicalSorter
from typing import NamedTuple


class Task(NamedTuple):
    """A part or a step of the network.

    days : int, how long it takes; 0 for a part [day]
    needs : tuple, places of the tasks that are finished before it starts [-]
    from_day : int or None, day before which it cannot start whatever it needs; None where that day is not known [day]
    """

    days: int
    needs: tuple[int, ...] = ()
    from_day: int | None = 0


def find_loops(needs: Sequence[Iterable[int]]) -> list[list[int]]:
    """Loops of tasks that need each other, so that none of them can ever start; no task is in two of those told.

    Parameters
    ----------
    needs : sequence (T,) of iterables of int
        Places of the tasks that each needs [-]

    Returns
    -------
    list of lists of int
        Each loop: every task needs the next one in it, and the last the first; empty where there is none [-]

    >>> find_loops([(1,), (2,), (0,), (0,)])
    [[0, 1, 2]]
    """
    left = {place: set(own) for place, own in enumerate(needs)}
    loops: list[list[int]] = []
    while True:
        try:
            TopologicalSorter(left).prepare()
        except CycleError as error:
            # each of these is needed by the one after it, and the first stands at the end once more
            loop = error.args[1][:0:-1]
            first = loop.index(min(loop))
            loops.append([*loop[first:], *loop[:first]])
            left = {place: own - set(loop) for place, own in left.items() if place not in loop}
        else:
            return loops


def in_order(tasks: Sequence[Task]) -> list[int]:
    """Places of the tasks, each after all that it needs.

    Parameters
    ----------
    tasks : sequence (T,) of Task
        No loop among them [-]

    Returns
    -------
    list of int

    >>> in_order([Task(1, (1,)), Task(1)])
    [1, 0]
    """
    return list(TopologicalSorter({place: task.needs for place, task in enumerate(tasks)}).static_order())


def earliest_starts(tasks: Sequence[Task]) -> list[int | None]:
    """Day on which each task can start: ES = max(its own day, every need's ES + days), the forward pass.

    Parameters
    ----------
    tasks : sequence (T,) of Task
        No loop among them [-]

    Returns
    -------
    list of int or None
        None where the day of a task before it is not known [day]

    Notes
    -----
    Critical path method: J. E. Kelley and M. R. Walker, Critical-Path Planning and Scheduling, Proceedings of the
    Eastern Joint Computer Conference, 1959; from memory.

    >>> earliest_starts([Task(3), Task(4, (0,)), Task(2, (0,)), Task(1, (1, 2))])
    [0, 3, 3, 7]
    """
    starts: list[int | None] = [None] * len(tasks)
    for place in in_order(tasks):
        days = [tasks[place].from_day, *(finish_of(tasks, starts, need) for need in tasks[place].needs)]
        known = [day for day in days if day is not None]
        starts[place] = max(known) if len(known) == len(days) else None
    return starts


def finish_of(tasks: Sequence[Task], starts: Sequence[int | None], place: int) -> int | None:
    """Day on which a task is finished and what needs it can start, EF = ES + days.

    Parameters
    ----------
    tasks : sequence (T,) of Task
        All tasks [-]
    starts : sequence (T,) of int or None
        Their starts [day]
    place : int
        Which of them [-]

    Returns
    -------
    int or None
        None where its start is not known [day]

    >>> finish_of([Task(3)], [5], 0)
    8
    """
    start = starts[place]
    return None if start is None else start + tasks[place].days


def latest_starts(tasks: Sequence[Task], finish: int) -> list[int]:
    """Day on which each task must start for all to be finished in time: LS = min(every follower's LS) - days.

    Parameters
    ----------
    tasks : sequence (T,) of Task
        No loop among them; their own days do not matter here [-]
    finish : int
        Day on which the last is to be finished [day]

    Returns
    -------
    list of int
        Backward pass; a start less its earliest one is the slack [day]

    >>> latest_starts([Task(3), Task(4, (0,)), Task(2, (0,)), Task(1, (1, 2))], 8)
    [0, 3, 5, 7]
    """
    return [finish - chain for chain in chains_after(tasks)]


def chains_after(tasks: Sequence[Task]) -> list[int]:
    """Days of the longest chain that each task begins, itself with it.

    Parameters
    ----------
    tasks : sequence (T,) of Task
        No loop among them [-]

    Returns
    -------
    list of int
        [day]

    >>> chains_after([Task(3), Task(4, (0,)), Task(2, (0,)), Task(1, (1, 2))])
    [8, 5, 3, 1]
    """
    after = [0] * len(tasks)
    for place in reversed(in_order(tasks)):
        after[place] += tasks[place].days
        for need in tasks[place].needs:
            after[need] = max(after[need], after[place])
    return after


def deciding_chain(tasks: Sequence[Task], starts: Sequence[int | None], ends: Iterable[int]) -> list[int]:
    """Tasks one after another that set the finish, each starting when the one before it is finished.

    Parameters
    ----------
    tasks : sequence (T,) of Task
        No loop among them [-]
    starts : sequence (T,) of int or None
        The earliest start of each [day]
    ends : iterable of int
        Places that the chain may end at, the preferred first where several finish last [-]

    Returns
    -------
    list of int
        Empty where a day is not known, or there is no end [-]

    >>> tasks = [Task(3), Task(4, (0,)), Task(2, (0,)), Task(1, (1, 2))]
    >>> deciding_chain(tasks, earliest_starts(tasks), range(4))
    [0, 1, 3]
    """
    finishes = {place: finish_of(tasks, starts, place) for place in ends}
    known = {place: finish for place, finish in finishes.items() if finish is not None}
    if not known or len(known) < len(finishes):
        return []
    chain = [max(known, key=known.__getitem__)]
    while True:
        start = starts[chain[0]]
        before = [need for need in tasks[chain[0]].needs if finish_of(tasks, starts, need) == start]
        if not before:
            return chain
        chain.insert(0, before[0])


def all_before(tasks: Sequence[Task]) -> list[frozenset[int]]:
    """Places of everything that must be finished before each task, however far before.

    Parameters
    ----------
    tasks : sequence (T,) of Task
        No loop among them [-]

    Returns
    -------
    list of frozenset of int

    >>> [sorted(one) for one in all_before([Task(3), Task(4, (0,)), Task(1, (1,))])]
    [[], [0], [0, 1]]
    """
    before: list[frozenset[int]] = [frozenset()] * len(tasks)
    for place in in_order(tasks):
        needs = tasks[place].needs
        before[place] = frozenset(needs).union(*(before[need] for need in needs))
    return before
