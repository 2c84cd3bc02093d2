"""Shims: every stack that can be laid, and the order in which they suit a position."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations_with_replacement
from typing import Final, NamedTuple, TypeAlias

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
    """Every stack of shims that may be laid in one pocket, no shim at all among them, the thinnest first.

    totals : tuple (S,), thickness of each [nm]
    shims : tuple of S tuples, each stack's sizes as places in the list of thicknesses, thickest first [-]
    counts : tuple of S tuples (T,), how many of each size it takes [-]
    """

    totals: tuple[int, ...]
    shims: tuple[tuple[int, ...], ...]
    counts: tuple[tuple[int, ...], ...]

    def only(self, places: Sequence[int]) -> Stacks:
        """Some of them.

        Parameters
        ----------
        places : sequence of int
            Which, ascending [-]

        Returns
        -------
        Stacks

        >>> stacks_of([0.5e-3, 0.8e-3], 0.9e-3).only([0, 2]).shims
        ((), (1,))
        """
        return Stacks(
            tuple(self.totals[place] for place in places),
            tuple(self.shims[place] for place in places),
            tuple(self.counts[place] for place in places),
        )


class Ranked(NamedTuple):
    """How well a stack suits a position.

    stack : its place [-]
    miss : what it misses the need by, either way [nm]
    excess : what it misses it by more than the nearest; 0 where it counts as equal [nm]
    """

    stack: int
    miss: int
    excess: int


Span: TypeAlias = tuple[int, int]
"""Some stacks that follow each other: from the first place to before the last [-]."""


def stacks_of(thicknesses: Sequence[float], stack_maximum: float, shim_count_maximum: int = USUAL_MOST) -> Stacks:
    """Every stack of shims that fits one pocket.

    Parameters
    ----------
    thicknesses : sequence (T,)
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

    >>> stacks_of([0.015 * 0.0254, 0.030 * 0.0254], 0.030 * 0.0254).shims
    ((), (0,), (1,), (0, 0))
    """
    return _stacks(tuple(on_grid(size) for size in thicknesses), on_grid(stack_maximum), shim_count_maximum)


# of many sizes there are so many stacks that a list takes megabytes
@lru_cache(maxsize=4)
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
    return Stacks(
        totals=tuple(total for total, *_ in found),
        shims=tuple(shims for *_, shims in found),
        counts=tuple(tuple(shims.count(size) for size in range(len(thicknesses))) for *_, shims in found),
    )


def nearest_total(wanted: int, stacks: Stacks) -> int:
    """The thickness nearest to what is needed; of two as near the thicker, which stands shorter and pushes more.

    Parameters
    ----------
    wanted : int
        Bare height minus target height; negative where a position is short [nm]
    stacks : Stacks
        What may be laid [-]

    Returns
    -------
    int
        Thickness [nm]

    >>> nearest_total(650_000, stacks_of([0.5e-3, 0.8e-3], 0.9e-3))
    800000
    """
    place = bisect_left(stacks.totals, wanted)
    around = stacks.totals[max(place - 1, 0) : place + 1]
    return min(around, key=lambda total: (abs(total - wanted), -total))


def in_order(wanted: int, stacks: Stacks, nearest: int, spans: Sequence[Span] | None = None) -> Iterator[Ranked]:
    """Stacks from the one that suits a position best to the one that suits it worst.

    Parameters
    ----------
    wanted : int
        Bare height minus target height; negative where a position is short [nm]
    stacks : Stacks
        What may be laid [-]
    nearest : int
        The thickness nearest to what is needed, of these stacks or of more: `nearest_total` [nm]
    spans : sequence of Span, or None
        Which of the stacks, ascending and apart; None for all [-]

    Yields
    ------
    Ranked

    Notes
    -----
    The nearest stack is the best. Stacks no more than EQUAL_STACKS thicker or thinner than that count as
    equal to it: of these the one with the fewest shims, then the nearest, then the thicker. Common
    practice, no source.

    >>> inch = 0.0254
    >>> stacks = stacks_of([0.015 * inch, 0.030 * inch], 0.060 * inch)
    >>> wanted = [round(needed * inch / 1e-9) for needed in (0.0075, 0.045)]
    >>> [stacks.shims[next(in_order(one, stacks, nearest_total(one, stacks))).stack] for one in wanted]
    [(0,), (1, 0)]
    """
    totals, shims = stacks.totals, stacks.shims
    spans = [(0, len(totals))] if spans is None else spans
    least = abs(nearest - wanted)

    def best_first(group: list[Ranked]) -> list[Ranked]:
        return sorted(
            group, key=lambda one: (one.excess, len(shims[one.stack]), one.miss, -totals[one.stack], one.stack)
        )

    first, end = bisect_left(totals, nearest - _EQUAL), bisect_right(totals, nearest + _EQUAL)
    equal = [
        Ranked(place, abs(totals[place] - wanted), 0)
        for begin, stop in spans
        for place in range(max(begin, first), min(stop, end))
    ]
    yield from equal if len(equal) == 1 else best_first(equal)
    down = (place for begin, stop in reversed(spans) for place in range(min(stop, first) - 1, begin - 1, -1))
    up = (place for begin, stop in spans for place in range(max(begin, end), stop))
    thinner, thicker = next(down, None), next(up, None)
    group: list[Ranked] = []
    while thinner is not None or thicker is not None:
        if thicker is None or (thinner is not None and abs(totals[thinner] - wanted) < abs(totals[thicker] - wanted)):
            place, thinner = thinner or 0, next(down, None)
        else:
            place, thicker = thicker, next(up, None)
        miss = abs(totals[place] - wanted)
        # as near on the other side of the target is no better than a nanometer farther
        ranked = Ranked(place, miss, max(miss - least, 1))
        if group and ranked.excess != group[0].excess:
            yield from best_first(group)
            group = []
        group.append(ranked)
    yield from best_first(group)
