"""Relief: what keeps a load from the one wanted, or a pocket empty, and what would be gained without it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from enum import Enum
from typing import Final, NamedTuple

from headbench.calc.heights.installed_height import ShimsAtHand
from headbench.calc.heights.shims import MOST_SHIMS, MOST_SIZES, stacks_of
from headbench.calc.judging.grid import GRID, on_grid
from headbench.calc.matching.choices import Goal, Pocket, best_stack, find_choices, is_matchable
from headbench.calc.matching.limits import EQUAL_LOADS
from headbench.calc.matching.spring_matching import Matched, match_springs
from headbench.calc.springs.spring_set import SpringSet

_NAN: Final = math.nan


class Blocked(Enum):
    """What is in the way."""

    TOO_SHORT = "too_short"
    STACK_MAXIMUM = "stack_maximum"
    HEIGHT_WINDOW = "height_window"
    COIL_BIND = "coil_bind_clearance"
    OPEN_LOAD = "open_load"
    THICKNESSES = "thicknesses"
    IN_STOCK = "in_stock"
    READINGS = "readings"
    TIME = "time"
    SPRINGS = "springs"


class Relief(NamedTuple):
    """What is in the way of the worst, and what would be gained without it.

    blocked : Blocked
    needed : float, the stack on which its spring would push exactly what is wanted; negative where it is short [m]
    allowed : float, the thickest stack that would have to be allowed for it, of the sizes there are; NaN where that is
        not in the way [m]
    worst : float, the worst of all pockets without what is in the way, were there shims without end; NaN where it
        cannot be lifted, or nothing is gained [N]
    """

    blocked: Blocked
    needed: float
    allowed: float
    worst: float


class Empty(NamedTuple):
    """Why a pocket is left empty.

    blocked : Blocked
    room : float, the most coil-bind clearance that any spring would have there without shims; NaN where none was read
        [m]
    """

    blocked: Blocked
    room: float


def what_blocks(
    pockets: Sequence[Pocket], springs: Sequence[SpringSet], shims: ShimsAtHand, goal: Goal, matched: Matched
) -> Relief | None:
    """What sets the worst deviation, and what would relieve it.

    Parameters
    ----------
    pockets, springs, shims, goal : see match_springs
        What was matched [-]
    matched : Matched
        What that came to [-]

    Returns
    -------
    Relief or None
        None where the worst is no more than loads are counted in, or where no load is wanted of that pocket [-]

    >>> shims = ShimsAtHand([0.5e-3], 1.5e-3)
    >>> what_blocks([], [], shims, "seat_load", match_springs([], [], shims))
    """
    at = matched.worst_at
    if at is None or matched.worst < EQUAL_LOADS.values[0]:
        return None
    pocket, filled = pockets[at], matched.each[at]
    if filled is None or math.isnan(pocket.open_load if goal == "open_load" else pocket.seat_load):
        return None
    spring = springs[filled.spring]
    needed = best_stack(pocket, spring, goal)
    if math.isnan(needed):
        # no height gives that load
        return None
    blocked = _in_the_way(pocket, spring, shims, needed, filled.shim_stack)
    allowed = _NAN
    if blocked is Blocked.STACK_MAXIMUM:
        totals = stacks_of(shims.thicknesses, 2.0 * needed, MOST_SHIMS).totals
        allowed = next((total for total in totals if total >= on_grid(needed)), totals[-1]) * GRID
    without = _without(blocked, at, pockets, shims, needed if math.isnan(allowed) else allowed)
    worst = _NAN
    if without is not None:
        freed = match_springs(without[0], springs, replace(without[1], in_stock=None), goal)
        # where it fills more, or gains nothing, nothing is promised
        if len(freed.left_empty) == len(matched.left_empty) and freed.worst < matched.worst - EQUAL_LOADS.values[0]:
            worst = freed.worst
    return Relief(blocked, needed, allowed, worst)


def _in_the_way(pocket: Pocket, spring: SpringSet, shims: ShimsAtHand, needed: float, laid: float) -> Blocked:
    height = pocket.bare_height - needed
    if on_grid(needed) < 0:
        return Blocked.TOO_SHORT
    if height - pocket.valve_lift - spring.tallest_bind < pocket.coil_bind_clearance_minimum:
        return Blocked.COIL_BIND
    if on_grid(needed) > on_grid(shims.stack_maximum):
        return Blocked.STACK_MAXIMUM
    if abs(height - pocket.target_height) > pocket.height_window:
        return Blocked.HEIGHT_WINDOW
    stacks = stacks_of(shims.thicknesses, shims.stack_maximum, shims.shim_count_maximum)
    off = abs(on_grid(laid) - on_grid(needed))
    nearer = any(abs(total - on_grid(needed)) < off for total in stacks.totals)
    return Blocked.IN_STOCK if nearer and shims.in_stock is not None else Blocked.THICKNESSES


def _without(
    blocked: Blocked, at: int, pockets: Sequence[Pocket], shims: ShimsAtHand, stack: float
) -> tuple[Sequence[Pocket], ShimsAtHand] | None:
    """The same with what is in the way of one pocket lifted; None where it cannot be."""
    match blocked:
        case Blocked.STACK_MAXIMUM:
            return pockets, replace(shims, stack_maximum=stack, shim_count_maximum=MOST_SHIMS)
        case Blocked.HEIGHT_WINDOW:
            own = pockets[at]._replace(height_window=_NAN)
            return [own if place == at else one for place, one in enumerate(pockets)], shims
        case Blocked.THICKNESSES if len(shims.thicknesses) < MOST_SIZES:
            return pockets, replace(shims, thicknesses=[*shims.thicknesses, on_grid(stack) * GRID])
        case Blocked.IN_STOCK:
            return pockets, shims
        case _:
            return None


def why_empty(
    pockets: Sequence[Pocket], springs: Sequence[SpringSet], shims: ShimsAtHand, goal: Goal, matched: Matched
) -> dict[int, Empty]:
    """Why no spring stands in the pockets that are left empty.

    Parameters
    ----------
    pockets, springs, shims, goal : see match_springs
        What was matched [-]
    matched : Matched
        What that came to [-]

    Returns
    -------
    dict of Empty
        By the place of the pocket the first of its demands without which a spring could stand there; where some could
        as it is there are too few springs, or the stock ran out [-]

    >>> pocket = Pocket(0.0455, 0.0125, 0.0445, 0.00075, 520.0, _NAN, _NAN, _NAN, 0.0015, 0)
    >>> shims = ShimsAtHand([0.5e-3], 1.5e-3)
    >>> why_empty([pocket], [], shims, "seat_load", match_springs([pocket], [], shims))[0].blocked.name
    'READINGS'
    """
    stacks = stacks_of(shims.thicknesses, shims.stack_maximum, shims.shim_count_maximum)
    barren = [at for at in matched.left_empty if at not in matched.fillable]
    used = {one.spring for one in matched.each if one is not None}

    def could(**without: float) -> set[int]:
        asked = [pockets[at]._replace(**without) for at in barren]  # type: ignore[arg-type] # numbers all
        return {barren[at] for at in find_choices(asked, springs, stacks, goal).pocket.tolist()} if asked else set()

    any_load, any_height = could(open_low=_NAN, open_high=_NAN), could(height_window=_NAN)
    return {
        at: _why(
            pockets[at],
            springs,
            shims,
            as_it_is=at in matched.fillable,
            has_spring=bool(matched.fillable.get(at, frozenset()) - used),
            proven=matched.proven,
            any_load=at in any_load,
            any_height=at in any_height,
        )
        for at in matched.left_empty
    }


def _why(
    pocket: Pocket,
    springs: Sequence[SpringSet],
    shims: ShimsAtHand,
    *,
    as_it_is: bool,
    has_spring: bool,
    proven: bool,
    any_load: bool,
    any_height: bool,
) -> Empty:
    own = [one for place, one in enumerate(springs) if place not in pocket.barred and is_matchable(one)]
    opened = pocket.bare_height - pocket.valve_lift
    room = max((opened - one.tallest_bind for one in own), default=_NAN)
    tallest, shortest = pocket.target_height + pocket.height_window, pocket.target_height - pocket.height_window
    in_the_way = [
        (Blocked.READINGS, not own),
        (Blocked.TIME, as_it_is and has_spring and not proven),
        (Blocked.IN_STOCK, as_it_is and has_spring),
        (Blocked.SPRINGS, as_it_is),
        (Blocked.COIL_BIND, room < pocket.coil_bind_clearance_minimum),
        (Blocked.STACK_MAXIMUM, pocket.bare_height - tallest > shims.stack_maximum),
        (Blocked.OPEN_LOAD, any_load),
        (Blocked.TOO_SHORT if shortest > pocket.bare_height else Blocked.HEIGHT_WINDOW, any_height),
    ]
    return Empty(next((blocked for blocked, is_so in in_the_way if is_so), Blocked.READINGS), room)
