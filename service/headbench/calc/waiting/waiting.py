"""Waiting: parts, readings and steps as a whole, from what was said of the parts to the days of all that waits."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

from headbench.calc.waiting.arrivals import Arrival, PartTerms, arrival_of
from headbench.calc.waiting.bench import bench_turns, in_turns
from headbench.calc.waiting.network import (
    Task,
    all_before,
    deciding_chain,
    earliest_starts,
    finish_of,
    latest_starts,
)


class StepTerms(NamedTuple):
    """A step, as entered.

    days : int, how long it takes [day]
    parts, steps : tuple, places of the parts and of the steps that it needs [-]
    on_bench : bool, whether it takes the bench [-]
    """

    days: int
    parts: tuple[int, ...] = ()
    steps: tuple[int, ...] = ()
    on_bench: bool = False


class Span(NamedTuple):
    """A day as both passes have it; None where a part before it has no day.

    soonest, latest : int or None [day]
    """

    soonest: int | None
    latest: int | None


class PartDays(NamedTuple):
    """What hangs on a part.

    arrival : Arrival, when it is here [-]
    readings, steps : tuple, places of all that waits for it, however far after it; none where it is here [-]
    feeds : bool, whether anything needs it, here or not [-]
    needed_by : int or None, last day on which it may come for the finish wanted, the bench taken in the order of the
        plan; None where none is wanted [day]
    slack : Span, how much later it may come without moving the finish; of its latest day, that of the plan [day]
    """

    arrival: Arrival
    readings: tuple[int, ...]
    steps: tuple[int, ...]
    feeds: bool
    needed_by: int | None
    slack: Span


class StepDays(NamedTuple):
    """When a step can be done.

    missing : tuple, places of the parts not here that it waits for, however far before it [-]
    start, finish : Span [day]
    slack : Span, how much later it may be done without moving the finish; of its latest day, that of the plan [day]
    planned : int or None, its start with the bench taken by one at a time and parts at their latest [day]
    """

    missing: tuple[int, ...]
    start: Span
    finish: Span
    slack: Span
    planned: int | None


class ReadingDays(NamedTuple):
    """When a reading can be taken.

    missing : tuple, places of the parts not here that it waits for [-]
    day : Span [day]
    """

    missing: tuple[int, ...]
    day: Span


class Waiting(NamedTuple):
    """All of it.

    parts : tuple (P,) of PartDays [-]
    readings : tuple (R,) of ReadingDays [-]
    steps : tuple (S,) of StepDays [-]
    finish : Span, when everything is done [day]
    chains : tuple (2,), the deciding chain of the soonest and of the latest pass: places of parts, then of readings,
        then of steps, counted on [-]
    plan_finish : int or None, when the plan of the bench has everything done [day]
    plan_chain : tuple, the chain that decides it [-]
    """

    parts: tuple[PartDays, ...]
    readings: tuple[ReadingDays, ...]
    steps: tuple[StepDays, ...]
    finish: Span
    chains: tuple[tuple[int, ...], tuple[int, ...]]
    plan_finish: int | None
    plan_chain: tuple[int, ...]


class _Pass(NamedTuple):
    """One of the two passes: starts, finish, slack and chain."""

    tasks: list[Task]
    starts: list[int | None]
    finish: int | None
    slack: list[int | None]
    chain: tuple[int, ...]


def work_waiting(
    today: int,
    parts: Sequence[PartTerms],
    readings: Sequence[Sequence[int]],
    steps: Sequence[StepTerms],
    wanted: int | None = None,
) -> Waiting:
    """Everything that follows for parts, the readings and steps that wait for them, and the finish.

    Parameters
    ----------
    today : int
        The day on which all this is so; no step starts before it [day]
    parts : sequence (P,) of PartTerms
        Every part that was named [-]
    readings : sequence (R,) of sequences of int
        Places of the parts that each reading takes [-]
    steps : sequence (S,) of StepTerms
        The steps, no loop among them [-]
    wanted : int or None
        Day on which all is to be done; None where none is wanted [day]

    Returns
    -------
    Waiting

    Notes
    -----
    Parts, readings and steps are one network, parts and readings taking no days; it is gone through twice, with every
    part at its soonest and at its latest. A part without a day leaves all after it, and the finish, without one.
    These passes have no wait for the bench. The plan has: it is a third pass, parts at their latest and each step on
    the bench behind the one before it, and what may be later is told by it. Own derivation.

    >>> springs, steps = PartTerms(promised=(110, 117)), [StepTerms(2, parts=(0,)), StepTerms(1, steps=(0,))]
    >>> worked = work_waiting(100, [springs], [], steps)
    >>> worked.finish, worked.chains[1], worked.parts[0].steps
    (Span(soonest=113, latest=120), (0, 1, 2), (0, 1))
    """
    arrivals = [arrival_of(part, today) for part in parts]
    first_step = len(parts) + len(readings)
    after = [
        *(Task(0, tuple(taken), today) for taken in readings),
        *(Task(one.days, (*one.parts, *(first_step + place for place in one.steps)), today) for one in steps),
    ]
    # of several that finish last a step tells more than a reading
    ends = [*range(first_step, first_step + len(steps)), *range(len(parts), first_step)]
    soonest, latest = (
        _pass([*(Task(0, (), day) for day in days), *after], ends)
        for days in ([one.soonest for one in arrivals], [one.latest for one in arrivals])
    )
    before = all_before(latest.tasks)
    missing = [tuple(place for place, one in enumerate(arrivals) if place in own and not one.is_here) for own in before]
    on_bench = {first_step + place for place, one in enumerate(steps) if one.on_bench}
    plan = _pass(in_turns(latest.tasks, bench_turns(latest.tasks, on_bench)), ends)
    fed = {need for task in after for need in task.needs}
    by = None if wanted is None else latest_starts(_all_in_turns(plan, latest.tasks, on_bench), wanted)
    return Waiting(
        parts=tuple(
            PartDays(
                arrival,
                tuple(at for at in range(len(readings)) if place in missing[len(parts) + at]),
                tuple(at for at in range(len(steps)) if place in missing[first_step + at]),
                place in fed,
                None if by is None or place not in fed else by[place],
                Span(soonest.slack[place], plan.slack[place]) if place in fed else Span(None, None),
            )
            for place, arrival in enumerate(arrivals)
        ),
        readings=tuple(
            ReadingDays(missing[place], Span(soonest.starts[place], latest.starts[place]))
            for place in range(len(parts), first_step)
        ),
        steps=tuple(
            StepDays(
                missing[place],
                Span(soonest.starts[place], latest.starts[place]),
                Span(*(finish_of(one.tasks, one.starts, place) for one in (soonest, latest))),
                Span(soonest.slack[place], plan.slack[place]),
                plan.starts[place],
            )
            for place in range(first_step, first_step + len(steps))
        ),
        finish=Span(soonest.finish, latest.finish),
        chains=(soonest.chain, latest.chain),
        plan_finish=plan.finish,
        plan_chain=plan.chain,
    )


def _all_in_turns(plan: _Pass, tasks: Sequence[Task], on_bench: Collection[int]) -> list[Task]:
    """The tasks in the order of the plan, and those behind parts without a day after all of it."""
    known = (finish_of(plan.tasks, plan.starts, place) for place in range(len(tasks)))
    behind = max((finish for finish in known if finish is not None), default=0)
    dated = [one if one.from_day is not None else one._replace(from_day=behind) for one in tasks]
    return in_turns(dated, bench_turns(dated, on_bench))


def _pass(tasks: list[Task], ends: Sequence[int]) -> _Pass:
    """The forward and the backward pass over tasks whose days are known or not."""
    starts = earliest_starts(tasks)
    finish = _last(tasks, starts, ends)
    slack: list[int | None] = [None] * len(tasks)
    if finish is not None:
        pairs = zip(latest_starts(tasks, finish), starts, strict=True)
        slack = [None if start is None else late - start for late, start in pairs]
    return _Pass(tasks, starts, finish, slack, tuple(deciding_chain(tasks, starts, ends)))


def _last(tasks: Sequence[Task], starts: Sequence[int | None], ends: Sequence[int]) -> int | None:
    """When the last of some tasks is finished; None where a day is not known, or there are none."""
    finishes = [finish_of(tasks, starts, place) for place in ends]
    known = [finish for finish in finishes if finish is not None]
    return max(known) if known and len(known) == len(finishes) else None
