"""Spread and the odd one out."""

from __future__ import annotations

import statistics

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.judging.spread import odd_ones_out, spread

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


def by_the_handbook(masses: list[float], step: float) -> list[bool]:
    """NIST/SEMATECH e-Handbook (2012), 1.3.5.17: |0.6745 (x - median)/MAD| > 3.5, with the standard library's median.

    The MAD is one step of the scale at least, and what is no further off than two steps or 0.5 % belongs (common
    practice, no source).
    """
    middle = statistics.median(masses)
    mad = max(statistics.median(abs(mass - middle) for mass in masses), step)
    apart = [abs(mass - middle) for mass in masses]
    return [0.6745 * off / mad > 3.5 and off > max(2 * step, 0.005 * middle) * (1 + 1e-9) for off in apart]


@given(st.lists(st.integers(1000, 1100), min_size=4, max_size=16))
def test_the_odd_one_out_is_the_handbooks(tenths: list[int]) -> None:
    masses = [tenth / 10.0 for tenth in tenths]
    assert odd_ones_out(np.array(masses), 0.1).tolist() == by_the_handbook(masses, 0.1)


def test_the_one_that_differs_among_equals_is_odd() -> None:
    assert odd_ones_out(np.array([104.0] * 7 + [108.0]), 0.1).tolist() == [False] * 7 + [True]


@pytest.mark.parametrize(
    ("others", "one", "step", "odd"),
    [
        # locks: one step of the scale is what a scale shows of equal parts; two likewise
        (5.1, 5.2, 0.1, False),
        (5.1, 5.3, 0.1, False),
        # by hand: 0.6745 * 0.6/0.1 = 4.05 is above 3.5, and 0.6 g is more than two steps and than 0.5 % of 5.1 g
        (5.1, 5.7, 0.1, True),
        # 0.4 g of 100 g is 0.4 %, though ten steps of 0.01 g would make a score of 27
        (100.0, 100.4, 0.01, False),
        (100.0, 100.6, 0.01, True),
        (100.0, 200.0, 1.0, True),
    ],
)
def test_what_a_scale_shows_of_equal_parts_is_not_odd(others: float, one: float, step: float, *, odd: bool) -> None:
    assert odd_ones_out(np.array([others] * 5 + [one]), step).tolist() == [False] * 5 + [odd]


def test_equals_and_few_have_no_odd_one() -> None:
    assert not odd_ones_out(np.full(8, 104.0), 0.1).any()
    assert not odd_ones_out(np.full(8, 104.0), 0.0).any()
    assert not odd_ones_out(np.array([1.0, 1.0, 100.0]), 0.1).any()


@given(st.lists(st.integers(1000, 1100), min_size=4, max_size=12), st.data())
def test_the_order_does_not_matter(tenths: list[int], data: st.DataObject) -> None:
    masses = np.array(tenths) / 10.0
    order = data.draw(st.permutations(range(len(tenths))))
    assert odd_ones_out(masses[order], 0.1).tolist() == odd_ones_out(masses, 0.1)[order].tolist()
