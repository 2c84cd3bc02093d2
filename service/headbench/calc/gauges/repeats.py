"""Repeats: one thing read more than once, averaged, and how far the readings lie apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RepeatReadings:
    """Repeat readings of one thing put together.

    mean : float [any unit]
    standard_deviation : float, of one reading, NaN for fewer than two [same unit]
    standard_uncertainty : float, of the mean, NaN for fewer than two [same unit]
    count : int, how many were read [-]
    smallest, largest : float [same unit]
    smallest_at, largest_at : int, which reading that is, counted from 0, those not taken too [-]
    """

    mean: float
    standard_deviation: float
    standard_uncertainty: float
    count: int
    smallest: float
    largest: float
    smallest_at: int
    largest_at: int


def average_readings(readings: Sequence[float]) -> RepeatReadings:
    """Mean of repeat readings and its uncertainty, u = s/sqrt(n) with s^2 = sum (q - mean)^2/(n - 1).

    Parameters
    ----------
    readings : sequence (N,)
        Readings of one thing, NaN where one was not taken, one at least taken [any unit]

    Returns
    -------
    RepeatReadings

    Notes
    -----
    Says how far the readings scatter, not how far all of them are off together: that takes known
    weights, and `tester.Calibration` sets a scale right as it does a spring tester.

    References
    ----------
    JCGM 100:2008 (GUM), 4.2.

    >>> repeats = average_readings([104.1, 104.3, 104.2, math.nan])
    >>> round(repeats.mean, 9), round(repeats.standard_deviation, 9), repeats.count
    (104.2, 0.1, 3)
    """
    read = [(value, place) for place, value in enumerate(readings) if not math.isnan(value)]
    count = len(read)
    mean = sum(value for value, _ in read) / count
    squares = sum((value - mean) ** 2 for value, _ in read)
    deviation = math.sqrt(squares / (count - 1)) if count > 1 else math.nan
    smallest, largest = min(read), max(read, key=lambda one: (one[0], -one[1]))
    return RepeatReadings(
        mean=mean,
        standard_deviation=deviation,
        standard_uncertainty=deviation / math.sqrt(count),
        count=count,
        smallest=smallest[0],
        largest=largest[0],
        smallest_at=smallest[1],
        largest_at=largest[1],
    )
