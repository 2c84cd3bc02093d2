"""Spread: what a set of like values runs to, and the one that does not belong."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Final

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
    """What one quantity of a set runs to; NaN, or None, where nothing of it was measured.

    count : int, how many were measured [-]
    smallest, largest, mean : float [any unit]
    smallest_at, largest_at : int or None, the first position that has it [-]
    """

    count: int
    smallest: float
    largest: float
    mean: float
    smallest_at: int | None
    largest_at: int | None


def spread(values: Sequence[float]) -> Spread:
    """Smallest, largest and mean of one quantity over some positions.

    Parameters
    ----------
    values : sequence (P,)
        The quantity at each, NaN where not measured [any unit]

    Returns
    -------
    Spread

    >>> spread([3.0, math.nan, 1.0]).smallest_at
    2
    """
    known = [value for value in values if value == value]  # noqa: PLR0124 - NaN is not itself
    if not known:
        return Spread(0, math.nan, math.nan, math.nan, None, None)
    low, high = min(known), max(known)
    return Spread(len(known), low, high, sum(known) / len(known), values.index(low), values.index(high))


def odd_beyond(values: Sequence[float], step: float) -> float:
    """How far off the median a value of a set belongs to it, max(3.5 max(MAD, step)/0.6745, what equal parts may be).

    Parameters
    ----------
    values : sequence (P,)
        Like values, NaN where not measured, at least one measured [any unit]
    step : float
        Smallest difference that the scale shows [any unit]

    Returns
    -------
    float
        Of a value farther off than that `odd_ones_out` says that it is odd [any unit]

    >>> round(odd_beyond([104.1, 104.3, 104.2, 104.4, 108.9], 0.1), 3)
    0.521
    """
    known = [value for value in values if value == value]  # noqa: PLR0124 - NaN is not itself
    middle = median(known)
    scatter = median(abs(value - middle) for value in known)
    return max(ODD_ABOVE * max(scatter, step) / _TO_SCORE, ALIKE_SHARE * abs(middle), ALIKE_STEPS * step)


def odd_ones_out(values: Sequence[float], step: Callable[[], float]) -> list[int]:
    """Which values of a set do not belong to it, by the modified z-score 0.6745 (x - median)/max(MAD, step).

    Parameters
    ----------
    values : sequence (P,)
        Like values, NaN where not measured [any unit]
    step : function () -> float
        Smallest difference that the scale shows; asked for only where values differ at all [any unit]

    Returns
    -------
    list of int
        Places where the score is above ODD_ABOVE and the value off by more than equal parts may be [-]

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

    >>> odd_ones_out([104.1, 104.3, 104.2, 104.4, 108.9], lambda: 0.1)
    [4]
    """
    known = [value for value in values if value == value]  # noqa: PLR0124 - NaN is not itself
    if len(known) < FEWEST_TO_JUDGE:
        return []
    middle = median(known)
    alike = ALIKE_SHARE * abs(middle) * (1.0 + _ROUNDING)
    if max(known) - middle <= alike and middle - min(known) <= alike:
        return []
    scatter = median(abs(value - middle) for value in known)
    off = [abs(value - middle) for value in values]
    if not any(_TO_SCORE * by > ODD_ABOVE * scatter and by > alike for by in off):
        return []
    least = step()
    scale = max(scatter, least)
    alike = max(alike, ALIKE_STEPS * least * (1.0 + _ROUNDING))
    return [place for place, by in enumerate(off) if _TO_SCORE * by > ODD_ABOVE * scale and by > alike]
