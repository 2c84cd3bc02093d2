"""Shim stock: the sharing chosen against every sharing there is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.shim_rule import Good, best_by_rule, may_be_laid, runner_up_by_rule, worth

from headbench.calc.heights import pockets
from headbench.calc.heights.installed_height import Heights, ShimsAtHand, set_heights, within_height
from headbench.calc.heights.pockets import Side, Suits
from headbench.calc.heights.shim_stock import MOST_CHOICES, Choice, Dealt, deal, holds, in_turn
from headbench.calc.heights.shims import Stacks, in_order, nearest_total, stacks_of
from headbench.calc.judging.grid import on_grid

INCH = 0.0254
STEP = 0.001 * INCH
NM = 25_400
"""The same step [nm]."""
SIZES = [0.015 * INCH, 0.030 * INCH, 0.060 * INCH]
TARGET = 1.750 * INCH

needs = st.lists(st.integers(-20, 70), min_size=1, max_size=4)
stocks = st.lists(st.one_of(st.none(), st.integers(0, 3)), min_size=3, max_size=3)
Stock = Sequence[int | None]


def near(wanted: int, tolerance: int) -> Good:
    return lambda total: abs(total - wanted) <= tolerance


def choices_of(wanted: Sequence[int], good: Sequence[Good], stacks: Stacks, stock: Stock) -> list[list[Choice]]:
    """Every stack that the stock holds, best first, for every position."""
    return [
        [
            Choice(*one, good=fits(stacks.totals[one.stack]))
            for one in in_order(need, stacks, nearest_total(need, stacks))
            if holds(stock, stacks.counts[one.stack])
        ]
        for need, fits in zip(wanted, good, strict=True)
    ]


def best_of_all(wanted: Sequence[int], good: Sequence[Good], stacks: Stacks, stock: Stock) -> tuple[int, ...]:
    """What the best of all sharings there are is worth."""
    every = product(range(len(stacks.shims)), repeat=len(wanted))
    return min(worth(one, wanted, stacks, good) for one in every if may_be_laid(one, stacks, stock))


@settings(max_examples=40)
@given(needed=needs, stock=stocks, tolerance=st.integers(0, 12))
def test_the_sharing_is_the_best_of_all_there_are(needed: list[int], stock: list[int | None], tolerance: int) -> None:
    stacks = stacks_of(SIZES, 0.060 * INCH)
    wanted = [need * NM for need in needed]
    good = [near(need, tolerance * NM) for need in wanted]
    dealt = deal(choices_of(wanted, good, stacks, stock), stacks, stock)
    assert may_be_laid(dealt.taken, stacks, stock)
    assert worth(dealt.taken, wanted, stacks, good) == best_of_all(wanted, good, stacks, stock)
    assert dealt.proven


def shared(needed: Sequence[float], at_hand: ShimsAtHand, tolerance: float) -> Heights:
    """Positions that need so much to stand at the target."""
    count = len(needed)
    suits = [Suits((within_height(TARGET, tolerance),))] * count
    return set_heights([TARGET + need for need in needed], [TARGET] * count, at_hand, suits, [math.nan] * count)


@settings(max_examples=40)
@given(needed=needs, stock=stocks, tolerance=st.integers(0, 12))
def test_the_heights_set_from_a_stock_are_the_best_of_all_there_are(
    needed: list[int], stock: list[int | None], tolerance: int
) -> None:
    stacks = stacks_of(SIZES, 0.060 * INCH)
    wanted = [need * NM for need in needed]
    good = [near(need, tolerance * NM) for need in wanted]
    heights = shared([need * STEP for need in needed], ShimsAtHand(SIZES, 0.060 * INCH, 3, stock), tolerance * STEP)
    taken = [stacks.shims.index(one.shims) for one in heights.each]
    free = [best_by_rule(need, stacks, fits) for need, fits in zip(wanted, good, strict=True)]
    assert heights.proven
    assert may_be_laid(taken, stacks, stock)
    assert worth(taken, wanted, stacks, good) == best_of_all(wanted, good, stacks, stock)
    assert heights.used == [sum(stacks.shims[one].count(size) for one in taken) for size in range(3)]
    for height, own, best, need, fits in zip(heights.each, taken, free, wanted, good, strict=True):
        assert height.ran_out == (stacks.totals[own] != stacks.totals[best])
        second = runner_up_by_rule(need, stacks, fits, own)
        assert height.runner_up == (None if second is None else stacks.shims[second])
    if may_be_laid(free, stacks, stock):
        assert taken == free


@settings(max_examples=60)
@given(
    needed=st.lists(st.integers(50, 90), min_size=1, max_size=2),
    sizes=st.lists(st.one_of(st.integers(60, 80), st.integers(1, 12)), min_size=2, max_size=3, unique=True),
    stock=stocks,
    window=st.tuples(st.integers(-12, 12), st.integers(0, 12)),
)
def test_what_the_search_leaves_out_is_nothing_that_would_be_shared(
    needed: list[int], sizes: list[int], stock: list[int | None], window: tuple[int, int]
) -> None:
    # in quarters of 0.001 in; what suits, as a load would have it, lies to one side of the target
    quarter, count = 6350, len(needed)
    low, high = (window[0] - window[1]) * quarter - 1, (window[0] + window[1]) * quarter + 1

    def side(height: float) -> Side:
        off = on_grid(height - TARGET)
        return Side.TOO_TALL if off > high else Side.TOO_SHORT if off < low else Side.RIGHT

    def fits(need: int) -> Good:
        return lambda total: low <= need - total <= high

    thicknesses, own = [size * quarter * 1e-9 for size in sizes], stock[: len(sizes)]
    stacks = stacks_of(thicknesses, 100 * quarter * 1e-9)
    wanted = [need * quarter for need in needed]
    good = [fits(need) for need in wanted]
    at_hand = ShimsAtHand(thicknesses, 100 * quarter * 1e-9, in_stock=own)
    bare = [TARGET + need * 1e-9 for need in wanted]
    heights = set_heights(bare, [TARGET] * count, at_hand, [Suits((side,))] * count, [math.nan] * count)
    taken = [stacks.shims.index(one.shims) for one in heights.each]
    assert heights.proven
    assert may_be_laid(taken, stacks, own)
    free = [best_by_rule(need, stacks, own_good) for need, own_good in zip(wanted, good, strict=True)]
    if may_be_laid(free, stacks, own):
        assert taken == free
    else:
        assert worth(taken, wanted, stacks, good) == best_of_all(wanted, good, stacks, own)


def test_two_shims_go_where_both_positions_are_served_best() -> None:
    # needs 0.044 and 0.046, one 0.045 and one 0.040: so they miss 0.004 and 0.001, the other way 0.001 and 0.006
    at_hand = ShimsAtHand([0.045 * INCH, 0.040 * INCH], 0.060 * INCH, in_stock=[1, 1])
    for needed in ([0.044, 0.046], [0.046, 0.044]):
        heights = shared([need * INCH for need in needed], at_hand, 0.005 * INCH)
        by_need = dict(zip(needed, (one.shims for one in heights.each), strict=True))
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
        wanted = [need * NM for need in row]
        good = [near(need, 10 * NM) for need in wanted]
        dealt = deal(choices_of(wanted, good, stacks, stock), stacks, stock)
        found.append(worth(dealt.taken, wanted, stacks, good))
    assert found[0] == found[1]


@given(needed=needs, stock=st.lists(st.integers(0, 3), min_size=3, max_size=3), size=st.integers(0, 2))
@settings(max_examples=25)
def test_one_more_shim_never_makes_it_worse(needed: list[int], stock: list[int], size: int) -> None:
    stacks = stacks_of(SIZES, 0.060 * INCH)
    wanted = [need * NM for need in needed]
    good = [near(need, 10 * NM) for need in wanted]
    more = [count + (place == size) for place, count in enumerate(stock)]
    less_worth, more_worth = (
        worth(deal(choices_of(wanted, good, stacks, one), stacks, one).taken, wanted, stacks, good)
        for one in (stock, more)
    )
    assert more_worth <= less_worth


def test_a_search_that_is_cut_short_gives_a_sharing_and_does_not_call_it_proven() -> None:
    stacks = stacks_of([count * 0.005 * INCH for count in range(1, 13)], 0.060 * INCH)
    wanted = [count % 61 * NM for count in range(128)]
    good = [near(need, NM) for need in wanted]
    # too few for all, so that there is something to search
    stock = [2] * 12
    dealt = deal(choices_of(wanted, good, stacks, stock), stacks, stock, seconds=0.0)
    assert not dealt.proven
    assert may_be_laid(dealt.taken, stacks, stock)


def test_where_stacks_were_left_out_the_best_of_the_others_is_not_called_proven() -> None:
    stacks = stacks_of(SIZES, 0.060 * INCH)
    wanted = [30 * NM, 45 * NM]
    few = [own[:3] for own in choices_of(wanted, [near(need, NM) for need in wanted], stacks, [2, 2, 2])]
    choices = [own if any(one.stack == 0 for one in own) else [*own, Choice(0, 1, 1, good=False)] for own in few]
    assert deal(choices, stacks, [2, 2, 2]).proven
    assert not deal(choices, stacks, [2, 2, 2], all_weighed=False).proven


@settings(max_examples=25, deadline=None)
@given(
    kinds=st.lists(st.tuples(st.integers(-20, 70), st.integers(1, 3)), min_size=1, max_size=2),
    stock=stocks,
    tolerance=st.integers(0, 12),
)
def test_positions_that_are_alike_are_counted_together_and_still_shared_best(
    kinds: list[tuple[int, int]], stock: list[int | None], tolerance: int
) -> None:
    stacks = stacks_of(SIZES, 0.060 * INCH)
    wanted = [need * NM for need, count in kinds for _ in range(count)]
    good = [near(need, tolerance * NM) for need in wanted]
    dealt = deal(choices_of(wanted, good, stacks, stock), stacks, stock)
    assert may_be_laid(dealt.taken, stacks, stock)
    assert worth(dealt.taken, wanted, stacks, good) == best_of_all(wanted, good, stacks, stock)
    assert dealt.proven


def test_enough_stock_changes_nothing_and_asks_for_no_search(monkeypatch: pytest.MonkeyPatch) -> None:
    def search(*_: object, **__: object) -> Dealt:
        raise AssertionError

    monkeypatch.setattr(pockets, "deal", search)
    needed = [45 * STEP, 31 * STEP, 8 * STEP]
    free = shared(needed, ShimsAtHand(SIZES, 0.060 * INCH), 1.0)
    assert shared(needed, ShimsAtHand(SIZES, 0.060 * INCH, in_stock=[100, None, 100]), 1.0) == free
    assert free.proven
    with pytest.raises(AssertionError):
        shared(needed, ShimsAtHand(SIZES, 0.060 * INCH, in_stock=[0, 0, 0]), 1.0)


def test_served_in_turn_nobody_takes_what_is_gone() -> None:
    stacks = stacks_of(SIZES, 0.060 * INCH)
    wanted = [30 * NM, 30 * NM, 60 * NM]
    choices = choices_of(wanted, [lambda _: True] * 3, stacks, [1, 1, 1])
    assert [stacks.shims[one.stack] for one in in_turn(choices, stacks, [1, 1, 1])] == [(1,), (0,), (2,)]


def test_a_position_that_is_not_measured_takes_nothing_from_stock() -> None:
    at_hand = ShimsAtHand(SIZES, 0.060 * INCH, in_stock=[1, 0, 0])
    heights = shared([math.nan, 0.015 * INCH], at_hand, STEP)
    assert [one.shims for one in heights.each] == [(), (0,)]
    assert math.isnan(heights.each[0].shim_stack)
    assert heights.used == [1, 0, 0]


def test_a_size_that_ran_out_is_said_so_where_it_matters() -> None:
    needed = [0.030 * INCH, 0.030 * INCH, 0.060 * INCH]
    heights = shared(needed, ShimsAtHand(SIZES, 0.060 * INCH, in_stock=[1, 1, 1]), 0.010 * INCH)
    # one of the two that need 0.030 has to do with 0.015
    assert sorted(one.shims for one in heights.each) == [(0,), (1,), (2,)]
    assert [one.ran_out for one in heights.each].count(True) == 1
    enough = shared(needed, ShimsAtHand(SIZES, 0.060 * INCH, in_stock=[2, 1, 1]), 0.010 * INCH)
    assert not any(one.ran_out for one in enough.each)


def test_a_stock_holds_what_it_holds() -> None:
    assert holds([1, 1, 0], [1, 1, 0])
    assert not holds([0, 5, 5], [1, 1, 0])
    assert holds([None, None, 0], [1, 1, 0])
    assert holds([0, 0, 0], [0, 0, 0])


MANY = [count * STEP for count in (11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53)]


def test_an_empty_stock_leaves_no_shim_anywhere_and_nothing_to_search() -> None:
    stacks = stacks_of(MANY, 0.250 * INCH)
    wanted = [on_grid((10.0 + 50.0 / 127.0 * place) * STEP) for place in range(128)]
    stock = [0] * len(MANY)
    dealt = deal(choices_of(wanted, [near(need, NM) for need in wanted], stacks, stock), stacks, stock, seconds=60.0)
    assert dealt.proven
    assert [stacks.shims[one] for one in dealt.taken] == [()] * 128


def test_an_empty_stock_is_proven_to_leave_no_shim_anywhere_whatever_is_wanted() -> None:
    at_hand = ShimsAtHand(MANY, 0.250 * INCH, in_stock=[0] * len(MANY))
    heights = shared([(10.0 + 50.0 / 127.0 * place) * STEP for place in range(128)], at_hand, STEP)
    assert heights.proven
    assert [one.shims for one in heights.each] == [()] * 128


@settings(max_examples=4, deadline=None)
@given(each=st.integers(1, 20), pitch=st.floats(0.0, 1.0))
def test_more_than_can_be_weighed_is_shared_from_the_stock_no_worse_than_in_turn_and_not_called_proven(
    each: int, pitch: float
) -> None:
    stacks = stacks_of(MANY, 0.160 * INCH)
    needed = [(30.0 + pitch * place) * STEP for place in range(100)]
    wanted = [on_grid(TARGET + need - TARGET) for need in needed]
    good = [near(need, 2 * NM) for need in wanted]
    stock = [each] * len(MANY)
    served: list[int] = []

    def cut_short(choices: Sequence[Sequence[Choice]], *rest: Any, **named: Any) -> Dealt:
        served.extend(one.stack for one in in_turn(choices, stacks, stock))
        return deal(choices, *rest, **named)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pockets, "deal", cut_short)
        heights = shared(needed, ShimsAtHand(MANY, 0.160 * INCH, in_stock=stock, seconds=1.0), 2 * STEP)
    assert len(stacks.shims) * 100 > MOST_CHOICES
    assert not heights.proven
    taken = [stacks.shims.index(one.shims) for one in heights.each]
    assert may_be_laid(taken, stacks, stock)
    assert worth(taken, wanted, stacks, good) <= worth(served, wanted, stacks, good)


def test_what_suits_is_weighed_however_far_from_the_nearest_it_is() -> None:
    # 0.100 needed, but no more than 0.025 leaves room; the nearest hundreds of all 455 stacks are thicker
    count = 100
    at_hand = ShimsAtHand(MANY, 0.160 * INCH, in_stock=[50, 50] + [None] * 10, seconds=1.0)

    def side(height: float) -> Side:
        off = TARGET + 0.100 * INCH - height
        if off > 0.025 * INCH:
            return Side.TOO_SHORT
        return Side.RIGHT if off > 0.0225 * INCH else Side.TOO_TALL

    bare = [TARGET + 0.100 * INCH] * count
    heights = set_heights(bare, [TARGET] * count, at_hand, [Suits((side,))] * count, [math.nan] * count)
    assert len(stacks_of(MANY, 0.160 * INCH).shims) * count > MOST_CHOICES
    # 0.011 + 0.013 is 0.024, two of 0.011 are 0.022, which is too thin, and one of 0.023 suits as often as need be
    assert {one.shims for one in heights.each} <= {(1, 0), (4,)}
    assert not heights.proven
