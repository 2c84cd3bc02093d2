"""Spread: what a set of like values runs to, and the one that does not belong."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray

ODD_ABOVE: Final = 3.5
"""Modified z-score above which a value is the odd one out [-]."""

ALIKE_STEPS: Final = 2.0
"""Steps of the scale by which equal parts may read apart; common practice, no source [-]."""

ALIKE_SHARE: Final = 0.005
"""Share of the median by which parts of one set may differ and still belong; common practice, no source [-]."""

FEWEST_TO_JUDGE: Final = 4
"""Values a set needs before one of them can be called odd [-]."""

_TO_SCORE: Final = 0.6745
"""The MAD of a normal distribution over its standard deviation [-]."""

# two steps of 0.1 are 0.2 only to the last binary digit
_ROUNDING: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Spread:
    """What Q quantities of one set run to; NaN (or -1) where nothing of a quantity was measured.

    count : array (Q,), how many were measured [-]
    smallest, largest, mean : array (Q,) [the quantity's unit]
    smallest_at, largest_at : array (Q,), the first position that has it [-]
    """

    count: IntArray
    smallest: FloatArray
    largest: FloatArray
    mean: FloatArray
    smallest_at: IntArray
    largest_at: IntArray


def spread(values: FloatArray) -> Spread:
    """Smallest, largest and mean of several quantities over the same positions.

    Parameters
    ----------
    values : array (Q, P)
        One row per quantity, NaN where not measured [any unit per row]

    Returns
    -------
    Spread

    >>> spread(np.array([[3.0, np.nan, 1.0]])).smallest_at.tolist()
    [2]
    """
    missing = np.isnan(values)
    count = values.shape[1] - missing.sum(axis=1)
    none = count == 0
    low, high = np.where(missing, np.inf, values), np.where(missing, -np.inf, values)
    total = np.where(missing, 0.0, values).sum(axis=1)
    return Spread(
        count=count.astype(np.int64),
        smallest=np.where(none, np.nan, low.min(axis=1, initial=np.inf)),
        largest=np.where(none, np.nan, high.max(axis=1, initial=-np.inf)),
        mean=np.where(none, np.nan, total / np.maximum(count, 1)),
        smallest_at=np.where(none, -1, low.argmin(axis=1) if values.shape[1] else -1),
        largest_at=np.where(none, -1, high.argmax(axis=1) if values.shape[1] else -1),
    )


def odd_ones_out(values: FloatArray, step: float) -> BoolArray:
    """Which values of a set do not belong to it, by the modified z-score 0.6745 (x - median)/max(MAD, step).

    Parameters
    ----------
    values : array (P,)
        Like values, NaN where not measured [any unit]
    step : float
        Smallest difference that the scale shows, in the unit of the values [any unit]

    Returns
    -------
    array (P,)
        True where the score is above ODD_ABOVE and the value off by more than equal parts may be [-]

    Notes
    -----
    MAD is the median of the distances from the median, so one bad reading cannot hide itself by
    stretching it. A scale shows equal parts a step or two apart, so the step is the least that a set
    scatters, and nothing within the larger of ALIKE_STEPS steps and ALIKE_SHARE of the median is odd.
    Fewer than four values name nobody.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods (2012), 1.3.5.17 Detection of Outliers, after
    B. Iglewicz and D. Hoaglin, How to Detect and Handle Outliers, ASQC 1993.

    >>> odd_ones_out(np.array([104.1, 104.3, 104.2, 104.4, 108.9]), 0.1).tolist()
    [False, False, False, False, True]
    """
    known = values[~np.isnan(values)]
    if len(known) < FEWEST_TO_JUDGE:
        return np.zeros(len(values), dtype=np.bool_)
    middle = _median(known)
    scale = max(_median(np.abs(known - middle)), step)
    off = np.abs(values - middle)
    alike = max(ALIKE_STEPS * step, ALIKE_SHARE * abs(middle)) * (1.0 + _ROUNDING)
    return np.asarray((_TO_SCORE * off > ODD_ABOVE * scale) & (off > alike), dtype=np.bool_)


def _median(known: FloatArray) -> float:
    # numpy's own spends most of its time on what a dozen plain numbers never need
    ascending = np.sort(known)
    return float(0.5 * (ascending[(len(known) - 1) // 2] + ascending[len(known) // 2]))
