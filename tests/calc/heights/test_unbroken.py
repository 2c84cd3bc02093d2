"""Damage first, setting second: no stack that breaks parts where one does not, held against every stack there is."""

from __future__ import annotations

import math
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.shim_rule import Good, best_by_rule, may_be_laid, runner_up_by_rule, worth

from headbench.calc.heights.installed_height import ShimsAtHand, set_heights
from headbench.calc.heights.pockets import Side, Suits
from headbench.calc.heights.shims import stacks_of

INCH = 0.0254
NM = 25_400
"""0.001 in [nm]."""
TARGET = 1.750 * INCH
SIZES = [0.015 * INCH, 0.030 * INCH, 0.060 * INCH]

needs = st.integers(-20, 80)
tolerances = st.integers(0, 12)
bounds = st.integers(-10, 80)
"""The thickest stack that leaves the coils their room [0.001 in]."""


def suits_of(bare: float, need: int, tolerance: int, bound: int) -> Suits:
    """Good within a tolerance of the need, broken from a bound on."""

    def total(height: float) -> int:
        return round((bare - height) / 1e-9)

    def room(height: float) -> Side:
        return Side.TOO_SHORT if total(height) > bound * NM else Side.RIGHT

    def side(height: float) -> Side:
        off = need * NM - total(height)
        if abs(off) <= tolerance * NM:
            return Side.RIGHT
        return Side.TOO_TALL if off > 0 else Side.TOO_SHORT

    return Suits((side,), room)


def near(need: int, tolerance: int) -> Good:
    return lambda total: abs(total - need * NM) <= tolerance * NM


def both(one: Good, other: Good) -> Good:
    return lambda total: one(total) and other(total)


def up_to(bound: int) -> Good:
    return lambda total: total <= bound * NM


@settings(max_examples=300)
@given(
    need=needs,
    tolerance=tolerances,
    bound=bounds,
    sizes=st.lists(st.integers(1, 60), min_size=1, max_size=4, unique=True),
    most=st.integers(1, 90),
)
def test_the_stack_laid_and_the_next_best_break_nothing_where_any_stack_breaks_nothing(
    need: int, tolerance: int, bound: int, sizes: list[int], most: int
) -> None:
    thicknesses, bare = [size * NM * 1e-9 for size in sizes], TARGET + need * NM * 1e-9
    stacks = stacks_of(thicknesses, most * NM * 1e-9)
    good, clears = near(need, tolerance), up_to(bound)
    best = best_by_rule(need * NM, stacks, good, clears)
    second = runner_up_by_rule(need * NM, stacks, good, best, clears)
    at_hand = ShimsAtHand(thicknesses, most * NM * 1e-9)
    suits = suits_of(bare, need, tolerance, bound)
    (height,) = set_heights([bare], [TARGET], at_hand, [suits], [math.nan]).each
    assert height.shims == stacks.shims[best]
    assert height.runner_up == (None if second is None else stacks.shims[second])
    # the bound itself, not the referee's rule
    if bound >= 0:
        assert height.shim_stack <= bound * NM * 1e-9 + 1e-12


@settings(max_examples=60, deadline=None)
@given(
    positions=st.lists(st.tuples(needs, bounds), min_size=1, max_size=3),
    tolerance=tolerances,
    stock=st.lists(st.one_of(st.none(), st.integers(0, 3)), min_size=3, max_size=3),
)
def test_a_shared_stock_breaks_as_little_as_any_sharing_of_it(
    positions: list[tuple[int, int]], tolerance: int, stock: list[int | None]
) -> None:
    stacks = stacks_of(SIZES, 0.060 * INCH)
    bare = [TARGET + need * NM * 1e-9 for need, _ in positions]
    suits = [suits_of(stands, need, tolerance, bound) for stands, (need, bound) in zip(bare, positions, strict=True)]
    heights = set_heights(
        bare,
        [TARGET] * len(bare),
        ShimsAtHand(SIZES, 0.060 * INCH, in_stock=stock),
        suits,
        [math.nan] * len(bare),
    )
    wanted, clears = [need * NM for need, _ in positions], [up_to(bound) for _, bound in positions]
    fits = [near(need, tolerance) for need, _ in positions]
    good = [both(fit, clear) for fit, clear in zip(fits, clears, strict=True)]
    every = product(range(len(stacks.shims)), repeat=len(positions))
    best = min(worth(one, wanted, stacks, good, clears) for one in every if may_be_laid(one, stacks, stock))
    taken = [stacks.shims.index(one.shims) for one in heights.each]
    assert may_be_laid(taken, stacks, stock)
    assert heights.proven
    free = [best_by_rule(need, stacks, fit, clear) for need, fit, clear in zip(wanted, fits, clears, strict=True)]
    if may_be_laid(free, stacks, stock):
        assert taken == free
    else:
        assert worth(taken, wanted, stacks, good, clears) == best


def test_where_every_stack_breaks_the_nearest_is_laid_as_before() -> None:
    # 0.044 needed, 0.045 nearest; even with no shim the coils have no room
    bare = TARGET + 0.044 * INCH
    suits = suits_of(bare, 44, 5, -1)
    (height,) = set_heights([bare], [TARGET], ShimsAtHand(SIZES, 0.060 * INCH), [suits], [math.nan]).each
    assert height.shims == (1, 0)


def test_a_stack_that_is_off_but_clears_goes_before_a_nearer_one_that_does_not() -> None:
    # 0.055 needed to 0.004: 0.060 misses by 0.005, 0.045 by 0.010; more than 0.050 leaves the coils too little
    bare = TARGET + 0.055 * INCH
    suits = suits_of(bare, 55, 4, 50)
    (height,) = set_heights([bare], [TARGET], ShimsAtHand(SIZES, 0.060 * INCH), [suits], [math.nan]).each
    assert height.shims == (1, 0)
    assert height.runner_up == (1,)
    assert height.shim_stack == pytest.approx(0.045 * INCH, abs=1e-12)
