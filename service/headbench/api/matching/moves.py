"""Moves: springs that change places, in an order in which a place is free for each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple


class Step(NamedTuple):
    """One spring taken from one place to another; None is the bench."""

    spring: str
    source: int | None
    target: int | None


def steps(before: Sequence[str | None], after: Sequence[str | None]) -> list[Step]:
    """Every spring that changes its place.

    `before` and `after` have the spring of each position. A position is emptied before a spring is put there; where
    springs go around in a ring the first of them waits on the bench.

    >>> [tuple(step) for step in steps(["A", "B"], ["B", "A"])]
    [('A', 0, None), ('B', 1, 0), ('A', None, 1)]
    """
    lies: dict[str, int] = {}
    for place, spring in enumerate(before):
        if spring is not None:
            lies.setdefault(spring, place)
    goes = {spring: place for place, spring in enumerate(after) if spring is not None and before[place] != spring}
    found: list[Step] = []
    done: set[int] = set()
    # a place whose spring goes nowhere is free first; what is left are rings
    ends = [place for place, spring in enumerate(before) if spring is None or spring not in goes]
    for start in [*(place for place in ends if after[place] in goes), *goes.values()]:
        if start not in done:
            found += _chain(start, before, after, lies, done, waits=before[start] in goes)
    # what is left empty is emptied
    found += [
        Step(spring, place, None)
        for place, spring in enumerate(before)
        if spring is not None and after[place] is None and spring not in goes
    ]
    return found


def _chain(
    start: int,
    before: Sequence[str | None],
    after: Sequence[str | None],
    lies: Mapping[str, int],
    done: set[int],
    *,
    waits: bool,
) -> list[Step]:
    """The steps from one place on: it is emptied, filled, and so is each place that the next spring comes from."""
    first = before[start]
    chain = [] if first is None else [Step(first, start, None)]
    place = start
    while place not in done:
        done.add(place)
        spring = after[place]
        if spring is None or spring == before[place]:
            break
        source = lies.get(spring)
        if waits and source == start:
            chain.append(Step(spring, None, place))
            break
        chain.append(Step(spring, source, place))
        if source is None:
            break
        place = source
    return chain
