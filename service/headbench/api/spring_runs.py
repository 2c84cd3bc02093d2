"""Spring runs: how far readings lie off their line, and a second run off the first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import msgspec
import numpy as np
from msgspec import Meta

from headbench.api.load_curves import BenchReadings, Rating, curves_to_si
from headbench.api.quantities import Answer, ForceOut, written
from headbench.api.springs import SPRING_PLACES, WHICH_OF_NESTED, NestedSpring, Spring, SpringPlace, rating_of
from headbench.api.tester import Tester
from headbench.api.tester_readings import Reading, readings_to_si
from headbench.units import Scales


class RunLine(Answer, kw_only=True, frozen=True):
    """How the readings of one spring agree."""

    which_spring: Annotated[SpringPlace, WHICH_OF_NESTED]
    residuals: Annotated[
        list[ForceOut | None] | None,
        Meta(description="Each reading less the best straight line; null = not asked for, or the reading left out."),
    ]
    second_run: Annotated[
        list[ForceOut | None] | None,
        Meta(
            description="Each reading of the second run less the first run there; null = no second run, or not known."
        ),
    ]
    largest_difference: Annotated[
        ForceOut | None, Meta(description="Largest of second_run, either way; null = no second run.")
    ]


def _off_curve(
    curve: BenchReadings, rating: Rating | None, run: Sequence[Reading], tester: Tester | None, scales: Scales
) -> list[float | None]:
    curves, place = curves_to_si([msgspec.structs.replace(curve, second_run=[])], [rating], tester, scales)
    read = readings_to_si([run], tester, scales)
    off = read.load - curves.load_at(np.repeat(place, len(run)), read.height)
    answered: list[float | None] = written(off / scales["force"].factor)
    return answered


def run_lines(springs: Sequence[Spring], tester: Tester | None, scales: Scales) -> list[list[RunLine]]:
    """Every spring's runs, and those of the springs nested in it."""
    return [_lines(spring, tester, scales) for spring in springs]


def _lines(spring: Spring, tester: Tester | None, scales: Scales) -> list[RunLine]:
    every: tuple[Spring | NestedSpring, ...] = (spring, *spring.nested)
    lines = []
    for place, one in enumerate(every):
        curve = one.load_curve
        if not isinstance(curve, BenchReadings):
            continue
        rating = rating_of(spring, one)
        second = _off_curve(curve, rating, curve.second_run, tester, scales) if curve.second_run else None
        known = [abs(off) for off in second or [] if off is not None]
        lines.append(
            RunLine(
                which_spring=SPRING_PLACES[place],
                residuals=_off_curve(curve, rating, curve.readings, tester, scales) if curve.fit == "line" else None,
                second_run=second,
                largest_difference=max(known, default=None),
            )
        )
    return lines
