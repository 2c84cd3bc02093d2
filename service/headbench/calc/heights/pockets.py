"""Pockets: the stacks that suit each position, and a stock shared among all of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from enum import IntEnum

from headbench.calc.heights.shim_stock import MOST_CHOICES, Choice, Dealt, deal, holds
from headbench.calc.heights.shims import Ranked, Stacks, in_order, nearest_total
from headbench.calc.judging.grid import GRID


class Fit(IntEnum):
    """How a position stands at some height: fit, or whether another height may still fit."""

    GOOD = 0
    NONE_SHORTER = 1
    NONE_TALLER = 2
    NOT_HERE = 3


Suits = Callable[[float], Fit]
"""How a position stands at a height: inside its height or load, past what breaks parts, or which way it may be."""


class Pocket:
    """A position whose bare height and target are known, and the stacks that suit it."""

    def __init__(self, bare: float, wanted: int, suits: Suits) -> None:
        self._bare = bare
        self._wanted = wanted
        self._suits = suits
        self._found: dict[int, Fit] = {}
        self._ranked: list[Ranked] = []
        self._further: Iterator[Ranked] | None = None

    def best(self, stacks: Stacks) -> int:
        """The first good stack in the order, the first of all where none is."""
        return self._first_good(stacks, None)

    def runner_up(self, stacks: Stacks, total: int) -> int | None:
        """The stack of another thickness that would be taken if those of this one were not there."""
        if stacks.totals[0] == stacks.totals[-1]:
            return None
        return self._first_good(stacks, total)

    def _first_good(self, stacks: Stacks, without: int | None) -> int:
        """The first good stack of another thickness than `without`; the first such of all where none is."""
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
                case Fit.NONE_SHORTER:
                    thick = total
                case Fit.NONE_TALLER:
                    thin = total
        return first

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
        """The best so many of the stacks that can be laid, the good ones first; no shim at all among them."""
        nearest = nearest_total(self._wanted, stacks)
        good: list[Choice] = []
        others: list[Choice] = []
        thin, thick = -1, stacks.totals[-1] + 1
        for ranked in in_order(self._wanted, laid, nearest):
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
        if all(one.stack != 0 for one in found):
            miss = abs(self._wanted)
            bare = Choice(0, miss, max(miss - abs(nearest - self._wanted), 1), self.fit(0) is Fit.GOOD)
            found[-1] = next((one for one in others if one.stack == 0), bare)
        return found


def share(
    pockets: Sequence[Pocket | None],
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
