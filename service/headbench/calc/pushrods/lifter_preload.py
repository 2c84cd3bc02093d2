"""Lifter preload: its range, what a preload off it means, and the stock pushrod lengths that bring it back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from headbench.calc.judging import limits, rules
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.touching import is_closed
from headbench.calc.judging.verdicts import Verdict, at_least, setting_verdict

# A preload that misses its range by less than this is on its limit, written in another unit [m].
_ROUNDING: Final = 1e-12

_REJECT: Final = int(Verdict.REJECT)

STOCK_STEP: Final = limits.STOCK_STEP.value
"""Step between the pushrod lengths usually kept in stock [m]."""

PRELOAD_MINIMUM: Final = limits.PRELOAD_MINIMUM.value
"""Least preload of a hydraulic lifter where a job names none [m]."""

PRELOAD_MAXIMUM: Final = limits.PRELOAD_MAXIMUM.value
"""Most preload of a hydraulic lifter where neither a job nor its plunger travel names one [m]."""

PLUNGER_RESERVE: Final = rules.PLUNGER_RESERVE.values[0]
"""What a plunger keeps of its travel at the most preload [m]."""

STOCK_GRACE: Final = rules.STOCK_GRACE.values[0]
"""What a stock length may miss the range of preload by and still do [m]."""


def most_preload(plunger_travel: float) -> float:
    """Most preload of a hydraulic lifter, its plunger travel less what it has to keep.

    Parameters
    ----------
    plunger_travel : float
        Travel of the plunger from its clip to its bottom; NaN where it is not known [m]

    Returns
    -------
    float
        PRELOAD_MAXIMUM where the travel is not known [m]

    >>> round(most_preload(3.3e-3) * 1e3, 3), most_preload(float("nan")) == PRELOAD_MAXIMUM
    (2.538, True)
    """
    if math.isnan(plunger_travel):
        return PRELOAD_MAXIMUM
    return plunger_travel - min(PLUNGER_RESERVE, plunger_travel / 3.0)


def least_preload(plunger_travel: float) -> float:
    """Least preload of a hydraulic lifter, no deeper than a third of its plunger travel.

    Parameters
    ----------
    plunger_travel : float
        Travel of the plunger from its clip to its bottom; NaN where it is not known [m]

    Returns
    -------
    float
        PRELOAD_MINIMUM where the travel is not known, or long enough for it [m]

    Notes
    -----
    With `most_preload` a short travel keeps its middle third. Common practice, no source.

    >>> round(least_preload(1.2e-3) * 1e3, 3), least_preload(float("nan")) == PRELOAD_MINIMUM
    (0.4, True)
    """
    return PRELOAD_MINIMUM if math.isnan(plunger_travel) else min(PRELOAD_MINIMUM, plunger_travel / 3.0)


def preload_range(minimum: float, maximum: float, target: float, plunger_travel: float) -> tuple[float, float]:
    """Range of preload: what was entered, and a default beside it that gives way to whatever was.

    Parameters
    ----------
    minimum, maximum, target : float
        Range and preload aimed at, as entered; NaN where not [m]
    plunger_travel : float
        Travel of the plunger from its clip to its bottom; NaN where it is not known [m]

    Returns
    -------
    (minimum, maximum) : tuple of float
        A target below 0 is a solid lifter's lash, and no default for a hydraulic one is above it [m]

    >>> low, high = preload_range(math.nan, math.nan, math.nan, 1.2e-3)
    >>> round(low * 1e3, 3), round(high * 1e3, 3)
    (0.4, 0.8)
    >>> preload_range(math.nan, -0.4e-3, math.nan, math.nan)
    (-0.0004, -0.0004)
    """
    if math.isnan(maximum):
        default = -math.inf if target < 0.0 else most_preload(plunger_travel)
        high = max(end for end in (default, minimum, target) if not math.isnan(end))
    else:
        high = maximum
    low = minimum
    if math.isnan(minimum):
        low = min(end for end in (least_preload(plunger_travel), high, target) if not math.isnan(end))
    return low, high


def bottom_known(preload_maximum: float, lifters_maximum: float, plunger_travel: float) -> bool:
    """Whether it is known how far the plungers may go in.

    Parameters
    ----------
    preload_maximum : float
        Most preload that is judged by; 0 and less for a solid lifter, which has no plunger [m]
    lifters_maximum : float
        Most preload as entered; NaN where not [m]
    plunger_travel : float
        Travel of the plunger from its clip to its bottom; NaN where it is not known [m]

    Returns
    -------
    bool
        While it is not, no preload is too shallow to bottom some lifter: travel can be taken out with shims [-]

    >>> bottom_known(1.5e-3, math.nan, math.nan), bottom_known(1.5e-3, math.nan, 3.3e-3)
    (False, True)
    >>> bottom_known(1.2e-3, 1.2e-3, math.nan), bottom_known(-0.4e-3, math.nan, math.nan)
    (True, True)
    """
    return preload_maximum <= 0.0 or not (math.isnan(lifters_maximum) and math.isnan(plunger_travel))


@dataclass(frozen=True, slots=True)
class PreloadJudged:
    """A preload held against its range.

    verdict : int, Verdict code [-]
    damages : bool, whether it is past a setting: no preload, or a plunger on its bottom [-]
    limit : float, the end of the range that is nearer [m]
    at_most : bool, whether that is the maximum [-]
    """

    verdict: int
    damages: bool
    limit: float
    at_most: bool


def judge_preload(
    preload: float,
    preload_minimum: float,
    preload_maximum: float,
    plunger_travel: float,
    *,
    misses_reject: bool = False,
) -> PreloadJudged:
    """Verdict on a preload: off the range is a setting, lash where there must be preload or a bottomed plunger is not.

    Parameters
    ----------
    preload : float
        Preload as it will run; negative for lash, NaN not known [m]
    preload_minimum, preload_maximum : float
        The range; both negative for the lash of a solid lifter [m]
    plunger_travel : float
        Travel of the plunger from its clip to its bottom; NaN where it is not known [m]
    misses_reject : bool
        Whether the job asks for what is off its range to be rejected [-]

    Returns
    -------
    PreloadJudged

    Notes
    -----
    A lifter without preload clatters and its plunger hammers its clip; one whose plunger is on its bottom,
    like a solid lifter without lash, holds its valve open. Common practice, no source.

    >>> inch = 0.0254
    >>> preloads = [0.040 * inch, 0.070 * inch, -0.005 * inch, 0.130 * inch]
    >>> held = [judge_preload(one, 0.020 * inch, 0.100 * inch, 0.130 * inch) for one in preloads]
    >>> [one.verdict for one in held], [one.damages for one in held]
    ([0, 0, 3, 3], [False, False, True, True])
    """
    if preload_maximum <= 0.0:
        damages = _gone(-preload, touching=preload_maximum == 0.0)
    else:
        lash = preload_minimum >= 0.0 and _gone(preload, touching=preload_minimum == 0.0)
        damages = lash or is_closed(plunger_travel - preload)
    to_spare = min(preload - preload_minimum, preload_maximum - preload)
    upper = preload > 0.5 * (preload_minimum + preload_maximum)
    return PreloadJudged(
        verdict=_REJECT if damages else setting_verdict(at_least(to_spare, 0.0), misses_reject=misses_reject),
        damages=damages,
        limit=preload_maximum if upper else preload_minimum,
        at_most=upper,
    )


def _gone(gap: float, *, touching: bool) -> bool:
    """Whether what there must be is used up; where parts may just touch, only past that."""
    return gap <= -GRID if touching else is_closed(gap)


@dataclass(frozen=True, slots=True)
class StockLengths:
    """Which pushrods of the maker's steps bring the preload into its range.

    steps_shorter : list of float (V), steps to go shorter, negative longer; NaN unread [-]
    preload : list of float (V), preload with that length [m]
    in_range : list of bool (V), False where no step of stock reaches the range or the reading is missing [-]
    common_steps : float, one length for all: steps shorter; NaN where nothing is read [-]
    common_preload : list of float (V), preload with that one length [m]
    common_in_range : list of bool (V), whether it is in range [-]
    """

    steps_shorter: list[float]
    preload: list[float]
    in_range: list[bool]
    common_steps: float
    common_preload: list[float]
    common_in_range: list[bool]


def stock_lengths(
    preload: Sequence[float],
    preload_minimum: float = PRELOAD_MINIMUM,
    preload_maximum: float = PRELOAD_MAXIMUM,
    stock_step: float = STOCK_STEP,
    target_preload: float | None = None,
) -> StockLengths:
    """Steps of stock length that bring each preload into its range, and nearest to the one wanted.

    Parameters
    ----------
    preload : sequence of float (V)
        Preload with the present pushrods: read, or `preload_after` the work [m]
    preload_minimum : float
        Least preload allowed [m]
    preload_maximum : float
        Most preload allowed [m]
    stock_step : float
        Step between the lengths in stock, above 0 [m]
    target_preload : float, optional
        Preload to come nearest to, inside the range; None keeps a pushrod whose preload is in range and
        takes the middle of the range for the others [m]

    Returns
    -------
    StockLengths

    Notes
    -----
    A range narrower than the step can fall between two lengths; then the nearest is given and not in range.
    A length that misses the range by STOCK_GRACE still does: nobody reads preload to less. Of two as near
    the one closer to the present length is taken. The one length for all is chosen in the same way for
    the middle between the largest and the smallest preload. Own derivation.

    >>> inch = 0.0254
    >>> stock = stock_lengths([0.085 * inch, 0.040 * inch, 0.120 * inch])
    >>> stock.steps_shorter, [round(one / inch, 9) for one in stock.preload], stock.in_range
    ([1.0, 0.0, 2.0], [0.035, 0.04, 0.02], [True, True, True])
    """
    low, high = preload_minimum - STOCK_GRACE - _ROUNDING, preload_maximum + STOCK_GRACE + _ROUNDING
    aim = 0.5 * (preload_minimum + preload_maximum) if target_preload is None else target_preload
    keep = target_preload is None
    steps = [_steps_to(one, low, high, aim, stock_step, keep=keep) for one in preload]
    known = [one for one in preload if not math.isnan(one)]
    smallest, largest = min(known, default=math.nan), max(known, default=math.nan)
    half = 0.5 * (largest - smallest)
    common_steps = _steps_to(smallest + half, low + half, high - half, aim, stock_step, keep=keep)
    after = [one - by * stock_step for one, by in zip(preload, steps, strict=True)]
    common = [one - common_steps * stock_step for one in preload]
    return StockLengths(
        steps_shorter=steps,
        preload=after,
        in_range=[low <= one <= high for one in after],
        common_steps=common_steps,
        common_preload=common,
        common_in_range=[low <= one <= high for one in common],
    )


def _steps_to(preload: float, low: float, high: float, aim: float, step: float, *, keep: bool) -> float:
    """Steps shorter that come nearest to the aim inside the range; `keep` leaves alone what is in range."""
    if math.isnan(preload) or (keep and low <= preload <= high):
        return preload if math.isnan(preload) else 0.0
    # the nearest inside the range is nearest to where the aim enters it
    aim = min(max(aim, low), high) if low <= high else aim

    def miss(steps: float) -> tuple[bool, int, float]:
        """What speaks against so many steps, in this order."""
        value = preload - steps * step
        # whole nanometers, so that no tie hangs on rounding
        return not low <= value <= high, round(abs(value - aim) / GRID), abs(steps)

    fewer = float(math.floor((preload - aim) / step))
    return min(fewer, fewer + 1.0, key=miss)
