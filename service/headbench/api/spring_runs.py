"""Spring runs: how far readings lie off their line, and a second run off the first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import numpy as np
from msgspec import Meta

from headbench.api.load_curves import BenchReadings, Reading, curves_to_si, readings_to_si
from headbench.api.quantities import Answer, ForceOut, written
from headbench.api.springs import NestedSpring, Spring
from headbench.api.tester import Tester
from headbench.units import Scales


class RunLine(Answer, kw_only=True, frozen=True):
    """How well one spring was read."""

    spring: Annotated[int, Meta(description="Which: 0 the outer one, 1 and 2 the nested.")]
    residuals: Annotated[
        list[ForceOut] | None, Meta(description="Each reading less its line of least squares; null with a curve.")
    ]
    second_run: Annotated[
        list[ForceOut] | None, Meta(description="Each reading of the second run less the first's curve; null without.")
    ]
    largest_difference: Annotated[ForceOut | None, Meta(description="The largest of those of the second run.")]


def _off_curve(curve: BenchReadings, run: Sequence[Reading], tester: Tester | None, scales: Scales) -> list[float]:
    curves, place = curves_to_si([curve], tester, scales)
    _, columns = readings_to_si([run], tester, scales)
    off = columns["load"] - curves.load_at(np.repeat(place, len(run)), columns["height"])
    answered: list[float] = written(off / scales["force"].factor)
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
        second = _off_curve(curve, curve.second_run, tester, scales) if curve.second_run else None
        lines.append(
            RunLine(
                spring=place,
                residuals=_off_curve(curve, curve.readings, tester, scales) if curve.fit == "line" else None,
                second_run=second,
                largest_difference=None if second is None else max(map(abs, second)),
            )
        )
    return lines
