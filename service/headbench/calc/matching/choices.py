"""Choices: every spring in every pocket on every stack of shims that passes what is asked there."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.clearances.coil_bind import coil_bind_clearance
from headbench.calc.heights.installed_height import open_height
from headbench.calc.heights.shims import Stacks
from headbench.calc.judging.grid import GRID, on_grid
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

_MOST_HEIGHTS: Final = 60_000
"""Heights at which loads are figured, of all pairs of a pocket and a spring together."""
_FEWEST: Final = 6
"""Stacks on either side of the best that a pair is tried on at least."""
_HALVINGS: Final = 40


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
    """

    pocket: IntArray
    spring: IntArray
    stack: IntArray
    seat_load: FloatArray
    open_load: FloatArray

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
            self.pocket[kept], self.spring[kept], self.stack[kept], self.seat_load[kept], self.open_load[kept]
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


def find_choices(pockets: Sequence[Pocket], springs: Sequence[SpringSet], stacks: Stacks, goal: Goal) -> Choices:
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
    ends = np.append(first_of[1:], len(stacks.totals))
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
    # every stack that is so thick: a stock may run out of one size
    times = (ends - first_of)[total]
    within = np.arange(times.sum()) - np.repeat(np.cumsum(times) - times, times)
    return Choices(
        np.repeat(pocket, times),
        np.repeat(spring, times),
        np.repeat(first_of[total], times) + within,
        np.repeat(seat, times),
        np.repeat(opened, times),
    )


def _of_spring(
    place: int, springs: SpringSet, pockets: Sequence[tuple[int, Pocket]], totals: IntArray, goal: Goal, most: int
) -> Choices:
    """The choices of one spring; their stacks are places in `totals`."""
    at_aims = _Aims(springs)
    pocket_at: list[int] = []
    chosen: list[IntArray] = []
    for at, pocket in pockets:
        own = _nearest(pocket, springs, at_aims, totals, goal, most)
        pocket_at += [at] * len(own)
        chosen.append(own)
    total, where = np.concatenate(chosen), np.array(pocket_at, dtype=np.int64)
    bare = np.array([pocket.bare_height for _, pocket in pockets])
    lifts = np.array([pocket.valve_lift for _, pocket in pockets])
    row = np.searchsorted(np.array([at for at, _ in pockets]), where)
    height = bare[row] - totals[total] * GRID
    opened = height - lifts[row]
    seat_load, open_load = _loads(springs, height), _loads(springs, opened)
    found = Choices(where, np.full(len(where), place, dtype=np.int64), total, seat_load, open_load)
    limits = [pocket.coil_bind_clearance_minimum for _, pocket in pockets]
    sees_open = [goal != "seat_load" or pocket.open_low > 0.0 or pocket.open_high > 0.0 for _, pocket in pockets]
    kept = [
        load > 0.0 and _holds(springs, closed, open_at, limits[own], sees_open[own])
        for load, closed, open_at, own in zip(
            seat_load.tolist(), height.tolist(), opened.tolist(), row.tolist(), strict=True
        )
    ]
    return found.only(np.array(kept, dtype=np.bool_))


def _holds(springs: SpringSet, closed: float, opened: float, limit: float, sees_open: bool) -> bool:  # noqa: FBT001 - a row of columns
    """Whether a spring keeps its coils apart and was read where it works."""
    return (
        not is_closed(opened)
        and coil_bind_clearance(opened, springs).verdict(limit) == _ACCEPT
        and springs.is_proven(closed)
        and (not sees_open or springs.is_proven(opened))
    )


class _Aims:
    """The heights at which springs push what is wanted, each looked for once."""

    def __init__(self, springs: SpringSet) -> None:
        self._springs = springs
        self._heights: dict[float, float] = {}

    def __getitem__(self, load: float) -> float:
        if math.isnan(load):
            return _NAN
        if load not in self._heights:
            (self._heights[load],) = heights_for(self._springs, [load])
        return self._heights[load]


