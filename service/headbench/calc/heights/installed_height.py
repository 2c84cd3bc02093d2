"""Installed height: from the micrometer's reading to the spring's height with the valve closed and at full lift."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.heights.shim_stock import Dealt, share
from headbench.calc.heights.shims import USUAL_MOST, Ranked, Stacks, best_stacks, fits_stock, rank_stacks, stacks_of
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.verdicts import Verdict, within


@dataclass(frozen=True, slots=True)
class ShimsAtHand:
    """The shims a job may lay.

    thicknesses : array (T,), sizes, all different [m]
    stack_maximum : float, thickest stack in one pocket [m]
    shim_count_maximum : int, most shims in one stack [-]
    in_stock : sequence (T,) of int or None, or None, how many of each size; None without end [-]
    """

    thicknesses: FloatArray
    stack_maximum: float
    shim_count_maximum: int = USUAL_MOST
    in_stock: Sequence[int | None] | None = None


@dataclass(frozen=True, slots=True)
class Heights:
    """Every position's heights once its shims are chosen; NaN where a reading or the target is missing.

    bare_height : array (P,), height with no shim, H_0 [m]
    needed : array (P,), shim thickness that would meet the target exactly, negative if too short [m]
    shims : tuple of P tuples, the sizes laid as places in the list of thicknesses, thickest first [-]
    shim_stack : array (P,), their total thickness [m]
    installed_height : array (P,), height with the shims, valve closed, H: as read, else as figured [m]
    figured_height : array (P,), the same as figured alone [m]
    deviation : array (P,), installed height minus target [m]
    short_by : array (P,), how much too short the bare height is, 0 where it is not [m]
    runner_up : tuple of P tuples or None, the next best stack; None where there is none [-]
    runner_up_height : array (P,), the height it would give [m]
    ran_out : array (P,), True where the stock does not hold the stack that would be taken otherwise [-]
    proven : bool, whether a limited stock is shared in a way proven best [-]
    used : array (T,), how many shims of each size are laid [-]
    """

    bare_height: FloatArray
    needed: FloatArray
    shims: tuple[tuple[int, ...], ...]
    shim_stack: FloatArray
    installed_height: FloatArray
    figured_height: FloatArray
    deviation: FloatArray
    short_by: FloatArray
    runner_up: tuple[tuple[int, ...] | None, ...]
    runner_up_height: FloatArray
    ran_out: BoolArray
    proven: bool
    used: IntArray


Suits = Callable[[IntArray, FloatArray], BoolArray]
"""Which of some positions, at heights (N,), are inside their height or load and pass what breaks parts."""


def within_height(target_height: FloatArray, tolerance: FloatArray) -> Suits:
    """Whether positions at some heights are inside their tolerance: all that heights alone can say.

    Parameters
    ----------
    target_height : array (P,)
        Installed height wanted [m]
    tolerance : array (P,)
        Largest deviation either way [m]

    Returns
    -------
    function (places (N,), heights (N,)) -> array (N,)

    >>> suits = within_height(np.array([0.0445]), np.array([0.00025]))
    >>> suits(np.array([0, 0]), np.array([0.0446, 0.0450])).tolist()
    [True, False]
    """

    def suits(places: IntArray, heights: FloatArray) -> BoolArray:
        judged = within(heights - target_height[places], tolerance[places])
        return np.asarray(judged == Verdict.ACCEPT, dtype=np.bool_)

    return suits


def set_heights(
    bare: FloatArray,
    target_height: FloatArray,
    at_hand: ShimsAtHand,
    suits: Suits,
    height_with_shims: FloatArray | None = None,
) -> Heights:
    """Choose every position's shims and the height its spring then stands at.

    Parameters
    ----------
    bare : array (P,)
        Height with no shim, H_0 [m]
    target_height : array (P,)
        Installed height wanted [m]
    at_hand : ShimsAtHand
        The shims that may be laid [-]
    suits : function (places (N,), heights (N,)) -> array (N,)
        Whether positions at those heights are inside their height or load and pass what breaks parts [-]
    height_with_shims : array (P,), optional
        Height read after assembly, corrected as the bare one; NaN where not read [m]

    Returns
    -------
    Heights

    Notes
    -----
    Of the stacks that suit a position the best in the order of rank_stacks; the nearest where none
    suits. A limited stock is one problem over all positions. A position that is short already gets no
    shim: it stands at its bare height. A height that was read after assembly counts. Common practice,
    no source.

    >>> inch = 0.0254
    >>> bare, target = np.array([1.795]) * inch, np.array([1.750]) * inch
    >>> at_hand = ShimsAtHand(np.array([0.015, 0.030, 0.060]) * inch, 0.060 * inch)
    >>> heights = set_heights(bare, target, at_hand, within_height(target, np.array([0.010]) * inch))
    >>> heights.shims, (heights.installed_height / inch).round(9).tolist()
    (((1, 0),), [1.75])
    """
    needed = bare - target_height
    known = np.flatnonzero(~np.isnan(needed))
    stacks = stacks_of(at_hand.thicknesses, at_hand.stack_maximum, at_hand.shim_count_maximum)
    ranked = rank_stacks(needed[known], stacks)
    stack_heights = bare[known, np.newaxis] - stacks.totals * GRID
    rows = np.arange(len(known))
    wanted = ranked.order[:, 0]
    good = np.zeros(stack_heights.shape, dtype=np.bool_)
    good[rows, wanted] = suits(known, stack_heights[rows, wanted])
    # a stock may run out of what suits; else only those whose nearest stack does not suit look further
    further = rows if not fits_stock(wanted, stacks, at_hand.in_stock) else np.flatnonzero(~good[rows, wanted])
    if len(further):
        good[further] = suits(np.repeat(known[further], len(stacks.totals)), stack_heights[further].ravel()).reshape(
            len(further), -1
        )
        wanted = best_stacks(ranked, good)
    dealt = share(ranked, good, wanted, stacks, at_hand.in_stock)
    second = _runner_up(ranked, stacks, dealt.choice, good)
    return _heights(bare, target_height, known, stacks, wanted, dealt, second, height_with_shims)


def _runner_up(ranked: Ranked, stacks: Stacks, choice: IntArray, good: BoolArray) -> IntArray:
    """The stack of another thickness that would be taken if the chosen one were not there; -1 where there is none."""
    others = stacks.totals[ranked.order] != stacks.totals[choice][:, np.newaxis]
    suiting = others & np.take_along_axis(good, ranked.order, axis=1)
    first = np.where(suiting.any(axis=1), suiting.argmax(axis=1), others.argmax(axis=1))
    second = np.take_along_axis(ranked.order, first[:, np.newaxis], axis=1)[:, 0]
    return np.where(others.any(axis=1), second, -1).astype(np.int64)


def _heights(
    bare: FloatArray,
    target_height: FloatArray,
    known: IntArray,
    stacks: Stacks,
    wanted: IntArray,
    dealt: Dealt,
    second: IntArray,
    height_with_shims: FloatArray | None,
) -> Heights:
    positions = len(bare)
    stack, other, ran_out = np.full(positions, np.nan), np.full(positions, np.nan), np.zeros(positions, dtype=np.bool_)
    stack[known] = stacks.totals[dealt.choice] * GRID
    other[known] = np.where(second < 0, np.nan, stacks.totals[second] * GRID)
    ran_out[known] = stacks.totals[dealt.choice] != stacks.totals[wanted]
    shims: list[tuple[int, ...]] = [()] * positions
    runner_up: list[tuple[int, ...] | None] = [None] * positions
    for place, own, next_best in zip(known.tolist(), dealt.choice.tolist(), second.tolist(), strict=True):
        shims[place] = stacks.shims[own]
        runner_up[place] = None if next_best < 0 else stacks.shims[next_best]
    figured = installed_height(bare, stack)
    read = np.full(positions, np.nan) if height_with_shims is None else height_with_shims
    installed = np.where(np.isnan(read), figured, read)
    return Heights(
        bare_height=bare,
        needed=bare - target_height,
        shims=tuple(shims),
        shim_stack=stack,
        installed_height=installed,
        figured_height=figured,
        deviation=installed - target_height,
        short_by=np.maximum(target_height - bare, 0.0),
        runner_up=tuple(runner_up),
        runner_up_height=installed_height(bare, other),
        ran_out=ran_out,
        proven=dealt.proven,
        used=stacks.counts[dealt.choice].sum(axis=0),
    )


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

    >>> round(thickest_stack(ShimsAtHand(np.array([0.25e-3]), 1.5e-3, 3)), 9)
    0.00075
    """
    totals = stacks_of(at_hand.thicknesses, at_hand.stack_maximum, at_hand.shim_count_maximum).totals
    return float(totals.max()) * GRID


