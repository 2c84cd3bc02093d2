"""Tester readings: what a spring tester showed, corrected, with repeats averaged, and what of it cannot be true."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.gauges.tester import Tester, corrected
from headbench.api.vocabulary.names import named
from headbench.api.vocabulary.quantities import Columns, Force, Model, PositiveLength
from headbench.api.vocabulary.saying import say
from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.judging.grid import GRID
from headbench.calc.springs.loads import differ_by_more_than_a_tester, find_reading_faults
from headbench.calc.springs.readings import AveragedReadings, average_repeats
from headbench.errors import Pointed

_LEAST_RATE: Final = 1.0
"""Least rate of a line through readings [N/m]; what is softer is no spring of an engine."""


class Reading(Model, kw_only=True, frozen=True):
    """One reading of the tester. A height may be read more than once; its loads are averaged."""

    height: Annotated[PositiveLength, Meta(description="Spring height on the tester.", examples=[1.75])]
    load: Annotated[Force, Meta(description="Load the tester shows there.", examples=[117.0])]


_READING = Columns(Reading)


@dataclass(frozen=True, slots=True)
class TesterReadings:
    """Readings of several runs, one below the other.

    owner : array (R,), the run each belongs to [-]
    height : array (R,) [m]
    shown : array (R,), what the tester showed [N]
    load : array (R,), corrected; NaN where the correction leaves less than nothing [N]
    corrected : array (R,), the same with what is less than nothing [N]
    averaged : AveragedReadings, those with a load, one for each height
    """

    owner: IntArray
    height: FloatArray
    shown: FloatArray
    load: FloatArray
    corrected: FloatArray
    averaged: AveragedReadings

    def of(self, runs: Sequence[int]) -> tuple[IntArray, FloatArray, FloatArray]:
        """Owner, height and load of the readings of some runs, the runs counted anew; those without a load left out."""
        number = np.full(int(self.owner.max(initial=-1)) + 1, -1)
        number[list(runs)] = np.arange(len(runs))
        own = number[self.owner]
        kept = (own >= 0) & ~np.isnan(self.load)
        return own[kept], self.height[kept], self.load[kept]

    @property
    def disagrees(self) -> BoolArray:
        """Of the averaged ones, those whose repeats differ by more than a tester repeats."""
        return differ_by_more_than_a_tester(self.averaged.lowest, self.averaged.highest)


def corrected_readings(runs: Sequence[Sequence[Reading]], tester: Tester | None) -> TesterReadings:
    """Readings of several runs, loads corrected."""
    owner = np.repeat(np.arange(len(runs)), [len(run) for run in runs])
    columns = _READING.of([reading for run in runs for reading in run])
    true = corrected(columns["load"], tester)
    load = np.where(true < 0.0, np.nan, true)
    averaged = average_repeats(owner, columns["height"], load)
    return TesterReadings(owner, columns["height"], columns["load"], load, true, averaged)


@dataclass(frozen=True, slots=True)
class Run:
    """One run of readings of one spring.

    pointer: where it stands; spring: the id of the spring it belongs to; coil_bind_height: how short it can be if that
    was read; has_rate: whether its rating gives a rate; is_first: False for a second run; scatters: whether a line is
    laid through it.
    """

    pointer: str
    spring: str
    readings: Sequence[Reading]
    coil_bind_height: float | None
    has_rate: bool
    is_first: bool = True
    scatters: bool = False

    @property
    def name(self) -> str:
        """The spring as a sentence begins."""
        return named(self.spring, self.pointer)


def reading_faults(runs: Sequence[Run], tester: Tester | None) -> Iterator[Pointed]:
    """Readings that cannot all be true."""
    if not runs:
        return
    told = ToldReadings(runs, corrected_readings([run.readings for run in runs], tester))
    averaged = told.read.averaged
    for fault, first, second in find_reading_faults(averaged.spring, averaged.height, averaged.load):
        if not runs[int(averaged.spring[first])].scatters:
            yield Pointed(told.pointer(int(averaged.first[second])), told.contradiction(fault, first, second))
    yield from _rising_lines(runs, averaged)
    bind = np.array([run.coil_bind_height for run in runs], dtype=np.float64)
    for reading in np.flatnonzero(told.read.height < bind[told.read.owner] - GRID).tolist():
        shown = say(float(bind[told.read.owner[reading]]), "length")
        detail = (
            f"reading {told.number(reading)} at {told.at(reading)} is below the coil-bind height, {shown}; check both"
        )
        yield Pointed(f"{told.pointer(reading)}/height", detail)


def _rising_lines(runs: Sequence[Run], averaged: AveragedReadings) -> Iterator[Pointed]:
    """Lines of least squares whose load falls as the spring is compressed."""
    for place, run in enumerate(runs):
        own = averaged.spring == place
        if not run.scatters or own.sum() < 2:  # noqa: PLR2004 - one height makes no line
            continue
        height, load, weight = averaged.height[own], averaged.load[own], averaged.count[own]
        off = height - np.average(height, weights=weight)
        if not float((weight * off * load).sum()) < -_LEAST_RATE * float((weight * off * off).sum()):
            yield Pointed(run.pointer, "the line through these readings must rise as the spring is compressed")


@dataclass(frozen=True, slots=True)
class ToldReadings:
    """Readings of several runs, as sentences speak of them."""

    runs: Sequence[Run]
    read: TesterReadings

    def run(self, reading: int) -> Run:
        """The run it belongs to."""
        return self.runs[int(self.read.owner[reading])]

    def number(self, reading: int) -> int:
        """Its number in its run, counted from 1."""
        return reading - int(np.searchsorted(self.read.owner, self.read.owner[reading])) + 1

    def pointer(self, reading: int) -> str:
        """Where it stands in the request."""
        return f"{self.run(reading).pointer}/{self.number(reading) - 1}"

    def at(self, reading: int) -> str:
        """Its height."""
        return say(float(self.read.height[reading]), "length")

    def force(self, load: float) -> str:
        """A load."""
        return say(load, "force")

    def contradiction(self, fault: str, first: int, second: int) -> str:
        """Two of the averaged readings that cannot both be true."""
        averaged = self.read.averaged
        one, other = (int(averaged.first[place]) for place in (first, second))
        heights = f"{self.at(one).split()[0]} to {self.at(other)}"
        both = f"readings {self.number(one)} and {self.number(other)}"
        before, after = (float(averaged.load[place]) for place in (first, second))
        if fault == "falls":
            loads = f"{self.force(before).split()[0]} to {self.force(after)}"
            return f"{both}: load falls from {loads} as the spring is compressed from {heights}; check both"
        return f"{both}: load stays at {self.force(before)} while the spring is compressed from {heights}; check both"
