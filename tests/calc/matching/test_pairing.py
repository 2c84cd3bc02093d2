from __future__ import annotations

from itertools import permutations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from headbench.calc.matching.pairing import NONE, Pairing, Ranks, least_sum, most_filled

# SciPy documentation, scipy.optimize.linear_sum_assignment: its example
COST = np.array([[4, 1, 3], [2, 0, 5], [3, 2, 2]])


def pairing_of(table: np.ndarray) -> Pairing:
    """Every pocket with every spring; below 0 it may not stand there."""
    pocket, spring = np.nonzero(table >= 0)
    off, zero = table[pocket, spring].astype(np.int64), np.zeros(len(pocket), dtype=np.int64)
    return Pairing(pocket, spring, zero, Ranks(off, off, zero, zero), *table.shape)


def everything(pairing: Pairing) -> np.ndarray:
    return np.ones(len(pairing.pocket), dtype=np.bool_)


def test_the_published_assignment_is_found() -> None:
    pairing = pairing_of(COST)
    taken = least_sum(pairing, everything(pairing), pairing.ranks.off.astype(np.float64))
    assert pairing.spring[taken].tolist() == [1, 0, 2]
    assert pairing.ranks.off[taken].sum() == 5


tables = st.tuples(st.integers(1, 4), st.integers(1, 4)).flatmap(
    lambda shape: st.lists(st.integers(-3, 9), min_size=shape[0] * shape[1], max_size=shape[0] * shape[1]).map(
        lambda flat: np.array(flat).reshape(shape)
    )
)


@settings(max_examples=60)
@given(tables)
def test_the_most_pockets_are_filled_at_the_least_sum(table: np.ndarray) -> None:
    pairing = pairing_of(table)
    pockets, springs = table.shape
    best = max(
        (sum(one is not None for one in own), -sum(table[at, one] for at, one in enumerate(own) if one is not None))
        for order in permutations([*range(springs), *[None] * pockets], pockets)
        for own in [[one if one is not None and table[at, one] >= 0 else None for at, one in enumerate(order)]]
    )
    taken = least_sum(pairing, everything(pairing), pairing.ranks.off.astype(np.float64))
    filled = [one for one in taken if one != NONE]
    assert (len(filled), -int(pairing.ranks.off[filled].sum())) == best
    assert most_filled(pairing, everything(pairing)) == best[0]
