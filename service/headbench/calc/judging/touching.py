"""Touching: parts that must stay apart, and the verdict on what is left between them."""

from __future__ import annotations

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.verdicts import Verdict, at_least


def is_closed(gap: FloatArray) -> BoolArray:
    """Whether a gap is gone: a nanometer apart is not apart.

    Parameters
    ----------
    gap : array (...)
        What is left between two parts, negative where they would run into each other; NaN not known [m]

    Returns
    -------
    array (...)
        True where less than GRID is left [-]

    >>> is_closed(np.array([1e-6, 0.0, -1e-3, np.nan])).tolist()
    [False, True, True, False]
    """
    return np.asarray(gap < GRID, dtype=np.bool_)


def clearance_verdict(gap: FloatArray, minimum: FloatArray | float, uncertainty: FloatArray | float = 0.0) -> IntArray:
    """Verdict on a clearance: it must reach its minimum, and parts that touch are rejected whatever the minimum.

    Parameters
    ----------
    gap : array (P,)
        What is left between the parts, NaN where a reading is missing [m]
    minimum : array (P,) or float
        The least that is good [m]
    uncertainty : array (P,) or float
        Standard uncertainty of the gap; 0 where it is not known [m]

    Returns
    -------
    array (P,) of Verdict codes
        REJECT below the minimum, and where the gap is closed [-]

    >>> clearance_verdict(np.array([0.001, 0.0, -0.001, np.nan]), 0.0).tolist()
    [0, 3, 3, 2]
    """
    judged = at_least(gap, minimum, uncertainty)
    return np.where(is_closed(gap), Verdict.REJECT, judged).astype(np.int64)
