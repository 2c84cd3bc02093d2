from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise
from random import Random

import numpy as np
import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.stems.limits import SEAT_CUT_WEIGHT
from headbench.calc.stems.stem_height import Equalized, equalize, misread_stems, tip_left

INCH = 0.0254
TENTH = 0.0001 * INCH
WEIGHT = SEAT_CUT_WEIGHT.values[0]
NAN = math.nan

tenths = st.integers(0, 120)
stems = st.lists(st.tuples(st.integers(19000, 19200), tenths, tenths), min_size=1, max_size=8)


def in_tenths(values: Iterable[float]) -> list[float]:
    return [round(one / TENTH, 6) for one in values]


def plan_of(rows: list[tuple[int, int, int]], spread: int, target: float = NAN) -> Equalized:
    heights, tips, seats = ([one * TENTH for one in column] for column in zip(*rows, strict=True))
    return equalize(heights, tips, seats, spread * TENTH, target * TENTH)


def cost(plan: Equalized) -> float:
    return sum(in_tenths(plan.tip_grind)) + WEIGHT * sum(in_tenths(plan.sink))


# hand arithmetic: 0.000, 0.004, 0.010 over a common height, wanted exactly alike


def test_tips_that_may_come_off_are_ground_to_the_lowest() -> None:
    plan = plan_of([(19000, 100, 0), (19040, 100, 0), (19100, 100, 0)], 0)
    assert in_tenths(plan.tip_grind) == [0, 40, 100]
    assert in_tenths(plan.sink) == [0, 0, 0]
    assert in_tenths([plan.low, plan.high]) == [19000, 19000]


def test_where_tips_do_not_suffice_the_lowest_is_sunk() -> None:
    plan = plan_of([(19000, 60, 100), (19040, 60, 100), (19100, 60, 100)], 0)
    assert in_tenths(plan.tip_grind) == [0, 0, 60]
    assert in_tenths(plan.sink) == [40, 0, 0]
    assert in_tenths([plan.low]) == [19040]


def test_no_seat_is_touched_where_tips_suffice_however_much_more_they_lose() -> None:
    # one low, nine high: sinking one would cost 300, grinding nine costs 900
    plan = plan_of([(19000, 100, 100), *[(19100, 100, 100)] * 9], 0)
    assert in_tenths(plan.sink) == [0] * 10
    assert in_tenths(plan.tip_grind) == [0, *[100] * 9]


def test_stems_within_the_spread_are_left_alone_in_the_middle_of_their_window() -> None:
    plan = plan_of([(19000, 100, 100), (19060, 100, 100)], 100)
    assert in_tenths([*plan.tip_grind, *plan.sink]) == [0, 0, 0, 0]
    assert in_tenths([plan.low, plan.high]) == [18980, 19080]


def test_of_plans_that_cut_as_much_the_one_with_the_least_largest_cut_is_taken() -> None:
    # with three times as many to grind as to sink, a window may stand anywhere between; the widest stems are 90 apart
    # and 30 may stay: 60 to cut, 30 at either end
    plan = plan_of([(19000, 50, 100), (19090, 50, 100), (19090, 50, 100), (19090, 50, 100)], 30)
    assert in_tenths(plan.sink) == [30, 0, 0, 0]
    assert in_tenths(plan.tip_grind) == [0, 30, 30, 30]


def test_the_window_rests_on_a_stem_where_sinking_it_too_would_cost_more_than_it_saves() -> None:
    # from 19020 up the lowest alone is sunk, at 3 for each, and six tips are saved; above 19040 two are sunk, at 6, and
    # five tips saved
    plan = plan_of([(19000, 80, 100), (19040, 80, 100), *[(19100, 80, 100)] * 5], 0)
    assert in_tenths([plan.low, plan.high]) == [19040, 19040]
    assert in_tenths(plan.sink) == [40, 0, 0, 0, 0, 0, 0]
    assert in_tenths(plan.tip_grind) == [0, 0, 60, 60, 60, 60, 60]


def test_with_nothing_to_cut_the_window_opens_as_far_as_it_must() -> None:
    plan = plan_of([(19000, 0, 0), (19100, 0, 0)], 30)
    assert in_tenths([plan.low, plan.high, *plan.tip_grind, *plan.sink]) == [19000, 19100, 0, 0, 0, 0]


