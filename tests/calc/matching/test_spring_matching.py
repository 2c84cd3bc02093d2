from __future__ import annotations

import json
import math
from itertools import combinations_with_replacement, permutations, product
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.calc.matching.pockets import INCH, NAN, POUND, pocket, shims, spring, straight

from headbench.calc.heights.installed_height import ShimsAtHand
from headbench.calc.matching.choices import Goal, Pocket
from headbench.calc.matching.spring_matching import STEP, Matched, match_springs
from headbench.calc.springs.spring_set import SpringSet

DEMO = json.loads((Path(__file__).parents[3] / "shared" / "demo" / "two-heads.json").read_text())

bares = st.integers(17400, 18600).map(lambda tenths: tenths / 10_000)
seats = st.integers(1120, 1240).map(lambda tenths: tenths / 10)
stocks = st.lists(st.integers(0, 3), min_size=2, max_size=2)


# the demo's own springs: worst and sum as an independent program found them, loads by its own monotone cubics


def demo_springs() -> list[SpringSet]:
    return [
        spring(
            [one["load"] for one in read["load_curve"]["readings"]],
            read.get("coil_bind_height", NAN),
        )
        for read in DEMO["springs"]
        if "load_curve" in read
    ]


def demo_pockets(which: int) -> tuple[list[Pocket], list[SpringSet]]:
    names = [one["id"] for one in DEMO["springs"] if "load_curve" in one]
    lost = frozenset({names.index("C14")})
    read = [one for one in DEMO["positions"] if "measured_height" in one][:which]
    lifts = {"intake": 0.365 * 1.5, "exhaust": 0.545}
    return [
        pocket(
            one["measured_height"] - 0.062,
            names.index(one["spring"]) if one["spring"] in names else -1,
            group=["intake", "exhaust"].index(one["valve"]),
        )._replace(valve_lift=lifts[one["valve"]] * INCH, barred=lost)
        for one in read
    ], demo_springs()


DEMO_SHIMS = shims([0.015, 0.030, 0.060], stock=[20, 12, 4])


def test_the_demo_s_springs_come_within_2_40_lbf_of_their_target_where_the_stack_allowed_ends() -> None:
    pockets, springs = demo_pockets(13)
    found = match_springs(pockets, springs, DEMO_SHIMS)
    assert found.worst / POUND == pytest.approx(2.40, abs=0.005)
    assert found.total / POUND == pytest.approx(6.2, abs=0.05)
    assert found.worst_at == 6
    assert found.proven
    assert found.left_empty == []


def test_where_its_own_spring_lies_the_same_pocket_is_5_39_lbf_off() -> None:
    pockets, springs = demo_pockets(13)
    # C06 has no coil-bind height, but its own place in the list
    others = frozenset(range(len(springs))) - {6}
    (own,) = match_springs([pockets[6]._replace(barred=others)], springs, DEMO_SHIMS).each
    assert own is not None
    assert own.deviation / POUND == pytest.approx(5.39, abs=0.005)


# brute force: every spring in every pocket on every stack, in plain arithmetic


def by_brute_force(
    pockets: list[Pocket], springs: list[SpringSet], at_hand: ShimsAtHand, goal: Goal
) -> tuple[int, int, int, int, int]:
    sizes = at_hand.thicknesses
    stacks = [
        stack
        for count in range(at_hand.shim_count_maximum + 1)
        for stack in combinations_with_replacement(range(len(sizes)), count)
        if math.fsum(sizes[one] for one in stack) <= at_hand.stack_maximum + 1e-10
    ]

    def cost(own: Pocket, place: int, stack: tuple[int, ...]) -> int | None:
        height = own.bare_height - math.fsum(sizes[one] for one in stack)
        opened = height - own.valve_lift
        bind = springs[place].each[0].coil_bind_height
        if abs(height - own.target_height) > own.height_window + 1e-12:
            return None
        if opened - bind < own.coil_bind_clearance_minimum - 1e-12:
            return None
        closed, full = springs[place].load_at(height), springs[place].load_at(opened)
        if (own.open_low >= 0.0 and full < own.open_low) or (own.open_high >= 0.0 and full > own.open_high):
            return None
        seat, at_lift = abs(closed - own.seat_load), abs(full - own.open_load)
        off = {"seat_load": seat, "open_load": at_lift, "both": max(seat, at_lift * own.seat_load / own.open_load)}[
            goal
        ]
        return round(off / STEP)

    each = [
        [(None, (), 0)]
        + [
            (place, stack, off)
            for place in range(len(springs))
            for stack in stacks
            if (off := cost(own, place, stack)) is not None
        ]
        for own in pockets
    ]
    best: tuple[int, int, int, int, int] | None = None
    for taken in product(*each):
        used = [place for place, *_ in taken if place is not None]
        if len(set(used)) < len(used):
            continue
        laid = [one for _, stack, _ in taken for one in stack]
        if at_hand.in_stock is not None and any(
            there is not None and laid.count(size) > there for size, there in enumerate(at_hand.in_stock)
        ):
            continue
        offs = [off for place, _, off in taken if place is not None]
        moved = sum(place != own.current for own, (place, *_) in zip(pockets, taken, strict=True) if place is not None)
        worth = (len(pockets) - len(used), max(offs, default=0), sum(offs), len(laid), moved)
        best = worth if best is None else min(best, worth)
    assert best is not None
    return best


