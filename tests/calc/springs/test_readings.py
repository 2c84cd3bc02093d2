"""Spring readings against scipy's PCHIP, and the laws every spring keeps."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from headbench.calc import FloatArray
from headbench.calc.springs.one_curve import LoadCurve
from headbench.calc.springs.readings import average_repeats, curve_through, line_through

INCH = 0.0254
POUND = 4.4482216152605


def one_spring(height: FloatArray, load: FloatArray) -> LoadCurve:
    return curve_through(height.tolist(), load.tolist())


def loads_at(curve: LoadCurve, heights: FloatArray) -> FloatArray:
    return np.array([curve.load_at(height) for height in heights.tolist()])


def rates_at(curve: LoadCurve, heights: FloatArray) -> FloatArray:
    return np.array([curve.rate_at(height) for height in heights.tolist()])


@st.composite
def readings(draw: st.DrawFn, least: int = 2) -> tuple[FloatArray, FloatArray]:
    """Heights rising by 0.2 to 5 mm and loads falling by 5 to 500 N."""
    count = draw(st.integers(least, 8))
    steps = draw(st.lists(st.floats(0.2e-3, 5e-3), min_size=count, max_size=count))
    drops = draw(st.lists(st.floats(5.0, 500.0), min_size=count, max_size=count))
    height = 0.025 + np.cumsum(steps)
    load = 100.0 + np.cumsum(drops[::-1])[::-1]
    return height, load


def test_two_readings_make_a_line() -> None:
    # hand arithmetic: (264 - 117)/(1.75 - 1.25) = 294 lbf/in; 117 + 294 * 0.1 = 146.4 lbf at 1.65 in
    curve = one_spring(np.array([1.75, 1.25]) * INCH, np.array([117.0, 264.0]) * POUND)
    assert curve.load_at(1.65 * INCH) / POUND == pytest.approx(146.4, rel=1e-12)
    rate = rates_at(curve, np.array([1.5 * INCH]))
    assert rate[0] * INCH / POUND == pytest.approx(294.0, rel=1e-12)


def test_a_beehive_spring_has_the_mean_rate_the_trade_knows_it_by() -> None:
    # common practice, no source: 150 lbf at 1.925 in and 390 to 395 lbf at 1.295 in (0.630 in of lift)
    # is a mean rate of 381 to 389 lbf/in
    for load, rate in ((390.0, 381.0), (395.0, 389.0)):
        curve = one_spring(np.array([1.925, 1.295]) * INCH, np.array([150.0, load]) * POUND)
        found = (curve.load_at(1.295 * INCH) - curve.load_at(1.925 * INCH)) / (0.630 * INCH)
        assert found * INCH / POUND == pytest.approx(rate, abs=0.5)


@given(readings(least=3))
def test_three_or_more_readings_make_scipys_shape_preserving_curve(spring: tuple[FloatArray, FloatArray]) -> None:
    height, load = spring
    referee = PchipInterpolator(height, load)
    where = np.linspace(height[0], height[-1], 41)
    curve = one_spring(height, load)
    np.testing.assert_allclose(loads_at(curve, where), referee(where), rtol=1e-10)
    # at a knot two pieces meet; their slopes agree, their formulas round differently
    slope = referee.derivative()(where)
    np.testing.assert_allclose(-rates_at(curve, where)[1:-1], slope[1:-1], rtol=1e-6, atol=1e-3)


@given(readings(), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_load_strictly_rises_as_the_height_falls(
    spring: tuple[FloatArray, FloatArray], one: float, other: float
) -> None:
    height, load = spring
    low, high = height[0] - 2e-3, height[-1] + 0.05e-3
    short, tall = sorted((low + one * (high - low), low + other * (high - low)))
    curve = one_spring(height, load)
    if tall - short > 1e-9:
        assert curve.load_at(short) > curve.load_at(tall)


@given(readings(), st.floats(0.01, 0.99))
def test_the_height_for_a_load_is_where_that_load_is(spring: tuple[FloatArray, FloatArray], share: float) -> None:
    height, load = spring
    curve = one_spring(height, load)
    # a little beyond the readings, and no more than the line beyond them gives at 1 mm of height
    most = min(load[0] * 1.2, curve.load_at(0.001))
    wanted = load[-1] * 0.5 + share * (most - load[-1] * 0.5)
    found = curve.height_for(wanted)
    if curve.load_at(1e-6) < wanted:  # no height there is pushes that much
        assert math.isnan(found)
        return
    assert found > 0.0
    assert curve.load_at(found) == pytest.approx(wanted, rel=1e-9)


@given(readings(), st.data())
def test_the_order_of_readings_does_not_matter(spring: tuple[FloatArray, FloatArray], data: st.DataObject) -> None:
    height, load = spring
    order = data.draw(st.permutations(range(len(height))))
    where = np.linspace(height[0] - 1e-3, height[-1] + 1e-3, 9)
    straight = loads_at(one_spring(height, load), where)
    mixed = loads_at(one_spring(height[order], load[order]), where)
    assert straight.tolist() == mixed.tolist()


@given(readings(), st.floats(1e-4, 5e-3))
def test_beyond_the_readings_the_curve_goes_on_straight_and_says_how_far(
    spring: tuple[FloatArray, FloatArray], by: float
) -> None:
    height, load = spring
    curve = one_spring(height, load)
    beyond = [curve.beyond_readings(end) for end in (height[0] - by, height[-1] + by)]
    assert beyond == pytest.approx([by, by], rel=1e-9)
    first, second, third = (curve.load_at(height[0] - share * by) for share in (1.0, 0.5, 0.0))
    assert first - second == pytest.approx(second - third, rel=1e-6)


def test_a_sharply_progressive_spring_does_not_go_flat_beyond_its_readings() -> None:
    # the three-point end slope comes out as 0 here: (2*1 + 1)*(-10) - 1*(-1000) > 0 (scipy gives 0 too)
    height, load = np.array([0.030, 0.031, 0.032]), np.array([1510.0, 510.0, 500.0])
    assert PchipInterpolator(height, load).derivative()(0.032) == pytest.approx(0.0, abs=1e-9)
    curve = one_spring(height, load)
    assert curve.load_at(0.0321) < curve.load_at(0.032)
    assert curve.height_for(499.0) == pytest.approx(0.0322, rel=1e-9)


@given(readings(), st.lists(st.floats(-3.0, 3.0), min_size=8, max_size=8))
def test_a_line_through_readings_is_numpys_least_squares(
    spring: tuple[FloatArray, FloatArray], scatter: list[float]
) -> None:
    height, load = spring
    load = load + np.array(scatter[: len(load)])
    line = line_through(height.tolist(), load.tolist())
    where = np.array([height[0] - 1e-3, height.mean(), height[-1]])
    referee = np.polynomial.Polynomial.fit(height, load, 1)
    np.testing.assert_allclose(loads_at(line, where), np.maximum(referee(where), 0.0), rtol=1e-8, atol=1e-6)
    assert line.beyond_readings(float(where[0])) == pytest.approx(1e-3, rel=1e-9)
    assert line.beyond_readings(float(where[2])) == 0.0


def test_loads_at_one_height_are_averaged_and_their_range_kept() -> None:
    # by hand; 0.040 m and a tenth of a nanometer more are one height
    read = average_repeats([0.040, 0.030, 0.0400000001], [500.0, 900.0, 506.0])
    assert [one.height for one in read] == [0.030, 0.040]
    assert [one.load for one in read] == [900.0, 503.0]
    assert [(one.lowest, one.highest) for one in read] == [(900.0, 900.0), (500.0, 506.0)]
    assert [(one.times, one.first) for one in read] == [(1, 1), (2, 0)]


def test_a_reading_without_a_load_is_left_out() -> None:
    assert [one.first for one in average_repeats([0.040, 0.030, 0.050], [500.0, 900.0, math.nan])] == [1, 0]
    assert average_repeats([0.040, 0.030, 0.050], [math.nan] * 3) == []


def test_one_load_read_several_times_is_that_load_and_no_rounding_off_it() -> None:
    # three times 0.1 is not 0.3 in floats
    assert [one.load for one in average_repeats([0.040] * 3, [0.1] * 3)] == [0.1]


@given(readings())
def test_a_curve_through_repeats_is_that_through_their_means(spring: tuple[FloatArray, FloatArray]) -> None:
    height, load = spring
    twice = one_spring(np.repeat(height, 2), np.stack([load - 2.0, load + 2.0], axis=1).ravel())
    where = np.linspace(height[0] - 1e-3, height[-1] + 1e-3, 9)
    np.testing.assert_allclose(loads_at(twice, where), loads_at(one_spring(height, load), where), rtol=1e-9)
