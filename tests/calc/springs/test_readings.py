"""Spring readings against scipy's PCHIP, and the laws every spring keeps."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from headbench.calc import FloatArray
from headbench.calc.springs.load_curves import LoadCurves
from headbench.calc.springs.readings import (
    average_repeats,
    from_one_reading,
    from_readings,
    line_through,
    lower_of_two_runs,
)

INCH = 0.0254
POUND = 4.4482216152605
FIRST = np.array([0])


def one_spring(height: FloatArray, load: FloatArray) -> LoadCurves:
    return from_readings(np.zeros(len(height), dtype=np.int64), height, load)


def at(curves: LoadCurves, height: float, spring: int = 0) -> float:
    return float(curves.load_at(np.array([spring]), np.array([height]))[0])


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
    curves = one_spring(np.array([1.75, 1.25]) * INCH, np.array([117.0, 264.0]) * POUND)
    assert at(curves, 1.65 * INCH) / POUND == pytest.approx(146.4, rel=1e-12)
    rate = curves.rate_at(FIRST, np.array([1.5 * INCH]))
    assert rate[0] * INCH / POUND == pytest.approx(294.0, rel=1e-12)


def test_a_beehive_spring_has_the_mean_rate_the_trade_knows_it_by() -> None:
    # common practice, no source: 150 lbf at 1.925 in and 390 to 395 lbf at 1.295 in (0.630 in of lift)
    # is a mean rate of 381 to 389 lbf/in
    for load, rate in ((390.0, 381.0), (395.0, 389.0)):
        curves = one_spring(np.array([1.925, 1.295]) * INCH, np.array([150.0, load]) * POUND)
        found = (at(curves, 1.295 * INCH) - at(curves, 1.925 * INCH)) / (0.630 * INCH)
        assert found * INCH / POUND == pytest.approx(rate, abs=0.5)


@given(readings(least=3))
def test_three_or_more_readings_make_scipys_shape_preserving_curve(spring: tuple[FloatArray, FloatArray]) -> None:
    height, load = spring
    referee = PchipInterpolator(height, load)
    where = np.linspace(height[0], height[-1], 41)
    which = np.zeros(len(where), dtype=np.int64)
    curves = one_spring(height, load)
    np.testing.assert_allclose(curves.load_at(which, where), referee(where), rtol=1e-10)
    # at a knot two pieces meet; their slopes agree, their formulas round differently
    slope = referee.derivative()(where)
    np.testing.assert_allclose(-curves.rate_at(which, where)[1:-1], slope[1:-1], rtol=1e-6, atol=1e-3)


@given(readings(), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_load_strictly_rises_as_the_height_falls(
    spring: tuple[FloatArray, FloatArray], one: float, other: float
) -> None:
    height, load = spring
    low, high = height[0] - 2e-3, height[-1] + 0.05e-3
    short, tall = sorted((low + one * (high - low), low + other * (high - low)))
    curves = one_spring(height, load)
    if tall - short > 1e-9:
        assert at(curves, short) > at(curves, tall)


@given(readings(), st.floats(0.01, 0.99))
def test_the_height_for_a_load_is_where_that_load_is(spring: tuple[FloatArray, FloatArray], share: float) -> None:
    height, load = spring
    curves = one_spring(height, load)
    # a little beyond the readings, and no more than the line beyond them gives at 1 mm of height
    most = min(load[0] * 1.2, at(curves, 0.001))
    wanted = load[-1] * 0.5 + share * (most - load[-1] * 0.5)
    found = curves.height_for(FIRST, np.array([wanted]))
    if curves.load_at(FIRST, np.array([1e-6]))[0] < wanted:  # no height there is pushes that much
        assert np.isnan(found[0])
        return
    assert found[0] > 0.0
    assert curves.load_at(FIRST, found)[0] == pytest.approx(wanted, rel=1e-9)


@given(readings(), st.data())
def test_the_order_of_readings_does_not_matter(spring: tuple[FloatArray, FloatArray], data: st.DataObject) -> None:
    height, load = spring
    order = data.draw(st.permutations(range(len(height))))
    where = np.linspace(height[0] - 1e-3, height[-1] + 1e-3, 9)
    which = np.zeros(9, dtype=np.int64)
    straight = one_spring(height, load).load_at(which, where)
    mixed = one_spring(height[order], load[order]).load_at(which, where)
    assert straight.tolist() == mixed.tolist()


@given(readings(), st.floats(1e-4, 5e-3))
def test_beyond_the_readings_the_curve_goes_on_straight_and_says_how_far(
    spring: tuple[FloatArray, FloatArray], by: float
) -> None:
    height, load = spring
    curves = one_spring(height, load)
    low, high = height[0] - by, height[-1] + by
    assert curves.beyond_readings(np.array([0, 0]), np.array([low, high])) == pytest.approx([by, by], rel=1e-9)
    first, second, third = (at(curves, height[0] - share * by) for share in (1.0, 0.5, 0.0))
    assert first - second == pytest.approx(second - third, rel=1e-6)


def test_a_sharply_progressive_spring_does_not_go_flat_beyond_its_readings() -> None:
    # the three-point end slope comes out as 0 here: (2*1 + 1)*(-10) - 1*(-1000) > 0 (scipy gives 0 too)
    height, load = np.array([0.030, 0.031, 0.032]), np.array([1510.0, 510.0, 500.0])
    assert PchipInterpolator(height, load).derivative()(0.032) == pytest.approx(0.0, abs=1e-9)
    curves = one_spring(height, load)
    assert at(curves, 0.0321) < at(curves, 0.032)
    assert curves.height_for(FIRST, np.array([499.0]))[0] == pytest.approx(0.0322, rel=1e-9)


def test_a_height_that_was_read_is_not_beyond_the_readings_in_any_unit() -> None:
    curves = one_spring(np.array([1.75, 1.25]) * INCH, np.array([117.0, 264.0]))
    in_mm = np.array([44.45 * 1e-3, 31.75 * 1e-3])
    assert curves.beyond_readings(np.array([0, 0]), in_mm).tolist() == [0.0, 0.0]


def test_springs_with_different_counts_of_readings_do_not_disturb_each_other() -> None:
    which = np.array([0, 0, 1, 1, 1, 1, 2, 2, 2])
    height = np.array([0.045, 0.032, 0.046, 0.040, 0.036, 0.031, 0.044, 0.038, 0.030])
    load = np.array([500.0, 1100.0, 480.0, 700.0, 900.0, 1300.0, 510.0, 800.0, 1250.0])
    curves = from_readings(which, height, load)
    for spring in range(3):
        alone = one_spring(height[which == spring], load[which == spring])
        for where in (0.029, 0.0335, 0.041, 0.047):
            assert at(curves, where, spring) == at(alone, where)


@given(readings(), st.lists(st.floats(-3.0, 3.0), min_size=8, max_size=8))
def test_a_line_through_readings_is_numpys_least_squares(
    spring: tuple[FloatArray, FloatArray], scatter: list[float]
) -> None:
    height, load = spring
    load = load + np.array(scatter[: len(load)])
    line = line_through(np.zeros(len(height), dtype=np.int64), height, load)
    where = np.array([height[0] - 1e-3, height.mean(), height[-1]])
    referee = np.polynomial.Polynomial.fit(height, load, 1)
    np.testing.assert_allclose(
        line.load_at(np.zeros(3, dtype=np.int64), where), np.maximum(referee(where), 0.0), rtol=1e-8, atol=1e-6
    )
    assert line.beyond_readings(FIRST, where[:1]) == pytest.approx([1e-3], rel=1e-9)


def test_loads_at_one_height_are_averaged_and_their_range_kept() -> None:
    # by hand; 0.040 m and a tenth of a nanometer more are one height
    height, load = np.array([0.040, 0.030, 0.0400000001, 0.040]), np.array([500.0, 900.0, 506.0, 503.0])
    read = average_repeats(np.array([0, 0, 0, 1]), height, load)
    assert read.spring.tolist() == [0, 0, 1]
    assert read.load.tolist() == [900.0, 503.0, 503.0]
    assert (read.lowest.tolist(), read.highest.tolist()) == ([900.0, 500.0, 503.0], [900.0, 506.0, 503.0])
    assert (read.count.tolist(), read.first.tolist()) == ([1, 2, 1], [1, 0, 3])


def test_a_reading_without_a_load_is_left_out() -> None:
    height, load = np.array([0.040, 0.030, 0.050]), np.array([500.0, 900.0, np.nan])
    assert average_repeats(np.zeros(3, dtype=np.int64), height, load).first.tolist() == [1, 0]
    assert average_repeats(np.zeros(3, dtype=np.int64), height, np.full(3, np.nan)).load.tolist() == []


@given(readings())
def test_a_curve_through_repeats_is_that_through_their_means(spring: tuple[FloatArray, FloatArray]) -> None:
    height, load = spring
    twice = one_spring(np.repeat(height, 2), np.stack([load - 2.0, load + 2.0], axis=1).ravel())
    where = np.linspace(height[0] - 1e-3, height[-1] + 1e-3, 9)
    which = np.zeros(9, dtype=np.int64)
    np.testing.assert_allclose(twice.load_at(which, where), one_spring(height, load).load_at(which, where), rtol=1e-9)


def test_one_reading_goes_on_with_the_printed_rate_and_is_tested_there_only() -> None:
    # by hand: 117 lbf at 1.75 in, 290 lbf/in: 131.5 at 1.70; 0.010 in away is near, 0.011 is not
    curve = from_one_reading(1.75 * INCH, 117.0 * POUND, 290.0 * POUND / INCH)
    assert at(curve, 1.70 * INCH) / POUND == pytest.approx(131.5)
    near = curve.is_near_readings(np.zeros(3, dtype=np.int64), np.array([1.75, 1.76, 1.761]) * INCH)
    assert near.tolist() == [True, True, False]


@st.composite
def two_runs(draw: st.DrawFn) -> tuple[tuple[FloatArray, FloatArray], tuple[FloatArray, FloatArray]]:
    """A run, and a second one between its heights."""
    first, (height, load) = draw(readings()), draw(readings())
    share = (height - height[0]) / (height[-1] - height[0])
    low, high = sorted((draw(st.floats(0.0, 1.0)), draw(st.floats(0.0, 1.0))))
    span = first[0][-1] - first[0][0]
    return first, (first[0][0] + span * (low + (max(high, low + 0.01) - low) * share), load)


@given(two_runs())
def test_the_lower_of_two_runs_is_never_above_either(
    runs: tuple[tuple[FloatArray, FloatArray], tuple[FloatArray, FloatArray]],
) -> None:
    first, (height, load) = runs
    one = one_spring(*first)
    lower = lower_of_two_runs(one, height, load)
    # at the heights of the second run it is the lower of the two readings
    which = np.zeros(len(height), dtype=np.int64)
    expected = np.minimum(one.load_at(which, height), load)
    np.testing.assert_allclose(lower.load_at(which, height), expected, rtol=1e-9, atol=1e-6)
    own = np.zeros(len(first[0]), dtype=np.int64)
    assert (lower.load_at(own, first[0]) <= first[1] * (1.0 + 1e-9)).all()
    assert lower.in_doubt.tolist() == [True]


@given(two_runs())
def test_the_lower_of_two_runs_still_rises_as_the_spring_is_compressed(
    runs: tuple[tuple[FloatArray, FloatArray], tuple[FloatArray, FloatArray]],
) -> None:
    first, second = runs
    lower = lower_of_two_runs(one_spring(*first), *second)
    where = np.linspace(lower.height[0, 0], lower.height[0, -1], 60)
    load = lower.load_at(np.zeros(60, dtype=np.int64), where)
    assert (np.diff(load) <= 1e-9).all()


def test_a_second_run_through_a_line_lowers_it_too() -> None:
    # by hand: the line has 500 and 1000 at 0.040 and 0.030; the second run 450 at 0.040 and 1010 at 0.030
    line = line_through(np.zeros(2, dtype=np.int64), np.array([0.040, 0.030]), np.array([500.0, 1000.0]))
    lower = lower_of_two_runs(line, np.array([0.040, 0.030]), np.array([450.0, 1010.0]))
    assert [at(lower, height) for height in (0.040, 0.030)] == pytest.approx([450.0, 1000.0])


def test_two_single_readings_at_one_height_leave_the_lower_with_the_printed_rate() -> None:
    one = from_one_reading(1.75 * INCH, 117.0 * POUND, 290.0 * POUND / INCH)
    lower = lower_of_two_runs(one, np.array([1.75 * INCH]), np.array([90.0 * POUND]))
    assert at(lower, 1.70 * INCH) / POUND == pytest.approx(90.0 + 0.05 * 290.0)


def test_where_both_runs_push_nothing_the_lower_one_ends() -> None:
    one = one_spring(np.array([0.050, 0.030]), np.array([0.0, 1000.0]))
    lower = lower_of_two_runs(one, np.array([0.0502, 0.040]), np.array([0.0, 450.0]))
    assert [at(lower, height) for height in (0.0501, 0.040, 0.030)] == pytest.approx([0.0, 450.0, 950.0])
