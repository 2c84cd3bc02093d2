from __future__ import annotations

from tests.calc.matching.test_pairing import COST, pairing_of

from headbench.calc.heights.shims import stacks_of
from headbench.calc.matching.assigning import assign

STACKS = stacks_of([0.5e-3], 0.5e-3)


def test_the_worst_of_the_published_example_is_2_and_none_is_less() -> None:
    # 2, 0 or 1 in the last column: by hand, springs 1, 0 and 2 have 1, 2 and 2
    found = assign(pairing_of(COST), STACKS, None)
    assert (found.worst, found.bound, found.most, found.proven) == (2, 2, 3, True)


def test_the_worst_counts_before_the_sum() -> None:
    # 0 + 9 is less than 5 + 5, but its worst is more
    table = COST[:2, :2].copy()
    table[:] = [[0, 5], [5, 9]]
    found = assign(pairing_of(table), STACKS, None)
    assert found.worst == 5


def test_a_stock_that_is_enough_changes_nothing() -> None:
    assert assign(pairing_of(COST), STACKS, [0]) == assign(pairing_of(COST), STACKS, None)
