"""One curve: a single spring in plain floats."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import CubicHermiteSpline

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


def test_an_unknown_height_has_no_number() -> None:
    for curve in (rated_curve(0.040, 500.0, 50e3), curve_through([0.045, 0.040, 0.032], [500.0, 700.0, 1100.0])):
        assert math.isnan(curve.load_at(math.nan))
        assert math.isnan(curve.beyond_readings(math.nan))
        assert not curve.is_near_readings(math.nan)
        assert not curve.is_proven(math.nan)


def test_an_unknown_load_has_no_number() -> None:
    assert math.isnan(rated_curve(0.040, math.nan, 50e3).load_at(0.040))


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
