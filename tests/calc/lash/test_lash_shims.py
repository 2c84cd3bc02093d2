"""Lash shims: what each valve wants, and shims dealt over the whole head, against brute force for small heads."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import product
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from headbench.calc.lash.lash_shims import LashDealt, LashReading, Sold, Supply, deal_lash, lash_with, shim_wanted

MM = 1e-3
STEP = Sold(0.05 * MM)


def valve(
    shim: float, lash: float, low: float = 0.15, high: float = 0.25, aim: float = 0.20, ratio: float = 1.0
) -> LashReading:
    """A valve in millimeters."""
    return LashReading(shim * MM, lash * MM, low * MM, high * MM, aim * MM, ratio)


def in_mm(value: float) -> float:
    return round(value / MM, 6)


def test_the_shim_wanted_is_the_one_in_with_what_the_lash_is_too_wide() -> None:
    # by hand: 2.60 + 0.28 - 0.20 = 2.68
    assert in_mm(shim_wanted(valve(2.60, 0.28))) == 2.68
    # under a finger of 1.4: 2.60 + 1.4 x 0.08 = 2.712
    assert in_mm(shim_wanted(valve(2.60, 0.28, ratio=1.4))) == 2.712


def test_the_lash_with_another_shim_is_less_by_what_that_is_thicker_by_the_ratio() -> None:
    assert in_mm(lash_with(valve(2.60, 0.28), 2.70 * MM)) == 0.18
    # by hand: 0.28 - 0.07 / 1.4
    assert in_mm(lash_with(valve(2.60, 0.28, ratio=1.4), 2.67 * MM)) == 0.23
    assert lash_with(valve(2.60, 0.28), 3.0 * MM) < 0.0


def test_the_shim_wanted_gives_the_lash_aimed_at() -> None:
    for ratio in (0.8, 1.0, 1.5):
        one = valve(2.60, 0.28, ratio=ratio)
        assert lash_with(one, shim_wanted(one)) == pytest.approx(one.aim)


@pytest.mark.parametrize("missing", ["shim", "lash", "low", "aim"])
def test_what_is_not_read_is_not_dealt_for_and_keeps_its_shim(missing: str) -> None:
    bare = valve(2.65, 0.28)._replace(**{missing: math.nan})
    # the other would take that 2.65 if it were free
    plan = deal_lash([bare, valve(2.60, 0.25, high=0.24)], {}, STEP)
    assert math.isnan(shim_wanted(bare))
    assert plan.dealt[0] is None
    assert plan.dealt[1] is not None
    assert plan.dealt[1].supply == Supply("bought")


def test_no_lash_at_all_says_nothing_of_the_shim() -> None:
    assert math.isnan(shim_wanted(valve(2.60, 0.0)))
    assert deal_lash([valve(2.60, 0.0)], {2.5 * MM: 1}, STEP).dealt == (None,)


def test_less_than_the_thinnest_feeler_is_no_lash_and_the_thinnest_is_one() -> None:
    # the thinnest feeler is 0.03 mm (from memory); by hand: 2.60 + 0.03 - 0.20 = 2.43
    for lash in (0.001, 0.029):
        assert math.isnan(shim_wanted(valve(2.60, lash)))
        assert deal_lash([valve(2.60, lash)], {2.4 * MM: 1}, STEP).dealt == (None,)
    assert in_mm(shim_wanted(valve(2.60, 0.03))) == 2.43


def test_a_shim_in_range_stays_where_nothing_better_is_to_be_had() -> None:
    plan = deal_lash([valve(2.60, 0.21)], {2.65 * MM: 3}, STEP)
    assert plan.dealt[0] is not None
    assert (plan.dealt[0].supply, plan.moves) == (Supply("stays"), ())
    assert {in_mm(size): count for size, count in plan.left.items()} == {2.65: 3}


def test_three_shims_go_round_with_the_first_laid_aside_and_nothing_is_bought() -> None:
    # by hand: wanted 2.70, 2.80 and 2.60, which are in at the second, the third and the first
    plan = deal_lash([valve(2.60, 0.30), valve(2.70, 0.30), valve(2.80, 0.03, low=0.2, aim=0.23)], {}, STEP)
    assert [dealt.supply.position for dealt in plan.dealt if dealt is not None] == [1, 2, 0]
    assert plan.set_aside == {0}
    assert plan.moves == (2, 1, 0)
    assert plan.left == {}


def test_what_is_bought_is_a_whole_number_of_steps_that_is_sold() -> None:
    (one,) = deal_lash([valve(2.60, 0.40)], {}, STEP).dealt
    assert one is not None
    assert in_mm(one.shim) == 2.80
    (fine,) = deal_lash([valve(2.60, 0.28)], {}, Sold(0.025 * MM)).dealt
    assert fine is not None
    # 2.675 is nearer to 2.68 than 2.70
    assert (in_mm(fine.shim), in_mm(fine.lash_after)) == (2.675, 0.205)
    (thick,) = deal_lash([valve(2.60, 0.60)], {}, Sold(0.05 * MM, 2.0 * MM, 2.8 * MM)).dealt
    assert thick is not None
    assert (in_mm(thick.shim), in_mm(thick.lash_after)) == (2.80, 0.40)


def test_the_one_size_that_is_sold_is_bought_and_none_is_thinner_than_a_step() -> None:
    (only,) = deal_lash([valve(2.60, 0.30)], {}, Sold(0.05 * MM, 2.70 * MM, 2.70 * MM)).dealt
    assert only is not None
    assert (only.supply, in_mm(only.shim)) == (Supply("bought"), 2.70)
    # it wants 0.04 mm, and a step is 0.05
    (thin,) = deal_lash([valve(0.12, 0.12)], {}, STEP).dealt
    assert thin is not None
    assert (thin.supply, in_mm(thin.shim), in_mm(thin.lash_after)) == (Supply("bought"), 0.05, 0.19)


def test_nothing_is_bought_where_nothing_is_sold() -> None:
    (one,) = deal_lash([valve(2.60, 0.60)], {2.70 * MM: 1}, Sold(0.05 * MM, 2.81 * MM, 2.84 * MM)).dealt
    assert one is not None
    assert (one.supply, in_mm(one.lash_after)) == (Supply("drawer"), 0.5)


def test_buying_one_is_better_than_one_out_of_range_and_worse_than_none() -> None:
    first, second = valve(2.60, 0.30), valve(2.60, 0.30)
    plan = deal_lash([first, second], {2.70 * MM: 1}, STEP)
    assert sorted(one.supply.kind for one in plan.dealt if one is not None) == ["bought", "drawer"]
    enough = deal_lash([first, second], {2.70 * MM: 1, 2.66 * MM: 1}, STEP)
    assert [one.supply.kind for one in enough.dealt if one is not None] == ["drawer", "drawer"]


NOTHING = Sold(0.05 * MM, 2.81 * MM, 2.84 * MM)


def test_one_far_out_of_range_is_better_than_two_that_are_nearly_in() -> None:
    # by hand: 2.70 brings the first to 0.21 and the second, under a finger of 0.5, to 0.23; 2.68 to 0.23 and 0.27.
    # In 0.20 to 0.21 either the second alone misses, by 0.06, or both do, by 0.02 each
    first, second = valve(2.60, 0.31, 0.20, 0.21, 0.205), valve(2.60, 0.43, 0.20, 0.21, 0.205, 0.5)
    plan = deal_lash([first, second], {2.70 * MM: 1, 2.68 * MM: 1}, NOTHING)
    assert [in_mm(one.lash_after) for one in plan.dealt if one is not None] == [0.21, 0.27]


def test_the_tight_end_of_a_range_is_in_it_and_too_wide_is_better_than_too_tight() -> None:
    wanting = valve(2.60, 0.30, 0.20, 0.21, 0.205)
    (at_the_end,) = deal_lash([wanting], {2.70 * MM: 1, 2.68 * MM: 1}, NOTHING).dealt
    assert at_the_end is not None
    assert in_mm(at_the_end.lash_after) == 0.20
    # 0.19 is nearer to the range than 0.25, and too tight
    (wide,) = deal_lash([wanting], {2.71 * MM: 1, 2.65 * MM: 1}, NOTHING).dealt
    assert wide is not None
    assert in_mm(wide.lash_after) == 0.25


sizes = st.integers(0, 8).map(lambda at: round(2.5 + 0.025 * at, 3))
# from the thinnest feeler on
lashes = st.integers(3, 40).map(lambda at: at / 100)
ranges = st.sampled_from([(0.15, 0.25, 0.20), (0.25, 0.35, 0.32), (0.20, 0.21, 0.205)])
valves = st.builds(
    lambda shim, lash, wanted, ratio: valve(shim, lash, wanted[0], wanted[1], wanted[2], ratio),
    sizes, lashes, ranges, st.sampled_from([1.0, 1.0, 1.5]),
)  # fmt: skip
drawers = st.dictionaries(sizes.map(lambda size: size * MM), st.integers(1, 2), max_size=3)
solds = st.sampled_from([STEP, Sold(0.05 * MM, 2.55 * MM, 2.60 * MM), Sold(0.05 * MM, 9.0 * MM, 8.0 * MM)])


def worth(readings: Sequence[LashReading], taken: Sequence[tuple[int, bool]]) -> tuple[int, ...]:
    """What a deal is judged by, in strict order, in nanometers: each valve's size and whether it is bought."""
    tight = outside = missed = off = moved = 0
    for one, (size, _) in zip(readings, taken, strict=True):
        shim, lash, low, high, aim = (round(each / 1e-9) for each in one[:5])
        after = round(lash - (size - shim) / one.ratio)
        miss = max(low - after, after - high, 0)
        tight += after < low
        outside += miss > 0
        missed += miss
        off += abs(after - aim)
        moved += size != shim
    return tight, outside, missed, sum(bought for _, bought in taken), off, moved


