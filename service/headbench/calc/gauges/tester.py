"""Tester: what a spring tester's reading is worth once it was checked with known loads."""

from __future__ import annotations

from itertools import pairwise
from typing import Final, Literal

import numpy as np

from headbench.calc import FloatArray


def corrected_load(indicated_load: FloatArray, indicated: FloatArray, applied: FloatArray) -> FloatArray:
    """True load behind an indicated one, straight between the loads the tester was checked at.

    Parameters
    ----------
    indicated_load : array (R,)
        Loads the tester shows [N]
    indicated : array (C,)
        What it showed under the known loads, all different, in any order [N]
    applied : array (C,)
        The known loads, rising with what it showed: see `find_calibration_faults` [N]

    Returns
    -------
    array (R,)
        Corrected loads; beyond the last known load the last straight line goes on [N]

    Notes
    -----
    One known load alone is taken as a scale error: the line through it and nothing. Common practice, no
    source.

    >>> corrected_load(np.array([50.0, 150.0]), np.array([101.0]), np.array([100.0])).round(3).tolist()
    [49.505, 148.515]
    >>> corrected_load(np.array([52.0, 150.0]), np.array([2.0, 102.0]), np.array([0.0, 100.0])).tolist()
    [50.0, 148.0]
    """
    order = np.argsort(indicated)
    x, y = indicated[order], applied[order]
    if len(x) == 1:
        return np.asarray(indicated_load * (y[0] / x[0]), dtype=np.float64)
    piece = np.searchsorted(x, indicated_load).clip(1, len(x) - 1) - 1
    slope = np.diff(y) / np.diff(x)
    return np.asarray(y[piece] + slope[piece] * (indicated_load - x[piece]), dtype=np.float64)


_NOTHING: Final = 1e-6
"""What no tester and no scale tells from nothing: a millionth of a newton, a thousandth of a gram."""

CalibrationFault = tuple[Literal["repeats", "falls", "no scale"], int, int]
"""What is wrong with two known loads, and their places in the order they were given."""


def find_calibration_faults(indicated: FloatArray, applied: FloatArray) -> list[CalibrationFault]:
    """Known loads and what the tester showed that cannot make a correction.

    Parameters
    ----------
    indicated : array (C,)
        What the tester showed [N]
    applied : array (C,)
        The known loads [N]

    Returns
    -------
    list of (fault, place, place)
        "repeats": one indication for two known loads, or one twice; "falls": it shows more under less;
        "no scale": a single pair of which one is nothing [-]

    >>> find_calibration_faults(np.array([101.0, 99.0]), np.array([100.0, 150.0]))
    [('falls', 1, 0)]
    """
    if len(indicated) == 1:
        return [("no scale", 0, 0)] if min(indicated[0], applied[0]) <= _NOTHING else []
    order = np.lexsort((applied, indicated)).tolist()
    faults: list[CalibrationFault] = []
    for first, second in pairwise(order):
        if np.isclose(indicated[first], indicated[second], rtol=1e-9, atol=_NOTHING):
            faults.append(("repeats", first, second))
        elif applied[second] <= applied[first]:
            faults.append(("falls", first, second))
    return faults
