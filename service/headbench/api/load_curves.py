"""Load curves: the ways a spring's load can be known."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final, Literal

import numpy as np
from msgspec import Meta

from headbench.api.coil_dimensions import DimensionedCurve, dimensioned_to_si
from headbench.api.quantities import Columns, Force, Model, Percent, PositiveForce, PositiveLength, PositiveRate, say
from headbench.api.tester import Tester, corrected
from headbench.calc import FloatArray, IntArray
from headbench.calc.grid import GRID
from headbench.calc.load_curves import LoadCurves, from_rating, joined, unknown_curves
from headbench.calc.nested_springs import UNKNOWN_CURVE
from headbench.calc.spring_coils import DimensionedSpring
from headbench.calc.spring_curves import SpringCurves
from headbench.calc.spring_load import find_reading_faults
from headbench.calc.spring_readings import from_readings, line_through
from headbench.errors import Pointed
from headbench.units import Scales

MOST_READINGS: Final = 40
DIMENSIONED: Final = 3
_LEAST_RATE: Final = 1.0
"""Least rate of a line through readings [N/m]; what is softer is no spring of an engine."""


class Reading(Model, kw_only=True, frozen=True):
    """One reading of the tester."""

    height: Annotated[PositiveLength, Meta(description="Height of the spring on the tester.")]
    load: Annotated[Force, Meta(description="Load it shows there.")]


class RatedLoad(Model, kw_only=True, frozen=True):
    """One load at one height, and a rate."""

    height: Annotated[PositiveLength, Meta(description="Height of the printed load.")]
    load: Annotated[PositiveForce, Meta(description="The printed load.")]
    rate: Annotated[PositiveRate, Meta(description="The printed rate, force per length.")]


class Rating(RatedLoad, kw_only=True, frozen=True):
    """What a data sheet prints, to compare readings with."""

    tolerance_percent: Annotated[
        Percent | None, Meta(description="Largest deviation of the load, either way, as printed; null: not printed.")
    ] = None


class BenchReadings(Model, tag_field="kind", tag="bench", kw_only=True, frozen=True):
    """Readings of the tester: two make a line, more a shape-preserving curve through all of them."""

    readings: Annotated[
        list[Reading],
        Meta(
            min_length=2,
            max_length=MOST_READINGS,
            description="In any order; the load must rise as the height falls.",
            examples=[[{"height": 1.75, "load": 117.0}, {"height": 1.25, "load": 264.0}]],
        ),
    ]
    fit: Annotated[
        Literal["curve", "line"],
        Meta(description="curve: through every reading. line: the straight line of least squares, with residuals."),
    ] = "curve"
    second_run: Annotated[
        list[Reading], Meta(max_length=MOST_READINGS, description="Readings of a second run, compared with the first.")
    ] = []


class RatedCurve(RatedLoad, tag_field="kind", tag="rated", kw_only=True, frozen=True):
    """The data sheet's straight line. It is no proof: a check on such a load stays not_measured."""


LoadCurve = BenchReadings | RatedCurve | DimensionedCurve

_READING = Columns(Reading)
_RATED = Columns(RatedLoad)


def curves_to_si(
    load_curves: Sequence[LoadCurve], tester: Tester | None, scales: Scales
) -> tuple[SpringCurves, IntArray]:
    """All curves of a job, and the place of each among them; UNKNOWN_CURVE where a dimension is missing."""
    kinds = np.array([_kind(one) for one in load_curves], dtype=np.int64)
    curve, line = (
        [one.readings for one, kind in zip(load_curves, kinds, strict=True) if kind == number]  # type: ignore[union-attr] # kinds 0 and 1 are bench readings
        for number in (0, 1)
    )
    fitted: list[LoadCurves] = []
    for fit, runs in ((from_readings, curve), (line_through, line)):
        if runs:
            owner, columns = readings_to_si(runs, tester, scales)
            fitted.append(fit(owner, columns["height"], columns["load"]))
    rated = [one for one in load_curves if isinstance(one, RatedCurve)]
    if rated:
        fitted.append(from_rating(**_RATED.to_si(rated, scales)))
    both = joined(fitted or [unknown_curves()])
    springs = [dimensioned_to_si(one, scales) for one in load_curves if isinstance(one, DimensionedCurve)]
    places = np.full(len(load_curves), UNKNOWN_CURVE, dtype=np.int64)
    firsts = np.cumsum([0, len(curve), len(line)])
    for number, first in enumerate(firsts.tolist()):
        of_kind = np.flatnonzero(kinds == number)
        places[of_kind] = first + np.arange(len(of_kind))
    known: list[DimensionedSpring] = []
    for place, spring in zip(np.flatnonzero(kinds == DIMENSIONED).tolist(), springs, strict=True):
        if spring is not None:
            places[place] = len(both.knots) + len(known)
            known.append(spring)
    return SpringCurves(both, tuple(known)), places


