"""Shim stock: the sharing chosen against every sharing there is."""

from __future__ import annotations

from itertools import product

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from headbench.calc import BoolArray
from headbench.calc.heights.installed_height import ShimsAtHand, set_heights, within_height
from headbench.calc.heights.shim_stock import MOST_CHOICES, deal, in_turn, share
from headbench.calc.heights.shims import Ranked, Stacks, best_stacks, rank_stacks, stacks_of

INCH = 0.0254
STEP = 0.001 * INCH
SIZES = np.array([0.015, 0.030, 0.060]) * INCH

needs = st.lists(st.integers(-20, 70), min_size=1, max_size=4)
stocks = st.lists(st.one_of(st.none(), st.integers(0, 3)), min_size=3, max_size=3)


def worth(choice: tuple[int, ...], ranked: Ranked, good: BoolArray, stacks: Stacks) -> tuple[int, ...]:
    """What a sharing is judged by, in strict order: bad positions, deviations, shims, misses, thinness."""
    rows = range(len(choice))
    return (
        sum(not good[row, one] for row, one in zip(rows, choice, strict=True)),
        sum(int(ranked.excess[row, one]) for row, one in zip(rows, choice, strict=True)),
        sum(int(stacks.size[one]) for one in choice),
        sum(int(ranked.miss[row, one]) for row, one in zip(rows, choice, strict=True)),
        -sum(int(stacks.totals[one]) for one in choice),
    )


def may_be_laid(choice: tuple[int, ...], stacks: Stacks, stock: list[int | None]) -> bool:
    used = stacks.counts[list(choice)].sum(axis=0)
    return all(most is None or count <= most for count, most in zip(used.tolist(), stock, strict=True))


@settings(max_examples=40)
@given(needed=needs, stock=stocks, tolerance=st.integers(0, 12))
def test_the_sharing_is_the_best_of_all_there_are(needed: list[int], stock: list[int | None], tolerance: int) -> None:
    stacks = stacks_of(SIZES, 0.060 * INCH)
    ranked = rank_stacks(np.array(needed) * STEP, stacks)
    good = ranked.miss <= tolerance * 25_400
    dealt = deal(ranked, good, stacks, stock)
    every = (one for one in product(range(len(stacks.shims)), repeat=len(needed)) if may_be_laid(one, stacks, stock))
    best = min(worth(one, ranked, good, stacks) for one in every)
    chosen = tuple(dealt.choice.tolist())
    assert may_be_laid(chosen, stacks, stock)
    assert worth(chosen, ranked, good, stacks) == best
    assert dealt.proven


def test_two_shims_go_where_both_positions_are_served_best() -> None:
    # needs 0.044 and 0.046, one 0.045 and one 0.040: so they miss 0.004 and 0.001, the other way 0.001 and 0.006
    stacks = stacks_of(np.array([0.045, 0.040]) * INCH, 0.060 * INCH)
    for needed in ([0.044, 0.046], [0.046, 0.044]):
        ranked = rank_stacks(np.array(needed) * INCH, stacks)
        good = ranked.miss <= 5 * 25_400
        dealt = share(ranked, good, best_stacks(ranked, good), stacks, [1, 1])
        by_need = dict(zip(needed, (stacks.shims[one] for one in dealt.choice.tolist()), strict=True))
        assert by_need == {0.044: (1,), 0.046: (0,)}


@given(needed=needs, stock=stocks, data=st.data())
@settings(max_examples=25)
def test_the_order_of_positions_does_not_matter(
    needed: list[int], stock: list[int | None], data: st.DataObject
) -> None:
    order = data.draw(st.permutations(range(len(needed))))
    stacks = stacks_of(SIZES, 0.060 * INCH)
    found = []
    for row in (needed, [needed[place] for place in order]):
        ranked = rank_stacks(np.array(row) * STEP, stacks)
        good = ranked.miss <= 10 * 25_400
        found.append(worth(tuple(deal(ranked, good, stacks, stock).choice.tolist()), ranked, good, stacks))
    assert found[0] == found[1]


@given(needed=needs, stock=st.lists(st.integers(0, 3), min_size=3, max_size=3), size=st.integers(0, 2))
@settings(max_examples=25)
def test_one_more_shim_never_makes_it_worse(needed: list[int], stock: list[int], size: int) -> None:
    stacks = stacks_of(SIZES, 0.060 * INCH)
    ranked = rank_stacks(np.array(needed) * STEP, stacks)
    good = ranked.miss <= 10 * 25_400
    more = [count + (place == size) for place, count in enumerate(stock)]
    less_worth, more_worth = (
        worth(tuple(deal(ranked, good, stacks, one).choice.tolist()), ranked, good, stacks) for one in (stock, more)
    )
    assert more_worth <= less_worth