def worth(found: Matched, pockets: list[Pocket]) -> tuple[int, int, int, int, int]:
    there = [(own, one) for own, one in zip(pockets, found.each, strict=True) if one is not None]
    offs = [round(one.deviation / STEP) for _, one in there]
    return (
        len(found.left_empty),
        max(offs, default=0),
        sum(offs),
        sum(len(one.shims) for _, one in there),
        sum(one.spring != own.current for own, one in there),
    )


@settings(max_examples=40)
@given(
    st.lists(bares, min_size=1, max_size=3),
    st.lists(seats, min_size=1, max_size=3),
    st.none() | stocks,
    st.sampled_from(["seat_load", "open_load", "both"]),
)
def test_nothing_better_than_what_is_found_exists(
    heights: list[float], loads: list[float], stock: list[int] | None, goal: Goal
) -> None:
    springs = [straight(load, 270.0 + 10 * place, 1.16 + 0.01 * place) for place, load in enumerate(loads)]
    pockets = [pocket(bare, place)._replace(open_load=258.0 * POUND) for place, bare in enumerate(heights)]
    at_hand = shims([0.015, 0.040], 0.060, stock, 2)
    found = match_springs(pockets, springs, at_hand, goal)
    assert found.proven
    assert worth(found, pockets) == by_brute_force(pockets, springs, at_hand, goal)


def test_six_pockets_and_six_springs_that_share_few_shims_are_matched_as_well_as_can_be() -> None:
    heights = (1.763, 1.771, 1.780, 1.788, 1.795, 1.805)
    springs = [straight(load) for load in (114.2, 116.0, 118.1, 119.9, 121.0, 123.3)]
    pockets = [pocket(bare, place, window=0.020) for place, bare in enumerate(heights)]
    at_hand = shims([0.015, 0.030], 0.045, [3, 3], 2)
    found = match_springs(pockets, springs, at_hand)
    best = min(
        (max(offs), sum(offs), laid)
        for order in permutations(range(6))
        for offs, laid in [_dealt(order, heights, springs)]
    )
    assert found.proven
    assert worth(found, pockets)[:4] == (0, *best)


def _dealt(order: tuple[int, ...], heights: tuple[float, ...], springs: list[SpringSet]) -> tuple[list[int], int]:
    """The best that one order of springs comes to, its stacks tried one by one with three shims of each size."""
    stacks = {(0, 0): 0.0, (1, 0): 0.015, (0, 1): 0.030, (2, 0): 0.030, (1, 1): 0.045}
    each = [
        [
            (round(abs(springs[place].load_at((bare - thick) * INCH) - 118.0 * POUND) / STEP), *counts)
            for counts, thick in stacks.items()
            if abs(bare - thick - 1.750) <= 0.020 + 1e-12
        ]
        for bare, place in zip(heights, order, strict=True)
    ]
    best = ([10**6] * 6, 0)
    for taken in product(*each):
        if sum(one[1] for one in taken) <= 3 and sum(one[2] for one in taken) <= 3:
            offs, laid = [one[0] for one in taken], sum(one[1] + one[2] for one in taken)
            if (max(offs), sum(offs), laid) < (max(best[0]), sum(best[0]), best[1]):
                best = (offs, laid)
    return best


# laws


def outcome(found: Matched, pockets: list[Pocket]) -> tuple[int, int]:
    """How many are empty, and the worst: what must never get worse."""
    return worth(found, pockets)[:2]


some_springs = st.lists(seats, min_size=1, max_size=6)
some_pockets = st.lists(bares, min_size=1, max_size=6)


