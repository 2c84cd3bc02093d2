"""Stem height: what to grind off tips, and to sink seats by, so that the tips of like valves stand alike."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from statistics import median
from typing import Final, NamedTuple

from headbench.calc.judging.grid import GRID, on_grid
from headbench.calc.stems.limits import RETAINER_TO_TIP_SLIP, SEAT_CUT_WEIGHT

_WEIGHT: Final = SEAT_CUT_WEIGHT.values[0]
_FEWEST_TO_NAME_ONE: Final = 3


class Equalized(NamedTuple):
    """Stems of one kind made to stand alike.

    low, high : float, window that the new heights lie in [m]
    tip_grind : tuple (P,), what comes off each tip [m]
    sink : tuple (P,), how much deeper each valve comes to sit, along its axis [m]
    """

    low: float
    high: float
    tip_grind: tuple[float, ...]
    sink: tuple[float, ...]


def tip_left(maximum: float, ground: float, groove_to_tip: float, groove_minimum: float) -> float:
    """What may still come off a tip, min(X_max - ground, groove to tip - its minimum), and never less than 0.

    Parameters
    ----------
    maximum : float
        Most that may come off over the valve's life, X_max; 0 under a lash cap [m]
    ground : float
        What came off before; NaN where nobody knows, figured with as none [m]
    groove_to_tip : float
        Lock groove to tip now; NaN where not measured, which leaves it out [m]
    groove_minimum : float
        Least that must stay of it; NaN leaves it out as well [m]

    Returns
    -------
    float
        What is left to grind [m]

    Notes
    -----
    Own derivation. What rests on a NaN is for the caller to call not measured.

    >>> left = tip_left(0.25e-3, 0.1e-3, math.nan, 1.5e-3), tip_left(0.25e-3, 0.0, 1.6e-3, 1.5e-3)
    >>> [round(one * 1e3, 6) for one in left]
    [0.15, 0.1]
    """
    by_case = maximum if math.isnan(ground) else maximum - ground
    by_groove = groove_to_tip - groove_minimum
    return max(by_case if math.isnan(by_groove) else min(by_case, by_groove), 0.0)


def equalize(
    heights: Sequence[float],
    tips_left: Sequence[float],
    sinks_left: Sequence[float],
    spread: float,
    target: float = math.nan,
) -> Equalized:
    """Tip grinds x and sinks y that bring every h - x + y into one window, or as near to it as each can come.

    Parameters
    ----------
    heights : sequence (P,)
        Stem heights h of one kind of valve, at least one, none NaN [m]
    tips_left : sequence (P,)
        What may still come off each tip, 0 or more [m]
    sinks_left : sequence (P,)
        How much deeper each valve may still sit, 0 or more [m]
    spread : float
        Spread wanted: how wide the window is, if it can be [m]
    target : float
        Middle of the window; NaN = wherever the least has to be cut [m]

    Returns
    -------
    Equalized

    Notes
    -----
    Around a height wanted each stem is for itself. Else, in strict order: the spread wanted, or the least there
    can be above it; no seat touched where tips alone do that; the least sum of cuts, a sink counting
    `SEAT_CUT_WEIGHT` times a tip grind; the least largest cut. With the window's lower end a,
    x = max(h - a - s, 0) and y = max(a - h, 0) are the least for each valve, so all hangs on a alone: the sum is
    convex in it and bends only where a or a + s meets a height, and the best is where its slope turns from below
    0 to above. In whole nanometers, so that no window hangs on rounding. Own derivation.

    >>> inch = 0.0254
    >>> heights = [1.900 * inch, 1.904 * inch, 1.910 * inch]
    >>> plan = equalize(heights, [0.006 * inch] * 3, [0.004 * inch] * 3, 0.0)
    >>> [round(one / inch, 6) for one in (*plan.tip_grind, *plan.sink)]
    [0.0, 0.0, 0.006, 0.004, 0.0, 0.0]
    """
    tall, tips, seats = ([on_grid(float(one)) for one in column] for column in (heights, tips_left, sinks_left))
    width = on_grid(spread)
    if math.isnan(target):
        lowest_tops = max(height - tip for height, tip in zip(tall, tips, strict=True))
        highest_bottoms = min(height + seat for height, seat in zip(tall, seats, strict=True))
        width = max(width, lowest_tops - highest_bottoms)
        by_tips_alone = lowest_tops - min(tall) <= width
        low = _cheapest(sorted(tall), width, lowest_tops - width, min(tall) if by_tips_alone else highest_bottoms)
    else:
        low = on_grid(target) - width / 2
    high = low + width
    return Equalized(
        low * GRID,
        high * GRID,
        tuple(min(max(height - high, 0), tip) * GRID for height, tip in zip(tall, tips, strict=True)),
        tuple(min(max(low - height, 0), seat) * GRID for height, seat in zip(tall, seats, strict=True)),
    )


def _cheapest(tall: Sequence[int], width: int, least: int, most: int) -> float:
    """The lower end of the window that costs least, from `least` to `most`; of several the least largest cut [nm]."""

    def slope_above(low: int) -> float:
        """How fast the sum of cuts grows as the window is raised from here."""
        return _WEIGHT * bisect_right(tall, low) - (len(tall) - bisect_right(tall, low + width))

    bends = sorted(
        {least, most, *(one for end in (0, width) for height in tall if least < (one := height - end) < most)}
    )
    first = next((low for low in bends if slope_above(low) >= 0.0), most)
    last = next((low for low in bends if slope_above(low) > 0.0), most)
    return min(max((tall[0] + tall[-1] - width) / 2, first), last)


def misread_stems(
    heights: Sequence[float], installed_heights: Sequence[float], tips_ground: Sequence[float]
) -> list[int]:
    """Places whose retainer to tip, h - H + ground, is not that of the other valves.

    Parameters
    ----------
    heights : sequence (P,)
        Stem heights above the spring seat, h; NaN where not measured [m]
    installed_heights : sequence (P,)
        Installed heights H from the same spring seat; NaN where not measured [m]
    tips_ground : sequence (P,)
        What came off each tip before; NaN where nobody knows [m]

    Returns
    -------
    list of int
        Places off the median by more than `RETAINER_TO_TIP_SLIP`; both of two that differ by more [-]

    Notes
    -----
    On valves of one set the lock groove is as far from the tip on every one, so that what is left of the
    stem height above the retainer can differ by what was ground off alone. From memory.

    >>> misread_stems([0.048, 0.0481, 0.0485], [0.044, 0.0441, 0.044], [0.0, 0.0, 0.0])
    [2]
    """
    above = [h - own + ground for h, own, ground in zip(heights, installed_heights, tips_ground, strict=True)]
    known = [one for one in above if not math.isnan(one)]
    if len(known) < 2:  # noqa: PLR2004 - one alone has nothing to differ from
        return []
    slip = on_grid(RETAINER_TO_TIP_SLIP.values[0])
    if len(known) < _FEWEST_TO_NAME_ONE:
        apart = on_grid(max(known) - min(known)) > slip
        return [place for place, one in enumerate(above) if apart and not math.isnan(one)]
    usual = median(known)
    return [place for place, one in enumerate(above) if not math.isnan(one) and on_grid(abs(one - usual)) > slip]
