"""Valve train: from the cam's lobe to the lift at the valve."""

from __future__ import annotations

from typing import Final

import numpy as np
import scipy

from headbench.calc import FloatArray

_STEPS: Final = 500


def valve_lift(lobe_lift: FloatArray, rocker_ratio: FloatArray, lash: FloatArray) -> FloatArray:
    """Lift at the valve from the lift at the lobe, L = l r - s.

    Parameters
    ----------
    lobe_lift : array (V,)
        Lift of the lobe, on the cam's side of the rocker, l [m]
    rocker_ratio : array (V,)
        Rocker ratio r [-]
    lash : array (V,)
        Running clearance at the valve s; 0 with hydraulic lifters [m]

    Returns
    -------
    array (V,)
        Valve lift L [m]

    Notes
    -----
    Leaves out what bends: the lift at the valve of a running engine is less. Common practice, no source.

    >>> valve_lift(np.array([8e-3]), np.array([1.5]), np.array([0.5e-3])).round(9).tolist()
    [0.0115]
    """
    return lobe_lift * rocker_ratio - lash


def rocker_ratio_over_lift(rocker_ratio: FloatArray, at_lobe_lift: FloatArray, lobe_lift: FloatArray) -> FloatArray:
    """Rocker ratio r(l) and its three derivatives by the lobe's lift, through ratios read at several lifts.

    Parameters
    ----------
    rocker_ratio : array (N,)
        Rocker ratio r: one, or the valve's lift over the lobe's as read at several lobe lifts [-]
    at_lobe_lift : array (N,)
        Lobe lifts the ratios were read at, ascending; not used for a single ratio [m]
    lobe_lift : array (T,)
        Lobe lifts to know the ratio at l [m]

    Returns
    -------
    array (4, T)
        The ratio, then its first to third derivative [-], [1/m], [1/m2], [1/m3]

    Notes
    -----
    Between its readings a natural cubic spline, straight beyond them, so that the ratio and its first
    two derivatives have no steps: the valve's acceleration takes both.

    >>> read = rocker_ratio_over_lift(np.array([1.4, 1.5]), np.array([2e-3, 8e-3]), np.array([5e-3, 11e-3]))
    >>> read[0].round(9).tolist(), read[1].round(9).tolist()
    ([1.45, 1.55], [16.666666667, 16.666666667])
    """
    if len(rocker_ratio) == 1:
        none = np.zeros_like(lobe_lift)
        return np.stack([none + rocker_ratio, none, none, none])
    spline = scipy.interpolate.CubicSpline(at_lobe_lift, rocker_ratio, bc_type="natural")
    inside = np.clip(lobe_lift, at_lobe_lift[0], at_lobe_lift[-1])
    outside = lobe_lift != inside
    slope = spline(inside, 1)
    ratio = spline(inside) + slope * (lobe_lift - inside)
    return np.stack(
        [ratio, slope, np.where(outside, 0.0, spline(inside, 2)), np.where(outside, 0.0, spline(inside, 3))]
    )


def valve_returns_at(rocker_ratio: FloatArray, at_lobe_lift: FloatArray, full_lift: float) -> float:
    """Least lobe lift at which the valve comes back while the lobe still lifts, where l r(l) stops growing.

    Parameters
    ----------
    rocker_ratio : array (N,)
        Rocker ratio r, read at several lobe lifts [-]
    at_lobe_lift : array (N,)
        Lobe lifts the ratios were read at, ascending [m]
    full_lift : float
        Highest lift of the lobe, looked at as far as that [m]

    Returns
    -------
    float
        That lobe lift; NaN where the valve goes on opening all the way [m]

    Notes
    -----
    The ratio is that of `rocker_ratio_over_lift`, between and beyond the readings. Looked for in five
    hundred steps: a return narrower than a step is no more than the width of a line.

    >>> round(valve_returns_at(np.array([2.0, 1.2]), np.array([0.1, 0.2]), 0.325), 3)
    0.175
    >>> valve_returns_at(np.array([1.4, 1.5]), np.array([0.1, 0.2]), 0.325)
    nan
    """
    at = np.linspace(0.0, full_lift, _STEPS + 1)
    lift = at * rocker_ratio_over_lift(rocker_ratio, at_lobe_lift, at)[0]
    back = np.flatnonzero(np.diff(lift) <= 0.0)
    return float(at[back[0]]) if len(back) else float("nan")
