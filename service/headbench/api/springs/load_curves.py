"""Load curves: the ways a spring's load can be known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, Final, Literal

from msgspec import Meta

from headbench.api.gauges.tester_readings import Reading, RunRead
from headbench.api.springs.dimensions import DimensionedCurve, spring_of
from headbench.api.vocabulary.quantities import Model, Percent, PositiveForce, PositiveLength, PositiveRate
from headbench.calc.coils.coils import DimensionedSpring
from headbench.calc.springs.one_curve import LoadCurve as Curve
from headbench.calc.springs.one_curve import curve_of_one_reading, rated_curve
from headbench.calc.springs.readings import curve_of_averaged, line_through
from headbench.calc.springs.two_runs import compare_runs, lower_of_two_runs

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

_LINE: Final = 2
"""Heights that make a line."""


def curve_of(
    load_curve: LoadCurve, pointer: str, runs: Mapping[str, RunRead], rating: Rating | None
) -> Curve | DimensionedSpring | None:
    """The curve of a spring at a pointer; None where too little was read of it.

    `runs` has every run by its pointer; the rate of `rating`, the spring's own data sheet, makes a line of one reading.
    """
    match load_curve:
        case RatedCurve():
            return rated_curve(load_curve.height, load_curve.load, load_curve.rate)
        case DimensionedCurve():
            return spring_of(load_curve)
    first = first_run(load_curve, pointer, runs, rating)
    if first is None or not load_curve.second_run:
        return first
    again = runs[f"{pointer}/load_curve/second_run"]
    compared = compare_runs(first, again.height, again.load)
    if not any(one.differs or one.falls_behind for one in compared):
        return first
    near = [one for one in compared if not one.is_outside and one.load >= 0.0]
    return lower_of_two_runs(first, [one.height for one in near], [one.load for one in near])


def first_run(
    load_curve: BenchReadings, pointer: str, runs: Mapping[str, RunRead], rating: Rating | None
) -> Curve | None:
    """The curve through the first run of readings of a spring at a pointer."""
    read = runs[f"{pointer}/load_curve/readings"]
    heights = len(read.averaged)
    if heights >= _LINE and load_curve.fit == "curve":
        made = curve_of_averaged(read.averaged)
    elif heights >= _LINE:
        kept = [place for place, load in enumerate(read.load) if load >= 0.0]
        made = line_through([read.height[place] for place in kept], [read.load[place] for place in kept])
    elif heights == 1 and rating is not None:
        made = curve_of_one_reading(read.averaged[0].height, read.averaged[0].load, rating.rate)
    else:
        return None
    return replace(made, in_doubt=True) if read.in_doubt else made
