from __future__ import annotations

from itertools import combinations, permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.calc.matching.pockets import INCH, NAN, POUND, pocket, shims, straight

from headbench.calc.matching.alike import find_alike
from headbench.calc.matching.spring_matching import STEP, match_springs

bares = st.integers(17400, 18600).map(lambda tenths: tenths / 10_000)
seats = st.integers(1120, 1240).map(lambda tenths: tenths / 10)


def test_two_groups_that_share_springs_are_looked_at_together() -> None:
    # group 0 alone would take 10 and 11, group 1 alone 11 and 12; together one of them is 2 wide or more
    pocket, spring = np.repeat([0, 1, 2, 3], 4), np.tile([0, 1, 2, 3], 4)
    load = np.tile([10, 11, 12, 20], 4)
    alike = find_alike(pocket, spring, load, [0, 0, 1, 1])
    # the four springs are all used: 20 goes with its nearest
    assert (alike.spread, alike.proven) == (8, True)


def test_no_choice_at_all_is_no_window() -> None:
    none = np.zeros(0, dtype=np.int64)
    assert find_alike(none, none, none, [0, 1]).middle == {}


def test_without_a_load_wanted_the_loads_of_a_group_come_as_near_each_other_as_can_be() -> None:
    springs = [straight(load) for load in (110.0, 117.0, 118.0, 126.0)]
    pockets = [pocket(1.750, load=NAN), pocket(1.755, load=NAN)]
    found = match_springs(pockets, springs, shims((0.060,)))
    loads = [one.seat_load / POUND for one in found.each if one is not None]
    # 117.0 at 1.750, and 118.0 at 1.755 less 280 * 0.005
    assert loads == pytest.approx([117.0, 116.6])
    assert found.worst / POUND == pytest.approx(0.2, abs=0.01)
    assert found.proven


@settings(max_examples=40)
@given(st.lists(bares, min_size=2, max_size=4), st.lists(seats, min_size=2, max_size=4))
def test_no_smaller_spread_exists(heights: list[float], loads: list[float]) -> None:
    springs = [straight(load) for load in loads]
    pockets = [pocket(bare, load=NAN, window=0.050) for bare in heights]
    found = match_springs(pockets, springs, shims((0.015, 0.030), 0.045, count=2))
    there = [round(one.seat_load / STEP) for one in found.each if one is not None]
    stacks = (0.0, 0.015, 0.030, 0.045)
    at = {
        (own, place): [
            round(one.load_at((bare - stack) * INCH) / STEP)
            for stack in stacks
            if abs(bare - stack - 1.750) <= 0.050 + 1e-12
        ]
        for own, bare in enumerate(heights)
        for place, one in enumerate(springs)
    }
    sizes = range(min(len(heights), len(springs)), 0, -1)
    spreads: list[int] = []
    for size in sizes:
        for own in combinations(range(len(heights)), size):
            for places in permutations(range(len(springs)), size):
                each = [at[pair] for pair in zip(own, places, strict=True)]
                spreads += [max(one) - min(one) for one in product(*each)]
        if spreads:
            assert len(there) == size
            assert max(there) - min(there) == min(spreads)
            return
    assert not there
