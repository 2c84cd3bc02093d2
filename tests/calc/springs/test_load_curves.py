"""Load curves: ratings, sets of several kinds, and what has no number."""

from __future__ import annotations

import numpy as np
import pytest

from headbench.calc import FloatArray
from headbench.calc.springs.load_curves import LoadCurves, from_rating, joined, unknown_curves
from headbench.calc.springs.readings import from_readings

INCH = 0.0254
POUND = 4.4482216152605
FIRST = np.array([0])


def one_spring(height: FloatArray, load: FloatArray) -> LoadCurves:
    return from_readings(np.zeros(len(height), dtype=np.int64), height, load)


def at(curves: LoadCurves, height: float, spring: int = 0) -> float:
    return float(curves.load_at(np.array([spring]), np.array([height]))[0])


def test_a_rating_is_a_straight_line_and_no_measurement() -> None:
    curves = from_rating(np.array([0.040]), np.array([500.0]), np.array([50e3]))
    # hand arithmetic: 500 + 50e3 * 0.008 = 900; free at 0.040 + 500/50e3 = 0.050
    assert at(curves, 0.032) == pytest.approx(900.0, rel=1e-12)
    assert at(curves, 0.051) == 0.0
    assert curves.rate_at(FIRST, np.array([0.051])).tolist() == [0.0]
    assert np.isnan(curves.beyond_readings(FIRST, np.array([0.040])))[0]


def test_curves_of_two_kinds_can_be_asked_together() -> None:
    bench = from_readings(np.array([0, 0, 0]), np.array([0.045, 0.040, 0.032]), np.array([500.0, 700.0, 1100.0]))
    rated = from_rating(np.array([0.040]), np.array([500.0]), np.array([50e3]))
    both = joined([bench, rated])
    assert at(both, 0.038, 0) == at(bench, 0.038)
    assert at(both, 0.038, 1) == at(rated, 0.038)


def test_an_unknown_spring_or_height_has_no_number() -> None:
    rated = from_rating(np.array([0.040]), np.array([500.0]), np.array([50e3]))
    for which, height in ((-1, 0.040), (-2, 0.040), (0, np.nan)):
        assert np.isnan(rated.load_at(np.array([which]), np.array([height])))[0]
        assert np.isnan(rated.rate_at(np.array([which]), np.array([height])))[0]
    assert np.isnan(unknown_curves().height_for(FIRST, np.array([100.0])))[0]


def test_a_load_no_positive_height_gives_has_no_height() -> None:
    rated = from_rating(np.array([0.040]), np.array([500.0]), np.array([50e3]))
    # hand arithmetic: at height 0 the line gives 500 + 50e3 * 0.040 = 2500 N
    assert np.isnan(rated.height_for(FIRST, np.array([2501.0])))[0]
    assert rated.height_for(FIRST, np.array([2499.0]))[0] == pytest.approx(2e-5, rel=1e-6)
