"""Pockets: the stacks that suit each position, and a stock shared among all of them."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from enum import IntEnum
from itertools import islice

from headbench.calc.heights.shim_stock import MOST_CHOICES, Choice, Dealt, deal, holds
from headbench.calc.heights.shims import Ranked, Stacks, in_order, nearest_total
from headbench.calc.judging.grid import GRID, on_grid


class Fit(IntEnum):
    """How a position stands at some height: fit, or whether another height may still fit.

    BREAKS : its parts would break there, and so they would wherever it stands shorter
    """

    GOOD = 0
    NONE_SHORTER = 1
    NONE_TALLER = 2
    NOT_HERE = 3
    BREAKS = 4


Suits = Callable[[float], Fit]
"""How a position stands at a height: inside its height or load, past what breaks parts, or which way it may be."""


@dataclass(frozen=True, slots=True)
class Laid:
    """The stacks of shims of P positions; None where nothing can be said of one.

    stacks : Stacks, all there are [-]
    taken : list (P,), each position's stack [-]
    second : list (P,), the stack of another thickness that would be taken if it were not there [-]
    ran_out : list (P,), whether the stock does not hold the stack that would be taken otherwise [-]
    proven : bool, whether a limited stock is shared in a way proven best [-]
    """

    stacks: Stacks
    taken: list[int | None]
    second: list[int | None]
    ran_out: list[bool]
    proven: bool


def lay_shims(
    bare: Sequence[float],
    target_height: Sequence[float],
    suits: Sequence[Suits],
    stacks: Stacks,
    in_stock: Sequence[int | None] | None = None,
) -> Laid:
    """Choose every position's stack of shims.

    Parameters
    ----------
    bare : sequence (P,)
        Height with no shim, H_0; NaN not known [m]
    target_height : sequence (P,)
        Installed height wanted; NaN not known [m]
    suits : sequence (P,) of functions (height) -> Fit
        How each position stands at a height [-]
    stacks : Stacks
        What may be laid [-]
    in_stock : sequence (T,) of int or None, or None
        How many of each size there are; None without end [-]

    Returns
    -------
    Laid

    Notes
    -----
    See `set_heights`. What suits is looked for from the nearest stack outward, and no farther than a
    height that says nothing shorter, or nothing taller, suits either. Where none suits, the first that
    breaks no parts is laid; where each would, the first of all.

    >>> from headbench.calc.heights.shims import stacks_of
    >>> near = lambda height: Fit.GOOD if abs(height - 0.0445) < 1e-4 else Fit.NOT_HERE
    >>> laid = lay_shims([0.0452], [0.0445], [near], stacks_of([0.4e-3, 0.7e-3], 1.5e-3))
    >>> [laid.stacks.shims[one] for one in (laid.taken[0], laid.second[0])]
    [(1,), (0, 0)]
    """
    pockets = [
        None if math.isnan(one - target) else _Pocket(one, on_grid(one - target), fits)
        for one, target, fits in zip(bare, target_height, suits, strict=True)
    ]
    wanted = [None if pocket is None else pocket.best(stacks) for pocket in pockets]
    dealt = _share(pockets, wanted, stacks, in_stock)
    taken = [None if best is None else one for best, one in zip(wanted, dealt.taken, strict=True)]
    return Laid(
        stacks,
        taken,
        [
            None if pocket is None or one is None else pocket.runner_up(stacks, stacks.totals[one])
            for pocket, one in zip(pockets, taken, strict=True)
        ],
        [
            best is not None and one is not None and stacks.totals[one] != stacks.totals[best]
            for best, one in zip(wanted, taken, strict=True)
        ],
        dealt.proven,
    )


class _Pocket:
    """A position whose bare height and target are known, and the stacks that suit it."""

    def __init__(self, bare: float, wanted: int, suits: Suits) -> None:
        self._bare = bare
        self._wanted = wanted
        self._suits = suits
        self._found: dict[int, Fit] = {}
        self._ranked: list[Ranked] = []
        self._further: Iterator[Ranked] | None = None

    def best(self, stacks: Stacks) -> int:
        """The first good stack in the order; where none is, the first that breaks no parts, else the first of all."""
        return self._first_good(stacks, None)

    def runner_up(self, stacks: Stacks, total: int) -> int | None:
        """The stack of another thickness that would be taken if those of this one were not there."""
        if stacks.totals[0] == stacks.totals[-1]:
            return None
        return self._first_good(stacks, total)

    def _first_good(self, stacks: Stacks, without: int | None) -> int:
        """The first good stack of another thickness than `without`; see `best` where none is."""
        first = -1
        thin, thick = -1, stacks.totals[-1] + 1
        for ranked in self.in_order(stacks):
            total = stacks.totals[ranked.stack]
            if total == without:
                continue
            if first < 0:
                first = ranked.stack
            if not thin < total < thick:
                # as far off as that nothing is left on either side; those that count as equal come as their shims do
                if ranked.excess and ranked.miss > max(thick - self._wanted, self._wanted - thin):
                    break
                continue
            match self.fit(total):
                case Fit.GOOD:
                    return ranked.stack
                case Fit.NONE_SHORTER | Fit.BREAKS:
                    thick = total
                case Fit.NONE_TALLER:
                    thin = total
        clearing = self.clearing(stacks)
        unbroken = (
            ranked.stack
            for ranked in self.in_order(stacks)
            if ranked.stack < clearing and stacks.totals[ranked.stack] != without
        )
        return next(unbroken, first)

    def clearing(self, stacks: Stacks) -> int:
        """How many of the stacks, the thinnest first, break no parts."""
        return bisect_left(stacks.totals, x=True, key=lambda total: self.fit(total) is Fit.BREAKS)

    def in_order(self, stacks: Stacks) -> Iterator[Ranked]:
        """The stacks, best first; what was ranked before is kept."""
        if self._further is None:
            self._further = in_order(self._wanted, stacks, nearest_total(self._wanted, stacks))
        yield from self._ranked
        for ranked in self._further:
            self._ranked.append(ranked)
            yield ranked

    def fit(self, total: int) -> Fit:
        """How the position stands on a stack of some thickness [nm]."""
        found = self._found.get(total)
        if found is None:
            found = self._found[total] = self._suits(self._bare - total * GRID)
        return found

    def choices(self, stacks: Stacks, laid: Stacks, places: Sequence[int], most: int) -> list[Choice]:
        """The best so many of the stacks that can be laid, no shim at all among them.

        The good ones come first, then those that break no parts.
        """
        nearest = nearest_total(self._wanted, stacks)
        clearing = self.clearing(laid)
        good: list[Choice] = []
        others: list[Choice] = []
        thin, thick = -1, stacks.totals[-1] + 1
        for ranked in in_order(self._wanted, laid.thinnest(clearing), nearest):
            none_left = ranked.excess and ranked.miss > max(thick - self._wanted, self._wanted - thin)
            if len(good) == most or (none_left and len(good) + len(others) >= most):
                break
            total = laid.totals[ranked.stack]
            fit = self.fit(total) if thin < total < thick else Fit.NOT_HERE
            thick = total if fit is Fit.NONE_SHORTER else thick
            thin = total if fit is Fit.NONE_TALLER else thin
            kept = good if fit is Fit.GOOD else others
            kept.append(Choice(places[ranked.stack], ranked.miss, ranked.excess, fit is Fit.GOOD))
        found = [*good, *others][:most]
        breaking = (one for one in in_order(self._wanted, laid, nearest) if one.stack >= clearing)
        for ranked in islice(breaking, most - len(found)):
            found.append(Choice(places[ranked.stack], ranked.miss, ranked.excess, good=False, clears=False))
        if all(one.stack != 0 for one in found):
            miss, fit = abs(self._wanted), self.fit(0)
            excess = max(miss - abs(nearest - self._wanted), 1)
            bare = Choice(0, miss, excess, fit is Fit.GOOD, fit is not Fit.BREAKS)
            found[-1] = next((one for one in others if one.stack == 0), bare)
        return found


def _share(
    pockets: Sequence[_Pocket | None],
    wanted: Sequence[int | None],
    stacks: Stacks,
    in_stock: Sequence[int | None] | None,
) -> Dealt:
    """The stacks wanted, where the stock holds them all; else the best sharing of what there is."""
    taken = tuple(0 if one is None else one for one in wanted)
    if in_stock is None or holds(
        in_stock, [sum(each) for each in zip(*(stacks.counts[one] for one in taken), strict=True)]
    ):
        return Dealt(taken, proven=True)
    known = [pocket for pocket in pockets if pocket is not None]
    places = [place for place, counts in enumerate(stacks.counts) if holds(in_stock, counts)]
    most = max(MOST_CHOICES // len(known), 1)
    laid = stacks.only(places)
    choices = [pocket.choices(stacks, laid, places, most) for pocket in known]
    dealt = deal(choices, stacks, in_stock, all_weighed=len(places) <= most)
    dealt_in_turn = iter(dealt.taken)
    return Dealt(tuple(0 if pocket is None else next(dealt_in_turn) for pocket in pockets), dealt.proven)
