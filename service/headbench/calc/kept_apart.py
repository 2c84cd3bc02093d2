"""Kept apart: verdicts on clearances between parts that must never touch."""

from __future__ import annotations

import numpy as np

from headbench.calc import FloatArray, IntArray
from headbench.calc.shims import GRID
from headbench.calc.verdicts import Verdict, at_least


def kept_apart(clearance: FloatArray, limit: FloatArray | float) -> IntArray:
    """Verdict on clearances that must reach a limit, touching rejected whatever the limit.

    Parameters
    ----------
    clearance : array (P,)
        What is left between the parts, NaN where a reading is missing; negative where they would meet [m]
    limit : array (P,) or float
        The least that is good [m]

    Returns
    -------
    array (P,) of Verdict codes
        REJECT below the limit, and where less than a nanometre is left [-]

    >>> kept_apart(np.array([0.001, 0.0, -0.001, np.nan]), 0.0).tolist()
    [0, 3, 3, 2]
    """
    judged = at_least(clearance, limit)
    return np.where(clearance < GRID, Verdict.REJECT, judged).astype(np.int64)
