"""Spread and the odd one out."""

from __future__ import annotations

import math
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.judging.spread import odd_ones_out, spread

values = st.lists(st.floats(1.0, 200.0), min_size=1, max_size=20)


@given(values)
def test_a_spread_is_what_the_standard_library_says(masses: list[float]) -> None:
    found = spread(masses)
    assert found.smallest == min(masses)
    assert found.largest == max(masses)
    assert found.mean == pytest.approx(statistics.fmean(masses))
    assert (found.smallest_at, found.largest_at) == (masses.index(min(masses)), masses.index(max(masses)))
    assert found.count == len(masses)


def test_unmeasured_values_do_not_count() -> None:
    found = spread([math.nan, 3.0, 1.0])
    assert (found.count, found.smallest_at, found.largest_at) == (2, 2, 1)
    assert (found.smallest, found.largest, found.mean) == (1.0, 3.0, 2.0)
    for nothing in ([math.nan] * 3, []):
        found = spread(nothing)
        assert (found.count, found.smallest_at, found.largest_at) == (0, None, None)
        assert all(math.isnan(value) for value in (found.smallest, found.largest, found.mean))


def is_odd(masses: list[float], step: float) -> list[bool]:
    odd = odd_ones_out(masses, lambda: step)
    assert odd == sorted(set(odd))
    return [place in odd for place in range(len(masses))]


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
    assert is_odd(masses, 0.1) == by_the_handbook(masses, 0.1)


def test_the_one_that_differs_among_equals_is_odd() -> None:
    assert is_odd([104.0] * 7 + [108.0], 0.1) == [False] * 7 + [True]


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
    assert is_odd([others] * 5 + [one], step) == [False] * 5 + [odd]


def test_equals_and_few_have_no_odd_one() -> None:
    assert not any(is_odd([104.0] * 8, 0.1))
    assert not any(is_odd([104.0] * 8, 0.0))
    assert not any(is_odd([1.0, 1.0, 100.0], 0.1))


def test_what_was_not_measured_is_neither_odd_nor_counted() -> None:
    assert is_odd([math.nan, 104.0, 104.0, math.nan, 104.0, 108.0], 0.1) == [False] * 5 + [True]
    assert not any(is_odd([math.nan, 104.0, 104.0, 108.0], 0.1))


def test_the_step_is_asked_for_only_where_values_differ_by_more_than_equal_parts_may() -> None:
    def step() -> float:
        raise AssertionError

    # 0.4 g of 100 g is 0.4 %
    assert odd_ones_out([100.0, 100.0, 100.0, 100.4], step) == []
    with pytest.raises(AssertionError):
        odd_ones_out([100.0, 100.0, 100.0, 100.6], step)


@given(st.lists(st.integers(1000, 1100), min_size=4, max_size=12), st.data())
def test_the_order_does_not_matter(tenths: list[int], data: st.DataObject) -> None:
    masses = [tenth / 10.0 for tenth in tenths]
    order = data.draw(st.permutations(range(len(tenths))))
    straight = is_odd(masses, 0.1)
    assert is_odd([masses[place] for place in order], 0.1) == [straight[place] for place in order]
