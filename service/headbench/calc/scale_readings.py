"""Scale readings: repeats averaged, a scale set right by known weights, and a set made to match."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from headbench.calc import FloatArray, IntArray


@dataclass(frozen=True, slots=True)
class RepeatReadings:
    """Repeat readings of every position put together.

    mean : array (P,), NaN where nothing was read [any unit]
    standard_deviation : array (P,), of one reading, NaN for fewer than two [same unit]
    standard_uncertainty : array (P,), of the mean, NaN for fewer than two [same unit]
    count : array (P,), how many were read [-]
    """

    mean: FloatArray
    standard_deviation: FloatArray
    standard_uncertainty: FloatArray
    count: IntArray


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
    weights, `corrected_reading`.

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
    return RepeatReadings(mean, deviation, deviation / np.sqrt(two), count)


@dataclass(frozen=True, slots=True)
class CorrectedReading:
    """Readings of a scale set right by known weights.

    value : array (P,), what it would show were it right [any unit]
    beyond : array (P,), how far the reading lies outside what the weights covered, 0 inside [same unit]
    """

    value: FloatArray
    beyond: FloatArray


def corrected_reading(reading: FloatArray, applied: FloatArray, indicated: FloatArray) -> CorrectedReading:
    """Reading plus the correction the known weights call for, applied - indicated between them in proportion.

    Parameters
    ----------
    reading : array (P,)
        What the scale shows [any unit]
    applied : array (C,)
        Known weights put on it, at least one, in any order [same unit]
    indicated : array (C,)
        What it showed then: see `find_calibration_faults` [same unit]

    Returns
    -------
    CorrectedReading

    Notes
    -----
    Beyond the lightest and the heaviest weight their correction is kept as it is; `beyond` says how
    far that stretches. Put (0, 0) among the pairs for a scale that is zeroed before use.

    >>> shown = corrected_reading(np.array([50.2, 120.0]), np.array([0.0, 100.0]), np.array([0.0, 100.4]))
    >>> shown.value.round(9).tolist(), shown.beyond.round(9).tolist()
    ([50.0, 119.6], [0.0, 19.6])
    """
    order = np.argsort(indicated)
    at = indicated[order]
    value = reading + np.interp(reading, at, (applied - indicated)[order])
    beyond = np.maximum(np.maximum(at[0] - reading, reading - at[-1]), 0.0)
    return CorrectedReading(np.asarray(value, dtype=np.float64), np.asarray(beyond, dtype=np.float64))


CalibrationFault = tuple[Literal["repeats", "falls"], int, int]
"""What is wrong with two pairs of a calibration, and their places."""


def find_calibration_faults(applied: FloatArray, indicated: FloatArray) -> list[CalibrationFault]:
    """Calibration pairs that cannot set a scale right.

    Parameters
    ----------
    applied : array (C,)
        Known weights [any unit]
    indicated : array (C,)
        What the scale showed [same unit]

    Returns
    -------
    list of (fault, place, place)
        "repeats": one weight put on twice with different answers (average them first);
        "falls": the heavier weight of the two, the second place, shows no more than the lighter one [-]

    >>> find_calibration_faults(np.array([0.0, 50.0, 100.0]), np.array([0.0, 50.1, 50.1]))
    [('falls', 1, 2)]
    """
    order = np.lexsort((indicated, applied))
    before, after = order[:-1], order[1:]
    heavier = applied[after] > applied[before]
    more = indicated[after] > indicated[before]
    faults: list[CalibrationFault] = [
        ("repeats", int(before[place]), int(after[place])) for place in np.flatnonzero(~heavier & more)
    ]
    faults += [("falls", int(before[place]), int(after[place])) for place in np.flatnonzero(heavier & ~more)]
    return faults


def mass_to_remove(mass: FloatArray, group: IntArray) -> FloatArray:
    """What to take off each part to match the lightest of its group, m - min m.

    Parameters
    ----------
    mass : array (P,)
        Mass of each part, NaN where it was not weighed [kg]
    group : array (P,)
        The group each part must match, counted from 0: intake and exhaust valves, say [-]

    Returns
    -------
    array (P,)
        What to take off; 0 for the lightest, NaN where nothing was weighed [kg]

    >>> mass_to_remove(np.array([0.1045, 0.1041, 0.0922]), np.array([0, 0, 1])).round(9).tolist()
    [0.0004, 0.0, 0.0]
    """
    lightest = np.full(int(group.max(initial=-1)) + 1, np.nan)
    np.fmin.at(lightest, group, mass)
    return np.asarray(mass - lightest[group], dtype=np.float64)
