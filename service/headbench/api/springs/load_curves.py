"""Load curves: the ways a spring's load can be known."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Annotated, Final, Literal

import numpy as np
from msgspec import Meta

from headbench.api.gauges.tester import Tester
from headbench.api.gauges.tester_readings import Reading, TesterReadings, corrected_readings
from headbench.api.springs.dimensions import DimensionedCurve, spring_of
from headbench.api.vocabulary.quantities import Columns, Model, Percent, PositiveForce, PositiveLength, PositiveRate
from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.coils.coils import DimensionedSpring
from headbench.calc.springs.curves import SpringCurves
from headbench.calc.springs.load_curves import LoadCurves, from_rating, joined, unknown_curves
from headbench.calc.springs.loads import differ_by_more_than_a_tester
from headbench.calc.springs.nested import UNKNOWN_CURVE
from headbench.calc.springs.readings import from_one_reading, from_readings, line_through, lower_of_two_runs

MOST_READINGS: Final = 40


class RatedLoad(Model, kw_only=True, frozen=True):
    """One load at one height, and a rate."""

    height: Annotated[PositiveLength, Meta(description="Height of the printed load.", examples=[1.75])]
    load: Annotated[PositiveForce, Meta(description="The printed load.", examples=[120.0])]
    rate: Annotated[PositiveRate, Meta(description="The printed rate, force per length.", examples=[290.0])]


class Rating(RatedLoad, kw_only=True, frozen=True):
    """What a data sheet prints, to compare readings with."""

    load_tolerance: Annotated[
        Percent | None,
        Meta(description="Largest deviation of the load, either way, as printed; null = not given.", examples=[8.0]),
    ] = None


class BenchReadings(Model, tag_field="kind", tag="bench", kw_only=True, frozen=True):
    """Readings of the tester: two heights make a line, more a smooth curve through all of them."""

    readings: Annotated[
        list[Reading],
        Meta(
            min_length=1,
            max_length=MOST_READINGS,
            description="Tester readings in any order; a height may repeat. Load must rise as the spring is "
            "compressed. One height "
            "alone gives a load only with the rate of the spring's rating.",
            examples=[[{"height": 1.75, "load": 117.0}, {"height": 1.25, "load": 264.0}]],
        ),
    ]
    fit: Annotated[
        Literal["curve", "line"],
        Meta(
            description="curve: through every reading. line: best straight line (least squares), with residuals.",
            examples=["curve"],
        ),
    ] = "curve"
    second_run: Annotated[
        list[Reading],
        Meta(
            max_length=MOST_READINGS,
            description="A second run on the tester. Where the two runs differ by more than a tester repeats, the "
            "lower one is judged and never accepted. Empty = none.",
            examples=[[{"height": 1.75, "load": 116.0}]],
        ),
    ] = []


class RatedCurve(RatedLoad, tag_field="kind", tag="rated", kw_only=True, frozen=True):
    """The data sheet's straight line. A check on such a load is never accepted: it was not tested."""


LoadCurve = BenchReadings | RatedCurve | DimensionedCurve

_RATED = Columns(RatedLoad)


def curves_of(
    load_curves: Sequence[LoadCurve], ratings: Sequence[Rating | None], tester: Tester | None
) -> tuple[SpringCurves, IntArray]:
    """All curves of a job, and the place of each among them; UNKNOWN_CURVE where too little was read of one.

    `ratings` has the data sheet of each spring, whose rate makes a line of a single reading.
    """
    places = np.full(len(load_curves), UNKNOWN_CURVE, dtype=np.int64)
    fitted: list[LoadCurves] = []

    def add(owners: Sequence[int], curves: LoadCurves) -> None:
        places[list(owners)] = sum(len(one.knots) for one in fitted) + np.arange(len(owners))
        fitted.append(curves)

    for owners, curves in _tested(load_curves, ratings, tester):
        add(owners, curves)
    if fitted:
        for place, lower in _lower_runs(load_curves, joined(fitted), places.copy(), tester):
            add([place], lower)
    rated = [(place, one) for place, one in enumerate(load_curves) if isinstance(one, RatedCurve)]
    if rated:
        add([place for place, _ in rated], from_rating(**_RATED.of([one for _, one in rated])))
    both = joined(fitted or [unknown_curves()])
    known: list[DimensionedSpring] = []
    for place, one in enumerate(load_curves):
        spring = spring_of(one) if isinstance(one, DimensionedCurve) else None
        if spring is not None:
            places[place] = len(both.knots) + len(known)
            known.append(spring)
    return SpringCurves(both, tuple(known)), places


