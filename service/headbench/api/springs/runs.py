"""Spring runs: how far readings lie off their line, and a second run off the first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import msgspec
import numpy as np
from msgspec import Meta

from headbench.api.gauges.tester import Tester
from headbench.api.gauges.tester_readings import corrected_readings
from headbench.api.springs.load_curves import BenchReadings, Rating, curves_of
from headbench.api.springs.spring import Spring, each_spring, rating_of
from headbench.api.springs.tested import TestedSprings
from headbench.api.vocabulary.names import WHICH_OF_NESTED, SpringPlace, place_in_set
from headbench.api.vocabulary.quantities import Answer, ForceOut, written


class RunLine(Answer, kw_only=True, frozen=True):
    """How the readings of one spring agree."""

    which_spring: Annotated[SpringPlace, WHICH_OF_NESTED]
    residuals: Annotated[
        list[ForceOut | None] | None,
        Meta(description="Each reading less the best straight line; null = not asked for, or the reading left out."),
    ]
    second_run_differences: Annotated[
        list[ForceOut | None] | None,
        Meta(
            description="Each reading of the second run less the first run there; null = no second run, or not known."
        ),
    ]
    largest_second_run_difference: Annotated[
        ForceOut | None, Meta(description="Largest of second_run_differences, either way; null = no second run.")
    ]


def run_lines(springs: Sequence[Spring], tested: TestedSprings, tester: Tester | None) -> list[list[RunLine]]:
    """Every spring's runs, and those of the springs nested in it."""
    lines: dict[str, list[RunLine]] = {spring.id: [] for spring in springs}
    for spring, pointer, one in each_spring(springs):
        curve = one.load_curve
        if not isinstance(curve, BenchReadings):
            continue
        off = tested.off.get(pointer)
        second = None if off is None else written(off)
        known = [abs(each) for each in second or [] if each is not None]
        lines[spring.id].append(
            RunLine(
                which_spring=place_in_set(pointer),
                residuals=_residuals(curve, rating_of(spring, one), tester) if curve.fit == "line" else None,
                second_run_differences=second,
                largest_second_run_difference=max(known, default=None),
            )
        )
    return list(lines.values())


def _residuals(curve: BenchReadings, rating: Rating | None, tester: Tester | None) -> list[float | None]:
    curves, place = curves_of([msgspec.structs.replace(curve, second_run=[])], [rating], tester)
    read = corrected_readings([curve.readings], tester)
    off = read.load - curves.load_at(np.repeat(place, len(curve.readings)), read.height)
    answered: list[float | None] = written(off)
    return answered