def test_a_search_that_is_cut_short_gives_a_sharing_and_does_not_call_it_proven() -> None:
    stacks = stacks_of(np.arange(1.0, 13.0) * 0.005 * INCH, 0.060 * INCH)
    ranked = rank_stacks(np.arange(128.0) % 61 * STEP, stacks)
    good = ranked.miss <= 25_400
    stock: list[int | None] = [20] * 12
    dealt = deal(ranked, good, stacks, stock, seconds=0.0)
    assert not dealt.proven
    assert may_be_laid(tuple(dealt.choice.tolist()), stacks, stock)


def test_enough_stock_changes_nothing_and_asks_for_no_search() -> None:
    stacks = stacks_of(SIZES, 0.060 * INCH)
    ranked = rank_stacks(np.array([45, 31, 8]) * STEP, stacks)
    good = np.ones_like(ranked.miss, dtype=np.bool_)
    free = best_stacks(ranked, good)
    assert share(ranked, good, free, stacks, [100, None, 100]).choice.tolist() == free.tolist()


def test_served_in_turn_nobody_takes_what_is_gone() -> None:
    stacks = stacks_of(SIZES, 0.060 * INCH)
    ranked = rank_stacks(np.array([0.030, 0.030, 0.060]) * INCH, stacks)
    good = np.ones_like(ranked.miss, dtype=np.bool_)
    choice = in_turn(ranked, good, stacks, [1, 1, 1])
    assert [stacks.shims[one] for one in choice.tolist()] == [(1,), (0,), (2,)]


def test_a_position_that_is_not_measured_takes_nothing_from_stock() -> None:
    bare, target = np.array([np.nan, 1.765]) * INCH, np.full(2, 1.750) * INCH
    heights = set_heights(
        bare, target, ShimsAtHand(SIZES, 0.060 * INCH, in_stock=[1, 0, 0]), within_height(target, np.full(2, STEP))
    )
    assert heights.shims == ((), (0,))
    assert np.isnan(heights.shim_stack[0])
    assert heights.used.tolist() == [1, 0, 0]


def test_a_size_that_ran_out_is_said_so_where_it_matters() -> None:
    bare, target = np.array([1.780, 1.780, 1.810]) * INCH, np.full(3, 1.750) * INCH
    suits = within_height(target, np.full(3, 0.010) * INCH)
    heights = set_heights(bare, target, ShimsAtHand(SIZES, 0.060 * INCH, in_stock=[1, 1, 1]), suits)
    # one of the two that need 0.030 has to do with 0.015
    assert sorted(heights.shims) == [(0,), (1,), (2,)]
    assert heights.ran_out.sum() == 1
    enough = set_heights(bare, target, ShimsAtHand(SIZES, 0.060 * INCH, in_stock=[2, 1, 1]), suits)
    assert not enough.ran_out.any()


MANY = np.array([11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53]) * STEP


def test_an_empty_stock_leaves_no_shim_anywhere_and_nothing_to_search() -> None:
    stacks = stacks_of(MANY, 0.250 * INCH)
    ranked = rank_stacks(np.linspace(10, 60, 128) * STEP, stacks)
    dealt = deal(ranked, ranked.miss <= 25_400, stacks, [0] * len(MANY), seconds=60.0)
    assert dealt.proven
    assert [stacks.shims[one] for one in dealt.choice.tolist()] == [()] * 128


@settings(max_examples=4, deadline=None)
@given(each=st.integers(1, 20), pitch=st.floats(0.0, 1.0))
def test_more_than_can_be_weighed_is_shared_from_the_stock_no_worse_than_in_turn_and_not_called_proven(
    each: int, pitch: float
) -> None:
    stacks = stacks_of(MANY, 0.160 * INCH)
    ranked = rank_stacks(np.array([30.0 + pitch * place for place in range(100)]) * STEP, stacks)
    good = ranked.miss <= 2 * 25_400
    stock: list[int | None] = [each] * len(MANY)
    dealt = deal(ranked, good, stacks, stock, seconds=1.0)
    assert len(stacks.shims) * 100 > MOST_CHOICES
    assert not dealt.proven
    chosen = tuple(dealt.choice.tolist())
    assert may_be_laid(chosen, stacks, stock)
    assert worth(chosen, ranked, good, stacks) <= worth(
        tuple(in_turn(ranked, good, stacks, stock).tolist()), ranked, good, stacks
    )
