"""Repeats: a reading that may be taken more than once is a number, or a list of numbers.

Wherever a list is taken, its mean is computed with (`Columns` does that), its range is said in a note, and
readings farther apart than the tool repeats are pointed at.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.findings import Note, note
from headbench.api.quantities import PositiveLength, say
from headbench.calc.repeats import average_readings
from headbench.calc.rules import HEIGHT_REPEATS
from headbench.units import Scales

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


def readings_disagree(reading: float | list[float] | None, scales: Scales) -> bool:
    """Whether the repeats of one height lie farther apart than the tool repeats."""
    if not isinstance(reading, list):
        return False
    return _too_wide((max(reading) - min(reading)) * scales["length"].factor)


def _too_wide(spread: float) -> bool:
    return spread > HEIGHT_REPEATS.values[0] * (1.0 + 1e-9)


def height_repeats(what: str, readings: Iterable[Repeated], scales: Scales) -> Iterator[Note]:
    """The range of every height that was read more than once, and those to read again.

    `what` names the height inside a sentence.
    """
    again = [one for one in readings if isinstance(one.reading, list) and len(one.reading) > 1]
    if not again:
        return
    most = max(len(one.reading) for one in again if isinstance(one.reading, list))
    table = np.full((len(again), most), np.nan)
    for row, one in zip(table, again, strict=True):
        row[: len(one.reading)] = one.reading  # type: ignore[arg-type] # those kept are lists
    found = average_readings(table * scales["length"].factor)
    spread = found.largest - found.smallest
    widest_first = np.argsort(-spread, kind="stable").tolist()
    told = [
        f"{again[place].name} {say(float(found.mean[place]), 'length', scales)} "
        f"({found.count[place]} readings, range {say(float(spread[place]), 'length', scales)})"
        for place in widest_first[:_NAMED_AT_MOST]
    ]
    more = len(again) - len(told)
    told += [f"and {more} more"] if more else []
    yield note(
        "repeats_averaged", again[widest_first[0]].pointer, f"{what[0].upper()}{what[1:]} averaged: {'; '.join(told)}."
    )
    for place in widest_first:
        if _too_wide(float(spread[place])):
            low, high = (say(float(each[place]), "length", scales) for each in (found.smallest, found.largest))
            detail = (
                f"{again[place].name}: {what} readings {low} and {high} are more than "
                f"{say(HEIGHT_REPEATS.values[0], 'length', scales)} apart; measure again."
            )
            yield note("repeats_disagree", again[place].pointer, detail)
