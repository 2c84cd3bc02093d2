"""Nested springs: what all springs of one valve do together, each at its own height."""

from __future__ import annotations

from typing import Final

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.springs.curves import SpringCurves

UNKNOWN_CURVE: Final = -1
"""Stands for the curve of a spring that is there but whose load was not measured."""

NO_SPRING: Final = -2
"""Stands for the curve of a spring that is not there, or whose load another curve includes."""

_LEAST_HEIGHT: Final = 1e-9
_ROUNDING: Final = 1e-12


def nested_load(curves: SpringCurves, curve: IntArray, height: FloatArray, seat_rise: FloatArray) -> FloatArray:
    """Load of all springs on one valve, each at its own height, F = sum F_i(H - step_i).

    Parameters
    ----------
    curves : SpringCurves
        The curves of all springs of the job [-]
    curve : array (P, K)
        Each spring's place in curves, UNKNOWN_CURVE or NO_SPRING [-]
    height : array (P,)
        Height of the outer spring [m]
    seat_rise : array (P, K)
        How much shorter each spring stands than the outer one [m]

    Returns
    -------
    array (P,)
        Load on the retainer; NaN where the load of one of the springs is not known [N]

    Notes
    -----
    Springs side by side under one retainer carry the sum of their loads (V. B. Bhandari, Design of Machine
    Elements, 3rd ed. (2010), 10.13, concentric springs; from memory).

    >>> from headbench.calc.springs.load_curves import stacked
    >>> from headbench.calc.springs.one_curve import rated_curve
    >>> rated = stacked([rated_curve(0.040, 400.0, 40e3), rated_curve(0.038, 100.0, 10e3)])
    >>> pair = SpringCurves(rated)
    >>> load = nested_load(pair, np.array([[0, 1]]), np.array([0.040]), np.array([[0.0, 0.002]]))
    >>> load.round(9).tolist()
    [500.0]
    """
    own_height = height[:, np.newaxis] - seat_rise
    each = curves.load_at(curve.ravel(), own_height.ravel()).reshape(curve.shape)
    return np.asarray(np.where(curve == NO_SPRING, 0.0, each).sum(axis=1), dtype=np.float64)


def nested_rate(curves: SpringCurves, curve: IntArray, height: FloatArray, seat_rise: FloatArray) -> FloatArray:
    """Rate of all springs on one valve, each at its own height, k = sum k_i(H - step_i).

    Parameters
    ----------
    curves : SpringCurves
        The curves of all springs of the job [-]
    curve : array (P, K)
        Each spring's place in curves, UNKNOWN_CURVE or NO_SPRING [-]
    height : array (P,)
        Height of the outer spring [m]
    seat_rise : array (P, K)
        How much shorter each spring stands than the outer one [m]

    Returns
    -------
    array (P,)
        Rate at the retainer; NaN where one of the springs is not known [N/m]

    >>> from headbench.calc.springs.load_curves import stacked
    >>> from headbench.calc.springs.one_curve import rated_curve
    >>> rated = stacked([rated_curve(0.040, 400.0, 40e3), rated_curve(0.038, 100.0, 10e3)])
    >>> pair = SpringCurves(rated)
    >>> nested_rate(pair, np.array([[0, 1]]), np.array([0.038]), np.array([[0.0, 0.002]])).tolist()
    [50000.0]
    """
    own_height = height[:, np.newaxis] - seat_rise
    each = curves.rate_at(curve.ravel(), own_height.ravel()).reshape(curve.shape)
    return np.asarray(np.where(curve == NO_SPRING, 0.0, each).sum(axis=1), dtype=np.float64)


