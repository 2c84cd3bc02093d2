"""Spread and the odd one out."""

from __future__ import annotations

import statistics

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.spread import odd_ones_out, spread

values = st.lists(st.floats(1.0, 200.0), min_size=1, max_size=20)


@given(values)
def test_a_spread_is_what_the_standard_library_says(masses: list[float]) -> None:
    found = spread(np.array([masses]))
    assert found.smallest[0] == min(masses)
    assert found.largest[0] == max(masses)
    assert found.mean[0] == pytest.approx(statistics.fmean(masses))
    assert masses[found.smallest_at[0]] == min(masses)
    assert masses[found.largest_at[0]] == max(masses)


def test_unmeasured_values_do_not_count() -> None:
    found = spread(np.array([[np.nan, 3.0, 1.0], [np.nan, np.nan, np.nan]]))
    assert found.count.tolist() == [2, 0]
    assert found.smallest_at.tolist() == [2, -1]
    assert np.isnan(found.mean[1])


def by_the_handbook(masses: list[float]) -> list[bool]:
    """NIST/SEMATECH e-Handbook 1.3.5.17: |0.6745 (x - median)/MAD| > 3.5, with the standard library's median."""
    middle = statistics.median(masses)
    mad = statistics.median(abs(mass - middle) for mass in masses)
    return [abs(0.6745 * (mass - middle) / mad) > 3.5 for mass in masses]


@given(st.lists(st.integers(1000, 1100), min_size=4, max_size=16, unique=True))
def test_the_odd_one_out_is_the_handbooks(tenths: list[int]) -> None:
    masses = [tenth / 10.0 for tenth in tenths]
    assert odd_ones_out(np.array(masses)).tolist() == by_the_handbook(masses)


def test_the_one_that_differs_among_equals_is_odd() -> None:
    assert odd_ones_out(np.array([104.0] * 7 + [108.0])).tolist() == [False] * 7 + [True]


def test_among_equals_a_step_of_the_scale_is_not_odd_and_a_wrong_part_is() -> None:
    assert not odd_ones_out(np.array([100.0, 100.0, 100.0, 100.0, 100.01])).any()
    assert odd_ones_out(np.array([100.0, 100.0, 100.0, 200.0])).tolist() == [False, False, False, True]


def test_equals_and_few_have_no_odd_one() -> None:
    assert not odd_ones_out(np.full(8, 104.0)).any()
    assert not odd_ones_out(np.array([1.0, 1.0, 100.0])).any()


@given(st.lists(st.integers(1000, 1100), min_size=4, max_size=12), st.data())
def test_the_order_does_not_matter(tenths: list[int], data: st.DataObject) -> None:
    masses = np.array(tenths) / 10.0
    order = data.draw(st.permutations(range(len(tenths))))
    assert odd_ones_out(masses[order]).tolist() == odd_ones_out(masses)[order].tolist()
