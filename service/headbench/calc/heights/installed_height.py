"""Installed height: from the micrometer's reading to the spring's height with the valve closed and at full lift."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from headbench.calc.heights.pockets import Side, Sided, Suits, lay_shims
from headbench.calc.heights.shim_stock import SECONDS
from headbench.calc.heights.shims import USUAL_MOST, Stacks, nearest_total, stacks_of
from headbench.calc.judging.grid import GRID, on_grid
from headbench.calc.judging.rules import EQUAL_STACKS, READ_BACK_APART
from headbench.calc.judging.verdicts import Verdict, within

_NAN: Final = float("nan")


@dataclass(frozen=True, slots=True)
class ShimsAtHand:
    """The shims a job may lay.

    thicknesses : sequence (T,), sizes, all different [m]
    stack_maximum : float, thickest stack in one pocket [m]
    shim_count_maximum : int, most shims in one stack [-]
    in_stock : sequence (T,) of int or None, or None, how many of each size; None without end [-]
    seconds : float, how long the search for the best sharing of a stock may take [s]
    """

    thicknesses: Sequence[float]
    stack_maximum: float
    shim_count_maximum: int = USUAL_MOST
    in_stock: Sequence[int | None] | None = None
    seconds: float = SECONDS


class Height(NamedTuple):
    """One position's heights once its shims are chosen; NaN where a reading or the target is missing.

    bare_height : float, height with no shim, H_0 [m]
    needed : float, shim thickness that would meet the target exactly, negative if too short [m]
    shims : tuple, the sizes laid as places in the list of thicknesses, thickest first [-]
    shim_stack : float, their total thickness [m]
    installed_height : float, height with the shims, valve closed, H: as read, else as figured [m]
    figured_height : float, the same as figured alone [m]
    deviation : float, installed height minus target [m]
    short_by : float, how much too short the bare height is, 0 where it is not [m]
    runner_up : tuple or None, the next best stack; None where there is none [-]
    runner_up_height : float, the height it would give [m]
    ran_out : bool, whether the stock does not hold the stack that would be taken otherwise [-]
    is_fitted : bool, whether its shims were fitted already, so that none were chosen [-]
    is_matched : bool, whether its shims were chosen with its spring, for the load [-]
    """

    bare_height: float
    needed: float
    shims: tuple[int, ...]
    shim_stack: float
    installed_height: float
    figured_height: float
    deviation: float
    short_by: float
    runner_up: tuple[int, ...] | None
    runner_up_height: float
    ran_out: bool
    is_fitted: bool
    is_matched: bool

    @property
    def is_contradicted(self) -> bool:
        """Whether its heights with shims and without are so far apart that one of them is wrong, READ_BACK_APART."""
        return abs(self.installed_height - self.figured_height) > READ_BACK_APART.values[0] + GRID


@dataclass(frozen=True, slots=True)
class Heights:
    """All positions' heights.

    each : list of Height [-]
    proven : bool, whether a limited stock is shared in a way proven best [-]
    used : list (T,), how many shims of each size are laid [-]
    """

    each: list[Height]
    proven: bool
    used: list[int]


def within_height(target_height: float, tolerance: float) -> Sided:
    """How a position stands at a height by its tolerance: all that heights alone can say.

    Parameters
    ----------
    target_height : float
        Installed height wanted [m]
    tolerance : float
        Largest deviation either way [m]

    Returns
    -------
    function (height) -> Side

    >>> side = within_height(0.0445, 0.00025)
    >>> side(0.0446).name, side(0.0450).name
    ('RIGHT', 'TOO_TALL')
    """

    def side(height: float) -> Side:
        off = height - target_height
        if within(off, tolerance) == Verdict.ACCEPT:
            return Side.RIGHT
        return Side.TOO_TALL if off > 0.0 else Side.TOO_SHORT

    return side


def set_heights(
    bare: Sequence[float],
    target_height: Sequence[float],
    at_hand: ShimsAtHand,
    suits: Sequence[Suits],
    height_with_shims: Sequence[float],
    fitted: Sequence[float] | None = None,
    laid: Sequence[tuple[int, ...] | None] | None = None,
) -> Heights:
    """Choose every position's shims and the height its spring then stands at.

    Parameters
    ----------
    bare : sequence (P,)
        Height with no shim, H_0; NaN not known [m]
    target_height : sequence (P,)
        Installed height wanted; NaN not known [m]
    at_hand : ShimsAtHand
        The shims that may be laid [-]
    suits : sequence (P,) of Suits
        What each position asks of a height [-]
    height_with_shims : sequence (P,)
        Height read after assembly, corrected as the bare one; NaN where not read [m]
    fitted : sequence (P,)
        Total thickness of the shims that are fitted already, where none are to be chosen; NaN elsewhere [m]
    laid : sequence (P,) of tuple of int or None
        Shims that were chosen with the spring, by their sizes, thickest first; None where they are to be chosen [-]

    Returns
    -------
    Heights

    Notes
    -----
    Of the stacks that suit a position the best in the order of `in_order`; where none suits the nearest
    of those that break no parts, and the nearest of all where each would.
    A limited stock is one problem over all positions. A position that is short already gets no shim: it
    stands at its bare height. Shims that are fitted already stay as they are, and are not taken from the
    stock. A height that was read after assembly counts. Common practice, no source.

    >>> inch = 0.0254
    >>> at_hand = ShimsAtHand([0.015 * inch, 0.030 * inch, 0.060 * inch], 0.060 * inch)
    >>> suits = Suits((within_height(1.750 * inch, 0.010 * inch),))
    >>> (height,) = set_heights([1.795 * inch], [1.750 * inch], at_hand, [suits], [_NAN]).each
    >>> height.shims, round(height.installed_height / inch, 9)
    ((1, 0), 1.75)
    """
    stacks = stacks_of(at_hand.thicknesses, at_hand.stack_maximum, at_hand.shim_count_maximum)
    there = [_NAN] * len(bare) if fitted is None else fitted
    chosen = [None if one is None else stacks.shims.index(one) for one in laid or [None] * len(bare)]
    to_choose = [
        height if stack != stack and own is None else _NAN  # noqa: PLR0124 - NaN is not itself
        for height, stack, own in zip(bare, there, chosen, strict=True)
    ]
    in_stock = _left_over(at_hand.in_stock, stacks, chosen)
    found = lay_shims(to_choose, target_height, suits, stacks, in_stock, at_hand.seconds)
    taken = [one if own is None else own for one, own in zip(found.taken, chosen, strict=True)]
    rows = zip(
        bare,
        target_height,
        height_with_shims,
        there,
        taken,
        found.second,
        found.ran_out,
        [one is not None for one in chosen],
        strict=True,
    )
    used = [0] * len(at_hand.thicknesses)
    for stack in taken:
        for size in () if stack is None else stacks.shims[stack]:
            used[size] += 1
    return Heights([_height(stacks, *row) for row in rows], found.proven, used)


def _left_over(
    in_stock: Sequence[int | None] | None, stacks: Stacks, chosen: Sequence[int | None]
) -> Sequence[int | None] | None:
    """What the stock has left beside the stacks that are chosen."""
    counts = [stacks.counts[one] for one in chosen if one is not None]
    if in_stock is None or not counts:
        return in_stock
    used = [sum(each) for each in zip(*counts, strict=True)]
    return [None if there is None else max(there - laid, 0) for there, laid in zip(in_stock, used, strict=True)]


def _height(
    stacks: Stacks,
    bare: float,
    target: float,
    read: float,
    fitted: float,
    taken: int | None,
    second: int | None,
    ran_out: bool,  # noqa: FBT001 - a row of columns
    is_matched: bool,  # noqa: FBT001 - likewise
) -> Height:
    stack = fitted if taken is None else stacks.totals[taken] * GRID
    figured = installed_height(bare, stack)
    installed = figured if read != read else read  # noqa: PLR0124 - NaN is not itself
    short = target - bare
    return Height(
        bare_height=bare,
        needed=bare - target,
        shims=() if taken is None else stacks.shims[taken],
        shim_stack=stack,
        installed_height=installed,
        figured_height=figured,
        deviation=installed - target,
        short_by=max(short, 0.0),
        runner_up=None if second is None else stacks.shims[second],
        runner_up_height=_NAN if second is None else installed_height(bare, stacks.totals[second] * GRID),
        ran_out=ran_out,
        is_fitted=not math.isnan(fitted),
        is_matched=is_matched,
    )


def bare_by_check(checked: float, stack: float) -> float:
    """Bare height of a spring that was only measured once it was assembled, H_0 = H + t.

    Parameters
    ----------
    checked : float
        Height measured with the shims in, corrected as every height, H; NaN not measured [m]
    stack : float
        The shims fitted under it, in all, t; NaN not known [m]

    Returns
    -------
    float
        NaN where one is not known [m]

    Notes
    -----
    The second visit: what a shim more or less would make of it can be figured without taking it apart. Own
    derivation.

    >>> round(bare_by_check(0.0445, 0.00076), 9)
    0.04526
    """
    return checked + stack


def thickest_stack(at_hand: ShimsAtHand) -> float:
    """The thickest stack that the sizes at hand make, whatever is in stock.

    Parameters
    ----------
    at_hand : ShimsAtHand
        The shims that may be laid [-]

    Returns
    -------
    float
        Its thickness [m]

    >>> round(thickest_stack(ShimsAtHand([0.25e-3], 1.5e-3, 3)), 9)
    0.00075
    """
    return stacks_of(at_hand.thicknesses, at_hand.stack_maximum, at_hand.shim_count_maximum).totals[-1] * GRID


def held_back_from(height: Height, at_hand: ShimsAtHand) -> float:
    """The stack nearest to what a position needs, where a thinner one is laid so that no parts break.

    Parameters
    ----------
    height : Height
        The position with its shims chosen, its stock enough [-]
    at_hand : ShimsAtHand
        The shims that may be laid [-]

    Returns
    -------
    float
        Its thickness; NaN where the nearest, or one that counts as equal to it, is laid [m]

    >>> at_hand = ShimsAtHand([0.5e-3], 1.0e-3)
    >>> (height,) = set_heights([0.0455], [0.0445], at_hand, [Suits((lambda _: Side.RIGHT,))], [_NAN]).each
    >>> held_back_from(height, at_hand), round(held_back_from(height._replace(shim_stack=0.5e-3), at_hand), 9)
    (nan, 0.001)
    """
    stacks = stacks_of(at_hand.thicknesses, at_hand.stack_maximum, at_hand.shim_count_maximum)
    nearest = nearest_total(on_grid(height.needed), stacks)
    laid = on_grid(height.shim_stack)
    return nearest * GRID if laid < nearest - on_grid(EQUAL_STACKS.values[0]) else _NAN


def bare_height(measured_height: float, deduction: float, locator_thickness: float = 0.0) -> float:
    """Height the spring would have with no shim, H_0 = H_m - c - locator.

    Parameters
    ----------
    measured_height : float
        Height micrometer reading H_m, valve closed, no shim [m]
    deduction : float
        How much the micrometer over-reads because it rests on a different retainer step, c; negative where it
        under-reads [m]
    locator_thickness : float
        What a spring locator takes that was not in place when the height was read [m]

    Returns
    -------
    float
        Bare height H_0 [m]

    Notes
    -----
    Common practice, no source.

    >>> round(bare_height(47.5e-3, 2.25e-3), 9), round(bare_height(47.5e-3, -1.25e-3, 1.5e-3), 9)
    (0.04525, 0.04725)
    """
    return measured_height - deduction - locator_thickness


def installed_height(bare_height: float, shim_stack: float) -> float:
    """Height of the spring with the valve closed, H = H_0 - t.

    Parameters
    ----------
    bare_height : float
        Bare height H_0 [m]
    shim_stack : float
        Total thickness of the shims under the spring, t [m]

    Returns
    -------
    float
        Installed height H [m]

    Notes
    -----
    Common practice, no source.

    >>> round(installed_height(45.25e-3, 0.75e-3), 9)
    0.0445
    """
    return bare_height - shim_stack


def open_height(installed_height: float, valve_lift: float) -> float:
    """Height of the spring at full lift, H_L = H - L.

    Parameters
    ----------
    installed_height : float
        Installed height H [m]
    valve_lift : float
        Lift at the valve, L [m]

    Returns
    -------
    float
        Open height H_L [m]

    Notes
    -----
    Common practice, no source.

    >>> round(open_height(44.5e-3, 12.5e-3), 9)
    0.032
    """
    return installed_height - valve_lift
