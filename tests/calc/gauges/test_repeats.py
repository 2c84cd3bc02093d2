from __future__ import annotations

import math
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.gauges.repeats import average_readings

READING = st.floats(0.0, 500.0)


def test_repeats_average_as_nist_certifies() -> None:
    # NIST StRD univariate data, from memory: NumAcc1 (three values) and NumAcc2 (1.2, then 1.1 and 1.3 in turn, 1001
    # in all), certified: mean 10000002, standard deviation 1; mean 1.2, standard deviation 0.1
    first = average_readings([10000001.0, 10000003.0, 10000002.0])
    second = average_readings([1.2, *([1.1, 1.3] * 500)])
    assert (first.mean, first.standard_deviation) == (10000002.0, 1.0)
    assert second.mean == pytest.approx(1.2, rel=1e-14)
    assert second.standard_deviation == pytest.approx(0.1, rel=1e-13)


@given(st.lists(READING, min_size=2, max_size=12))
def test_repeats_average_as_the_standard_library_does(readings: list[float]) -> None:
    repeats = average_readings([*readings, math.nan])
    deviation = statistics.stdev(readings)
    assert repeats.mean == pytest.approx(statistics.mean(readings), rel=1e-12, abs=1e-12)
    assert repeats.standard_deviation == pytest.approx(deviation, rel=1e-9, abs=1e-9)
    assert repeats.standard_uncertainty == pytest.approx(deviation / math.sqrt(len(readings)), rel=1e-9, abs=1e-9)
    assert repeats.count == len(readings)


def test_one_reading_has_no_scatter() -> None:
    repeats = average_readings([math.nan, 104.2])
    assert repeats.count == 1
    assert repeats.mean == repeats.smallest == repeats.largest == 104.2
    assert math.isnan(repeats.standard_deviation)
    assert math.isnan(repeats.standard_uncertainty)


@given(
    st.lists(st.one_of(READING, st.just(math.nan)), min_size=1, max_size=12).filter(
        lambda row: not all(map(math.isnan, row))
    )
)
def test_the_smallest_and_the_largest_are_told_with_their_first_place_among_all(readings: list[float]) -> None:
    repeats = average_readings(readings)
    read = [value for value in readings if not math.isnan(value)]
    assert (repeats.smallest, repeats.largest) == (min(read), max(read))
    assert (repeats.smallest_at, repeats.largest_at) == (readings.index(min(read)), readings.index(max(read)))