def _nearest(pocket: Pocket, springs: SpringSet, at_aims: _Aims, totals: IntArray, goal: Goal, most: int) -> IntArray:
    """The stacks that may do in a pocket, the nearest to the best one, as places in `totals`, ascending."""
    bare, lift = pocket.bare_height, pocket.valve_lift
    # the thinnest and the thickest stack that each demand leaves
    room = pocket.coil_bind_clearance_minimum
    thinnest = [bare - pocket.target_height - pocket.height_window, bare - lift - at_aims[pocket.open_low]]
    thickest = [
        bare - pocket.target_height + pocket.height_window,
        bare - lift - at_aims[pocket.open_high],
        bare - lift - springs.tallest_bind - room,
    ]
    low = max([0.0, *(one for one in thinnest if one > 0.0)])
    high = min([totals[-1] * GRID, *(one for one in thickest if not math.isnan(one))])
    begin = int(np.searchsorted(totals, on_grid(low)))
    end = int(np.searchsorted(totals, on_grid(max(high, -1.0)), side="right"))
    best = best_stack(pocket, springs, at_aims, goal)
    middle = int(np.searchsorted(totals, on_grid(min(max(best, low), high)))) if best == best else begin  # noqa: PLR0124 - NaN is not itself
    return np.arange(max(begin, middle - most), min(end, middle + most), dtype=np.int64)


def best_stack(pocket: Pocket, springs: SpringSet, at_aims: _Aims | None, goal: Goal) -> float:
    """How thick a stack would have to be so that a spring pushes exactly what is wanted of it.

    Parameters
    ----------
    pocket : Pocket
        Where it stands [-]
    springs : SpringSet
        The spring [-]
    at_aims : heights by load, or None
        What is known of it already [-]
    goal : Goal
        Which load is wanted; of both the stack whose worse deviation is least [-]

    Returns
    -------
    float
        Thickness, negative where the position is short; where no load is wanted that of the target height [m]

    >>> from headbench.calc.springs.one_curve import rated_curve
    >>> from headbench.calc.springs.spring_set import spring_set
    >>> pocket = Pocket(0.0455, 0.0125, _NAN, _NAN, 500.0, _NAN, _NAN, _NAN, 0.0015, 0)
    >>> round(best_stack(pocket, spring_set(rated_curve(0.045, 500.0, 50e3)), None, "seat_load"), 9)
    0.0005
    """
    at_aims = _Aims(springs) if at_aims is None else at_aims
    closed = pocket.bare_height - at_aims[pocket.seat_load]
    opened = open_height(pocket.bare_height, pocket.valve_lift) - at_aims[pocket.open_load]
    by_goal = {"seat_load": closed, "open_load": opened, "both": _between(pocket, springs, closed, opened)}[goal]
    return pocket.bare_height - pocket.target_height if math.isnan(by_goal) else by_goal


def _between(pocket: Pocket, springs: SpringSet, closed: float, opened: float) -> float:
    """The stack at which seat load and open load are off alike, which is where the worse of them is least."""
    if math.isnan(closed + opened):
        return _NAN
    low, high = min(closed, opened), max(closed, opened)
    share = pocket.seat_load / pocket.open_load
    for _ in range(_HALVINGS):
        stack = 0.5 * (low + high)
        height = pocket.bare_height - stack
        over = (springs.load_at(height) - pocket.seat_load) + share * (
            springs.load_at(height - pocket.valve_lift) - pocket.open_load
        )
        # a thicker stack pushes more at both ends
        low, high = (low, stack) if over > 0.0 else (stack, high)
    return 0.5 * (low + high)


def _loads(springs: SpringSet, heights: FloatArray) -> FloatArray:
    """Load of springs, all known by their readings, at many heights; see `SpringSet.load_at`."""
    which = np.zeros(len(heights), dtype=np.int64)
    total = np.zeros(len(heights))
    for curve, rise in springs.own:
        if isinstance(curve, LoadCurve):
            total += stacked([curve]).load_at(which, heights - rise)
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
