"""Lift misfits: what a lift table's readings say of each other, before any smoothing."""

from __future__ import annotations

from typing import Final

import numpy as np

from headbench.calc import FloatArray
from headbench.calc.train.lift_table import scatter_allowance

_BESIDE: Final = 2
"""Readings on either side that one is held against: a cubic goes through the four."""

_FEWEST: Final = 2 * _BESIDE + 1

_MENDED: Final = 0.25
"""Part of its misfit that may be left round a reading once that is taken away; more is the lobe's own shape [-]."""

_SURE: Final = 2.0
"""Times the largest error to expect of any reading by which one must misfit before it is called wrong [-]."""


def lift_misfits(angle: FloatArray, lift: FloatArray) -> FloatArray:
    """How far each reading is off the cubic through its four neighbors, over sqrt(1 + sum w^2).

    Parameters
    ----------
    angle : array (R,)
        Cam angles, ascending, any spacing [rad]
    lift : array (R,)
        Lifts read there [m]

    Returns
    -------
    array (R,)
        Scatters as one reading does where the lobe is smooth; NaN for the first and the last two [m]

    Notes
    -----
    w are Lagrange's weights, so the difference of exact readings from a cubic is 0, and independent
    errors of u make one of u sqrt(1 + sum w^2) (JCGM 100:2008, 5.1.2).

    >>> at = np.arange(7.0)
    >>> lift_misfits(at, at**3 + np.array([0, 0, 0, 1.0, 0, 0, 0])).round(3).tolist()
    [nan, nan, -0.478, 0.717, -0.478, nan, nan]
    """
    misfits = np.full(len(lift), np.nan)
    if len(lift) < _FEWEST:
        return misfits
    middle = np.arange(_BESIDE, len(lift) - _BESIDE)
    beside = middle[:, np.newaxis] + np.array([-2, -1, 1, 2])
    weights = np.ones(beside.shape)
    for own in range(beside.shape[1]):
        for other in range(beside.shape[1]):
            if other != own:
                apart = angle[beside[:, own]] - angle[beside[:, other]]
                weights[:, own] *= (angle[middle] - angle[beside[:, other]]) / apart
    off = lift[middle] - (weights * lift[beside]).sum(axis=1)
    misfits[middle] = off / np.sqrt(1.0 + (weights**2).sum(axis=1))
    return misfits


def odd_reading(angle: FloatArray, lift: FloatArray, reading_noise: float) -> int:
    """The reading that misfits its neighbors most, if these fit each other without it.

    Parameters
    ----------
    angle : array (R,)
        Cam angles, ascending [rad]
    lift : array (R,)
        Lifts read there [m]
    reading_noise : float
        Standard uncertainty of one reading u [m]

    Returns
    -------
    int
        Its place, counted from 0; -1 where there is none [-]

    Notes
    -----
    A lobe that turns sharply misfits there too, and goes on doing so when one reading is taken away;
    a slip of the pen does not.

    >>> at = np.arange(-8.0, 9.0)
    >>> read = 100.0 - at**2
    >>> odd_reading(at, read + 5.0 * (at == 3.0), 0.1), odd_reading(at, read, 0.1)
    (11, -1)
    """
    misfits = np.abs(np.nan_to_num(lift_misfits(angle, lift)))
    if len(lift) <= _FEWEST:
        return -1
    worst = int(misfits.argmax())
    # nearer to an end too little is held against its neighbors to know whether they fit
    inside = 2 * _BESIDE <= worst < len(lift) - 2 * _BESIDE
    if not inside or misfits[worst] <= _SURE * scatter_allowance(reading_noise, len(lift)):
        return -1
    without = np.abs(np.nan_to_num(lift_misfits(np.delete(angle, worst), np.delete(lift, worst))))
    around = without[max(worst - _FEWEST, 0) : worst + _FEWEST]
    return worst if around.max() <= _MENDED * misfits[worst] else -1


def typical_misfit(angle: FloatArray, lift: FloatArray, reading_noise: float) -> float:
    """How far the readings above the base circle are off their neighbors, root mean square.

    Parameters
    ----------
    angle : array (R,)
        Cam angles, ascending [rad]
    lift : array (R,)
        Lifts read there [m]
    reading_noise : float
        Standard uncertainty of one reading, to tell the base circle by [m]

    Returns
    -------
    float
        About what one reading scatters by, and more where they are far apart; NaN where too few are lifted [m]

    >>> at = np.arange(-8.0, 9.0)
    >>> round(typical_misfit(at, 100.0 - at**2, 0.1), 9)
    0.0
    """
    misfits = lift_misfits(angle, lift)
    own = misfits[(lift > scatter_allowance(reading_noise, len(lift))) & ~np.isnan(misfits)]
    return float(np.sqrt(np.mean(own**2))) if len(own) >= _FEWEST else float("nan")
