"""Repeats: one thing read more than once, averaged, and how far the readings lie apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headbench.calc import FloatArray, IntArray


@dataclass(frozen=True, slots=True)
class RepeatReadings:
    """Repeat readings of every position put together.

    mean : array (P,), NaN where nothing was read [any unit]
    standard_deviation : array (P,), of one reading, NaN for fewer than two [same unit]
    standard_uncertainty : array (P,), of the mean, NaN for fewer than two [same unit]
    count : array (P,), how many were read [-]
    smallest, largest : array (P,), infinite where nothing was read [same unit]
    smallest_at, largest_at : array (P,), which reading that is, counted from 0 [-]
    """

    mean: FloatArray
    standard_deviation: FloatArray
    standard_uncertainty: FloatArray
    count: IntArray
    smallest: FloatArray
    largest: FloatArray
    smallest_at: IntArray
    largest_at: IntArray


def average_readings(readings: FloatArray) -> RepeatReadings:
    """Mean of repeat readings and its uncertainty, u = s/sqrt(n) with s^2 = sum (q - mean)^2/(n - 1).

    Parameters
    ----------
    readings : array (P, N)
        Readings of every position, NaN where one was not taken [any unit]

    Returns
    -------
    RepeatReadings

    Notes
    -----
    Says how far the readings scatter, not how far all of them are off together: that takes known
    weights, and `tester.corrected_load` sets a scale right as it does a spring tester.

    References
    ----------
    JCGM 100:2008 (GUM), 4.2.

    >>> repeats = average_readings(np.array([[104.1, 104.3, 104.2, np.nan]]))
    >>> repeats.mean.round(9).tolist(), repeats.standard_deviation.round(9).tolist(), repeats.count.tolist()
    ([104.2], [0.1], [3])
    """
    read = ~np.isnan(readings)
    count = read.sum(axis=1).astype(np.int64)
    one = np.where(count >= 1, count, np.nan)
    two = np.where(count >= 2, count, np.nan)  # noqa: PLR2004 - one reading has no scatter
    mean = np.where(read, readings, 0.0).sum(axis=1) / one
    squares = (np.where(read, readings - mean[:, np.newaxis], 0.0) ** 2).sum(axis=1)
    deviation = np.sqrt(squares / (two - 1.0))
    low, high = np.where(read, readings, np.inf), np.where(read, readings, -np.inf)
    return RepeatReadings(
        mean=mean,
        standard_deviation=deviation,
        standard_uncertainty=deviation / np.sqrt(two),
        count=count,
        smallest=low.min(axis=1),
        largest=high.max(axis=1),
        smallest_at=low.argmin(axis=1).astype(np.int64),
        largest_at=high.argmax(axis=1).astype(np.int64),
    )
