from __future__ import annotations

from itertools import product

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from headbench.calc.heights.shims import stacks_of
from headbench.calc.matching.assigning import assign
from headbench.calc.matching.limited import FEW
from headbench.calc.matching.pairing import NONE, Pairing, Ranks, shims_used

STACKS = stacks_of([0.4e-3, 0.7e-3], 1.1e-3)
"""None, 0.4, 0.7, twice 0.4, both."""


def pairing_of(off: list[int], pockets: int, springs: int) -> Pairing:
    """Every pocket, spring and stack, each so far off."""
    pocket, spring, stack = (
        one.ravel() for one in np.meshgrid(*map(np.arange, (pockets, springs, len(STACKS.totals))), indexing="ij")
    )
    each = np.resize(np.array(off), len(pocket))
    shims = np.array([len(one) for one in STACKS.shims])[stack]
    return Pairing(
        pocket, spring, stack, Ranks(each, each, shims, (pocket != spring).astype(np.int64)), pockets, springs
    )


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.integers(0, 9), min_size=7, max_size=31),
    st.integers(1, 2),
    st.integers(1, 2),
    st.tuples(st.integers(0, 2), st.integers(0, 2)),
)
def test_with_few_shims_nothing_better_exists(
    off: list[int], pockets: int, springs: int, stock: tuple[int, int]
) -> None:
    pairing = pairing_of(off, pockets, springs)
    found = assign(pairing, STACKS, stock, seconds=60.0)
    ranks = pairing.ranks

    def worth(taken: list[int]) -> tuple[int, int, int]:
        filled = [one for one in taken if one != NONE]
        return -len(filled), int(ranks.off[filled].max(initial=0)), int(ranks.after_worst[filled].sum())

    each = [[NONE, *np.flatnonzero(pairing.pocket == at).tolist()] for at in range(pockets)]
    best = min(
        worth(list(taken))
        for taken in product(*each)
        if all(used <= there for used, there in zip(shims_used(pairing, taken, STACKS), stock, strict=True))
        and len({pairing.spring[one] for one in taken if one != NONE}) == sum(one != NONE for one in taken)
    )
    assert found.proven
    assert worth(found.taken) == best


def test_where_there_is_very_much_to_choose_from_the_stock_is_kept_and_the_bound_told() -> None:
    numbers = np.random.default_rng(20260301).integers(0, 40, 20 * 22 * len(STACKS.totals)).tolist()
    pairing = pairing_of(numbers, 20, 22)
    assert len(pairing.pocket) > FEW
    found = assign(pairing, STACKS, [3, 2], seconds=20.0)
    assert all(used <= there for used, there in zip(shims_used(pairing, found.taken, STACKS), (3, 2), strict=True))
    assert sum(one != NONE for one in found.taken) == found.most == 20
    assert found.bound <= found.worst
    assert found.proven


def test_time_that_runs_out_leaves_something_that_can_be_laid_and_is_not_called_proven() -> None:
    numbers = np.random.default_rng(20260301).integers(0, 40, 20 * 22 * len(STACKS.totals)).tolist()
    pairing = pairing_of(numbers, 20, 22)
    found = assign(pairing, STACKS, [3, 2], seconds=0.0)
    assert not found.proven
    assert all(used <= there for used, there in zip(shims_used(pairing, found.taken, STACKS), (3, 2), strict=True))
