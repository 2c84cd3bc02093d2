from __future__ import annotations

import math
import statistics

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.gauges.repeats import average_readings

READING = st.floats(0.0, 500.0)


def test_repeats_average_as_nist_certifies() -> None:
    # NIST StRD univariate data, from memory: NumAcc1 (three values) and NumAcc2 (1.2, then 1.1 and 1.3 in turn, 1001
    # in all), certified: mean 10000002, standard deviation 1; mean 1.2, standard deviation 0.1
    first = average_readings(np.array([[10000001.0, 10000003.0, 10000002.0]]))
    second = average_readings(np.array([[1.2, *([1.1, 1.3] * 500)]]))
    assert (first.mean[0], first.standard_deviation[0]) == (10000002.0, 1.0)
    assert second.mean[0] == pytest.approx(1.2, rel=1e-14)
    assert second.standard_deviation[0] == pytest.approx(0.1, rel=1e-13)


@given(st.lists(READING, min_size=2, max_size=12))
def test_repeats_average_as_the_standard_library_does(readings: list[float]) -> None:
    repeats = average_readings(np.array([[*readings, math.nan]]))
    deviation = statistics.stdev(readings)
    assert repeats.mean[0] == pytest.approx(statistics.mean(readings), rel=1e-12, abs=1e-12)
    assert repeats.standard_deviation[0] == pytest.approx(deviation, rel=1e-9, abs=1e-9)
    assert repeats.standard_uncertainty[0] == pytest.approx(deviation / math.sqrt(len(readings)), rel=1e-9, abs=1e-9)
    assert repeats.count[0] == len(readings)


def test_one_reading_has_no_scatter_and_none_has_no_mean() -> None:
    repeats = average_readings(np.array([[104.2, math.nan], [math.nan, math.nan]]))
    assert repeats.count.tolist() == [1, 0]
    assert repeats.mean[0] == 104.2
    assert np.isnan(repeats.mean[1])
    assert np.isnan(repeats.standard_deviation).all()
    assert np.isnan(repeats.standard_uncertainty).all()
