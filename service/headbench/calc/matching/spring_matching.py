"""Spring matching: the best that can be made of some springs and a drawer of shims."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from headbench.calc import FloatArray, IntArray
from headbench.calc.clearances.coil_bind import coil_bind_clearance
from headbench.calc.heights.installed_height import ShimsAtHand, installed_height, open_height
from headbench.calc.heights.shims import Stacks, stacks_of
from headbench.calc.judging.grid import GRID
from headbench.calc.matching.alike import Alike, find_alike
from headbench.calc.matching.assigning import assign
from headbench.calc.matching.choices import Choices, Goal, Pocket, deviations, find_choices
from headbench.calc.matching.limits import EQUAL_LOADS
from headbench.calc.matching.pairing import NONE, Assigned, Pairing, Ranks
from headbench.calc.springs.spring_set import SpringSet

_NAN: Final = math.nan
STEP: Final = EQUAL_LOADS.values[0]
"""Loads count in steps of this [N]."""
_ALIKE: Final = 0.3
"""Part of the time of a search that windows of load may be looked for."""
_FARTHEST: Final = 100_000
"""Steps beyond which loads count as equally far off."""


class Filled(NamedTuple):
    """What stands in one pocket.

    spring : int, its place [-]
    shims : tuple of int, places in the list of sizes, thickest first [-]
    shim_stack, installed_height : float [m]
    seat_load, open_load : float [N]
    coil_bind_clearance : float [m]
    deviation : float, how far the load is off the one wanted, or off the middle of its group; see `deviations` [N]
    """

    spring: int
    shims: tuple[int, ...]
    shim_stack: float
    installed_height: float
    seat_load: float
    open_load: float
    coil_bind_clearance: float
    deviation: float


@dataclass(frozen=True, slots=True)
class Matched:
    """The springs and shims of P pockets.

    each : list of Filled, None where no spring is left or none may stand [-]
    worst : float, largest deviation; NaN of none [N]
    bound : float, what the worst could not be less than with any number of shims [N]
    total : float, sum of the deviations [N]
    worst_at : int or None, the pocket it is at [-]
    proven : bool, whether nothing better exists [-]
    used : list (T,), how many shims of each size are laid [-]
    fillable : mapping of frozenset of int, by pocket the springs that could stand there, were shims without end [-]
    """

    each: list[Filled | None]
    worst: float
    bound: float
    total: float
    worst_at: int | None
    proven: bool
    used: list[int]
    fillable: Mapping[int, frozenset[int]]

    @property
    def left_empty(self) -> list[int]:
        """The pockets that no spring is left for."""
        return [place for place, one in enumerate(self.each) if one is None]


def match_springs(
    pockets: Sequence[Pocket],
    springs: Sequence[SpringSet],
    shims: ShimsAtHand,
    goal: Goal = "seat_load",
    repeats: float = 0.0,
) -> Matched:
    """Give every pocket a spring and a stack of shims so that loads come as near as can be to those wanted.

    Parameters
    ----------
    pockets : sequence (P,) of Pocket
        The positions; heights and lifts known [-]
    springs : sequence (S,) of SpringSet
        The springs there are, each to be used once; which of them count: `is_matchable` [-]
    shims : ShimsAtHand
        The shims that may be laid, and how many there are [-]
    goal : Goal
        Which loads are made alike [-]
    repeats : float
        What the tester repeats a load to: what is off by less does not count in the sum [N]

    Returns
    -------
    Matched

    Notes
    -----
    In strict order: the fewest pockets left empty, the least worst deviation, the least sum of deviations, the fewest
    shims, the fewest springs moved from where they lie. Where no load is wanted of a group, its loads come as near as
    can be to each other (see `find_alike`). Loads count in steps of EQUAL_LOADS. See `find_choices` and `assign`.

    >>> from headbench.calc.springs.readings import curve_through
    >>> from headbench.calc.springs.spring_set import of_load_alone
    >>> springs = [
    ...     SpringSet((of_load_alone(curve_through([0.046, 0.032], loads))._replace(coil_bind_height=0.029),), 0.0)
    ...     for loads in ([445.0, 1145.0], [470.0, 1170.0])
    ... ]
    >>> wanted = dict(target_height=0.0445, height_window=0.001, seat_load=520.0, open_load=_NAN, open_low=_NAN)
    >>> rest = dict(wanted, open_high=_NAN, coil_bind_clearance_minimum=0.0015, group=0)
    >>> pockets = [Pocket(0.0445, 0.0125, current=0, **rest), Pocket(0.0440, 0.0125, current=1, **rest)]
    >>> found = match_springs(pockets, springs, ShimsAtHand([0.5e-3], 1.5e-3))
    >>> [one.spring for one in found.each], round(found.worst, 9), found.proven
    ([1, 0], 25.0, True)
    """
    stacks = stacks_of(shims.thicknesses, shims.stack_maximum, shims.shim_count_maximum)
    choices = find_choices(pockets, springs, stacks, goal, counted=shims.in_stock is not None)
    aimed, alike = _aimed(pockets, choices, goal, shims.seconds)
    if len(choices) == 0:
        nothing = [0] * len(shims.thicknesses)
        return Matched([None] * len(pockets), _NAN, _NAN, 0.0, None, True, nothing, {})  # noqa: FBT003 - proven
    off = deviations(choices, aimed, goal)
    pairing = _pairing(pockets, springs, choices, stacks, off, repeats)
    found = assign(pairing, stacks, shims.in_stock, seconds=(1.0 - _ALIKE) * shims.seconds)
    each = [
        None if one == NONE else _filled(aimed[at], choices, one, springs, stacks, float(off[one]))
        for at, one in enumerate(found.taken)
    ]
    fillable = {at: frozenset(choices.spring[choices.pocket == at].tolist()) for at in set(choices.pocket.tolist())}
    return _matched(each, found, fillable, alike, sizes=len(shims.thicknesses))


def _matched(
    each: list[Filled | None], found: Assigned, fillable: Mapping[int, frozenset[int]], alike: Alike, *, sizes: int
) -> Matched:
    there = [(at, one) for at, one in enumerate(each) if one is not None]
    worst_at = max(there, key=lambda one: one[1].deviation, default=(None, None))[0]
    used = [0] * sizes
    for _, one in there:
        for size in one.shims:
            used[size] += 1
    worst = max((one.deviation for _, one in there), default=_NAN)
    # loads that come alike are no farther off their middle than half of what they differ by
    bound = found.bound if alike.proven else min(found.bound, alike.least / 2)
    total = math.fsum(one.deviation for _, one in there)
    return Matched(
        each,
        worst,
        # a bound that is reached but for a step is the worst itself
        worst if bound == found.worst else bound * STEP,
        total,
        worst_at,
        found.proven and alike.proven,
        used,
        fillable,
    )


def _aimed(pockets: Sequence[Pocket], choices: Choices, goal: Goal, seconds: float) -> tuple[Sequence[Pocket], Alike]:
    """The pockets with a load to aim at, of groups without one the middle of what comes alike; and that as found."""
    wanted = [getattr(pocket, "seat_load" if goal == "both" else goal) for pocket in pockets]
    loads = choices.open_load if goal == "open_load" else choices.seat_load
    kept = np.array([math.isnan(load) for load in wanted], dtype=np.bool_)[choices.pocket]
    if goal == "both" or not kept.any():
        return pockets, Alike({}, 0, 0, proven=True)
    own = choices.only(kept)
    groups = [pocket.group for pocket in pockets]
    alike = find_alike(own.pocket, own.spring, _steps(loads[kept]), groups, seconds=_ALIKE * seconds)
    middle: Mapping[int, float] = {group: 0.5 * twice * STEP for group, twice in alike.middle.items()}
    return [
        _aiming_at(pocket, middle.get(pocket.group, _NAN), goal) if math.isnan(load) else pocket
        for pocket, load in zip(pockets, wanted, strict=True)
    ], alike


def _aiming_at(pocket: Pocket, load: float, goal: Goal) -> Pocket:
    return pocket._replace(open_load=load) if goal == "open_load" else pocket._replace(seat_load=load)


def _steps(loads: FloatArray) -> IntArray:
    return np.minimum(np.rint(loads / STEP), _FARTHEST).astype(np.int64)


def _pairing(
    pockets: Sequence[Pocket],
    springs: Sequence[SpringSet],
    choices: Choices,
    stacks: Stacks,
    off: FloatArray,
    repeats: float,
) -> Pairing:
    steps = _steps(off)
    current = np.array([pocket.current for pocket in pockets], dtype=np.int64)
    shims = np.array([len(one) for one in stacks.shims], dtype=np.int64)
    return Pairing(
        choices.pocket,
        choices.spring,
        choices.stack,
        Ranks(
            off=steps,
            # what is nearer than the tester repeats is as good as met
            counted=np.where(off <= repeats, 0, steps),
            shims=shims[choices.stack],
            moved=(choices.spring != current[choices.pocket]).astype(np.int64),
        ),
        len(pockets),
        len(springs),
        choices.all_there,
    )


def _filled(
    pocket: Pocket, choices: Choices, one: int, springs: Sequence[SpringSet], stacks: Stacks, off: float
) -> Filled:
    spring, stack = int(choices.spring[one]), int(choices.stack[one])
    thick = stacks.totals[stack] * GRID
    height = installed_height(pocket.bare_height, thick)
    opened = open_height(height, pocket.valve_lift)
    return Filled(
        spring=spring,
        shims=stacks.shims[stack],
        shim_stack=thick,
        installed_height=height,
        seat_load=float(choices.seat_load[one]),
        open_load=float(choices.open_load[one]),
        coil_bind_clearance=coil_bind_clearance(opened, springs[spring]).clearance,
        deviation=off,
    )
