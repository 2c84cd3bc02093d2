"""Shims: the stack chosen against every stack there is."""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.heights.shims import USUAL_MOST, best_stacks, fits_stock, rank_stacks, stacks_of

INCH = 0.0254
# sizes shims are sold in: from memory
USUAL = ("0.015", "0.030", "0.060")
EQUAL = Fraction(2, 1000)


def inches(*sizes: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.array([float(size) for size in sizes]) * INCH


def laid(needed: str, sizes: tuple[str, ...] = USUAL, most: str = "0.060", shims: int = USUAL_MOST) -> list[str]:
    stacks = stacks_of(inches(*sizes), float(most) * INCH, shims)
    best = rank_stacks(inches(needed), stacks).order[0, 0]
    return [sizes[place] for place in stacks.shims[best]]


def best_by_counting(needed: Fraction, sizes: list[Fraction], most: Fraction) -> tuple[Fraction, ...]:
    """Every count of every size, in exact fractions; the rules of choice spelled out."""
    stacks = []
    for counts in product(range(USUAL_MOST + 1), repeat=len(sizes)):
        stack = tuple(sorted((size for size, n in zip(sizes, counts, strict=True) for _ in range(n)), reverse=True))
        if len(stack) <= USUAL_MOST and sum(stack) <= most:
            stacks.append(stack)
    totals = [sum(stack, Fraction(0)) for stack in stacks]
    nearest = min(totals, key=lambda total: (abs(total - needed), -total))
    equal = [stack for stack, total in zip(stacks, totals, strict=True) if abs(total - nearest) <= EQUAL]

    def rule(stack: tuple[Fraction, ...]) -> tuple[object, ...]:
        total = sum(stack, Fraction(0))
        return (len(stack), abs(total - needed), -total, tuple(-size for size in stack))

    return min(equal, key=rule)


def test_0_045_takes_0_030_and_0_015() -> None:
    # common practice, no source
    assert laid("0.045") == ["0.030", "0.015"]


def test_the_total_of_a_stack_carries_no_rounding() -> None:
    stacks = stacks_of(inches(*USUAL), 0.060 * INCH)
    best = rank_stacks(inches("0.045"), stacks).order[0, 0]
    # 0.045 in are 1.143 mm exactly
    assert stacks.totals[best] == 1_143_000


@pytest.mark.parametrize(
    ("needed", "stack"),
    [
        ("0.000", []),
        ("0.007", []),
        ("0.008", ["0.015"]),
        # midway between two heights: the shorter one, everywhere
        ("0.0075", ["0.015"]),
        ("0.0225", ["0.030"]),
        ("0.0375", ["0.030", "0.015"]),
        ("0.0525", ["0.060"]),
        ("0.060", ["0.060"]),  # one shim, not four
        ("0.044", ["0.030", "0.015"]),
    ],
)
def test_half_a_step_goes_to_the_shorter_height_and_equal_stacks_to_fewer_shims(needed: str, stack: list[str]) -> None:
    assert laid(needed) == stack


def test_four_thin_shims_give_way_to_one_that_is_nearly_as_near() -> None:
    # 0.0605 needed: 0.0305 + 0.030 is exact, 0.060 alone misses by 0.0005 and counts as equal
    assert laid("0.0605", ("0.0305", "0.030", "0.060"), most="0.100") == ["0.060"]


def test_three_shims_at_most_unless_the_job_allows_more() -> None:
    assert laid("0.060", ("0.015",)) == ["0.015"] * 3
    assert laid("0.060", ("0.015",), shims=4) == ["0.015"] * 4


def test_of_two_stacks_with_one_total_and_count_the_one_with_the_thicker_shim_is_laid() -> None:
    assert laid("0.060", ("0.010", "0.020", "0.030", "0.040", "0.050")) == ["0.050", "0.010"]


def test_no_stack_is_thicker_than_allowed() -> None:
    assert laid("0.090") == ["0.060"]
    assert laid("0.090", most="0.090") == ["0.060", "0.030"]


def test_a_position_short_of_height_gets_no_shim() -> None:
    assert laid("-0.020") == []


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
    stacks = stacks_of(np.array(sizes) * step, most * step)
    best = rank_stacks(np.array([needed]) * step, stacks).order[0, 0]
    assert tuple(sizes[place] * unit for place in stacks.shims[best]) == exact


@given(needed=st.integers(-50, 600), data=st.data())
def test_the_first_good_stack_in_the_order_is_taken_else_the_first(needed: int, data: st.DataObject) -> None:
    stacks = stacks_of(inches(*USUAL), 0.060 * INCH)
    ranked = rank_stacks(np.array([needed]) * 0.0001 * INCH, stacks)
    good = np.array([[data.draw(st.booleans()) for _ in stacks.shims]])
    chosen = int(best_stacks(ranked, good)[0])
    order = ranked.order[0].tolist()
    assert chosen == next((place for place in order if good[0, place]), order[0])


def test_a_stock_holds_what_it_holds() -> None:
    stacks = stacks_of(inches(*USUAL), 0.060 * INCH)
    one_of_each = np.array([stacks.shims.index((0,)), stacks.shims.index((1,))])
    assert fits_stock(one_of_each, stacks, [1, 1, 0])
    assert fits_stock(one_of_each, stacks, None)
    assert not fits_stock(one_of_each, stacks, [0, 5, 5])
    assert fits_stock(one_of_each, stacks, [None, None, 0])