def all_deals(readings: Sequence[LashReading], drawer: Mapping[float, int], sold: Sold) -> Iterator[tuple[int, ...]]:
    """The worth of every deal there is: any shim of the head and the drawer, or any size sold, at any valve."""
    here = Counter({round(size / 1e-9): count for size, count in drawer.items()})
    here.update(round(one.shim / 1e-9) for one in readings)
    steps = range(1, 80)
    to_buy = [50_000 * at for at in steps if sold.thinnest - 1e-12 <= 50e-6 * at <= sold.thickest + 1e-12]
    options = [(size, False) for size in here] + [(size, True) for size in to_buy if 2_000_000 < size < 3_500_000]
    for taken in product(options, repeat=len(readings)):
        used = Counter(size for size, bought in taken if not bought)
        if all(count <= here[size] for size, count in used.items()):
            yield worth(readings, taken)


def taken_of(plan: LashDealt) -> list[tuple[int, bool]]:
    return [(round(one.shim / 1e-9), one.supply.kind == "bought") for one in plan.dealt if one is not None]


@settings(max_examples=40)
@given(readings=st.lists(valves, min_size=1, max_size=3), drawer=drawers, sold=solds)
def test_no_deal_of_all_there_are_is_better(readings: list[LashReading], drawer: dict[float, int], sold: Sold) -> None:
    plan = deal_lash(readings, drawer, sold)
    assert worth(readings, taken_of(plan)) == min(all_deals(readings, drawer, sold))


