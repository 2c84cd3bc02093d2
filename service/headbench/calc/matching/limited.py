"""Limited: springs and shims chosen together where the stock does not hold what would be best without counting."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from time import thread_time
from typing import Final

import numpy as np
import scipy

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.heights.shim_stock import SECONDS, WALL, holds
from headbench.calc.heights.shims import Stacks
from headbench.calc.matching.pairing import NONE, Assigned, Pairing, least_sum

MOST_WEIGHED: Final = 4_000
"""How many choices the search may weigh."""

FEW: Final = 1_500
"""Choices that are searched whole at once."""

_ROUNDS: Final = 25
"""How often shims are priced anew."""
_EASED: Final = 0.9
"""What a step of the prices is of the one before."""
_TRIES: Final = 5
"""Thresholds that are tried by prices."""


def assign_limited(
    pairing: Pairing,
    stacks: Stacks,
    in_stock: Sequence[int | None],
    bound: int,
    most: int,
    *,
    seconds: float = SECONDS,
) -> Assigned:
    """Find the best choice for every pocket with no more shims than there are.

    Parameters
    ----------
    pairing : Pairing
        What there is to choose from [-]
    stacks : Stacks
        What the stacks are made of [-]
    in_stock : sequence (T,) of int or None
        How many shims of each size there are; None without end [-]
    bound : int
        The least worst without counting shims [-]
    most : int
        The most pockets filled without counting shims [-]
    seconds : float
        How long the search may take [s]

    Returns
    -------
    Assigned

    Notes
    -----
    See `assign`. Prices on the shims that are short (Lagrange's multipliers) find something good at once; integer
    programs then better and prove it, one a step, what was reached before held as a constraint (HiGHS: see
    `calc.heights.shim_stock.deal`).

    >>> from headbench.calc.heights.shims import stacks_of
    >>> from headbench.calc.matching.pairing import Ranks
    >>> off, stack = np.array([3, 0, 2, 0]), np.array([0, 1, 0, 1])
    >>> zero = np.zeros(4, dtype=np.int64)
    >>> pairing = Pairing(np.array([0, 0, 1, 1]), np.array([0, 0, 1, 1]), stack, Ranks(off, off, stack, zero), 2, 2)
    >>> found = assign_limited(pairing, stacks_of([0.5e-3], 0.5e-3), [1], 0, 2)
    >>> stack[found.taken].tolist(), found.worst, found.proven
    ([1, 0], 2, True)
    """
    return _Search(pairing, stacks, in_stock, seconds).solve(bound, most)


class _Search:
    """The search: what prices find first, then integer programs, as long as there is time."""

    def __init__(self, pairing: Pairing, stacks: Stacks, in_stock: Sequence[int | None], seconds: float) -> None:
        # loaded when it is first used, which is no part of the search
        self._milp = scipy.optimize.milp
        self._end = thread_time() + seconds
        self._stacks = stacks
        self._in_stock = in_stock
        self._all = pairing
        self._after = pairing.ranks.after_worst.astype(np.float64)
        laid = np.array(stacks.counts, dtype=np.int64)
        there = np.array([np.iinfo(np.int64).max if count is None else count for count in in_stock])
        limited = [size for size, count in enumerate(in_stock) if count is not None]
        self._laid = laid[:, limited].astype(np.float64)[pairing.stack]
        self._there = there[limited].astype(np.float64)
        fits = np.flatnonzero((laid[pairing.stack] <= there).all(axis=1))
        self._places = self._weighed(fits)
        self._whole = pairing.all_there and len(self._places) == len(fits)
        self._pair = pairing.pocket * pairing.springs + pairing.spring
        self._by_pair = np.lexsort((self._after, self._pair))
        self._pairs = self._pair[self._by_pair]

    def _weighed(self, fits: IntArray) -> IntArray:
        """The choices that are weighed: all, or of each pair the best."""
        pairing = self._all
        if len(fits) <= MOST_WEIGHED:
            return fits
        order = fits[np.lexsort((self._after[fits], pairing.spring[fits], pairing.pocket[fits]))]
        pair = pairing.pocket[order] * pairing.springs + pairing.spring[order]
        starts = np.flatnonzero(np.diff(pair, prepend=-1))
        rank = np.arange(len(order)) - np.repeat(starts, np.diff(np.append(starts, len(order))))
        return np.sort(order[rank < max(MOST_WEIGHED // len(starts), 1)])

    def solve(self, bound: int, most: int) -> Assigned:
        """The best that the stock gives.

        `bound` and `most` are the least worst and the most pockets filled without counting shims.
        """
        best, core = self._priced(bound)
        # few choices are searched whole; of many first those that prices pointed at, to begin with something good
        if len(self._places) > FEW:
            best, _ = self._polished(self._lowered(best, bound, most, core)[0], core)
        best, proven = self._lowered(best, bound, most, self._places)
        if proven:
            best, proven = self._polished(best, self._places)
        best = self._topped_up(best)
        return Assigned(best, self._worst(best), bound, self._filled(best), proven=proven and self._whole)

    def _lowered(self, taken: Sequence[int], bound: int, most: int, places: IntArray) -> tuple[list[int], bool]:
        """As many pockets filled as can be at the least worst, of the choices at some places; and whether proven."""
        best, values = list(taken), np.unique(self._all.ranks.off[places])
        proven = True
        if self._filled(best) < most:
            found = self._found(places, int(values[-1]) if len(values) else 0, None)
            proven = self._left() > 0.0
            best = best if found is None else min(best, found, key=self._worth)
        filled = self._filled(best)
        low, high = (int(np.searchsorted(values, one)) for one in (bound, self._worst(best)))
        while low < high and self._left() > 0.0:
            middle = (low + high) // 2
            found = self._found(places, int(values[middle]), filled)
            if found is not None:
                best, high = found, int(np.searchsorted(values, self._worst(found)))
            elif self._left() > 0.0:
                low = middle + 1
        return best, proven and low >= high and self._left() > 0.0

    def _polished(self, taken: Sequence[int], places: IntArray) -> tuple[list[int], bool]:
        """With the worst settled: the least sum, then the fewest shims, then the fewest moved; and whether proven."""
        ranks, best = self._all.ranks, list(taken)
        worst, filled = self._worst(best), self._filled(best)
        held: list[tuple[IntArray, int]] = []
        if filled == 0:
            return best, True
        for cost in (ranks.counted, ranks.shims, ranks.moved):
            found = self._found(places, worst, filled, cost, held)
            best = best if found is None else min(best, found, key=self._worth)
            if found is None or self._left() <= 0.0:
                return best, False
            held.append((cost, int(cost[[one for one in found if one != NONE]].sum())))
        return best, True

    def _priced(self, bound: int) -> tuple[list[int], IntArray]:
        """The best that prices find, and every choice of the pairs they pointed at."""
        values = np.unique(self._all.ranks.off[self._places])
        pointed: set[int] = set()
        # as if shims alone mattered: what fills the most
        best = self._at_prices(int(values.max(initial=0)), self._all.ranks.shims.astype(np.float64), pointed)
        low, high = int(np.searchsorted(values, bound)), len(values) - 1
        for _ in range(_TRIES):
            if low > high or self._left() <= 0.0:
                break
            middle = (low + high) // 2
            found = self._at_prices(int(values[middle]), self._after, pointed)
            if self._filled(found) == self._all.pockets:
                high = middle - 1
            else:
                low = middle + 1
            best = min(best, found, key=self._worth)
        pair = self._pair[self._places]
        return best, self._places[np.isin(pair, self._pair[sorted(pointed)])]

    def _at_prices(self, worst: int, cost: FloatArray, pointed: set[int]) -> list[int]:
        """Choices no farther off than `worst`, shims that are short priced until the stock holds what is taken.

        The prices are Lagrange's, raised and lowered by what is too much or left (subgradients; M. L. Fisher, The
        Lagrangian relaxation method for solving integer programming problems, Management Science 27 (1981), from
        memory); what is still too much is dealt anew, one pocket after another. What is taken on the way is pointed at.
        """
        kept = np.zeros(len(self._after), dtype=np.bool_)
        kept[self._places] = True
        kept &= self._all.ranks.off <= worst
        price = np.zeros(len(self._there))
        step = max(float(cost[kept].max(initial=1.0)) / 4.0, 1.0)
        best = [NONE] * self._all.pockets
        for _ in range(_ROUNDS):
            taken = least_sum(self._all, kept, cost + self._laid @ price)
            pointed.update(one for one in taken if one != NONE)
            best = min(best, self._in_turn(taken, kept), key=self._worth)
            over = self._laid[[one for one in taken if one != NONE]].sum(axis=0) - self._there
            if (over <= 0.0).all() or self._left() <= 0.0:
                break
            price = np.maximum(price + step * over, 0.0)
            step *= _EASED
        return best

    def _in_turn(self, taken: Sequence[int], kept: BoolArray) -> list[int]:
        """The same springs, each on the best stack that is left, those that have what they want first."""
        left, dealt = list(self._in_stock), [NONE] * len(taken)
        for pocket, place in sorted(enumerate(taken), key=lambda one: self._after[one[1]]):
            for one in () if place == NONE else self._instead(place, kept):
                counts = self._stacks.counts[int(self._all.stack[one])]
                if holds(left, counts):
                    dealt[pocket] = one
                    left = [None if there is None else there - laid for there, laid in zip(left, counts, strict=True)]
                    break
        return dealt

    def _topped_up(self, taken: Sequence[int]) -> list[int]:
        """Pockets that time left empty, each with the best that springs and shims left over allow."""
        pairing, full = self._all, list(taken)
        for pocket in [at for at, one in enumerate(full) if one == NONE]:
            used = [one for one in full if one != NONE]
            free = np.flatnonzero((pairing.pocket == pocket) & ~np.isin(pairing.spring, pairing.spring[used]))
            left = self._there - self._laid[used].sum(axis=0)
            fits = free[(self._laid[free] <= left).all(axis=1)]
            if len(fits):
                full[pocket] = int(fits[np.lexsort((self._after[fits], pairing.ranks.off[fits]))[0]])
        return full

    def _instead(self, place: int, kept: BoolArray) -> Iterator[int]:
        """A choice, then the others of its pocket and spring, the best first."""
        yield place
        begin, end = (np.searchsorted(self._pairs, self._pair[place], side=side) for side in ("left", "right"))
        yield from (int(one) for one in self._by_pair[begin:end] if kept[one])

    def _found(
        self,
        within: IntArray,
        worst: int,
        filled: int | None,
        cost: IntArray | None = None,
        held: Sequence[tuple[IntArray, int]] = (),
    ) -> list[int] | None:
        """Of some choices those that fill so many pockets, none farther off than `worst`; or None.

        Where no number is given it is the most there can be.
        """
        left = self._left()
        places = within[self._all.ranks.off[within] <= worst]
        if left <= 0.0 or len(places) == 0:
            return None
        pairing, count = self._all, len(places)
        ones = np.ones(count)
        in_pocket, of_spring = (
            scipy.sparse.csr_matrix((ones, (rows, np.arange(count))), shape=(many, count))
            for rows, many in ((pairing.pocket[places], pairing.pockets), (pairing.spring[places], pairing.springs))
        )
        constraint = scipy.optimize.LinearConstraint
        rows = [
            constraint(in_pocket, -np.inf, 1.0),
            constraint(of_spring, -np.inf, 1.0),
            constraint(scipy.sparse.csr_matrix(self._laid[places].T), -np.inf, self._there),
        ]
        if filled is not None:
            rows.append(constraint(scipy.sparse.csr_matrix(ones), filled, filled))
        rows += [
            constraint(scipy.sparse.csr_matrix(one[places].astype(np.float64)), -np.inf, reached + 0.5)
            for one, reached in held
        ]
        objective: FloatArray = -ones
        if filled is not None:
            objective = np.zeros(count) if cost is None else cost[places].astype(np.float64)
        found = self._milp(
            objective,
            integrality=np.ones(count, dtype=np.int64),
            bounds=scipy.optimize.Bounds(0.0, 1.0),
            constraints=rows,
            # the solver goes by the clock on the wall
            options={"time_limit": WALL * left, "mip_rel_gap": 0.0},
        )
        if found.x is None:
            return None
        taken = [NONE] * pairing.pockets
        for place in places[np.rint(found.x) == 1.0].tolist():
            taken[int(pairing.pocket[place])] = place
        return taken

    @staticmethod
    def _filled(taken: Sequence[int]) -> int:
        return sum(one != NONE for one in taken)

    def _worst(self, taken: Sequence[int]) -> int:
        return int(self._all.ranks.off[[one for one in taken if one != NONE]].max(initial=0))

    def _worth(self, taken: Sequence[int]) -> tuple[int, int, int]:
        """What choices are judged by, in strict order; less is better."""
        filled = [one for one in taken if one != NONE]
        return -len(filled), self._worst(taken), int(self._all.ranks.after_worst[filled].sum())

    def _left(self) -> float:
        return self._end - thread_time()
