"""Load remedy: what shim a load off its target takes, and whether coils, pocket, height and the other load allow it."""

from __future__ import annotations

import math
from enum import Enum
from typing import Final, NamedTuple

from headbench.calc.clearances.coil_bind import coil_bind_clearance
from headbench.calc.head.assembly import ValveSheet
from headbench.calc.heights.installed_height import open_height
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.load_target import LoadTarget
from headbench.calc.judging.verdicts import Verdict, within
from headbench.calc.springs.heights_for import heights_for

_HAIR: Final = 1e-6
"""Part of a step by which an amount may be more than a step and is still that step [-]."""


class Bar(Enum):
    """What keeps shims from giving a load."""

    NOTHING = "nothing"
    CURVE = "curve"
    COILS = "coils"
    POCKET = "pocket"
    OTHER_LOAD = "other_load"
    HEIGHT = "height"


class LoadRemedy(NamedTuple):
    """What shim would bring a load inside its target, and what is against it.

    more : float, shim to add; negative to take out; NaN where the spring's load is not known [m]
    bar : Bar, what keeps it from being done [-]
    comes_to : float, what it would leave between the coils, lay in the pocket, push at the other end, or stand at; NaN
        where nothing is against it [m], of the other load [N]
    coils_known : bool, whether the coil-bind clearance it leaves is known [-]
    """

    more: float
    bar: Bar
    comes_to: float
    coils_known: bool


def load_remedy(valve: ValveSheet, stack_maximum: float, step: float, *, at_full_lift: bool) -> LoadRemedy:
    """Work out the shim that brings a load that misses its target just inside it.

    Parameters
    ----------
    valve : ValveSheet
        The position, its load known and off its target [-]
    stack_maximum : float
        The thickest stack allowed in one pocket [m]
    step : float
        The shim is whole steps, rounded up, so that doing what is said is enough [m]
    at_full_lift : bool
        Whether it is the open load, else the seat load [-]

    Returns
    -------
    LoadRemedy

    Notes
    -----
    By the spring's own curve; a seat load read after assembly moves by as much as the curve does. What breaks
    parts is named first. The height counts only where the seat load does not carry it: see `assemble`. Own
    derivation.

    >>> from headbench.calc.head import assembly
    >>> from headbench.calc.heights.installed_height import ShimsAtHand
    >>> from headbench.calc.masses.valve_mass import WeighedParts
    >>> from headbench.calc.springs.readings import curve_through
    >>> from headbench.calc.springs.spring_set import spring_set
    >>> mm, unread = 1e-3, math.nan
    >>> readings = assembly.ValveReadings(
    ...     bare_height=45.0 * mm, height_with_shims=unread, height_proven=True, seat_load_with_shims=unread,
    ...     valve_lift=12.5 * mm, retainer_to_seal=unread,
    ...     springs=spring_set(curve_through([44.5 * mm, 32.0 * mm], [520.0, 1170.0])),
    ...     masses=WeighedParts(*(unread for _ in WeighedParts._fields)),
    ...     targets=assembly.Targets(44.5 * mm, LoadTarget(550.0, 546.0, 590.0), LoadTarget()),
    ...     limits=assembly.Limits(0.25 * mm, 1.5 * mm, 1.27 * mm, off_target_rejects=False),
    ... )
    >>> (valve,) = assembly.assemble([readings], ShimsAtHand([0.5 * mm], 1.5 * mm)).valves
    >>> found = load_remedy(valve, 1.5 * mm, 0.01 * mm, at_full_lift=False)
    >>> round(found.more / mm, 9), found.bar.name, found.coils_known
    (0.5, 'NOTHING', False)
    """
    springs, targets, limits = valve.readings.springs, valve.readings.targets, valve.readings.limits
    lift = valve.height.installed_height - valve.open_height
    # what the head shows more than the curve
    read_more = valve.seat_load - valve.figured_seat_load
    target, load = (targets.open_load, valve.open_load) if at_full_lift else (targets.seat_load, valve.seat_load)
    is_under = target.deviation(load) < 0.0
    aim = target.low if is_under else target.high
    (needed,) = heights_for(springs, [aim if at_full_lift else aim - read_more])
    if math.isnan(needed):
        bar = Bar.COILS if springs.is_known and is_under else Bar.CURVE
        return LoadRemedy(math.nan, bar, math.nan, coils_known=False)
    off = valve.height.installed_height - needed - (lift if at_full_lift else 0.0)
    more = math.copysign(math.ceil(abs(off) / step - _HAIR) * step, off)

    height = valve.height.installed_height - more
    at_lift = open_height(height, lift)
    clearance = coil_bind_clearance(at_lift, springs)
    if more > 0.0 and clearance.verdict(limits.coil_bind_clearance_minimum) == Verdict.REJECT:
        return LoadRemedy(more, Bar.COILS, clearance.clearance, coils_known=True)
    stack = valve.height.shim_stack + more
    if stack > stack_maximum + GRID or stack < -GRID:
        return LoadRemedy(more, Bar.POCKET, stack, clearance.complete)
    seat_load, open_load = springs.load_at(height) + read_more, springs.load_at(at_lift)
    other, pushed = (targets.seat_load, seat_load) if at_full_lift else (targets.open_load, open_load)
    if _passed(other, pushed, is_under=is_under):
        return LoadRemedy(more, Bar.OTHER_LOAD, pushed, clearance.complete)
    carried = (
        targets.seat_load.bounded
        and targets.seat_load.verdict(seat_load) == Verdict.ACCEPT
        and (valve.seat_load_read or springs.is_proven(height))
    )
    if not carried and within(height - valve.target_height, limits.installed_height_tolerance) == Verdict.REJECT:
        return LoadRemedy(more, Bar.HEIGHT, height, clearance.complete)
    return LoadRemedy(more, Bar.NOTHING, math.nan, clearance.complete)


def _passed(target: LoadTarget, load: float, *, is_under: bool) -> bool:
    """Whether a load that rises with more shim, or falls with less, is past the far end of its target."""
    far = LoadTarget(target.aim, high=target.high) if is_under else LoadTarget(target.aim, low=target.low)
    return far.verdict(load) == Verdict.REJECT