heads = st.lists(valves, min_size=1, max_size=12)


@given(readings=heads, drawer=drawers)
def test_every_shim_dealt_is_there_once_and_what_is_left_over_is_the_rest(
    readings: list[LashReading], drawer: dict[float, int]
) -> None:
    plan = deal_lash(readings, drawer, STEP)
    dealt = [one for one in plan.dealt if one is not None]
    here = Counter({round(size / 1e-9): count for size, count in drawer.items()})
    here.update(round(one.shim / 1e-9) for one in readings)
    used = Counter(round(one.shim / 1e-9) for one in dealt if one.supply.kind != "bought")
    used.update({round(size / 1e-9): count for size, count in plan.left.items()})
    assert used == here
    givers = [one.supply.position for one in dealt if one.supply.position is not None]
    assert len(set(givers)) == len(givers)
    for one, reading in zip(dealt, readings, strict=True):
        giver = one.supply.position
        if giver is not None:
            assert one.shim == pytest.approx(readings[giver].shim)
        if one.supply.kind == "stays":
            assert one.shim == reading.shim
            assert one.lash_after == reading.lash


@given(readings=heads, drawer=drawers)
def test_moves_made_in_their_order_never_want_a_shim_that_is_not_free(
    readings: list[LashReading], drawer: dict[float, int]
) -> None:
    plan = deal_lash(readings, drawer, STEP)
    left = Counter({round(size / 1e-9): count for size, count in drawer.items()})
    out = set(plan.set_aside)
    bought_began = False
    for place in plan.moves:
        one = plan.dealt[place]
        assert one is not None
        kind, giver = one.supply
        bought_began |= kind == "bought"
        if kind == "drawer":
            assert not bought_began
            left[round(one.shim / 1e-9)] -= 1
        elif kind == "position":
            assert giver in out
            out.discard(giver)
        out.add(place)
    assert min(left.values(), default=0) >= 0
    moved = {place for place, one in enumerate(plan.dealt) if one is not None and one.supply.kind != "stays"}
    assert sorted(plan.moves) == sorted(moved)
    assert plan.set_aside <= moved


@given(readings=heads, drawer=drawers, order=st.randoms(use_true_random=False))
def test_ties_are_settled_in_the_order_that_is_given_whatever_the_places(
    readings: list[LashReading], drawer: dict[float, int], order: Random
) -> None:
    places = [*range(len(readings))]
    order.shuffle(places)
    straight = deal_lash(readings, drawer, STEP)
    mixed = deal_lash(
        [readings[place] for place in places], drawer, STEP, [places.index(at) for at in range(len(places))]
    )
    assert [mixed.dealt[places.index(at)] is None for at in range(len(places))] == [
        one is None for one in straight.dealt
    ]
    for at, one in enumerate(straight.dealt):
        other = mixed.dealt[places.index(at)]
        assert one is not None
        assert other is not None
        assert (one.shim, one.supply.kind) == (other.shim, other.supply.kind)
    assert [places[at] for at in mixed.moves] == [*straight.moves]


@given(readings=heads, drawer=drawers, more=sizes)
def test_one_more_in_the_drawer_never_makes_a_deal_worse(
    readings: list[LashReading], drawer: dict[float, int], more: float
) -> None:
    richer = drawer | {more * MM: drawer.get(more * MM, 0) + 1}
    before, after = deal_lash(readings, drawer, STEP), deal_lash(readings, richer, STEP)
    assert worth(readings, taken_of(after)) <= worth(readings, taken_of(before))


@given(readings=heads, drawer=drawers, order=st.randoms(use_true_random=False))
def test_the_order_of_valves_changes_no_worth(
    readings: list[LashReading], drawer: dict[float, int], order: Random
) -> None:
    mixed = [*readings]
    order.shuffle(mixed)
    straight, other = deal_lash(readings, drawer, STEP), deal_lash(mixed, drawer, STEP)
    assert worth(readings, taken_of(straight)) == worth(mixed, taken_of(other))
