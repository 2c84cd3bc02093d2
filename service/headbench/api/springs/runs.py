"""Spring runs: how far readings lie off their line, and a second run off the first."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Annotated

from msgspec import Meta

from headbench.api.gauges.tester_readings import RunRead
from headbench.api.springs.load_curves import BenchReadings, first_run
from headbench.api.springs.spring import Spring, SpringsRead, each_spring, rating_of
from headbench.api.springs.tested import TestedSprings
from headbench.api.vocabulary.names import WHICH_OF_NESTED, SpringPlace, place_in_set
from headbench.api.vocabulary.quantities import Answer, ForceOut
from headbench.calc.springs.one_curve import LoadCurve as Curve


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


def run_lines(springs: Sequence[Spring], tested: TestedSprings, read: SpringsRead) -> list[list[RunLine]]:
    """Every spring's runs, and those of the springs nested in it."""
    lines: dict[str, list[RunLine]] = {spring.id: [] for spring in springs}
    for spring, pointer, one in each_spring(springs):
        curve = one.load_curve
        if not isinstance(curve, BenchReadings):
            continue
        off = tested.off.get(pointer)
        second = None if off is None else _known_only(off)
        known = [abs(each) for each in second or [] if each is not None]
        first = first_run(curve, pointer, read.runs, rating_of(spring, one)) if curve.fit == "line" else None
        lines[spring.id].append(
            RunLine(
                which_spring=place_in_set(pointer),
                residuals=_residuals(first, read.runs[f"{pointer}/load_curve/readings"])
                if curve.fit == "line"
                else None,
                second_run_differences=second,
                largest_second_run_difference=max(known, default=None),
            )
        )
    return list(lines.values())


def _residuals(line: Curve | None, read: RunRead) -> list[float | None]:
    if line is None:
        return [None] * len(read.load)
    return _known_only([load - line.load_at(at) for at, load in zip(read.height, read.load, strict=True)])


def _known_only(values: Sequence[float]) -> list[float | None]:
    return [None if math.isnan(value) else value for value in values]
