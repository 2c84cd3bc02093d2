"""Shims: the stack chosen against every stack there is."""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from headbench.calc.shims import MOST_SHIMS, lay_out

INCH = 0.0254
# sizes shims are sold in: published, trade press
USUAL = ("0.015", "0.030", "0.060")


def inches(*sizes: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.array([float(size) for size in sizes]) * INCH


def laid(needed: str, sizes: tuple[str, ...] = USUAL, most: str = "0.060") -> list[str]:
    layout = lay_out(inches(needed), inches(*sizes), float(most) * INCH)
    return [sizes[place] for place in layout.shims[0]]


def best_by_counting(needed: Fraction, sizes: list[Fraction], most: Fraction) -> tuple[Fraction, ...]:
    """Every count of every size, in exact fractions; the rules of choice spelled out."""
    stacks = []
    for counts in product(range(MOST_SHIMS + 1), repeat=len(sizes)):
        stack = tuple(sorted((size for size, n in zip(sizes, counts, strict=True) for _ in range(n)), reverse=True))
        if len(stack) <= MOST_SHIMS and sum(stack) <= most:
            stacks.append(stack)
    return min(stacks, key=lambda s: (abs(sum(s, Fraction(0)) - needed), len(s), tuple(-size for size in s)))


def test_0_045_takes_0_030_and_0_015() -> None:
    # common practice, no source
    assert laid("0.045") == ["0.030", "0.015"]


def test_the_total_of_a_stack_carries_no_rounding() -> None:
    layout = lay_out(inches("0.045"), inches(*USUAL), 0.060 * INCH)
    assert layout.stack[0] / INCH == pytest.approx(0.045, abs=1e-15)


@pytest.mark.parametrize(
    ("needed", "stack"),
    [
        ("0.000", []),
        ("0.007", []),
        ("0.008", ["0.015"]),
        ("0.0225", ["0.030"]),  # midway: one shim either way, the thicker one first
        ("0.0375", ["0.030"]),  # midway between 0.030 and 0.030 + 0.015: fewer shims
        ("0.0525", ["0.060"]),  # midway between 0.030 + 0.015 and 0.060: fewer shims
        ("0.060", ["0.060"]),  # one shim, not four
    ],
)
def test_ties_go_to_fewer_shims_then_to_the_thicker_ones(needed: str, stack: list[str]) -> None:
    assert laid(needed) == stack


def test_of_two_stacks_with_one_total_and_count_the_one_with_the_thicker_shim_is_laid() -> None:
    assert laid("0.060", ("0.010", "0.020", "0.030", "0.040", "0.050")) == ["0.050", "0.010"]


def test_no_stack_is_thicker_than_allowed() -> None:
    assert laid("0.090") == ["0.060"]
    assert laid("0.090", most="0.090") == ["0.060", "0.030"]


def test_a_position_short_of_height_gets_no_shim() -> None:
    assert laid("-0.020") == []


def test_an_unmeasured_position_gets_nothing_and_takes_nothing_from_stock() -> None:
    layout = lay_out(np.array([np.nan, 0.015 * INCH]), inches(*USUAL), 0.060 * INCH, [1, 0, 0])
    assert np.isnan(layout.stack[0])
    assert layout.shims == ((), (0,))


@given(
    needed=st.integers(-200, 900),
    sizes=st.lists(st.integers(5, 600), min_size=1, max_size=3, unique=True),
    most=st.integers(0, 900),
)
def test_the_stack_is_the_best_of_all_there_are(needed: int, sizes: list[int], most: int) -> None:
    """In steps of 0.0001 in, against a count over every stack in exact fractions."""
    unit = Fraction(1, 10000)
    exact = best_by_counting(needed * unit, [size * unit for size in sizes], most * unit)
    step = 0.0001 * INCH
    layout = lay_out(np.array([needed]) * step, np.array(sizes) * step, most * step)
    assert tuple(sizes[place] * unit for place in layout.shims[0]) == exact


@given(
    needed=st.lists(st.integers(0, 600), min_size=1, max_size=12),
    stock=st.lists(st.integers(0, 6), min_size=3, max_size=3),
)
def test_no_more_is_laid_than_is_in_stock(needed: list[int], stock: list[int]) -> None:
    step = 0.0001 * INCH
    layout = lay_out(np.array(needed) * step, inches(*USUAL), 0.060 * INCH, stock)
    assert (layout.used <= np.array(stock)).all()
    assert [sum(shims.count(size) for shims in layout.shims) for size in range(3)] == layout.used.tolist()


@given(needed=st.lists(st.integers(-50, 600), min_size=1, max_size=12))
def test_enough_stock_changes_nothing(needed: list[int]) -> None:
    step = 0.0001 * INCH
    free = lay_out(np.array(needed) * step, inches(*USUAL), 0.060 * INCH)
    stocked = lay_out(np.array(needed) * step, inches(*USUAL), 0.060 * INCH, [100, None, 100])
    assert free.shims == stocked.shims
    assert not stocked.ran_out.any()


def test_a_size_that_ran_out_is_said_so_where_it_matters() -> None:
    layout = lay_out(inches("0.030", "0.030", "0.060"), inches(*USUAL), 0.060 * INCH, [1, 1, 1])
    assert layout.shims == ((1,), (0,), (2,))
    assert layout.ran_out.tolist() == [False, True, False]


def test_a_stack_of_the_same_thickness_from_other_sizes_is_no_loss() -> None:
    layout = lay_out(inches("0.030", "0.030"), inches(*USUAL), 0.060 * INCH, [2, 1, 0])
    assert layout.shims == ((1,), (0, 0))
    assert not layout.ran_out.any()


@given(needed=st.lists(st.integers(-50, 600), min_size=2, max_size=8), data=st.data())
def test_the_order_of_positions_does_not_matter_without_a_stock(needed: list[int], data: st.DataObject) -> None:
    order = data.draw(st.permutations(range(len(needed))))
    assume(order != list(range(len(needed))))
    step = 0.0001 * INCH
    straight = lay_out(np.array(needed) * step, inches(*USUAL), 0.060 * INCH)
    mixed = lay_out(np.array(needed)[order] * step, inches(*USUAL), 0.060 * INCH)
    assert mixed.shims == tuple(straight.shims[place] for place in order)