def _kind(one: LoadCurve) -> int:
    """Curve, line, rating, dimensions: the order in which their places follow each other."""
    match one:
        case BenchReadings():
            return 0 if one.fit == "curve" else 1
        case RatedCurve():
            return 2
        case DimensionedCurve():
            return DIMENSIONED


def readings_to_si(
    runs: Sequence[Sequence[Reading]], tester: Tester | None, scales: Scales
) -> tuple[IntArray, dict[str, FloatArray]]:
    """Readings of several runs, one below the other, and the run each belongs to; loads corrected."""
    owner = np.repeat(np.arange(len(runs)), [len(run) for run in runs])
    columns = _READING.to_si([reading for run in runs for reading in run], scales)
    columns["load"] = corrected(columns["load"], tester, scales)
    return owner, columns


@dataclass(frozen=True, slots=True)
class Run:
    """One run of readings: where it stands in the request, and how short its spring can be if that was read.

    A run that is only compared with a curve need not make one of its own; one that a line is laid through may scatter.
    """

    pointer: str
    readings: Sequence[Reading]
    coil_bind_height: float | None
    makes_curve: bool = True
    scatters: bool = False


def reading_faults(runs: Sequence[Run], tester: Tester | None, scales: Scales) -> Iterator[Pointed]:
    """Readings that cannot all be true."""
    if not runs:
        return
    owner, columns = readings_to_si([run.readings for run in runs], tester, scales)
    told = _Told(runs, owner, columns["height"], columns["load"], scales)
    for fault, first, second in find_reading_faults(owner, told.height, told.load):
        run = runs[int(owner[first])]
        if fault != "too few" and not run.scatters:
            yield Pointed(told.pointer(second), told.contradiction(fault, first, second))
        elif fault == "too few" and run.makes_curve:
            detail = f"all readings are at {told.at(first)}; a curve needs two different heights"
            yield Pointed(run.pointer, detail)
    yield from _rising_lines(runs, owner, told)
    for below in np.flatnonzero(told.load < 0.0).tolist():
        detail = f"reading {told.number(below)}: the tester's correction makes it {told.of(below)}"
        yield Pointed(f"{told.pointer(below)}/load", detail)
    bind = np.array([run.coil_bind_height for run in runs], dtype=np.float64) * scales["length"].factor
    for reading in np.flatnonzero(told.height < bind[owner] - 1e-9).tolist():
        shown = say(float(bind[owner[reading]]), "length", scales)
        detail = (
            f"reading {told.number(reading)} was taken at {told.at(reading)}, below the coil-bind height of {shown}: "
            "the spring cannot be that short"
        )
        yield Pointed(f"{told.pointer(reading)}/height", detail)


def _rising_lines(runs: Sequence[Run], owner: IntArray, told: _Told) -> Iterator[Pointed]:
    """Lines of least squares whose load falls as the spring is compressed."""
    for place, run in enumerate(runs):
        if not run.scatters:
            continue
        height, load = told.height[owner == place], told.load[owner == place]
        off = height - height.mean()
        if np.ptp(height) > GRID and not float((off * load).sum()) < -_LEAST_RATE * float((off * off).sum()):
            yield Pointed(run.pointer, "the line through these readings does not rise as the spring is compressed")


@dataclass(frozen=True, slots=True)
class _Told:
    """Readings of several runs, as sentences speak of them."""

    runs: Sequence[Run]
    owner: IntArray
    height: FloatArray
    load: FloatArray
    scales: Scales

    def number(self, reading: int) -> int:
        """Its number in its run, counted from 1."""
        return reading - int(np.searchsorted(self.owner, self.owner[reading])) + 1

    def pointer(self, reading: int) -> str:
        return f"{self.runs[int(self.owner[reading])].pointer}/{self.number(reading) - 1}"

    def at(self, reading: int) -> str:
        return say(float(self.height[reading]), "length", self.scales)

    def of(self, reading: int) -> str:
        return say(float(self.load[reading]), "force", self.scales)

    def contradiction(self, fault: str, first: int, second: int) -> str:
        heights = f"{self.at(first).split()[0]} to {self.at(second)}"
        both = f"readings {self.number(first)} and {self.number(second)}"
        match fault:
            case "falls":
                loads = f"{self.of(first).split()[0]} to {self.of(second)}"
                return f"{both}: load falls from {loads} as the spring is compressed from {heights}"
            case "flat":
                return f"{both}: load stays at {self.of(first)} while the spring is compressed from {heights}"
            case _:
                return f"{both}: {self.of(first)} and {self.of(second)} at one height, {self.at(first)}"
