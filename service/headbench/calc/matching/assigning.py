"""Assigning: each pocket one spring and one stack, each spring once, no more shims than there are."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from headbench.calc import BoolArray, IntArray
from headbench.calc.heights.shim_stock import SECONDS, holds
from headbench.calc.heights.shims import Stacks
from headbench.calc.matching.limited import assign_limited
from headbench.calc.matching.pairing import Assigned, Pairing, least_sum, most_filled, shims_used


def assign(
    pairing: Pairing, stacks: Stacks, in_stock: Sequence[int | None] | None, *, seconds: float = SECONDS
) -> Assigned:
    """Find the best choice for every pocket, all of them together.

    Parameters
    ----------
    pairing : Pairing
        What there is to choose from [-]
    stacks : Stacks
        What the stacks are made of [-]
    in_stock : sequence (T,) of int or None, or None
        How many shims of each size there are; None without end [-]
    seconds : float
        How long a search among limited shims may take [s]

    Returns
    -------
    Assigned

    Notes
    -----
    In strict order: the fewest pockets left empty, the least worst, the least sum, the fewest shims, the fewest
    springs moved. Without counting shims the worst is a bottleneck assignment (the least threshold under which the
    bipartite graph still has a matching as large; R. Burkard, M. Dell'Amico and S. Martello, Assignment Problems
    (2012), 6.2, from memory), and the rest a linear one whose costs keep the order. Where the stock does not hold that,
    integer programs follow, one a step, what was reached before held as a constraint (HiGHS: see
    `calc.heights.shim_stock.deal`); the answer without counting bounds theirs.

    >>> from headbench.calc.heights.shims import stacks_of
    >>> from headbench.calc.matching.pairing import Ranks
    >>> off = np.array([4, 1, 3, 2, 0, 5, 3, 2, 2])
    >>> pocket, spring = np.repeat([0, 1, 2], 3), np.tile([0, 1, 2], 3)
    >>> zero = np.zeros(9, dtype=np.int64)
    >>> pairing = Pairing(pocket, spring, zero, Ranks(off, off, zero, zero), 3, 3)
    >>> found = assign(pairing, stacks_of([0.5e-3], 1.5e-3), None)
    >>> spring[found.taken].tolist(), found.worst
    ([1, 0, 2], 2)
    """
    off, after = pairing.ranks.off, pairing.ranks.after_worst
    most = most_filled(pairing, np.ones(len(off), dtype=np.bool_))
    worst = _least(off, lambda kept: most_filled(pairing, kept) == most)
    taken = least_sum(pairing, off <= worst, after.astype(np.float64))
    if in_stock is None or holds(in_stock, shims_used(pairing, taken, stacks)):
        return Assigned(taken, worst, worst, most, proven=True)
    return assign_limited(pairing, stacks, in_stock, worst, most, seconds=seconds)


def _least(off: IntArray, does: Callable[[BoolArray], bool]) -> int:
    """The least threshold under which choices still do; 0 where there are none."""
    values = np.unique(off)
    low, high = 0, len(values) - 1
    while low < high:
        middle = (low + high) // 2
        if does(off <= values[middle]):
            high = middle
        else:
            low = middle + 1
    return int(values[low]) if len(values) else 0
