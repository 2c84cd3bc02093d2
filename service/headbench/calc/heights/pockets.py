"""Pockets: the stacks that suit each position, and a stock shared among all of them."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from enum import IntEnum
from itertools import islice
from typing import Final

from headbench.calc.heights.shim_stock import MOST_CHOICES, SECONDS, Choice, Dealt, deal, holds
from headbench.calc.heights.shims import Span, Stacks, in_order, nearest_total
from headbench.calc.judging.grid import GRID, on_grid


class Side(IntEnum):
    """What is off about a height: nothing, or that only a taller one may do, or only a shorter one."""

    TOO_SHORT = -1
    RIGHT = 0
    TOO_TALL = 1


Sided = Callable[[float], Side]
"""What is off about a height; never shorter again where a shorter height was too tall, and so on."""


@dataclass(frozen=True, slots=True)
class Suits:
    """What a position asks of the height of its spring.

    any_of : tuple of functions (height) -> Side, one of which must find it right [-]
    room : function (height) -> Side, which finds it too short where parts would break; never too tall [-]
    """

    any_of: tuple[Sided, ...]
    room: Sided = lambda _: Side.RIGHT

    def breaks(self, height: float) -> bool:
        """Whether parts would break at a height.

        Parameters
        ----------
        height : float
            Height of the spring [m]

        Returns
        -------
        bool
            Whether a taller one is needed, whatever else is wanted [-]

        >>> Suits(()).breaks(0.0445)
        False
        """
        return self.room(height) is not Side.RIGHT

    def is_good(self, height: float) -> bool:
        """Whether a height is right.

        Parameters
        ----------
        height : float
            Height of the spring [m]

        Returns
        -------
        bool
            Whether it breaks nothing and is what is wanted [-]

        >>> Suits((lambda height: Side.TOO_TALL if height > 0.045 else Side.RIGHT,)).is_good(0.0445)
        True
        """
        return not self.breaks(height) and any(side(height) is Side.RIGHT for side in self.any_of)


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
    seconds: float = SECONDS,
) -> Laid:
    """Choose every position's stack of shims.

    Parameters
    ----------
    bare : sequence (P,)
        Height with no shim, H_0; NaN not known [m]
    target_height : sequence (P,)
        Installed height wanted; NaN not known [m]
    suits : sequence (P,) of Suits
        What each position asks of a height [-]
    stacks : Stacks
        What may be laid [-]
    in_stock : sequence (T,) of int or None, or None
        How many of each size there are; None without end [-]
    seconds : float
        How long the search for the best sharing of a stock may take [s]

    Returns
    -------
    Laid

    Notes
    -----
    See `set_heights`. What suits is looked for from the nearest stack outward; where none of the first is
    right, those that are lie between two places that are found by halving, whatever there is to choose from.

    >>> from headbench.calc.heights.shims import stacks_of
    >>> near = lambda height: Side(0) if abs(height - 0.0445) < 1e-4 else Side(1 if height > 0.0445 else -1)
    >>> laid = lay_shims([0.0452], [0.0445], [Suits((near,))], stacks_of([0.4e-3, 0.7e-3], 1.5e-3))
    >>> [laid.stacks.shims[one] for one in (laid.taken[0], laid.second[0])]
    [(1,), (0, 0)]
    """
    pockets = [
        None if math.isnan(one - target) else _Pocket(one, on_grid(one - target), fits)
        for one, target, fits in zip(bare, target_height, suits, strict=True)
    ]
    wanted = [None if pocket is None else pocket.best(stacks) for pocket in pockets]
    dealt = _share(pockets, wanted, stacks, in_stock, seconds)
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


_AT_FIRST: Final = 6
"""Stacks that are tried one by one: where none of the first is good, the good ones are found by halving."""


class _Pocket:
    """A position whose bare height and target are known, and the stacks that suit it."""

    def __init__(self, bare: float, wanted: int, suits: Suits) -> None:
        self._bare = bare
        self._wanted = wanted
        self._suits = suits
        self._found: dict[int, bool] = {}
        self._front: list[int] = []
        self._ranges: tuple[list[Span], int] | None = None

    def best(self, stacks: Stacks) -> int:
        """The first good stack in the order; where none is, the first that breaks nothing, or of all."""
        return self._first_good(stacks, None)

    def runner_up(self, stacks: Stacks, total: int) -> int | None:
        """The stack of another thickness that would be taken if those of this one were not there."""
        if stacks.totals[0] == stacks.totals[-1]:
            return None
        return self._first_good(stacks, total)

    def _first_good(self, stacks: Stacks, without: int | None) -> int:
        """The first good stack of another thickness than `without`; where none is, the first that breaks nothing."""
        totals, nearest = stacks.totals, nearest_total(self._wanted, stacks)

        def others(spans: Sequence[Span] | None) -> Iterator[int]:
            order = in_order(self._wanted, stacks, nearest, spans)
            return (one.stack for one in order if totals[one.stack] != without)

        if not self._front:
            order = in_order(self._wanted, stacks, nearest)
            self._front = [one.stack for one in islice(order, 2 * _AT_FIRST)]
        front = [stack for stack in self._front if totals[stack] != without][:_AT_FIRST]
        for stack in front:
            if self._is_good(totals[stack]):
                return stack
        good, roomy = self._ranges = self._ranges or self._spans(stacks)
        for stack in others(good) if good else ():
            return stack
        for stack in front:
            if stack < roomy:
                return stack
        for spans in ([(0, roomy)], None):
            for stack in others(spans):
                return stack
        raise AssertionError

    def _is_good(self, total: int) -> bool:
        found = self._found.get(total)
        if found is None:
            found = self._found[total] = self._suits.is_good(self._height(total))
        return found

    def choices(self, stacks: Stacks, laid: Stacks, places: Sequence[int], most: int) -> list[Choice]:
        """The best so many of the stacks that can be laid, no shim at all among them.

        The good ones come first, then those that break no parts.
        """
        nearest = nearest_total(self._wanted, stacks)
        good, roomy = self._spans(laid)

        found: list[Choice] = []
        for spans, is_good, clears in (
            (good, True, True),
            (_between(good, roomy), False, True),
            ([(roomy, len(laid.totals))], False, False),
        ):
            ranked = islice(in_order(self._wanted, laid, nearest, spans), most - len(found))
            found += [Choice(places[one.stack], one.miss, one.excess, is_good, clears) for one in ranked]
        if all(one.stack != 0 for one in found):
            miss, bare = abs(self._wanted), self._height(0)
            excess = max(miss - abs(nearest - self._wanted), 1)
            found[-1] = Choice(0, miss, excess, self._suits.is_good(bare), not self._suits.breaks(bare))
        return found

    def _spans(self, stacks: Stacks) -> tuple[list[Span], int]:
        """Which stacks are good, and from which place on they break parts."""
        count = len(stacks.totals)

        def first(side: Sided, most: Side) -> int:
            """The first stack that is no taller than this."""
            return bisect_left(range(count), 1, key=lambda at: side(self._height(stacks.totals[at])) <= most)

        roomy = first(self._suits.room, Side.TOO_SHORT)
        spans = [(first(side, Side.RIGHT), min(first(side, Side.TOO_SHORT), roomy)) for side in self._suits.any_of]
        return _merged(spans), roomy

    def _height(self, total: int) -> float:
        """How it stands on a stack of some thickness [nm]."""
        return self._bare - total * GRID


def _merged(spans: Sequence[Span]) -> list[Span]:
    """The same places, ascending and apart."""
    merged: list[Span] = []
    for begin, end in sorted(span for span in spans if span[0] < span[1]):
        if merged and begin <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((begin, end))
    return merged


def _between(spans: Sequence[Span], count: int) -> list[Span]:
    """The places that are in none of them."""
    edges = [0, *(edge for span in spans for edge in span), count]
    return [(begin, end) for begin, end in zip(edges[::2], edges[1::2], strict=True) if begin < end]


def _share(
    pockets: Sequence[_Pocket | None],
    wanted: Sequence[int | None],
    stacks: Stacks,
    in_stock: Sequence[int | None] | None,
    seconds: float,
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
    dealt = deal(choices, stacks, in_stock, all_weighed=len(places) <= most, seconds=seconds)
    dealt_in_turn = iter(dealt.taken)
    return Dealt(tuple(0 if pocket is None else next(dealt_in_turn) for pocket in pockets), dealt.proven)
