"""The rules by which shims are chosen, spelled out over all stacks there are: a referee for whatever stops early."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from headbench.calc.heights.shims import Stacks

EQUAL = 50_800
"""0.002 in: stacks no farther from the nearest count as equal to it [nm]."""

Good = Callable[[int], bool]
"""Whether a position is good on a stack of some thickness [nm]."""


@dataclass(frozen=True)
class ByRule:
    """What every stack means to one position, best first.

    order : list (S,), the stacks by place
    miss, excess : dict, by place [nm]
    """

    order: list[int]
    miss: dict[int, int]
    excess: dict[int, int]


def by_rule(wanted: int, stacks: Stacks, nearest: int | None = None) -> ByRule:
    """Excess, then number of shims, then miss, then the thicker; as near on the other side is a nanometer farther."""
    if nearest is None:
        nearest = min(stacks.totals, key=lambda total: (abs(total - wanted), -total))
    miss = {place: abs(total - wanted) for place, total in enumerate(stacks.totals)}
    least = abs(nearest - wanted)
    excess = {
        place: 0 if abs(total - nearest) <= EQUAL else max(miss[place] - least, 1)
        for place, total in enumerate(stacks.totals)
    }
    order = sorted(
        miss, key=lambda place: (excess[place], len(stacks.shims[place]), miss[place], -stacks.totals[place], place)
    )
    return ByRule(order, miss, excess)


def never(_: int) -> bool:
    """On no stack."""
    return False


def best_by_rule(wanted: int, stacks: Stacks, good: Good, breaks: Good = never) -> int:
    """The first good stack in the order; where none is, the first that breaks nothing, then the first of all."""
    (first, *_) = _best_first(by_rule(wanted, stacks).order, stacks, good, breaks)
    return first


def runner_up_by_rule(wanted: int, stacks: Stacks, good: Good, taken: int, breaks: Good = never) -> int | None:
    """The same among the stacks of another thickness than the one taken."""
    others = [place for place in by_rule(wanted, stacks).order if stacks.totals[place] != stacks.totals[taken]]
    return next(iter(_best_first(others, stacks, good, breaks)), None)


def _best_first(order: Sequence[int], stacks: Stacks, good: Good, breaks: Good) -> list[int]:
    return sorted(order, key=lambda place: (not good(stacks.totals[place]), breaks(stacks.totals[place])))


def worth(choice: Sequence[int], wanted: Sequence[int], stacks: Stacks, good: Sequence[Good]) -> tuple[int, ...]:
    """What a sharing is judged by, in strict order: bad positions, deviations, shims, misses, thinness."""
    rows = [by_rule(one, stacks) for one in wanted]
    totals = [stacks.totals[one] for one in choice]
    return (
        sum(not fits(total) for fits, total in zip(good, totals, strict=True)),
        sum(row.excess[one] for row, one in zip(rows, choice, strict=True)),
        sum(len(stacks.shims[one]) for one in choice),
        sum(row.miss[one] for row, one in zip(rows, choice, strict=True)),
        -sum(totals),
    )


def may_be_laid(choice: Sequence[int], stacks: Stacks, stock: Sequence[int | None]) -> bool:
    """Whether the stock has every shim of a sharing."""
    laid = [size for one in choice for size in stacks.shims[one]]
    return all(most is None or laid.count(size) <= most for size, most in enumerate(stock))
