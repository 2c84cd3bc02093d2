"""Spring runs: how far readings lie off their line, and a second run off the first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import numpy as np
from msgspec import Meta

from headbench.api.load_curves import BenchReadings, curves_to_si, readings_to_si
from headbench.api.quantities import Answer, ForceOut, written
from headbench.api.springs import Spring
from headbench.api.tester import Tester
from headbench.calc import FloatArray
from headbench.units import Scales


class SecondRun(Answer, kw_only=True, frozen=True):
    """A second run of readings against the curve of the first."""

    differences: Annotated[list[ForceOut], Meta(description="Each reading of the second run less the first's curve.")]
    largest: Annotated[ForceOut, Meta(description="The largest of them, either way.")]


def _off_curve(curve: BenchReadings, second: bool, tester: Tester | None, scales: Scales) -> FloatArray:  # noqa: FBT001
    curves, place = curves_to_si([curve], tester, scales)
    _, columns = readings_to_si([curve.second_run if second else curve.readings], tester, scales)
    which = np.repeat(place, len(columns["load"]))
    return columns["load"] - curves.load_at(which, columns["height"])


def residuals(springs: Sequence[Spring], tester: Tester | None, scales: Scales) -> list[list[float] | None]:
    """Each reading less its line, of the outer springs that have one."""
    return [
        written(_off_curve(spring.load_curve, False, tester, scales) / scales["force"].factor)  # noqa: FBT003
        if isinstance(spring.load_curve, BenchReadings) and spring.load_curve.fit == "line"
        else None
        for spring in springs
    ]


def second_runs(springs: Sequence[Spring], tester: Tester | None, scales: Scales) -> list[SecondRun | None]:
    """The second run of every outer spring that had one."""
    found: list[SecondRun | None] = []
    for spring in springs:
        curve = spring.load_curve
        if not isinstance(curve, BenchReadings) or not curve.second_run:
            found.append(None)
            continue
        off = _off_curve(curve, True, tester, scales) / scales["force"].factor  # noqa: FBT003
        found.append(SecondRun(differences=written(off), largest=written(np.abs(off).max())))
    return found
