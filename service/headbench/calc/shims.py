"""Shims: which sizes to lay under each spring so that it stands at its height."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations_with_replacement
from typing import Final

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.grid import GRID, on_grid

MOST_SIZES: Final = 12
"""Different thicknesses a job may name."""

MOST_SHIMS: Final = 6
"""Shims in one stack; keeps the search finite. Common practice lays one to three."""


@dataclass(frozen=True, slots=True)
class Layout:
    """The stack chosen for every position.

    shims : tuple of P tuples, each position's sizes as places in the list of thicknesses, thickest first [-]
    stack : array (P,), total thickness; NaN where what is needed is not known [m]
    ran_out : array (P,), True where the stock held no longer what would have been nearer [-]
    used : array (T,), how many shims of each thickness are laid [-]
    """

    shims: tuple[tuple[int, ...], ...]
    stack: FloatArray
    ran_out: BoolArray
    used: IntArray


@dataclass(frozen=True, slots=True)
class _Stacks:
    """Every stack that may be laid: the better of two with one total stands first."""

    totals: IntArray
    shims: tuple[tuple[int, ...], ...]
    counts: IntArray
    rank: IntArray


@lru_cache(maxsize=64)
def _stacks(thicknesses: tuple[int, ...], stack_maximum: int) -> _Stacks:
    thick_first = sorted(range(len(thicknesses)), key=lambda place: -thicknesses[place])
    found: list[tuple[int, int, tuple[int, ...], tuple[int, ...]]] = []
    for count in range(MOST_SHIMS + 1):
        for shims in combinations_with_replacement(thick_first, count):
            sizes = tuple(thicknesses[place] for place in shims)
            if sum(sizes) <= stack_maximum:
                # fewer shims are better, then the thicker ones first
                found.append((sum(sizes), count, tuple(-size for size in sizes), shims))
    found.sort()
    by_preference = sorted(range(len(found)), key=lambda place: found[place][1:3])
    rank = np.empty(len(found), dtype=np.int64)
    rank[by_preference] = np.arange(len(found))
    counts = np.zeros((len(found), len(thicknesses)), dtype=np.int64)
    for row, (_, _, _, shims) in enumerate(found):
        np.add.at(counts[row], list(shims), 1)
    return _Stacks(
        totals=np.array([total for total, *_ in found], dtype=np.int64),
        shims=tuple(shims for *_, shims in found),
        counts=counts,
        rank=rank,
    )


def _nearest(needed: IntArray, stacks: _Stacks) -> IntArray:
    """The stack nearest to what is needed, ties by rank; any stack of any stock."""
    totals, first = np.unique(stacks.totals, return_index=True)
    above = np.searchsorted(totals, needed).clip(0, len(totals) - 1)
    below = (above - 1).clip(0)
    over, under = np.abs(totals[above] - needed), np.abs(needed - totals[below])
    rank = stacks.rank[first]
    take_above = (over < under) | ((over == under) & (rank[above] < rank[below]))
    return first[np.where(take_above, above, below)]


def lay_out(
    needed: FloatArray, thicknesses: FloatArray, stack_maximum: float, in_stock: Sequence[int | None] | None = None
) -> Layout:
    """For every position the stack of shims nearest to what it needs.

    Parameters
    ----------
    needed : array (P,)
        Bare height minus target height; NaN not known, negative: too short already [m]
    thicknesses : array (T,)
        The sizes at hand, all different on the nanometre grid, T <= MOST_SIZES [m]
    stack_maximum : float
        The thickest stack allowed in one pocket [m]
    in_stock : sequence (T,) of int or None
        How many of each size there are; None for a size, or for all, without end [-]

    Returns
    -------
    Layout

    Notes
    -----
    Nearest, whether over or under; of equally near stacks the one with fewer shims, then the one
    with the thicker shims first. A stack holds MOST_SHIMS shims at the most. With a limited stock the
    positions are served in their order, each with the nearest stack that is left; sharing the
    stock in the best way over all positions is not attempted. Common practice, no source.

    >>> sizes = np.array([0.015, 0.030, 0.060]) * 0.0254
    >>> layout = lay_out(np.array([0.045]) * 0.0254, sizes, 0.060 * 0.0254)
    >>> layout.shims
    ((1, 0),)
    """
    known = ~np.isnan(needed)
    wanted = on_grid(np.where(known, needed, 0.0))
    stacks = _stacks(tuple(on_grid(thicknesses).tolist()), int(on_grid([stack_maximum])[0]))
    choice = _nearest(wanted, stacks)
    choice[~known] = 0
    ran_out = np.zeros(len(needed), dtype=np.bool_)
    if in_stock is not None:
        stock = np.array([np.iinfo(np.int64).max if count is None else count for count in in_stock], dtype=np.int64)
        if (stacks.counts[choice].sum(axis=0) > stock).any():
            choice, ran_out = _serve_in_order(wanted, choice, stacks, stock)
    return Layout(
        shims=tuple(stacks.shims[place] for place in choice.tolist()),
        stack=np.where(known, stacks.totals[choice] * GRID, np.nan),
        ran_out=ran_out,
        used=stacks.counts[choice].sum(axis=0),
    )


def _serve_in_order(
    wanted: IntArray, without_end: IntArray, stacks: _Stacks, stock: IntArray
) -> tuple[IntArray, BoolArray]:
    choice = without_end.copy()
    left = stock.copy()
    for place, need in enumerate(wanted.tolist()):
        can_be_laid = (stacks.counts <= left).all(axis=1)
        distance = np.where(can_be_laid, np.abs(stacks.totals - need), np.iinfo(np.int64).max)
        nearest = np.flatnonzero(distance == distance.min())
        choice[place] = nearest[stacks.rank[nearest].argmin()]
        left -= stacks.counts[choice[place]]
    ran_out = np.abs(stacks.totals[choice] - wanted) > np.abs(stacks.totals[without_end] - wanted)
    return choice, ran_out
