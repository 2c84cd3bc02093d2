"""Load curves: springs in arrays against each by itself, ratings, and what has no number."""

from __future__ import annotations

import math
from itertools import accumulate

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.springs.load_curves import LoadCurves, stacked
from headbench.calc.springs.one_curve import LoadCurve, curve_of_one_reading, rated_curve
from headbench.calc.springs.readings import curve_through

FIRST = np.array([0])
RATED = rated_curve(0.040, 500.0, 50e3)
BENCH = curve_through([0.045, 0.040, 0.032], [500.0, 700.0, 1100.0])


def at(curves: LoadCurves, height: float, spring: int = 0) -> float:
    return float(curves.load_at(np.array([spring]), np.array([height]))[0])


@st.composite
def read_curves(draw: st.DrawFn) -> LoadCurve:
    """Heights rising by 0.2 to 5 mm and loads falling by 5 to 500 N."""
    count = draw(st.integers(2, 8))
    steps = draw(st.lists(st.floats(0.2e-3, 5e-3), min_size=count, max_size=count))
    drops = draw(st.lists(st.floats(5.0, 500.0), min_size=count, max_size=count))
    return curve_through([0.025 + by for by in accumulate(steps)], [100.0 + by for by in accumulate(drops)][::-1])


lines = st.builds(
    lambda make, *line: make(*line),
    st.sampled_from([rated_curve, curve_of_one_reading]),
    st.floats(0.025, 0.060),
    st.floats(10.0, 2000.0),
    st.floats(1e3, 200e3),
)
heights = st.one_of(st.floats(0.020, 0.070), st.just(math.nan))


@given(curves=st.lists(st.one_of(read_curves(), lines), min_size=1, max_size=5), data=st.data())
def test_springs_in_arrays_answer_to_the_last_bit_as_each_by_itself(
    curves: list[LoadCurve], data: st.DataObject
) -> None:
    table = stacked(curves)
    knots = st.sampled_from([height for one in curves for height in one.height])
    where = data.draw(st.lists(st.one_of(heights, knots), min_size=1, max_size=12))
    pairs = [(place, height) for place in range(len(curves)) for height in where]
    which, height = np.array([place for place, _ in pairs]), np.array([height for _, height in pairs])
    np.testing.assert_array_equal(table.load_at(which, height), [curves[one].load_at(h) for one, h in pairs])
    np.testing.assert_array_equal(table.rate_at(which, height), [curves[one].rate_at(h) for one, h in pairs])
    assert table.is_proven(which, height).tolist() == [curves[one].is_proven(h) for one, h in pairs]


def test_the_same_curve_has_the_same_load_to_the_last_bit_at_many_heights() -> None:
    """A power of a float and numpy's square differ in the last bit about once in a thousand times."""
    rows = np.linspace(0.0315, 0.0455, 20_001)
    table = stacked([BENCH]).load_at(np.zeros(len(rows), dtype=np.int64), rows)
    assert table.tolist() == [BENCH.load_at(height) for height in rows.tolist()]


def test_a_rating_has_one_rate_until_it_is_loose() -> None:
    curves = stacked([RATED])
    # hand arithmetic: 500 + 50e3 * 0.008 = 900; free at 0.040 + 500/50e3 = 0.050
    assert at(curves, 0.032) == pytest.approx(900.0, rel=1e-12)
    assert at(curves, 0.051) == 0.0
    assert curves.rate_at(FIRST, np.array([0.051])).tolist() == [0.0]
    assert curves.rate_at(FIRST, np.array([0.032])).tolist() == [50e3]


def test_curves_of_two_kinds_can_be_asked_together() -> None:
    both = stacked([BENCH, RATED])
    assert at(both, 0.038, 0) == at(stacked([BENCH]), 0.038)
    assert at(both, 0.038, 1) == at(stacked([RATED]), 0.038)


def test_springs_with_different_counts_of_readings_do_not_disturb_each_other() -> None:
    alone = [
        curve_through([0.045, 0.032], [500.0, 1100.0]),
        curve_through([0.046, 0.040, 0.036, 0.031], [480.0, 700.0, 900.0, 1300.0]),
        curve_through([0.044, 0.038, 0.030], [510.0, 800.0, 1250.0]),
    ]
    curves = stacked(alone)
    for spring in range(3):
        for where in (0.029, 0.0335, 0.041, 0.047):
            assert at(curves, where, spring) == at(stacked([alone[spring]]), where)


def test_an_unknown_spring_or_height_has_no_number() -> None:
    rated = stacked([RATED])
    for which, height in ((-1, 0.040), (-2, 0.040), (0, np.nan)):
        assert np.isnan(rated.load_at(np.array([which]), np.array([height])))[0]
        assert np.isnan(rated.rate_at(np.array([which]), np.array([height])))[0]
    assert not rated.is_proven(np.array([-1]), np.array([0.040]))[0]


def test_of_no_springs_at_all_nothing_is_known() -> None:
    assert np.isnan(stacked([]).load_at(FIRST, np.array([0.040])))[0]
