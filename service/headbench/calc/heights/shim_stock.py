"""Shim stock: limited shims dealt out over all positions at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from time import monotonic
from typing import Final

import numpy as np
import scipy

from headbench.calc import BoolArray, IntArray
from headbench.calc.heights.shims import Ranked, Stacks, fits_stock

SECONDS: Final = 2.0
"""How long the search for the best sharing may take; after that the best found counts [s]."""

MOST_CHOICES: Final = 20_000
"""How many pairs of position and stack the search may weigh: solving more takes far longer than `SECONDS`."""

_MICROMETER: Final = 1000.0
"""Nanometers in the unit that the program's deviations have."""


@dataclass(frozen=True, slots=True)
class Dealt:
    """The stacks dealt to all positions.

    choice : array (P,), each position's stack [-]
    proven : bool, False where time ran out, or stacks were left out, before the best sharing was proven [-]
    """

    choice: IntArray
    proven: bool


def deal(
    ranked: Ranked,
    good: BoolArray,
    stacks: Stacks,
    in_stock: Sequence[int | None],
    seconds: float = SECONDS,
) -> Dealt:
    """Share a limited stock of shims among all positions.

    Parameters
    ----------
    ranked : Ranked
        How well every stack suits every position [-]
    good : array (P, S)
        Whether a position with that stack is inside its height or load and passes what breaks parts [-]
    stacks : Stacks
        What may be laid [-]
    in_stock : sequence (T,) of int or None
        How many of each size there are; None without end [-]
    seconds : float
        How long the search may take [s]

    Returns
    -------
    Dealt

    Notes
    -----
    In strict order: the most positions that are good, the least sum of deviations (those that count as
    equal to the nearest are none), the fewest shims, the least sum of what is missed, the thickest
    stacks. One integer program per step, what was reached before held as a constraint; solved by
    HiGHS (Q. Huangfu and J. A. J. Hall, Parallelizing the dual revised simplex method, Mathematical
    Programming Computation 10, 2018). The order in which positions are listed does not matter.

    >>> from headbench.calc.heights.shims import rank_stacks, stacks_of
    >>> stacks = stacks_of(np.array([0.4e-3, 0.5e-3]), 0.5e-3)
    >>> ranked = rank_stacks(np.array([0.5e-3, 0.45e-3]), stacks)
    >>> dealt = deal(ranked, ranked.miss < 100_000, stacks, [1, 1])
    >>> [stacks.shims[one] for one in dealt.choice.tolist()], dealt.proven
    ([(1,), (0,)], True)
    """
    end = monotonic() + seconds
    weighed, proven = _worth_weighing(ranked, good, stacks, in_stock)
    place, stack = np.nonzero(weighed)
    columns = np.arange(len(place))
    costs = (
        (~good[place, stack]).astype(np.float64),
        ranked.excess[place, stack] / _MICROMETER,
        stacks.size[stack].astype(np.float64),
        ranked.miss[place, stack] / _MICROMETER,
        (stacks.totals.max() - stacks.totals[stack]) / _MICROMETER,
    )
    limited = [size for size, count in enumerate(in_stock) if count is not None]
    held: list[scipy.optimize.LinearConstraint] = [
        scipy.optimize.LinearConstraint(scipy.sparse.csr_matrix((np.ones(len(place)), (place, columns))), 1.0, 1.0),
        scipy.optimize.LinearConstraint(
            scipy.sparse.csr_matrix(stacks.counts[stack][:, limited].T.astype(np.float64)),
            -np.inf,
            np.array([float(in_stock[size] or 0) for size in limited]),
        ),
    ]
    best = in_turn(ranked, good, stacks, in_stock)
    for cost in costs:
        left = end - monotonic()
        if left <= 0.0:
            return Dealt(choice=best, proven=False)
        found = scipy.optimize.milp(
            cost,
            integrality=np.ones(len(place), dtype=np.int64),
            bounds=scipy.optimize.Bounds(0.0, 1.0),
            constraints=held,
            options={"time_limit": left, "mip_rel_gap": 0.0},
        )
        if found.x is not None:
            taken = found.x > 0.5  # noqa: PLR2004 - each is 0 or 1 but for rounding
            # what time cut short may be worse than what was dealt in turn
            best = min(best, stack[taken], key=lambda choice: _worth(choice, ranked, good, stacks))
        if found.status != 0:
            return Dealt(choice=best, proven=False)
        # half a unit of the least difference there can be: one position, one shim, one nanometer
        reached = float(cost[taken].sum())
        held.append(
            scipy.optimize.LinearConstraint(scipy.sparse.csr_matrix(cost), -np.inf, reached + 0.5 / _MICROMETER)
        )
    return Dealt(choice=best, proven=proven)


