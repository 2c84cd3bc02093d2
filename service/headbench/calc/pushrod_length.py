"""Pushrod length: how much shorter it must be once the head has come down, and what the lifter makes of it."""

from __future__ import annotations

import numpy as np

from headbench.calc import FloatArray


def pushrod_shortening(
    approach: FloatArray, pushrod_length: FloatArray | float, pushrod_angle: FloatArray | float
) -> FloatArray:
    """How much nearer the pushrod's ends come, L - sqrt((L cos g - n)^2 + (L sin g)^2).

    Parameters
    ----------
    approach : array (V,)
        Net approach of the head n [m]
    pushrod_length : array (V,) or float
        Length between the pushrod's ends before L [m]
    pushrod_angle : array (V,) or float
        Between pushrod and bore axis g, valve shut [rad]

    Returns
    -------
    array (V,)
        Shortening; what the preload of a hydraulic lifter grows by with the old pushrod [m]

    Notes
    -----
    Exact distance between the ends; n cos g is its first order. The rocker moves with the head.

    >>> pushrod_shortening(np.array([1.0e-3]), 0.2, 0.0).round(9).tolist()
    [0.001]
    """
    along = pushrod_length * np.cos(pushrod_angle)
    after = np.hypot(along - approach, pushrod_length * np.sin(pushrod_angle))
    # the difference of squares over the sum: subtracting the lengths would lose the digits that count
    return np.asarray(approach * (2.0 * along - approach) / (pushrod_length + after), dtype=np.float64)
