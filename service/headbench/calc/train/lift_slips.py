"""Lift slips: lifts that no valve has, a decimal point off, on which no clearance is accepted."""

from __future__ import annotations

import numpy as np

from headbench.calc import BoolArray, FloatArray
from headbench.calc.judging.rules import POSSIBLE_LIFT


def lift_is_possible(valve_lift: FloatArray) -> BoolArray:
    """Whether a lift is one that a valve can have.

    Parameters
    ----------
    valve_lift : array (P,)
        Full lift, NaN where it is not known [m]

    Returns
    -------
    array (P,)
        False where the decimal point of the reading has slipped; True where nothing is known [-]

    Notes
    -----
    The range is wider than that of usual lifts: what is only odd, such as 2.5 mm on a small engine, is noted and
    judged as it stands. Common practice, no source.

    >>> lift_is_possible(np.array([0.055, 0.1, 0.55, 1.25, 5.5, np.nan]) * 0.0254).tolist()
    [False, True, True, True, False, True]
    """
    low, high = POSSIBLE_LIFT.values
    return np.asarray(~((valve_lift < low) | (valve_lift > high)), dtype=np.bool_)