@settings(max_examples=40)
@given(some_pockets, some_springs, st.lists(st.integers(0, 4), min_size=3, max_size=3), st.integers(0, 3))
def test_relaxing_a_demand_or_adding_a_spring_never_makes_the_worst_worse(
    heights: list[float], loads: list[float], stock: list[int], which: int
) -> None:
    sizes = (0.015, 0.030, 0.060)
    springs, pockets = [straight(load) for load in loads], [pocket(bare) for bare in heights]
    before = match_springs(pockets, springs, shims(sizes, 0.060, stock))
    relaxed = [
        (pockets, springs, shims(sizes, 0.060, [one + 1 for one in stock])),
        (pockets, springs, shims(sizes, 0.090, stock)),
        ([one._replace(height_window=0.045 * INCH) for one in pockets], springs, shims(sizes, 0.060, stock)),
        (pockets, [*springs, straight(118.0)], shims(sizes, 0.060, stock)),
    ][which]
    after = match_springs(*relaxed)
    assert before.proven
    assert after.proven
    assert outcome(after, pockets) <= outcome(before, pockets)


@settings(max_examples=40)
@given(some_pockets, some_springs, st.randoms())
def test_the_order_in_which_springs_and_pockets_are_named_changes_nothing(
    heights: list[float], loads: list[float], random: Random
) -> None:
    at_hand = shims((0.015, 0.030), 0.060, [3, 3])
    springs, pockets = [straight(load) for load in loads], [pocket(bare) for bare in heights]
    found = match_springs(pockets, springs, at_hand)
    places = list(range(len(pockets)))
    random.shuffle(places)
    random.shuffle(springs)
    mixed = [pockets[place] for place in places]
    other = match_springs(mixed, springs, at_hand)
    assert worth(other, mixed)[:4] == worth(found, pockets)[:4]


@settings(max_examples=40)
@given(some_pockets, some_springs)
def test_no_spring_is_used_twice_and_none_stands_where_it_may_not(heights: list[float], loads: list[float]) -> None:
    springs = [straight(load) for load in loads]
    pockets = [pocket(bare)._replace(barred=frozenset({place % len(springs)})) for place, bare in enumerate(heights)]
    at_hand = shims((0.015, 0.030, 0.060), 0.060, [4, 4, 2])
    found = match_springs(pockets, springs, at_hand)
    there = [(own, one) for own, one in zip(pockets, found.each, strict=True) if one is not None]
    assert len({one.spring for _, one in there}) == len(there)
    assert all(used <= held for used, held in zip(found.used, (4, 4, 2), strict=True))
    for own, one in there:
        assert one.spring not in own.barred
        assert abs(one.installed_height - own.target_height) <= own.height_window + 1e-9
        assert one.coil_bind_clearance >= own.coil_bind_clearance_minimum - 1e-9
        assert one.installed_height == pytest.approx(own.bare_height - one.shim_stack, abs=1e-12)


@settings(max_examples=40)
@given(some_pockets, some_springs)
def test_no_match_is_better_than_its_bound(heights: list[float], loads: list[float]) -> None:
    springs, pockets = [straight(load) for load in loads], [pocket(bare) for bare in heights]
    found = match_springs(pockets, springs, shims((0.015, 0.030), 0.060, [2, 1]))
    if not found.left_empty:
        assert found.bound <= found.worst + STEP


def test_where_every_spring_stays_only_shims_are_chosen() -> None:
    springs = [straight(load) for load in (116.0, 119.0, 121.0)]
    pockets = [
        pocket(bare, place)._replace(barred=frozenset({0, 1, 2}) - {place})
        for place, bare in enumerate((1.780, 1.795, 1.760))
    ]
    found = match_springs(pockets, springs, shims((0.015, 0.030), 0.060))
    # 280 lbf/in: 0.030 leaves 1.750 and 116.0; 0.045 1.750 and 119.0; none 1.760 and 118.2, 0.015 1.745 and 122.4
    assert [one.shims for one in found.each if one is not None] == [(1,), (1, 0), ()]


def test_deviations_within_what_the_tester_repeats_count_as_none_so_that_no_spring_moves_for_them() -> None:
    springs = [straight(118.4), straight(118.0)]
    pockets = [pocket(1.750, 0), pocket(1.751, 1)]
    # where they lie they are 0.4 and 0.3 off, changed over 0.0 and 0.1
    for repeats, moved in ((0.0, True), (0.5 * POUND, True), (0.05 * POUND, True)):
        found = match_springs(pockets, springs, shims((0.015,)), "seat_load", repeats)
        assert [one.spring for one in found.each if one is not None] == ([1, 0] if moved else [0, 1])
