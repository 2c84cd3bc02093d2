"""Shim stock: limited shims dealt out over all positions at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from time import monotonic
from typing import Final

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_matrix

from headbench.calc import BoolArray, IntArray
from headbench.calc.shims import Ranked, Stacks, fits_stock

SECONDS: Final = 2.0
"""How long the search for the best sharing may take; after that the best found counts [s]."""

_MICROMETER: Final = 1000.0
"""Nanometers in the unit that the program's deviations have."""


@dataclass(frozen=True, slots=True)
class Dealt:
    """The stacks dealt to all positions.

    choice : array (P,), each position's stack [-]
    proven : bool, False where time ran out before the best sharing was proven [-]
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

    >>> from headbench.calc.shims import rank_stacks, stacks_of
    >>> stacks = stacks_of(np.array([0.4e-3, 0.5e-3]), 0.5e-3)
    >>> ranked = rank_stacks(np.array([0.5e-3, 0.45e-3]), stacks)
    >>> dealt = deal(ranked, ranked.miss < 100_000, stacks, [1, 1])
    >>> [stacks.shims[one] for one in dealt.choice.tolist()], dealt.proven
    ([(1,), (0,)], True)
    """
    places, kinds = good.shape
    end = monotonic() + seconds
    costs = (
        (~good).astype(np.float64),
        ranked.excess / _MICROMETER,
        np.broadcast_to(stacks.size, good.shape).astype(np.float64),
        ranked.miss / _MICROMETER,
        np.broadcast_to(stacks.totals.max() - stacks.totals, good.shape) / _MICROMETER,
    )
    one_each = csr_matrix(
        (np.ones(places * kinds), (np.repeat(np.arange(places), kinds), np.arange(places * kinds))),
        shape=(places, places * kinds),
    )
    limited = [place for place, count in enumerate(in_stock) if count is not None]
    laid = csr_matrix(np.tile(stacks.counts[:, limited].T.astype(np.float64), (1, places)))
    held: list[LinearConstraint] = [
        LinearConstraint(one_each, 1.0, 1.0),
        LinearConstraint(laid, -np.inf, np.array([float(in_stock[place] or 0) for place in limited])),
    ]
    best, proven = in_turn(ranked, good, stacks, in_stock), True
    for cost in costs:
        flat = np.ascontiguousarray(cost, dtype=np.float64).ravel()
        found = milp(
            flat,
            integrality=np.ones(places * kinds),
            bounds=Bounds(0.0, 1.0),
            constraints=held,
            options={"time_limit": max(end - monotonic(), 0.01), "mip_rel_gap": 0.0},
        )
        if found.x is not None:
            best = np.asarray(found.x.reshape(places, kinds).argmax(axis=1), dtype=np.int64)
        if found.status != 0:
            proven = False
            break
        # half a unit of the least difference there can be: one position, one shim, one nanometer
        reached = float(cost[np.arange(places), best].sum())
        held.append(LinearConstraint(csr_matrix(flat), -np.inf, reached + 0.5 / _MICROMETER))
    return Dealt(choice=best, proven=proven)


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

    >>> from headbench.calc.shims import rank_stacks, stacks_of
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

    >>> from headbench.calc.shims import rank_stacks, stacks_of
    >>> stacks = stacks_of(np.array([0.5e-3]), 0.5e-3)
    >>> ranked = rank_stacks(np.array([0.5e-3, 0.5e-3]), stacks)
    >>> share(ranked, ranked.miss < 100_000, np.array([1, 1]), stacks, [1]).choice.tolist()
    [0, 1]
    """
    if in_stock is None or fits_stock(choice, stacks, in_stock):
        return Dealt(choice=choice, proven=True)
    return deal(ranked, good, stacks, in_stock)