def test_a_height_wanted_is_the_middle_of_the_window() -> None:
    plan = plan_of([(19000, 100, 100), (19100, 100, 100)], 20, 19040)
    assert in_tenths([plan.low, plan.high]) == [19030, 19050]
    assert in_tenths(plan.tip_grind) == [0, 50]
    assert in_tenths(plan.sink) == [30, 0]


def test_around_a_height_wanted_each_stem_comes_as_near_as_it_can_whatever_the_others_do() -> None:
    plan = plan_of([(19000, 100, 0), (19100, 100, 0), (19200, 100, 0)], 20, 19060)
    assert in_tenths([plan.low, plan.high]) == [19050, 19070]
    assert in_tenths(plan.tip_grind) == [0, 30, 100]
    assert in_tenths(plan.sink) == [0, 0, 0]


def least(
    rows: list[tuple[int, int, int]], costs: list[float], spread: float | None, held: list[tuple[list[float], float]]
) -> float:
    """A linear program over x (P), y (P), the window's low end, its width and the largest cut."""
    count = len(rows)
    above, below = [], []
    for place, (height, _, _) in enumerate(rows):
        cut = np.zeros(2 * count + 3)
        cut[place], cut[count + place], cut[2 * count] = 1.0, -1.0, 1.0
        below.append((cut, float(height)))  # a <= h - x + y
        top = -cut
        top[2 * count + 1] = -1.0
        above.append((top, -float(height)))  # h - x + y <= a + s
        for own in (place, count + place):
            largest = np.zeros(2 * count + 3)
            largest[own], largest[2 * count + 2] = 1.0, -1.0
            above.append((largest, 0.0))
    limits = [*below, *above, *((np.array(one), most) for one, most in held)]
    found = scipy.optimize.linprog(
        costs,
        A_ub=np.array([one for one, _ in limits]),
        b_ub=[most for _, most in limits],
        bounds=[
            *((0, tip) for _, tip, _ in rows),
            *((0, seat) for _, _, seat in rows),
            (None, None),
            (0, spread),
            (0, None),
        ],
    )
    assert found.status in {0, 2}
    return math.inf if found.fun is None else float(found.fun)


@given(rows=stems, spread=st.integers(0, 100))
def test_a_linear_program_finds_the_same_spread_sum_and_largest_cut(
    rows: list[tuple[int, int, int]], spread: int
) -> None:
    plan = plan_of(rows, spread)
    count = len(rows)
    width = [*[0.0] * (2 * count + 1), 1.0, 0.0]
    weighed = [*[1.0] * count, *[WEIGHT] * count, 0.0, 0.0, 0.0]
    largest = [*[0.0] * (2 * count + 2), 1.0]
    untouched = [(height, tip, 0) for height, tip, _ in rows]
    goal = max(least(rows, width, None, []), float(spread))
    allowed = untouched if least(untouched, width, None, []) <= goal + 1e-6 else rows
    assert in_tenths([plan.high - plan.low]) == [pytest.approx(goal, abs=1e-4)]
    total = least(allowed, weighed, goal + 1e-6, [])
    assert cost(plan) == pytest.approx(total, abs=1e-3)
    most = least(allowed, largest, goal + 1e-6, [(weighed, total + 1e-6)])
    assert max(in_tenths([*plan.tip_grind, *plan.sink])) == pytest.approx(most, abs=1e-3)


@given(rows=stems, spread=st.integers(0, 100), target=st.none() | st.integers(18950, 19250))
def test_no_more_is_cut_than_may_be_and_every_stem_is_in_the_window_or_can_come_no_nearer(
    rows: list[tuple[int, int, int]], spread: int, target: int | None
) -> None:
    plan = plan_of(rows, spread, NAN if target is None else target)
    low, high = in_tenths([plan.low, plan.high])
    for (height, tip, seat), grind, sink in zip(rows, in_tenths(plan.tip_grind), in_tenths(plan.sink), strict=True):
        assert 0 <= grind <= tip
        assert 0 <= sink <= seat
        assert grind == 0 or sink == 0
        after = height - grind + sink
        assert low - 1e-6 <= after <= high + 1e-6 or target is not None
        assert after <= high + 1e-6 or grind == tip
        assert after >= low - 1e-6 or sink == seat


