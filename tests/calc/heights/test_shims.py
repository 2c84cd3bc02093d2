"""Shims: the stack chosen against every stack there is."""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.shim_rule import by_rule

from headbench.calc.heights.shims import USUAL_MOST, Stacks, in_order, nearest_total, stacks_of
from headbench.calc.judging.grid import on_grid

INCH = 0.0254
# sizes shims are sold in: from memory
USUAL = ("0.015", "0.030", "0.060")
EQUAL = Fraction(2, 1000)


def inches(*sizes: str) -> list[float]:
    return [float(size) * INCH for size in sizes]


def best_of(needed: float, stacks: Stacks) -> int:
    wanted = on_grid(needed)
    return next(in_order(wanted, stacks, nearest_total(wanted, stacks))).stack


def laid(needed: str, sizes: tuple[str, ...] = USUAL, most: str = "0.060", shims: int = USUAL_MOST) -> list[str]:
    stacks = stacks_of(inches(*sizes), float(most) * INCH, shims)
    return [sizes[place] for place in stacks.shims[best_of(float(needed) * INCH, stacks)]]


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
    # 0.045 in are 1.143 mm exactly
    assert stacks.totals[best_of(0.045 * INCH, stacks)] == 1_143_000


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
    stacks = stacks_of([size * step for size in sizes], most * step)
    best = best_of(needed * step, stacks)
    assert tuple(sizes[place] * unit for place in stacks.shims[best]) == exact


# in quarters of 0.001 in: near enough to one another that many a stack counts as equal to the nearest
QUARTER = 6350
some_sizes = st.lists(st.integers(1, 240).map(lambda count: count * QUARTER), min_size=1, max_size=5, unique=True)
some_need = st.one_of(st.integers(-100, 700).map(lambda count: count * QUARTER), st.integers(-600_000, 4_000_000))


def all_stacks(sizes: list[int], shims: int, most: int) -> Stacks:
    return stacks_of([size * 1e-9 for size in sizes], most * 1e-9, shims)


@given(sizes=some_sizes, shims=st.integers(0, 4), most=st.integers(0, 2_000_000), needed=some_need)
def test_the_order_as_it_comes_is_a_plain_sort_of_all_stacks(
    sizes: list[int], shims: int, most: int, needed: int
) -> None:
    stacks = all_stacks(sizes, shims, most)
    expected = by_rule(needed, stacks)
    nearest = nearest_total(needed, stacks)
    assert nearest == min(stacks.totals, key=lambda total: (abs(total - needed), -total))
    found = [*in_order(needed, stacks, nearest)]
    assert [one.stack for one in found] == expected.order
    assert [one.miss for one in found] == [expected.miss[place] for place in expected.order]
    assert [one.excess for one in found] == [expected.excess[place] for place in expected.order]


@given(sizes=some_sizes, needed=some_need, data=st.data())
def test_some_of_the_stacks_come_in_the_order_that_all_of_them_have(
    sizes: list[int], needed: int, data: st.DataObject
) -> None:
    stacks = all_stacks(sizes, 3, 2_000_000)
    every = range(len(stacks.totals))
    places = sorted(data.draw(st.sets(st.sampled_from(every), min_size=1)))
    all_of_them = [*in_order(needed, stacks, nearest_total(needed, stacks))]
    some = [*in_order(needed, stacks.only(places), nearest_total(needed, stacks))]
    ranks = [(places[one.stack], one.miss, one.excess) for one in some]
    assert ranks == [(one.stack, one.miss, one.excess) for one in all_of_them if one.stack in places]


def test_the_stacks_of_a_stack_list_are_counted_as_they_are_laid() -> None:
    stacks = stacks_of(inches(*USUAL), 0.060 * INCH)
    for total, shims, counts in zip(stacks.totals, stacks.shims, stacks.counts, strict=True):
        assert total == sum((381_000, 762_000, 1_524_000)[size] for size in shims)
        assert counts == tuple(shims.count(size) for size in range(3))
    assert list(stacks.totals) == sorted(stacks.totals)