def beyond_readings(curves: SpringCurves, curve: IntArray, height: FloatArray, seat_rise: FloatArray) -> FloatArray:
    """How far the springs of one valve stand outside the heights they were read at.

    Parameters
    ----------
    curves : SpringCurves
        The curves of all springs of the job [-]
    curve : array (P, K)
        Each spring's place in curves, UNKNOWN_CURVE or NO_SPRING [-]
    height : array (P,)
        Height of the outer spring [m]
    seat_rise : array (P, K)
        How much shorter each spring stands than the outer one [m]

    Returns
    -------
    array (P,)
        The largest distance of any of them; 0 inside, NaN where none has readings [m]

    >>> from headbench.calc.springs.load_curves import stacked
    >>> from headbench.calc.springs.readings import curve_through
    >>> curves = SpringCurves(stacked([curve_through([0.040, 0.030], [500.0, 1000.0])]))
    >>> beyond_readings(curves, np.array([[0]]), np.array([0.0415]), np.array([[0.0]])).round(9).tolist()
    [0.0015]
    """
    own_height = height[:, np.newaxis] - seat_rise
    each = curves.beyond_readings(curve.ravel(), own_height.ravel()).reshape(curve.shape)
    return np.asarray(np.fmax.reduce(each, axis=1), dtype=np.float64)


def work_outside_readings(
    curves: SpringCurves, curve: IntArray, height: FloatArray, seat_rise: FloatArray
) -> BoolArray:
    """Whether one of the springs of one valve works outside the heights it was read at by more than a little.

    Parameters
    ----------
    curves : SpringCurves
        The curves of all springs of the job [-]
    curve : array (P, K)
        Each spring's place in curves, UNKNOWN_CURVE or NO_SPRING [-]
    height : array (P,)
        Height of the outer spring [m]
    seat_rise : array (P, K)
        How much shorter each spring stands than the outer one [m]

    Returns
    -------
    array (P,)
        False where none has readings: what is a little stands in `rules.NEAR_READINGS` [-]

    >>> from headbench.calc.springs.load_curves import stacked
    >>> from headbench.calc.springs.readings import curve_through
    >>> curves = SpringCurves(stacked([curve_through([0.040, 0.030], [500.0, 1000.0])]))
    >>> work_outside_readings(curves, np.array([[0], [0]]), np.array([0.0402, 0.0415]), np.zeros((2, 1))).tolist()
    [False, True]
    """
    own_height = height[:, np.newaxis] - seat_rise
    beyond = curves.beyond_readings(curve.ravel(), own_height.ravel())
    outside = (beyond > 0.0) & ~curves.is_near_readings(curve.ravel(), own_height.ravel())
    return np.asarray(outside.reshape(curve.shape).any(axis=1), dtype=np.bool_)


def is_proven(curves: SpringCurves, curve: IntArray, height: FloatArray, seat_rise: FloatArray) -> BoolArray:
    """Whether the load on every spring of one valve was read on a tester at its height, or near enough.

    Parameters
    ----------
    curves : SpringCurves
        The curves of all springs of the job [-]
    curve : array (P, K)
        Each spring's place in curves, UNKNOWN_CURVE or NO_SPRING [-]
    height : array (P,)
        Height of the outer spring [m]
    seat_rise : array (P, K)
        How much shorter each spring stands than the outer one [m]

    Returns
    -------
    array (P,)
        False where one of them is known by its rating or its dimensions only, or far outside its readings [-]

    >>> from headbench.calc.springs.load_curves import stacked
    >>> from headbench.calc.springs.one_curve import rated_curve
    >>> rated = SpringCurves(stacked([rated_curve(0.040, 500.0, 50e3)]))
    >>> is_proven(rated, np.array([[0]]), np.array([0.040]), np.array([[0.0]])).tolist()
    [False]
    """
    own_height = height[:, np.newaxis] - seat_rise
    read = curves.is_proven(curve.ravel(), own_height.ravel()).reshape(curve.shape)
    return np.asarray((read | (curve == NO_SPRING)).all(axis=1), dtype=np.bool_)


