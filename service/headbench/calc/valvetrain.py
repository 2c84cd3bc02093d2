"""Valve train: from the cam's lobe to the lift at the valve."""

from __future__ import annotations

from headbench.calc import FloatArray


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

    >>> import numpy as np
    >>> valve_lift(np.array([8e-3]), np.array([1.5]), np.array([0.5e-3])).round(9).tolist()
    [0.0115]
    """
    return lobe_lift * rocker_ratio - lash
