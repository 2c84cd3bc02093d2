"""One curve: a single spring in plain floats."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator

from headbench.calc.springs.one_curve import cubic_load, cubic_slope, curve_of_one_reading, rated_curve
from headbench.calc.springs.readings import curve_through

INCH = 0.0254
POUND = 4.4482216152605

loads = st.floats(10.0, 2000.0)
slopes = st.floats(-500e3, 0.0)


@given(
    step=st.floats(0.2e-3, 10e-3), ends=st.tuples(loads, loads), tangents=st.tuples(slopes, slopes), t=st.floats(0, 1)
)
def test_a_piece_is_scipys_hermite_cubic(
    step: float, ends: tuple[float, float], tangents: tuple[float, float], t: float
) -> None:
    referee = CubicHermiteSpline(np.array([0.0, step]), np.array(ends), np.array(tangents))
    assert cubic_load(t, step, ends, tangents) == pytest.approx(float(referee(t * step)), rel=1e-9, abs=1e-6)
    slope = float(referee.derivative()(t * step))
    assert cubic_slope(t, step, ends, tangents) == pytest.approx(slope, rel=1e-9, abs=1e-9 * 2000.0 / step)


def test_a_rating_is_a_straight_line_and_no_measurement() -> None:
    curve = rated_curve(0.040, 500.0, 50e3)
    # hand arithmetic: 500 + 50e3 * 0.008 = 900; free at 0.040 + 500/50e3 = 0.050
    assert curve.load_at(0.032) == pytest.approx(900.0, rel=1e-12)
    assert curve.load_at(0.051) == 0.0
    assert math.isnan(curve.beyond_readings(0.040))
    assert not curve.is_near_readings(0.040)
    assert not curve.is_proven(0.040)


def test_a_load_no_positive_height_gives_has_no_height() -> None:
    rated = rated_curve(0.040, 500.0, 50e3)
    # hand arithmetic: at height 0 the line gives 500 + 50e3 * 0.040 = 2500 N
    assert math.isnan(rated.height_for(2501.0))
    assert rated.height_for(2499.0) == pytest.approx(2e-5, rel=1e-6)


@given(
    knots=st.lists(st.tuples(st.floats(0.2e-3, 5e-3), st.floats(5.0, 500.0)), min_size=2, max_size=6),
    share=st.floats(0.0, 1.0),
)
def test_the_height_for_a_load_inside_the_readings_is_where_scipys_curve_has_it(
    knots: list[tuple[float, float]], share: float
) -> None:
    height = 0.025 + np.cumsum([step for step, _ in knots])
    load = 100.0 + np.cumsum([drop for _, drop in knots])[::-1]
    wanted = float(load[-1] + share * (load[0] - load[-1]))
    referee = PchipInterpolator(height, load)
    there = curve_through(height.tolist(), load.tolist()).height_for(wanted)
    assert height[0] - 1e-12 <= there <= height[-1] + 1e-12
    assert float(referee(min(max(there, height[0]), height[-1]))) == pytest.approx(wanted, rel=1e-9)


@given(place=st.floats(0.0, 1.0))
def test_the_rate_is_how_fast_the_load_falls(place: float) -> None:
    height, load = [0.032, 0.036, 0.040, 0.045], [1100.0, 880.0, 700.0, 500.0]
    referee = PchipInterpolator(height, load).derivative()
    there = 0.032 + place * 0.013
    assert curve_through(height, load).rate_at(there) == pytest.approx(-float(referee(there)), rel=1e-9)


def test_a_spring_that_is_loose_has_no_rate() -> None:
    rated = rated_curve(0.040, 500.0, 50e3)
    # free at 0.040 + 500/50e3 = 0.050
    assert [rated.rate_at(height) for height in (0.032, 0.0499, 0.051)] == [50e3, 50e3, 0.0]


def test_an_unknown_height_has_no_number() -> None:
    for curve in (rated_curve(0.040, 500.0, 50e3), curve_through([0.045, 0.040, 0.032], [500.0, 700.0, 1100.0])):
        assert math.isnan(curve.load_at(math.nan))
        assert math.isnan(curve.rate_at(math.nan))
        assert math.isnan(curve.beyond_readings(math.nan))
        assert not curve.is_near_readings(math.nan)
        assert not curve.is_proven(math.nan)


def test_an_unknown_load_has_no_number() -> None:
    unknown = rated_curve(0.040, math.nan, 50e3)
    assert math.isnan(unknown.load_at(0.040))
    assert math.isnan(unknown.rate_at(0.040))
    assert math.isnan(unknown.height_for(500.0))
    assert math.isnan(rated_curve(0.040, 500.0, 50e3).height_for(math.nan))


def test_a_spring_is_proven_a_tenth_of_its_span_beyond_its_readings_and_no_farther() -> None:
    # read from 0.032 to 0.045: a tenth of the span is 0.0013
    read = curve_through([0.045, 0.040, 0.032], [500.0, 700.0, 1100.0])
    assert [read.is_proven(height) for height in (0.0462, 0.0464, 0.0308, 0.0306)] == [True, False, True, False]


def test_a_height_that_was_read_is_not_beyond_the_readings_in_any_unit() -> None:
    curve = curve_through([1.75 * INCH, 1.25 * INCH], [117.0, 264.0])
    assert [curve.beyond_readings(height) for height in (44.45 * 1e-3, 31.75 * 1e-3)] == [0.0, 0.0]


def test_one_reading_goes_on_with_the_printed_rate_and_is_tested_there_only() -> None:
    # by hand: 117 lbf at 1.75 in, 290 lbf/in: 131.5 at 1.70; 0.010 in away is near, 0.011 is not
    curve = curve_of_one_reading(1.75 * INCH, 117.0 * POUND, 290.0 * POUND / INCH)
    assert curve.load_at(1.70 * INCH) / POUND == pytest.approx(131.5)
    near = [curve.is_near_readings(height * INCH) for height in (1.75, 1.76, 1.761)]
    assert near == [True, True, False]