@given(rows=stems, spread=st.integers(0, 100), shift=st.integers(-500, 500))
def test_the_same_stems_over_another_datum_are_cut_the_same(
    rows: list[tuple[int, int, int]], spread: int, shift: int
) -> None:
    plan = plan_of(rows, spread)
    moved = plan_of([(height + shift, tip, seat) for height, tip, seat in rows], spread)
    assert (moved.tip_grind, moved.sink) == (plan.tip_grind, plan.sink)
    assert in_tenths([moved.low]) == [pytest.approx(plan.low / TENTH + shift)]


@given(rows=stems, spread=st.integers(0, 100), order=st.randoms(use_true_random=False))
def test_the_order_of_stems_changes_no_cut(rows: list[tuple[int, int, int]], spread: int, order: Random) -> None:
    mixed = rows.copy()
    order.shuffle(mixed)
    plan, other = plan_of(rows, spread), plan_of(mixed, spread)
    cuts = sorted(zip(rows, plan.tip_grind, plan.sink, strict=True))
    assert cuts == sorted(zip(mixed, other.tip_grind, other.sink, strict=True))


@given(rows=stems, spread=st.integers(0, 100), more=st.lists(st.tuples(tenths, tenths), min_size=8, max_size=8))
def test_more_room_never_makes_the_outcome_worse(
    rows: list[tuple[int, int, int]], spread: int, more: list[tuple[int, int]]
) -> None:
    roomier = [(h, tip + x, seat + y) for (h, tip, seat), (x, y) in zip(rows, more, strict=False)]
    outcomes = [
        (round((plan.high - plan.low) / TENTH, 3), any(plan.sink), cost(plan))
        for plan in (plan_of(roomier, spread), plan_of(rows, spread))
    ]
    assert all(better <= worse for better, worse in pairwise(outcomes))


@pytest.mark.parametrize(
    ("maximum", "ground", "groove", "minimum", "left"),
    [
        (100, 0, NAN, NAN, 100),
        (100, 30, NAN, NAN, 70),
        (100, NAN, NAN, NAN, 100),
        (100, 0, 640, 600, 40),
        (100, 0, 590, 600, 0),
        (100, 130, 900, 600, 0),
        (100, 0, NAN, 600, 100),
        (0, 20, NAN, NAN, 0),
    ],
)
def test_what_is_left_of_a_tip_is_the_case_or_the_groove_whichever_is_less(
    maximum: float, ground: float, groove: float, minimum: float, left: float
) -> None:
    assert tip_left(maximum, ground, groove, minimum) == left


# groove to tip is alike on valves of one set; 0.010 in from memory
@pytest.mark.parametrize(
    ("heights", "installed", "ground", "odd"),
    [
        ([1.900, 1.906, 1.910], [1.700, 1.706, 1.710], [0, 0, 0], []),
        ([1.900, 1.906, 1.930], [1.700, 1.706, 1.710], [0, 0, 0], [2]),
        ([1.900, 1.906, 1.910], [1.700, 1.706, 1.710], [0, 0, 0.02], [2]),
        ([1.900, 1.886, 1.910], [1.700, 1.706, 1.710], [0, 0.02, 0], []),
        ([1.900, 1.930], [1.700, 1.710], [0, 0], [0, 1]),
        ([1.900, 1.910], [1.700, 1.710], [0, 0], []),
        # on the limit is not past it
        ([1.900, 1.910], [1.700, 1.700], [0, 0], []),
        ([1.900, 1.930, 1.900], [1.700, 1.710, NAN], [0, 0, 0], [0, 1]),
        ([1.900, NAN], [1.7, 1.9], [0, 0], []),
        # on the limit is not past it
        ([1.900, 1.900, 1.910], [1.700, 1.700, 1.700], [0, 0, 0], []),
    ],
)
def test_a_stem_that_stands_otherwise_over_its_retainer_is_misread(
    heights: list[float], installed: list[float], ground: list[float], odd: list[int]
) -> None:
    columns = ([one * INCH for one in column] for column in (heights, installed, ground))
    assert misread_stems(*columns) == odd
