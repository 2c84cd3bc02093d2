"""Choices: every spring in every pocket on every stack of shims that passes what is asked there."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.heights.shims import Stacks
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.touching import is_closed
from headbench.calc.judging.verdicts import Verdict
from headbench.calc.springs.heights_for import heights_for
from headbench.calc.springs.load_curves import stacked
from headbench.calc.springs.one_curve import LoadCurve
from headbench.calc.springs.spring_set import SpringSet

_NAN: Final = math.nan
_ACCEPT: Final = int(Verdict.ACCEPT)

Goal = Literal["seat_load", "open_load", "both"]
"""Which loads are made alike."""

_MOST_HEIGHTS: Final = 24_000
"""Heights at which loads are figured, of all pairs of a pocket and a spring together."""
_FEWEST: Final = 6
"""Stacks on either side of the best that a pair is tried on at least."""
_ALTERNATIVES: Final = 4
"""Stacks of one thickness that are told apart where a stock may run out of a size, those of the fewest shims."""
_STEPS: Final = 3
"""By false position between the stacks for the seat load and for the open load; curves are nearly straight there."""


class Pocket(NamedTuple):
    """A position that wants a spring; NaN where nothing is wanted.

    bare_height : float, height with no shim [m]
    valve_lift : float [m]
    target_height : float, installed height wanted [m]
    height_window : float, how far from it a spring may stand; NaN any [m]
    seat_load, open_load : float, loads wanted [N]
    open_low, open_high : float, least and most load at full lift that is taken [N]
    coil_bind_clearance_minimum : float, least room between the coils at full lift [m]
    group : int, which positions its load is to be alike with [-]
    current : int, place of the spring that lies there; -1 none [-]
    barred : frozenset of int, places of springs that may not go there [-]
    """

    bare_height: float
    valve_lift: float
    target_height: float
    height_window: float
    seat_load: float
    open_load: float
    open_low: float
    open_high: float
    coil_bind_clearance_minimum: float
    group: int
    current: int = -1
    barred: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Choices:
    """C choices, those of one pocket and spring from the thinnest stack to the thickest.

    pocket, spring, stack : array (C,), their places [-]
    seat_load, open_load : array (C,), what the spring then pushes [N]
    all_there : bool, False where farther or other stacks are left out that a short stock might ask for [-]
    """

    pocket: IntArray
    spring: IntArray
    stack: IntArray
    seat_load: FloatArray
    open_load: FloatArray
    all_there: bool = True

    def __len__(self) -> int:
        return len(self.pocket)

    def only(self, kept: BoolArray) -> Choices:
        """Some of them.

        Parameters
        ----------
        kept : array (C,)
            Which [-]

        Returns
        -------
        Choices

        >>> none = Choices(*(np.zeros(0, np.int64),) * 3, *(np.zeros(0),) * 2)
        >>> len(none.only(np.zeros(0, np.bool_)))
        0
        """
        return Choices(
            self.pocket[kept],
            self.spring[kept],
            self.stack[kept],
            self.seat_load[kept],
            self.open_load[kept],
            self.all_there,
        )


def is_matchable(springs: SpringSet) -> bool:
    """Whether springs were read well enough to be matched.

    Parameters
    ----------
    springs : SpringSet
        The springs of one valve [-]

    Returns
    -------
    bool
        False where the load of one was not read on a tester, or is in doubt, or a coil-bind height is: a match that
        rests on a catalog is none [-]

    >>> from headbench.calc.springs.one_curve import rated_curve
    >>> from headbench.calc.springs.spring_set import spring_set
    >>> is_matchable(spring_set(rated_curve(0.040, 500.0, 50e3)))
    False
    """
    return springs.is_provable and springs.binds_read


def find_choices(
    pockets: Sequence[Pocket], springs: Sequence[SpringSet], stacks: Stacks, goal: Goal, *, counted: bool = False
) -> Choices:
    """Every choice there is, or the best of them where there are very many.

    Parameters
    ----------
    pockets : sequence (P,) of Pocket
        The positions; heights and lifts known [-]
    springs : sequence (S,) of SpringSet
        The springs; those that are not `is_matchable` are in no choice [-]
    stacks : Stacks
        What may be laid [-]
    goal : Goal
        Which loads are made alike [-]
    counted : bool
        Whether shims may run out, so that stacks as thick of other sizes are choices of their own [-]

    Returns
    -------
    Choices

    Notes
    -----
    A choice stands within the window around the target height, keeps its coils apart by the limit, pushes something
    with the valve closed and no more or less than is taken at full lift, and works where its springs were read. The
    farther a stack is from the best the farther off is the load, so that of many the nearest are tried.

    >>> from headbench.calc.heights.shims import stacks_of
    >>> from headbench.calc.springs.readings import curve_through
    >>> from headbench.calc.springs.spring_set import SpringSet, of_load_alone
    >>> one = of_load_alone(curve_through([0.046, 0.032], [470.0, 1170.0]))._replace(coil_bind_height=0.029)
    >>> pocket = Pocket(0.0455, 0.0125, 0.0445, 0.00075, 520.0, _NAN, _NAN, _NAN, 0.0015, 0)
    >>> found = find_choices([pocket], [SpringSet((one,), 0.0)], stacks_of([0.5e-3], 1.5e-3), "seat_load")
    >>> [stack for stack in found.stack.tolist()], found.seat_load.round(6).tolist()
    ([1, 2, 3], [520.0, 545.0, 570.0])
    """
    totals, first_of = np.unique(np.array(stacks.totals, dtype=np.int64), return_index=True)
    most = max(_MOST_HEIGHTS // max(len(pockets) * len(springs), 1) // 2, _FEWEST)
    found: list[Choices] = []
    for place, one in enumerate(springs):
        own = [at for at, pocket in enumerate(pockets) if place not in pocket.barred]
        if own and is_matchable(one):
            found.append(_of_spring(place, one, [(at, pockets[at]) for at in own], totals, goal, most))
    if not found:
        return Choices(*(np.zeros(0, np.int64),) * 3, *(np.zeros(0),) * 2)
    pocket, spring, total, seat, opened = (
        np.concatenate([getattr(each, field) for each in found])
        for field in ("pocket", "spring", "stack", "seat_load", "open_load")
    )
    # those of one thickness follow each other, the fewest shims first
    alike = np.diff(np.append(first_of, len(stacks.totals)))
    times = np.minimum(alike, _ALTERNATIVES if counted else 1)[total]
    within = np.arange(times.sum()) - np.repeat(np.cumsum(times) - times, times)
    return Choices(
        np.repeat(pocket, times),
        np.repeat(spring, times),
        np.repeat(first_of[total], times) + within,
        np.repeat(seat, times),
        np.repeat(opened, times),
        all_there=all(each.all_there for each in found) and not (alike > _ALTERNATIVES).any(),
    )


def _of_spring(
    place: int, springs: SpringSet, pockets: Sequence[tuple[int, Pocket]], totals: IntArray, goal: Goal, most: int
) -> Choices:
    """The choices of one spring; their stacks are places in `totals`."""
    asked = _Asked([pocket for _, pocket in pockets], springs, goal)
    begin = np.searchsorted(totals, np.rint(asked.thinnest / GRID))
    end = np.searchsorted(totals, np.rint(asked.thickest / GRID), side="right")
    middle = np.searchsorted(totals, np.rint(asked.best.clip(asked.thinnest, asked.thickest) / GRID))
    first, last = np.maximum(begin, middle - most), np.minimum(end, middle + most)
    counts = np.maximum(last - first, 0)
    row = np.repeat(np.arange(len(pockets)), counts)
    total = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts) + first[row]
    height = asked.bare[row] - totals[total] * GRID
    opened = height - asked.lift[row]
    load_at = _Pushing(springs)
    seat_load, open_load = load_at(height), load_at(opened)
    # the verdict itself, where a stack stands on the edge
    room = opened - springs.tallest_bind
    apart = (room >= asked.room[row] - GRID) & ~is_closed(room) & ~is_closed(opened)
    where = np.array([at for at, _ in pockets], dtype=np.int64)[row]
    every = Choices(
        where,
        np.full(len(where), place, dtype=np.int64),
        total,
        seat_load,
        open_load,
        all_there=bool((first <= begin).all() and (last >= end).all()),
    )
    return every.only(apart & (seat_load > 0.0))


class _Asked:
    """What P pockets ask of the stacks under one spring.

    bare, lift, room : array (P,), height without shims, lift, and the least room between the coils [m]
    thinnest, thickest : array (P,), stacks that all demands leave; the thickest below the thinnest where none is [m]
    best : array (P,), the stack whose load is the one wanted: see `best_stack` [m]
    """

    def __init__(self, pockets: Sequence[Pocket], springs: SpringSet, goal: Goal) -> None:
        table = np.array([pocket[:9] for pocket in pockets])
        self.bare, self.lift, target, window, seat, opened, least, most, self.room = table.T
        low, high = springs.proven_between
        at_full = self.bare - self.lift
        heights = {load: heights_for(springs, [load])[0] for load in {*least.tolist(), *most.tolist()} if load > 0.0}
        sees_open = (goal != "seat_load") | (least > 0.0) | (most > 0.0)
        self.thinnest = np.fmax.reduce(
            [
                np.zeros(len(pockets)),
                self.bare - target - window,
                self.bare - high,
                at_full - _looked_up(heights, least),
                np.where(sees_open, at_full - high, np.nan),
            ]
        )
        self.thickest = np.fmin.reduce(
            [
                self.bare,
                self.bare - target + window,
                self.bare - low,
                at_full - _looked_up(heights, most),
                np.where(sees_open, at_full - low, np.nan),
                at_full - springs.tallest_bind - self.room,
            ]
        )
        self.best = _best_stacks(springs, self.bare, self.lift, seat, opened, goal)
        self.best = np.where(np.isnan(self.best), self.bare - target, self.best)
        self.best = np.where(np.isnan(self.best), self.thinnest, self.best)


def _looked_up(known: Mapping[float, float], loads: FloatArray) -> FloatArray:
    """The height for every load; NaN for one that is not wanted, or cannot be reached."""
    return np.array([known.get(load, _NAN) for load in loads.tolist()])


def best_stack(pocket: Pocket, springs: SpringSet, goal: Goal) -> float:
    """How thick a stack would have to be so that a spring pushes exactly what is wanted of it.

    Parameters
    ----------
    pocket : Pocket
        Where it stands [-]
    springs : SpringSet
        The spring [-]
    goal : Goal
        Which load is wanted; of both the stack whose worse deviation is least [-]

    Returns
    -------
    float
        Thickness, negative where the position is short; NaN where no load is wanted [m]

    >>> from headbench.calc.springs.readings import curve_through
    >>> from headbench.calc.springs.spring_set import spring_set
    >>> pocket = Pocket(0.0455, 0.0125, _NAN, _NAN, 520.0, _NAN, _NAN, _NAN, 0.0015, 0)
    >>> round(best_stack(pocket, spring_set(curve_through([0.046, 0.032], [470.0, 1170.0])), "seat_load"), 9)
    0.0005
    """
    bare, lift, seat, opened = (
        np.array([one]) for one in (pocket.bare_height, pocket.valve_lift, pocket.seat_load, pocket.open_load)
    )
    return float(_best_stacks(springs, bare, lift, seat, opened, goal)[0])


def _best_stacks(
    springs: SpringSet, bare: FloatArray, lift: FloatArray, seat: FloatArray, opened: FloatArray, goal: Goal
) -> FloatArray:
    wanted = {load for load in {*seat.tolist(), *opened.tolist()} if load > 0.0}
    heights = dict(zip(wanted, heights_for(springs, [*wanted]), strict=True))
    for_seat, for_open = bare - _looked_up(heights, seat), bare - lift - _looked_up(heights, opened)
    if goal != "both":
        return for_seat if goal == "seat_load" else for_open
    # seat load and open load are off alike there, one over and one under
    low, high = np.fmin(for_seat, for_open), np.fmax(for_seat, for_open)
    share, load_at = seat / opened, _Pushing(springs)

    def over(stack: FloatArray) -> FloatArray:
        """How much the two are over together; a thicker stack pushes more at both ends."""
        total: FloatArray = load_at(bare - stack) - seat + share * (load_at(bare - lift - stack) - opened)
        return total

    stack: FloatArray = low
    under_low, over_high = over(low), over(high)
    for _ in range(_STEPS):
        fall = over_high - under_low
        stack = low + np.divide(-under_low, fall, out=np.zeros_like(fall), where=fall > 0.0) * (high - low)
        at = over(stack)
        low, under_low = np.where(at > 0.0, low, stack), np.where(at > 0.0, under_low, at)
        high, over_high = np.where(at > 0.0, stack, high), np.where(at > 0.0, at, over_high)
    return stack


class _Pushing:
    """Springs, all known by their readings, at many heights at once; see `SpringSet.load_at`."""

    def __init__(self, springs: SpringSet) -> None:
        own = [(curve, rise) for curve, rise in springs.own if isinstance(curve, LoadCurve)]
        self._each = [(stacked([curve]), rise) for curve, rise in own]

    def __call__(self, heights: FloatArray) -> FloatArray:
        which, total = np.zeros(len(heights), dtype=np.int64), np.zeros(len(heights))
        for curve, rise in self._each:
            total += curve.load_at(which, heights - rise)
        return total


def deviations(choices: Choices, pockets: Sequence[Pocket], goal: Goal) -> FloatArray:
    """How far the load of every choice is from the load wanted, either way.

    Parameters
    ----------
    choices : Choices
        C of them [-]
    pockets : sequence of Pocket
        What is wanted [-]
    goal : Goal
        Which load: of both the worse, the open load's in proportion to the seat load's [-]

    Returns
    -------
    array (C,)
        d = |F - F_wanted|; of both max(|F - F_w|, |F_L - F_Lw| F_w / F_Lw); NaN where none is wanted [N]

    >>> one = Choices(*(np.zeros(1, np.int64),) * 3, np.array([510.0]), np.array([1150.0]))
    >>> pocket = Pocket(0.0455, 0.0125, _NAN, _NAN, 500.0, 1200.0, _NAN, _NAN, 0.0015, 0)
    >>> [deviations(one, [pocket], goal).round(9).tolist() for goal in ("seat_load", "open_load", "both")]
    [[10.0], [50.0], [20.833333333]]
    """
    seat, opened = (
        np.array([getattr(one, load) for one in pockets])[choices.pocket] for load in ("seat_load", "open_load")
    )
    off_seat, off_open = np.abs(choices.seat_load - seat), np.abs(choices.open_load - opened)
    if goal == "both":
        worse: FloatArray = np.maximum(off_seat, off_open * seat / opened)
        return worse
    off: FloatArray = off_seat if goal == "seat_load" else off_open
    return off
