"""Pairing: what pockets, springs and stacks there are to pair, and the pairing of least cost, shims not counted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import scipy

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.heights.shims import Stacks

_STEP: Final = 1_000
"""More than all shims, or all moves, of a job: what counts first outweighs all that counts after it."""

NONE: Final = -1


class Ranks(NamedTuple):
    """What C choices are judged by, in whole numbers; less is better.

    off : array (C,), how far the load is off, of which the worst counts [-]
    counted : array (C,), the same as far as it counts in the sum [-]
    shims : array (C,), how many are laid [-]
    moved : array (C,), 1 where the spring does not lie there already [-]
    """

    off: IntArray
    counted: IntArray
    shims: IntArray
    moved: IntArray

    @property
    def after_worst(self) -> IntArray:
        """All that counts after the worst, as one number."""
        return (self.counted * _STEP + self.shims) * _STEP + self.moved


@dataclass(frozen=True, slots=True)
class Pairing:
    """C choices by their places: which pocket, spring and stack each is.

    pocket, spring, stack : array (C,) [-]
    ranks : Ranks
    pockets, springs : int, how many there are [-]
    all_there : bool, False where choices are left out that a short stock might ask for [-]
    """

    pocket: IntArray
    spring: IntArray
    stack: IntArray
    ranks: Ranks
    pockets: int
    springs: int
    all_there: bool = True


class Assigned(NamedTuple):
    """What every pocket takes.

    taken : list (P,), each pocket's choice; NONE where no spring is left for it [-]
    worst : int, largest `off` of all; 0 of none [-]
    bound : int, what the worst cannot be less than, as many pockets filled [-]
    most : int, how many pockets can be filled at most [-]
    proven : bool, whether nothing better exists [-]
    """

    taken: list[int]
    worst: int
    bound: int
    most: int
    proven: bool


def most_filled(pairing: Pairing, kept: BoolArray) -> int:
    """How many pockets can be filled at once.

    Parameters
    ----------
    pairing : Pairing
        What there is to choose from [-]
    kept : array (C,)
        Which choices count [-]

    Returns
    -------
    int
        The size of a largest matching, shims not counted [-]

    >>> zero = np.zeros(2, dtype=np.int64)
    >>> pairing = Pairing(np.array([0, 1]), zero, zero, Ranks(zero, zero, zero, zero), 2, 1)
    >>> most_filled(pairing, np.array([True, True]))
    1
    """
    pocket, spring = pairing.pocket[kept], pairing.spring[kept]
    graph = scipy.sparse.csr_matrix(
        (np.ones(len(pocket), dtype=np.int8), (pocket, spring)), shape=(pairing.pockets, pairing.springs)
    )
    matched = scipy.sparse.csgraph.maximum_bipartite_matching(graph, perm_type="column")
    return int((matched >= 0).sum())


def least_sum(pairing: Pairing, kept: BoolArray, cost: FloatArray) -> list[int]:
    """The choices that fill the most pockets, and of these the least sum, shims not counted.

    Parameters
    ----------
    pairing : Pairing
        What there is to choose from [-]
    kept : array (C,)
        Which choices count [-]
    cost : array (C,)
        What each costs, 0 or more [-]

    Returns
    -------
    list (P,) of int
        Each pocket's choice, NONE where none is left [-]

    >>> zero, both = np.zeros(2, dtype=np.int64), np.array([True, True])
    >>> pairing = Pairing(zero, np.array([0, 1]), zero, Ranks(zero, zero, zero, zero), 1, 2)
    >>> least_sum(pairing, both, np.array([3.0, 2.0]))
    [1]
    """
    places = np.flatnonzero(kept)
    order = places[np.lexsort((cost[places], pairing.spring[places], pairing.pocket[places]))]
    first = np.ones(len(order), dtype=np.bool_)
    pair = pairing.pocket[order] * pairing.springs + pairing.spring[order]
    first[1:] = pair[1:] != pair[:-1]
    best = order[first]
    # a pocket left empty costs more than all that could fill the others; a pair that is none costs more again
    empty = float(cost[best].max(initial=0.0) + 1.0) * (pairing.pockets + 1)
    costs = np.full((pairing.pockets, pairing.springs + pairing.pockets), 2.0 * empty * (pairing.pockets + 1))
    costs[:, pairing.springs :] = empty
    costs[pairing.pocket[best], pairing.spring[best]] = cost[best]
    choice = np.full(costs.shape, NONE, dtype=np.int64)
    choice[pairing.pocket[best], pairing.spring[best]] = best
    rows, columns = scipy.optimize.linear_sum_assignment(costs)
    return [int(one) for one in choice[rows, columns]]


def shims_used(pairing: Pairing, taken: Sequence[int], stacks: Stacks) -> list[int]:
    """How many shims of each size are laid.

    Parameters
    ----------
    pairing : Pairing
        What there is to choose from [-]
    taken : sequence (P,) of int
        Each pocket's choice, NONE where none is left [-]
    stacks : Stacks
        What the stacks are made of [-]

    Returns
    -------
    list (T,) of int

    >>> from headbench.calc.heights.shims import stacks_of
    >>> one = np.ones(1, dtype=np.int64)
    >>> shims_used(Pairing(one, one, one, Ranks(one, one, one, one), 1, 1), [0], stacks_of([0.5e-3], 1.0e-3))
    [1]
    """
    counts = [stacks.counts[int(pairing.stack[one])] for one in taken if one != NONE]
    return [sum(each) for each in zip(*counts, strict=True)] or [0] * len(stacks.counts[0])
