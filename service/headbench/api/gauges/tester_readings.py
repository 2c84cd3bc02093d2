"""Tester readings: what a spring tester showed, corrected, with repeats averaged, and what of it cannot be true."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Annotated, Final, NamedTuple

from msgspec import Meta

from headbench.api.gauges.tester import Tester, corrected
from headbench.api.vocabulary.names import named
from headbench.api.vocabulary.quantities import Force, Model, PositiveLength
from headbench.api.vocabulary.saying import say
from headbench.calc.judging.grid import GRID
from headbench.calc.springs.loads import differ_by_more_than_a_tester, find_reading_faults
from headbench.calc.springs.readings import AveragedReading, average_repeats
from headbench.errors import Pointed

_NAN: Final = float("nan")

_LINE: Final = 2
"""Heights that make a line."""

_LEAST_RATE: Final = 1.0
"""Least rate of a line through readings [N/m]; what is softer is no spring of an engine."""


class Reading(Model, kw_only=True, frozen=True):
    """One reading of the tester. A height may be read more than once; its loads are averaged."""

    height: Annotated[PositiveLength, Meta(description="Spring height on the tester.", examples=[1.75])]
    load: Annotated[Force, Meta(description="Load the tester shows there.", examples=[117.0])]


class Run(NamedTuple):
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


class RunRead(NamedTuple):
    """One run of readings, corrected, with repeats averaged; it speaks of them as sentences do.

    run : whose it is, and where it stands
    height, shown : what was read [m], [N]
    corrected : the loads as the tester's correction has them [N]
    load : the same; NaN where the correction leaves less than nothing [N]
    averaged : those with a load, one for each height, the shortest first
    """

    run: Run
    height: Sequence[float]
    shown: Sequence[float]
    corrected: Sequence[float]
    load: Sequence[float]
    averaged: Sequence[AveragedReading]

    @property
    def in_doubt(self) -> bool:
        """Whether repeats at one of its heights differ by more than a tester repeats."""
        return any(map(disagree, self.averaged))

    def pointer(self, reading: int) -> str:
        """Where a reading stands in the request."""
        return f"{self.run.pointer}/{reading}"

    def at(self, reading: int) -> str:
        """The height of a reading."""
        return say(self.height[reading], "length")

    def contradiction(self, fault: str, first: AveragedReading, second: AveragedReading) -> str:
        """Two of the averaged readings that cannot both be true."""
        heights = f"{self.at(first.first).split()[0]} to {self.at(second.first)}"
        both = f"readings {first.first + 1} and {second.first + 1}"
        before, after = say(first.load, "force"), say(second.load, "force")
        if fault == "falls":
            loads = f"{before.split()[0]} to {after}"
            return f"{both}: load falls from {loads} as the spring is compressed from {heights}; check both"
        return f"{both}: load stays at {before} while the spring is compressed from {heights}; check both"


def disagree(averaged: AveragedReading) -> bool:
    """Whether repeats at one height differ by more than a tester repeats."""
    return averaged.times > 1 and differ_by_more_than_a_tester(averaged.lowest, averaged.highest)


def read_run(run: Run, tester: Tester | None) -> RunRead:
    """A run with its loads corrected and its repeats averaged."""
    height, shown = [one.height for one in run.readings], [one.load for one in run.readings]
    true = corrected(shown, tester)
    load = [_NAN if one < 0.0 else one for one in true]
    return RunRead(run, height, shown, true, load, average_repeats(height, load))


def reading_faults(runs: Iterable[RunRead]) -> Iterator[Pointed]:
    """Readings that cannot all be true."""
    for read in runs:
        run, averaged = read.run, read.averaged
        if run.scatters:
            if not _rises(averaged):
                yield Pointed(run.pointer, "the line through these readings must rise as the spring is compressed")
        else:
            heights, loads = [one.height for one in averaged], [one.load for one in averaged]
            for fault, first, second in find_reading_faults(heights, loads):
                place = averaged[second].first
                yield Pointed(read.pointer(place), read.contradiction(fault, averaged[first], averaged[second]))
        if run.coil_bind_height is not None:
            yield from _below_bind(read, run.coil_bind_height)


def _below_bind(read: RunRead, bind: float) -> Iterator[Pointed]:
    for place, height in enumerate(read.height):
        if height < bind - GRID:
            detail = (
                f"reading {place + 1} at {read.at(place)} is below the coil-bind height, {say(bind, 'length')}; check "
                "both"
            )
            yield Pointed(f"{read.pointer(place)}/height", detail)


def _rises(averaged: Sequence[AveragedReading]) -> bool:
    """Whether the load on a line of least squares rises as the spring is compressed; one height makes no line."""
    if len(averaged) < _LINE:
        return True
    middle = sum(one.times * one.height for one in averaged) / sum(one.times for one in averaged)
    off = [(one.height - middle, one) for one in averaged]
    falls = sum(one.times * by * one.load for by, one in off)
    return falls < -_LEAST_RATE * sum(one.times * by * by for by, one in off)
