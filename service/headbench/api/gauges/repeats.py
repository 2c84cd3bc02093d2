"""Repeats: a reading that may be taken more than once is a number, or a list of numbers.

Wherever a list is taken, its mean is computed with (`Columns` does that), its range is said in a note, and
readings farther apart than the tool repeats are pointed at.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.quantities import PositiveLength
from headbench.api.vocabulary.saying import say
from headbench.calc import BoolArray, FloatArray
from headbench.calc.gauges.repeats import average_readings
from headbench.calc.judging.rules import HEIGHT_REPEATS

MOST_REPEATS: Final = 10

RepeatedLength = PositiveLength | Annotated[list[PositiveLength], Meta(min_length=1, max_length=MOST_REPEATS)]
"""A length that may be read again: one reading, or a list of all of them."""

_NAMED_AT_MOST: Final = 8


@dataclass(frozen=True, slots=True)
class Repeated:
    """A reading, or all its repeats, as the request has it.

    pointer: where it stands; name: whose it is ("Spring S1", "1I"); reading: as sent.
    """

    pointer: str
    name: str
    reading: float | list[float] | None


def are_apart(reading: float | list[float] | None) -> bool:
    """Whether repeats of one height differ by more than the tool repeats."""
    if not isinstance(reading, list):
        return False
    spread = max(reading) - min(reading)
    return spread > HEIGHT_REPEATS.values[0] * (1.0 + 1e-9)


def tallest_where_apart(
    readings: Sequence[float | list[float] | None], mean: FloatArray
) -> tuple[FloatArray, BoolArray]:
    """Heights to judge damage by: the mean of repeats, the tallest where they are apart [m]; and which those are."""
    apart = np.array([are_apart(reading) for reading in readings], dtype=np.bool_)
    tallest = [max(reading) if isinstance(reading, list) else np.nan for reading in readings]
    return np.where(apart, np.array(tallest), mean), apart


def height_repeats(
    what: str, readings: Iterable[Repeated], *, tallest_where_they_disagree: bool = False
) -> Iterator[Note]:
    """The range of every height that was read more than once, and those to read again.

    `what` names the height inside a sentence; all are averaged, unless the tallest counts where they disagree.
    """
    again = [one for one in readings if isinstance(one.reading, list) and len(one.reading) > 1]
    if not again:
        return
    most = max(len(one.reading) for one in again if isinstance(one.reading, list))
    table = np.full((len(again), most), np.nan)
    for row, one in zip(table, again, strict=True):
        row[: len(one.reading)] = one.reading  # type: ignore[arg-type] # those kept are lists
    found = average_readings(table)
    spread = found.largest - found.smallest
    widest_first = np.argsort(-spread, kind="stable").tolist()
    disagree = [place for place in widest_first if are_apart(again[place].reading)]
    averaged = [place for place in widest_first if not (tallest_where_they_disagree and place in disagree)]
    told = [
        f"{again[place].name} {say(float(found.mean[place]), 'length')} "
        f"({found.count[place]} readings, range {say(float(spread[place]), 'length')})"
        for place in averaged[:_NAMED_AT_MOST]
    ]
    more = len(averaged) - len(told)
    told += [f"and {more} more"] if more else []
    if told:
        detail = f"{what[0].upper()}{what[1:]} averaged: {'; '.join(told)}."
        yield note("repeats_averaged", again[averaged[0]].pointer, detail)
    counts = "the tallest is used and not accepted. Measure again." if tallest_where_they_disagree else "measure again."
    for place in disagree:
        low, high = (say(float(each[place]), "length") for each in (found.smallest, found.largest))
        detail = (
            f"{again[place].name}: {what} readings {low} and {high} are more than "
            f"{say(HEIGHT_REPEATS.values[0], 'length')} apart; {counts}"
        )
        yield note("repeats_disagree", again[place].pointer, detail)
