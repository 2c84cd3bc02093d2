"""Shim stock: limited shims dealt out over all positions at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from time import thread_time
from typing import Final, NamedTuple

import numpy as np
import scipy

from headbench.calc.heights.shims import Stacks

SECONDS: Final = 0.5
"""How long the search for the best sharing may take in processor time; after that the best found counts [s]."""

WALL: Final = 2.0
"""How much longer a solver may take by the clock than in processor time, so that a busy machine answers alike."""

MOST_CHOICES: Final = 8_000
"""How many pairs of position and stack the search may weigh: solving more takes far longer than `SECONDS`."""

_MICROMETER: Final = 1000.0
"""Nanometers in the unit that the program's deviations have."""


class Choice(NamedTuple):
    """A stack that a position might take, among those it might, best first.

    stack : its place [-]
    miss, excess : as Ranked has them [nm]
    good : whether the position is then inside its height or load and passes what breaks parts [-]
    clears : whether it passes what breaks parts [-]
    """

    stack: int
    miss: int
    excess: int
    good: bool
    clears: bool = True


@dataclass(frozen=True, slots=True)
class Dealt:
    """The stacks dealt to all positions.

    taken : tuple (P,), each position's stack [-]
    proven : bool, False where time ran out, or stacks were left out, before the best sharing was proven [-]
    """

    taken: tuple[int, ...]
    proven: bool


def deal(
    choices: Sequence[Sequence[Choice]],
    stacks: Stacks,
    in_stock: Sequence[int | None],
    *,
    all_weighed: bool = True,
    seconds: float = SECONDS,
) -> Dealt:
    """Share a limited stock of shims among all positions.

    Parameters
    ----------
    choices : sequence (P,) of sequences of Choice
        What every position might take, best first; each can be laid from the whole stock, no shim at all is among
        them [-]
    stacks : Stacks
        What may be laid [-]
    in_stock : sequence (T,) of int or None
        How many of each size there are; None without end [-]
    all_weighed : bool
        Whether the choices are all there are [-]
    seconds : float
        How long the search may take [s]

    Returns
    -------
    Dealt

    Notes
    -----
    In strict order: the most positions that break no parts, the most that are good, the least sum of
    deviations (those that count as equal to the nearest are none), the fewest shims, the least sum of what is
    missed, the thickest stacks. Where the stock holds what is best for each position alone, that is the best
    sharing: a strict order of sums keeps the order of what is summed. Else one integer program per step, what
    was reached before held as a constraint, in which positions that might take the same are counted together;
    solved by HiGHS (Q. Huangfu and J. A. J. Hall, Parallelizing the dual revised simplex method,
    Mathematical Programming Computation 10, 2018). The order in which positions are listed does not matter.

    >>> from headbench.calc.heights.shims import in_order, nearest_total, stacks_of
    >>> stacks = stacks_of([0.4e-3, 0.5e-3], 0.5e-3)
    >>> choices = [
    ...     [Choice(*one, good=one.miss < 100_000) for one in in_order(wanted, stacks, nearest_total(wanted, stacks))]
    ...     for wanted in (500_000, 450_000)
    ... ]
    >>> dealt = deal(choices, stacks, [1, 1])
    >>> [stacks.shims[one] for one in dealt.taken], dealt.proven
    ([(1,), (0,)], True)
    """
    # loaded when it is first used, which is no part of the search
    milp = scipy.optimize.milp
    end = thread_time() + seconds
    alone = [min(own, key=lambda one: _worth([one], stacks)) for own in choices]
    if holds(in_stock, [sum(laid) for laid in zip(*(stacks.counts[one.stack] for one in alone), strict=True)]):
        return Dealt(_stacks_of(alone), proven=all_weighed)
    alike: dict[tuple[Choice, ...], list[int]] = {}
    for place, own in enumerate(choices):
        alike.setdefault(tuple(own), []).append(place)
    pairs = [(group, one) for group, own in enumerate(alike) for one in own]
    group = np.array([group for group, _ in pairs])
    positions = np.array([len(places) for places in alike.values()], dtype=np.float64)
    stack = [one.stack for _, one in pairs]
    thickest = max(stacks.totals)
    costs = np.array(
        [
            (
                # a position that breaks parts weighs more than all that are only off their height or load
                0.0 if one.good else 1.0 if one.clears else 1.0 + len(choices),
                one.excess / _MICROMETER,
                float(len(stacks.shims[one.stack])),
                one.miss / _MICROMETER,
                (thickest - stacks.totals[one.stack]) / _MICROMETER,
            )
            for _, one in pairs
        ]
    ).T
    limited = [size for size, count in enumerate(in_stock) if count is not None]
    laid = np.array([[stacks.counts[one][size] for one in stack] for size in limited], dtype=np.float64)
    laid = laid.reshape(len(limited), len(stack))
    held: list[scipy.optimize.LinearConstraint] = [
        scipy.optimize.LinearConstraint(
            scipy.sparse.csr_matrix((np.ones(len(group)), (group, np.arange(len(group))))), positions, positions
        ),
        scipy.optimize.LinearConstraint(
            scipy.sparse.csr_matrix(laid), -np.inf, np.array([float(in_stock[size] or 0) for size in limited])
        ),
    ]
    best = in_turn(choices, stacks, in_stock)
    for cost in costs:
        left = end - thread_time()
        if left <= 0.0:
            return Dealt(_stacks_of(best), proven=False)
        found = milp(
            cost,
            integrality=np.ones(len(group), dtype=np.int64),
            bounds=scipy.optimize.Bounds(0.0, positions[group]),
            constraints=held,
            # the solver goes by the clock on the wall
            options={"time_limit": WALL * left, "mip_rel_gap": 0.0},
        )
        if found.x is not None:
            # each is a whole number but for rounding
            taken = np.rint(found.x)
            # what time cut short may be worse than what was dealt in turn
            best = min(best, _spread_out(alike, taken.astype(np.int64).tolist()), key=lambda each: _worth(each, stacks))
        if found.status != 0:
            return Dealt(_stacks_of(best), proven=False)
        # half a unit of the least difference there can be: one position, one shim, one nanometer
        reached = float(cost @ taken)
        held.append(
            scipy.optimize.LinearConstraint(scipy.sparse.csr_matrix(cost), -np.inf, reached + 0.5 / _MICROMETER)
        )
    return Dealt(_stacks_of(best), proven=all_weighed)


