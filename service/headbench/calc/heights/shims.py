"""Shims: every stack that can be laid, and the one that suits a position best."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations_with_replacement
from typing import Final

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.judging.grid import GRID, on_grid
from headbench.calc.judging.limits import SHIM_COUNT_MAXIMUM
from headbench.calc.judging.rules import EQUAL_STACKS

MOST_SIZES: Final = 12
"""Different thicknesses a job may name."""

MOST_SHIMS: Final = 6
"""Shims a job may allow in one stack; keeps the search finite."""

USUAL_MOST: Final = int(SHIM_COUNT_MAXIMUM.value)
"""Shims in one stack unless a job allows more [-]."""

_EQUAL: Final = round(EQUAL_STACKS.values[0] / GRID)


@dataclass(frozen=True, slots=True)
class Stacks:
    """Every stack of shims that may be laid in one pocket, no shim at all among them.

    totals : array (S,), thickness of each [nm]
    shims : tuple of S tuples, each stack's sizes as places in the list of thicknesses, thickest first [-]
    counts : array (S, T), how many of each size it takes [-]
    size : array (S,), how many shims it has [-]
    """

    totals: IntArray
    shims: tuple[tuple[int, ...], ...]
    counts: IntArray
    size: IntArray


@dataclass(frozen=True, slots=True)
class Ranked:
    """How well every stack suits every position: P positions, S stacks.

    order : array (P, S), the stacks from best to worst [-]
    miss : array (P, S), what each misses the need by, either way [nm]
    excess : array (P, S), what each misses it by more than the nearest; 0 where it counts as equal [nm]
    """

    order: IntArray
    miss: IntArray
    excess: IntArray


def stacks_of(thicknesses: FloatArray, stack_maximum: float, shim_count_maximum: int = USUAL_MOST) -> Stacks:
    """Every stack of shims that fits one pocket.

    Parameters
    ----------
    thicknesses : array (T,)
        The sizes at hand, all different on the nanometer grid, T <= MOST_SIZES [m]
    stack_maximum : float
        The thickest stack allowed in one pocket [m]
    shim_count_maximum : int
        The most shims in one stack, <= MOST_SHIMS [-]

    Returns
    -------
    Stacks

    Notes
    -----
    Stacks equally thick are all kept, since a stock may run out of one size. Thicknesses are whole
    nanometers, so 0.030 + 0.015 is 0.045.

    >>> stacks = stacks_of(np.array([0.015, 0.030]) * 0.0254, 0.030 * 0.0254)
    >>> stacks.shims
    ((), (0,), (1,), (0, 0))
    """
    return _stacks(tuple(on_grid(thicknesses).tolist()), int(on_grid([stack_maximum])[0]), shim_count_maximum)


@lru_cache(maxsize=64)
def _stacks(thicknesses: tuple[int, ...], stack_maximum: int, shim_count_maximum: int) -> Stacks:
    thick_first = sorted(range(len(thicknesses)), key=lambda place: -thicknesses[place])
    # equally thick and of as many shims: the one with the thicker shim comes first
    found: list[tuple[int, int, tuple[int, ...], tuple[int, ...]]] = []
    for count in range(shim_count_maximum + 1):
        for shims in combinations_with_replacement(thick_first, count):
            sizes = tuple(thicknesses[place] for place in shims)
            if sum(sizes) <= stack_maximum:
                found.append((sum(sizes), count, tuple(-size for size in sizes), shims))
    found.sort()
    counts = np.zeros((len(found), len(thicknesses)), dtype=np.int64)
    for row, (*_, shims) in enumerate(found):
        np.add.at(counts[row], list(shims), 1)
    return Stacks(
        totals=np.array([total for total, *_ in found], dtype=np.int64),
        shims=tuple(shims for *_, shims in found),
        counts=counts,
        size=counts.sum(axis=1),
    )


def rank_stacks(needed: FloatArray, stacks: Stacks) -> Ranked:
    """Order all stacks by how well they suit each position.

    Parameters
    ----------
    needed : array (P,)
        Bare height minus target height, not NaN; negative where a position is short [m]
    stacks : Stacks
        What may be laid [-]

    Returns
    -------
    Ranked

    Notes
    -----
    The nearest stack is the best; of two as near the thicker one, which stands shorter and pushes more.
    Stacks no more than EQUAL_STACKS thicker or thinner than that count as equal to it: of these the one
    with the fewest shims, then the nearest. Common practice, no source.

    >>> inch = 0.0254
    >>> stacks = stacks_of(np.array([0.015, 0.030]) * inch, 0.060 * inch)
    >>> ranked = rank_stacks(np.array([0.0075, 0.045]) * inch, stacks)
    >>> [stacks.shims[best] for best in ranked.order[:, 0].tolist()]
    [(0,), (1, 0)]
    """
    wanted = on_grid(needed)
    miss = np.abs(stacks.totals[np.newaxis, :] - wanted[:, np.newaxis])
    # the last of the nearest is the thickest of them: totals rise
    last = miss.shape[1] - 1 - miss[:, ::-1].argmin(axis=1)
    equal = np.abs(stacks.totals[np.newaxis, :] - stacks.totals[last][:, np.newaxis]) <= _EQUAL
    beyond = miss - miss.min(axis=1, keepdims=True)
    # as near on the other side of the target is no better than a nanometer farther
    excess = np.where(equal, 0, np.maximum(beyond, 1))
    size = np.broadcast_to(stacks.size, miss.shape)
    thin = np.broadcast_to(-stacks.totals, miss.shape)
    return Ranked(order=np.lexsort((thin, miss, size, excess), axis=1), miss=miss, excess=excess)


def best_stacks(ranked: Ranked, good: BoolArray) -> IntArray:
    """The stack every position takes where there is enough of every size.

    Parameters
    ----------
    ranked : Ranked
        How well every stack suits every position [-]
    good : array (P, S)
        Whether a position with that stack is inside its height or load and passes what breaks parts [-]

    Returns
    -------
    array (P,)
        The first good stack in the order, the first of all where none is [-]

    >>> stacks = stacks_of(np.array([0.5e-3, 0.8e-3]), 0.9e-3)
    >>> ranked = rank_stacks(np.array([0.5e-3, 0.5e-3]), stacks)
    >>> best_stacks(ranked, np.array([[True, True, True], [True, False, False]])).tolist()
    [1, 0]
    """
    in_order = np.take_along_axis(good, ranked.order, axis=1)
    return np.take_along_axis(ranked.order, in_order.argmax(axis=1)[:, np.newaxis], axis=1)[:, 0]


def fits_stock(choice: IntArray, stacks: Stacks, in_stock: Sequence[int | None] | None) -> bool:
    """Whether the stock holds the stacks chosen for all positions.

    Parameters
    ----------
    choice : array (P,)
        Each position's stack [-]
    stacks : Stacks
        What may be laid [-]
    in_stock : sequence (T,) of int or None, or None
        How many of each size there are; None without end [-]

    Returns
    -------
    bool

    >>> stacks = stacks_of(np.array([0.5e-3, 0.8e-3]), 0.9e-3)
    >>> fits_stock(np.array([1, 1]), stacks, [1, None]), fits_stock(np.array([1, 2]), stacks, [1, None])
    (False, True)
    """
    if in_stock is None:
        return True
    used = stacks.counts[choice].sum(axis=0)
    return all(count is None or laid <= count for laid, count in zip(used.tolist(), in_stock, strict=True))
