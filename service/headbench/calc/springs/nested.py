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
