"""Repeats: a reading that may be taken more than once is a number, or a list of numbers.

Wherever a list is taken, its mean is computed with (`Columns` does that), its range is said in a note, and
readings farther apart than the tool repeats are pointed at.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from statistics import fmean
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.quantities import PositiveLength
from headbench.api.vocabulary.saying import say
from headbench.calc.judging.possible import is_possible
from headbench.calc.judging.rules import HEIGHT_REPEATS, Rule

MOST_REPEATS: Final = 10

RepeatedLength = PositiveLength | Annotated[list[PositiveLength], Meta(min_length=1, max_length=MOST_REPEATS)]
"""A length that may be read again: one reading, or a list of all of them."""

_NAMED_AT_MOST: Final = 8


@dataclass(frozen=True, slots=True)
class Repeated:
    """All repeats of a reading, as the request has them.

    pointer: where it stands; name: whose it is ("Spring S1", "1I"); reading: its repeats.
    """

    pointer: str
    name: str
    reading: list[float]


def are_apart(reading: float | list[float] | None) -> bool:
    """Whether repeats of one height differ by more than the tool repeats."""
    if not isinstance(reading, list):
        return False
    return _spread(reading) > HEIGHT_REPEATS.values[0] * (1.0 + 1e-9)


def slipped(reading: float | list[float] | None, possible: Rule) -> float | None:
    """A reading, or the first of its repeats, that cannot be right [m]; None where all can, or none was taken."""
    if reading is None:
        return None
    each = reading if isinstance(reading, list) else [reading]
    return next((one for one in each if not is_possible(one, possible)), None)


def tallest_where_apart(reading: float | list[float] | None) -> tuple[float, bool]:
    """A height to judge damage by: the mean of repeats, the tallest where they are apart [m]; and whether they are."""
    if isinstance(reading, list):
        apart = are_apart(reading)
        return max(reading) if apart else fmean(reading), apart
    return math.nan if reading is None else reading, False


def height_repeats(
    what: str, readings: Iterable[Repeated], *, tallest_where_they_disagree: bool = False
) -> Iterator[Note]:
    """The range of every height that was read more than once, and those to read again.

    `what` names the height inside a sentence; all are averaged, unless the tallest counts where they disagree.
    """
    again = [one for one in readings if len(one.reading) > 1]
    if not again:
        return
    widest_first = sorted(again, key=lambda one: _spread(one.reading), reverse=True)
    disagree = [one for one in widest_first if are_apart(one.reading)]
    averaged = [one for one in widest_first if not (tallest_where_they_disagree and one in disagree)]
    told = [
        f"{one.name} {say(fmean(one.reading), 'length')} "
        f"({len(one.reading)} readings, range {say(_spread(one.reading), 'length')})"
        for one in averaged[:_NAMED_AT_MOST]
    ]
    more = len(averaged) - len(told)
    told += [f"and {more} more"] if more else []
    if told:
        detail = f"{what[0].upper()}{what[1:]} averaged: {'; '.join(told)}."
        yield note("repeats_averaged", averaged[0].pointer, detail)
    counts = "the tallest is used and not accepted. Measure again." if tallest_where_they_disagree else "measure again."
    for one in disagree:
        low, high = say(min(one.reading), "length"), say(max(one.reading), "length")
        detail = (
            f"{one.name}: {what} readings {low} and {high} are more than "
            f"{say(HEIGHT_REPEATS.values[0], 'length')} apart; {counts}"
        )
        yield note("repeats_disagree", one.pointer, detail)


def _spread(reading: list[float]) -> float:
    return max(reading) - min(reading)