def bare_height(
    measured_height: FloatArray, deduction: FloatArray, locator_thickness: FloatArray | float = 0.0
) -> FloatArray:
    """Height the spring would have with no shim, H_0 = H_m - c - locator.

    Parameters
    ----------
    measured_height : array (P,)
        Height micrometer reading H_m, valve closed, no shim [m]
    deduction : array (P,)
        How much the micrometer over-reads because it rests on a different retainer step, c; negative where it
        under-reads [m]
    locator_thickness : array (P,) or float
        What a spring locator takes that was not in place when the height was read [m]

    Returns
    -------
    array (P,)
        Bare height H_0 [m]

    Notes
    -----
    Common practice, no source.

    >>> bare_height(np.array([47.5e-3]), np.array([2.25e-3])).round(9).tolist()
    [0.04525]
    >>> bare_height(np.array([47.5e-3]), np.array([-1.25e-3]), 1.5e-3).round(9).tolist()
    [0.04725]
    """
    return measured_height - deduction - locator_thickness


def installed_height(bare_height: FloatArray, shim_stack: FloatArray) -> FloatArray:
    """Height of the spring with the valve closed, H = H_0 - t.

    Parameters
    ----------
    bare_height : array (P,)
        Bare height H_0 [m]
    shim_stack : array (P,)
        Total thickness of the shims under the spring, t [m]

    Returns
    -------
    array (P,)
        Installed height H [m]

    Notes
    -----
    Common practice, no source.

    >>> installed_height(np.array([45.25e-3]), np.array([0.75e-3])).round(9).tolist()
    [0.0445]
    """
    return bare_height - shim_stack


def open_height(installed_height: FloatArray, valve_lift: FloatArray) -> FloatArray:
    """Height of the spring at full lift, H_L = H - L.

    Parameters
    ----------
    installed_height : array (P,)
        Installed height H [m]
    valve_lift : array (P,)
        Lift at the valve, L [m]

    Returns
    -------
    array (P,)
        Open height H_L [m]

    Notes
    -----
    Common practice, no source.

    >>> open_height(np.array([44.5e-3]), np.array([12.5e-3])).round(9).tolist()
    [0.032]
    """
    return installed_height - valve_lift
