"""Scale readings: a set of parts made to match."""

from __future__ import annotations

import numpy as np

from headbench.calc import FloatArray, IntArray


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