def _spread_out(alike: Mapping[tuple[Choice, ...], Sequence[int]], times: Sequence[int]) -> list[Choice]:
    """What each position takes, where it is known how often each choice of those that are alike is taken."""
    taken: dict[int, Choice] = {}
    often = iter(times)
    for own, places in alike.items():
        taken.update(zip(places, (one for one in own for _ in range(next(often))), strict=True))
    return [taken[place] for place in sorted(taken)]


def _stacks_of(taken: Sequence[Choice]) -> tuple[int, ...]:
    return tuple(one.stack for one in taken)


def _worth(taken: Sequence[Choice], stacks: Stacks) -> tuple[int, ...]:
    """What a sharing is judged by, in strict order; less is better."""
    return (
        sum(not one.clears for one in taken),
        sum(not one.good for one in taken),
        sum(one.excess for one in taken),
        sum(len(stacks.shims[one.stack]) for one in taken),
        sum(one.miss for one in taken),
        -sum(stacks.totals[one.stack] for one in taken),
    )


def in_turn(choices: Sequence[Sequence[Choice]], stacks: Stacks, in_stock: Sequence[int | None]) -> list[Choice]:
    """The stacks that positions take one after another, each the best that is left: where a search may start.

    Parameters
    ----------
    choices : sequence (P,) of sequences of Choice
        What every position might take, as for deal [-]
    stacks : Stacks
        What may be laid [-]
    in_stock : sequence (T,) of int or None
        How many of each size there are; None without end [-]

    Returns
    -------
    list of Choice
        Each position's; no shim at all is always left [-]

    >>> from headbench.calc.heights.shims import in_order, nearest_total, stacks_of
    >>> stacks = stacks_of([0.4e-3, 0.5e-3], 0.5e-3)
    >>> choices = [
    ...     [Choice(*one, good=one.miss < 100_000) for one in in_order(wanted, stacks, nearest_total(wanted, stacks))]
    ...     for wanted in (450_000, 500_000)
    ... ]
    >>> [stacks.shims[one.stack] for one in in_turn(choices, stacks, [1, 1])]
    [(1,), (0,)]
    """
    left = list(in_stock)
    taken: list[Choice] = []
    for own in choices:
        laid = [one for one in own if holds(left, stacks.counts[one.stack])]
        unbroken = next((one for one in laid if one.clears), laid[0])
        taken.append(next((one for one in laid if one.good), unbroken))
        used = stacks.counts[taken[-1].stack]
        left = [None if count is None else count - laid for count, laid in zip(left, used, strict=True)]
    return taken


def holds(in_stock: Sequence[int | None], counts: Sequence[int]) -> bool:
    """Whether a stock has so many of each size.

    Parameters
    ----------
    in_stock : sequence (T,) of int or None
        How many of each size there are; None without end [-]
    counts : sequence (T,) of int
        How many are wanted [-]

    Returns
    -------
    bool

    >>> holds([1, None], [1, 5]), holds([1, None], [2, 0])
    (True, False)
    """
    return all(count is None or laid <= count for laid, count in zip(counts, in_stock, strict=True))