def any_loose(curves: SpringCurves, curve: IntArray, height: FloatArray, seat_rise: FloatArray) -> BoolArray:
    """Whether one of the springs of one valve is taller than free and pushes nothing.

    Parameters
    ----------
    curves : SpringCurves
        The curves of all springs of the job [-]
    curve : array (P, K)
        Each spring's place in curves, UNKNOWN_CURVE or NO_SPRING [-]
    height : array (P,)
        Height of the outer spring [m]
    seat_rise : array (P, K)
        How much shorter each spring stands than the outer one [m]

    Returns
    -------
    array (P,)
        False where that is not known [-]

    >>> from headbench.calc.springs.load_curves import stacked
    >>> from headbench.calc.springs.one_curve import rated_curve
    >>> rated = SpringCurves(stacked([rated_curve(0.040, 500.0, 50e3)]))
    >>> any_loose(rated, np.array([[0], [0]]), np.array([0.040, 0.051]), np.zeros((2, 1))).tolist()
    [False, True]
    """
    own_height = height[:, np.newaxis] - seat_rise
    each = curves.load_at(curve.ravel(), own_height.ravel()).reshape(curve.shape)
    return np.asarray((each <= 0.0).any(axis=1), dtype=np.bool_)


def nested_height_for(curves: SpringCurves, curve: IntArray, load: FloatArray, seat_rise: FloatArray) -> FloatArray:
    """Height of the outer spring at which all springs of one valve push a load: the inverse of `nested_load`.

    Parameters
    ----------
    curves : SpringCurves
        The curves of all springs of the job [-]
    curve : array (P, K)
        Each spring's place in curves, UNKNOWN_CURVE or NO_SPRING [-]
    load : array (P,)
        Loads on the retainer, above 0 [N]
    seat_rise : array (P, K)
        How much shorter each spring stands than the outer one [m]

    Returns
    -------
    array (P,)
        Height; NaN where a spring is not known, or where they cannot push that before one is at coil bind [m]

    >>> from headbench.calc.springs.load_curves import stacked
    >>> from headbench.calc.springs.one_curve import rated_curve
    >>> rated = stacked([rated_curve(0.040, 400.0, 40e3), rated_curve(0.038, 100.0, 10e3)])
    >>> pair = SpringCurves(rated)
    >>> nested_height_for(pair, np.array([[0, 1]]), np.array([500.0]), np.array([[0.0, 0.002]])).round(9).tolist()
    [0.04]
    """
    flat = curve.ravel()
    shared = np.repeat(load / np.maximum((curve >= 0).sum(axis=1), 1), curve.shape[1])
    # below the tallest of the coil-bind heights there is no load; with a share of it on each there is too little
    low = (np.maximum(curves.shortest(flat), _LEAST_HEIGHT).reshape(curve.shape) + seat_rise).max(axis=1)
    high = np.fmax.reduce((curves.height_for(flat, shared).reshape(curve.shape) + seat_rise), axis=1)
    high = np.maximum(np.where(np.isnan(high), low, high), low) + _LEAST_HEIGHT
    most = nested_load(curves, curve, low, seat_rise)
    wanted = np.minimum(load, most)
    # a load that misses the most by rounding is the most, written in another unit
    possible = (load > 0.0) & (load <= most * (1.0 + _ROUNDING))
    # a spring alone answers for itself
    alone = (curve >= 0).sum(axis=1) == 1
    first = np.arange(len(curve)), (curve >= 0).argmax(axis=1)
    own = curves.height_for(curve[first], wanted) + seat_rise[first]
    height = np.where(possible & alone, own, np.nan)
    rows = np.flatnonzero(possible & ~alone)
    if len(rows) > 0:
        from scipy.optimize import elementwise  # noqa: PLC0415 - see headbench.calc

        def excess(at: FloatArray, row: IntArray) -> FloatArray:
            return nested_load(curves, curve[row], at, seat_rise[row]) - wanted[row]

        found = elementwise.find_root(excess, (low[rows], high[rows]), args=(rows,))
        height[rows] = found.x
    return height