def _tested(
    load_curves: Sequence[LoadCurve], ratings: Sequence[Rating | None], tester: Tester | None
) -> Iterator[tuple[Sequence[int], LoadCurves]]:
    """Curves of the first runs on the tester, with whose they are."""
    tested = [(place, one) for place, one in enumerate(load_curves) if isinstance(one, BenchReadings)]
    if not tested:
        return
    read = corrected_readings([one.readings for _, one in tested], tester)
    averaged = read.averaged
    heights = np.bincount(averaged.spring, minlength=len(tested))
    in_doubt = np.bincount(averaged.spring, read.disagrees, minlength=len(tested)) > 0.0
    for fit, make in (("curve", from_readings), ("line", line_through)):
        own = [number for number, (_, one) in enumerate(tested) if one.fit == fit and heights[number] > 1]
        if own:
            yield [tested[number][0] for number in own], replace(make(*read.of(own)), in_doubt=in_doubt[own])
    for number in np.flatnonzero(heights == 1).tolist():
        place, only = tested[number][0], int(np.flatnonzero(averaged.spring == number)[0])
        rating = ratings[place]
        if rating is not None:
            height, load = float(averaged.height[only]), float(averaged.load[only])
            line = from_one_reading(height, load, rating.rate)
            yield [place], replace(line, in_doubt=in_doubt[[number]])


def _lower_runs(
    load_curves: Sequence[LoadCurve], first: LoadCurves, places: IntArray, tester: Tester | None
) -> Iterator[tuple[int, LoadCurves]]:
    """The lower of two runs of every spring whose runs disagree."""
    again = [
        (place, one.second_run)
        for place, one in enumerate(load_curves)
        if isinstance(one, BenchReadings) and one.second_run and places[place] != UNKNOWN_CURVE
    ]
    if not again:
        return
    read = corrected_readings([run for _, run in again], tester)
    which = places[[place for place, _ in again]][read.owner]
    _, disagrees = compare_runs(first, which, read)
    disagrees |= falls_behind(first, which, read)
    for number in np.unique(read.owner[disagrees]).tolist():
        place = again[number][0]
        own = (read.owner == number) & ~np.isnan(read.load) & first.is_near_readings(which, read.height)
        alone = first.only(int(places[place]))
        # a second run wholly elsewhere gives no curve of its own
        in_doubt = replace(alone, in_doubt=np.ones(1, dtype=np.bool_))
        yield place, lower_of_two_runs(alone, read.height[own], read.load[own]) if own.any() else in_doubt


def compare_runs(first: LoadCurves, which: IntArray, second: TesterReadings) -> tuple[FloatArray, BoolArray]:
    """Each reading of a second run less the first one's curve [N], and where that is more than a tester repeats.

    Farther outside the first run than a little the two are not compared.
    """
    there = first.load_at(which, second.height)
    differs = differ_by_more_than_a_tester(second.load, there) & first.is_near_readings(which, second.height)
    return second.load - there, differs


def falls_behind(first: LoadCurves, which: IntArray, second: TesterReadings) -> BoolArray:
    """Where a reading outside the first run's heights pushes less though pressed further than its end, or the reverse.

    A spring that is pressed further pushes more; a difference that a tester repeats to says nothing.
    """
    end = end_of_first(first, which, second.height)
    there = first.load_at(which, end)
    wrong = np.where(second.height < end, second.load < there, second.load > there)
    outside = ~first.is_near_readings(which, second.height)
    return np.asarray(outside & wrong & differ_by_more_than_a_tester(second.load, there), dtype=np.bool_)


def end_of_first(first: LoadCurves, which: IntArray, height: FloatArray) -> FloatArray:
    """The height of the first run that is nearest to one outside it [m]."""
    spring = which.clip(0)
    return np.clip(height, first.lowest_read[spring], first.highest_read[spring])