def _worth(choice: IntArray, ranked: Ranked, good: BoolArray, stacks: Stacks) -> tuple[int, ...]:
    """What a sharing is judged by, in strict order; less is better."""
    rows = np.arange(len(choice))
    return (
        int(np.count_nonzero(~good[rows, choice])),
        int(ranked.excess[rows, choice].sum()),
        int(stacks.size[choice].sum()),
        int(ranked.miss[rows, choice].sum()),
        -int(stacks.totals[choice].sum()),
    )


def _worth_weighing(
    ranked: Ranked, good: BoolArray, stacks: Stacks, in_stock: Sequence[int | None]
) -> tuple[BoolArray, bool]:
    """Which stacks to weigh at which position (P, S), and whether those are all that the stock can make."""
    there = np.array([np.inf if count is None else count for count in in_stock])
    can_be_laid = (stacks.counts <= there).all(axis=1)
    places, kinds = good.shape
    room = max(MOST_CHOICES // places, 1)
    if np.count_nonzero(can_be_laid) <= room:
        return np.broadcast_to(can_be_laid, good.shape), True
    rank = np.empty((places, kinds), dtype=np.int64)
    np.put_along_axis(rank, ranked.order, np.broadcast_to(np.arange(kinds), good.shape), axis=1)
    # what is good comes first, what the stock can't make last
    rank += kinds * (~good).astype(np.int64) + 2 * kinds * (~can_be_laid).astype(np.int64)
    weighed: BoolArray = rank < np.partition(rank, room, axis=1)[:, [room]]
    # no shim at all is always left
    weighed[:, 0] = True
    return weighed & can_be_laid, False


def in_turn(ranked: Ranked, good: BoolArray, stacks: Stacks, in_stock: Sequence[int | None]) -> IntArray:
    """The stacks that positions take one after another, each the best that is left: where a search may start.

    Parameters
    ----------
    ranked : Ranked
        How well every stack suits every position [-]
    good : array (P, S)
        Whether a position with that stack is good, as for deal [-]
    stacks : Stacks
        What may be laid [-]
    in_stock : sequence (T,) of int or None
        How many of each size there are; None without end [-]

    Returns
    -------
    array (P,)
        Each position's stack; no shim at all is always left [-]

    >>> from headbench.calc.heights.shims import rank_stacks, stacks_of
    >>> stacks = stacks_of(np.array([0.4e-3, 0.5e-3]), 0.5e-3)
    >>> ranked = rank_stacks(np.array([0.45e-3, 0.5e-3]), stacks)
    >>> [stacks.shims[one] for one in in_turn(ranked, ranked.miss < 100_000, stacks, [1, 1]).tolist()]
    [(1,), (0,)]
    """
    left = np.array([np.iinfo(np.int64).max if count is None else count for count in in_stock], dtype=np.int64)
    choice = np.zeros(len(good), dtype=np.int64)
    for place, order in enumerate(ranked.order):
        can_be_laid = (stacks.counts[order] <= left).all(axis=1)
        wanted = can_be_laid & good[place, order]
        choice[place] = order[(wanted if wanted.any() else can_be_laid).argmax()]
        left -= stacks.counts[choice[place]]
    return choice


def share(
    ranked: Ranked, good: BoolArray, choice: IntArray, stacks: Stacks, in_stock: Sequence[int | None] | None
) -> Dealt:
    """The stacks chosen, where the stock holds them all; else the best sharing of what there is.

    Parameters
    ----------
    ranked : Ranked
        How well every stack suits every position [-]
    good : array (P, S)
        Whether a position with that stack is good, as for deal [-]
    choice : array (P,)
        The stacks that would be taken from a stock without end [-]
    stacks : Stacks
        What may be laid [-]
    in_stock : sequence (T,) of int or None, or None
        How many of each size there are; None without end [-]

    Returns
    -------
    Dealt

    >>> from headbench.calc.heights.shims import rank_stacks, stacks_of
    >>> stacks = stacks_of(np.array([0.5e-3]), 0.5e-3)
    >>> ranked = rank_stacks(np.array([0.5e-3, 0.5e-3]), stacks)
    >>> share(ranked, ranked.miss < 100_000, np.array([1, 1]), stacks, [1]).choice.tolist()
    [1, 0]
    """
    if in_stock is None or fits_stock(choice, stacks, in_stock):
        return Dealt(choice=choice, proven=True)
    return deal(ranked, good, stacks, in_stock)
