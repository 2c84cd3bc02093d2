"""Touching: parts that must stay apart, and the verdict on what is left between them."""

from __future__ import annotations

from typing import Any, Final, overload

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.verdicts import Verdict, at_least, one_by_one

_REJECT: Final = int(Verdict.REJECT)


@overload
def is_closed(gap: float) -> bool: ...
@overload
def is_closed(gap: FloatArray) -> BoolArray: ...
def is_closed(gap: Any) -> Any:
    """Whether a gap is gone: a nanometer apart is not apart.

    Parameters
    ----------
    gap : float or array (...)
        What is left between two parts, negative where they would run into each other; NaN not known [m]

    Returns
    -------
    bool, or array (...)
        True where less than GRID is left [-]

    >>> is_closed(np.array([1e-6, 0.0, -1e-3, np.nan])).tolist()
    [False, True, True, False]
    """
    return gap < GRID


@overload
def clearance_verdict(gap: float, minimum: float, uncertainty: float = 0.0) -> int: ...
@overload
def clearance_verdict(
    gap: FloatArray, minimum: FloatArray | float, uncertainty: FloatArray | float = 0.0
) -> IntArray: ...
def clearance_verdict(gap: Any, minimum: Any, uncertainty: Any = 0.0) -> Any:
    """Verdict on a clearance: it must reach its minimum, and parts that touch are rejected whatever the minimum.

    Parameters
    ----------
    gap : float or array (P,)
        What is left between the parts, NaN where a reading is missing [m]
    minimum : float or array (P,)
        The least that is good [m]
    uncertainty : float or array (P,)
        Standard uncertainty of the gap; 0 where it is not known [m]

    Returns
    -------
    Verdict code, or array (P,) of them
        REJECT below the minimum, and where the gap is closed [-]

    >>> clearance_verdict(np.array([0.001, 0.0, -0.001, np.nan]), 0.0).tolist()
    [0, 3, 3, 2]
    """
    if isinstance(gap, np.ndarray):
        return one_by_one(clearance_verdict, gap, minimum, uncertainty)
    return _REJECT if is_closed(gap) else at_least(gap, minimum, uncertainty)
