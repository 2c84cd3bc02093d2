"""Spring load: what the springs of one valve push together, and whether their readings can be true."""

from __future__ import annotations

from typing import Final, Literal

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.load_curves import LoadCurves
from headbench.calc.shims import on_grid

UNKNOWN_CURVE: Final = -1
"""Stands for the curve of a spring that is there but whose load was not measured."""

NO_SPRING: Final = -2
"""Stands for the curve of a spring that is not there, or whose load another curve includes."""


def nested_load(curves: LoadCurves, curve: IntArray, height: FloatArray, seat_step: FloatArray) -> FloatArray:
    """Load of all springs on one valve, each at its own height, F = sum F_i(H - step_i).

    Parameters
    ----------
    curves : LoadCurves
        The curves of all springs of the job [-]
    curve : array (P, K)
        Each spring's place in curves, UNKNOWN_CURVE or NO_SPRING [-]
    height : array (P,)
        Height of the outer spring [m]
    seat_step : array (P, K)
        How much shorter each spring stands than the outer one [m]

    Returns
    -------
    array (P,)
        Load on the retainer; NaN where the load of one of the springs is not known [N]

    Notes
    -----
    Springs side by side under one retainer carry the sum of their loads (any machine design text).

    >>> from headbench.calc.load_curves import from_rating
    >>> pair = from_rating(np.array([0.040, 0.038]), np.array([400.0, 100.0]), np.array([40e3, 10e3]))
    >>> load = nested_load(pair, np.array([[0, 1]]), np.array([0.040]), np.array([[0.0, 0.002]]))
    >>> load.round(9).tolist()
    [500.0]
    """
    own_height = height[:, np.newaxis] - seat_step
    each = curves.load_at(curve.ravel(), own_height.ravel()).reshape(curve.shape)
    return np.asarray(np.where(curve == NO_SPRING, 0.0, each).sum(axis=1), dtype=np.float64)


def nested_rate(curves: LoadCurves, curve: IntArray, height: FloatArray, seat_step: FloatArray) -> FloatArray:
    """Rate of all springs on one valve, each at its own height, k = sum k_i(H - step_i).

    Parameters
    ----------
    curves : LoadCurves
        The curves of all springs of the job [-]
    curve : array (P, K)
        Each spring's place in curves, UNKNOWN_CURVE or NO_SPRING [-]
    height : array (P,)
        Height of the outer spring [m]
    seat_step : array (P, K)
        How much shorter each spring stands than the outer one [m]

    Returns
    -------
    array (P,)
        Rate at the retainer; NaN where one of the springs is not known [N/m]

    >>> from headbench.calc.load_curves import from_rating
    >>> pair = from_rating(np.array([0.040, 0.038]), np.array([400.0, 100.0]), np.array([40e3, 10e3]))
    >>> nested_rate(pair, np.array([[0, 1]]), np.array([0.038]), np.array([[0.0, 0.002]])).tolist()
    [50000.0]
    """
    own_height = height[:, np.newaxis] - seat_step
    each = curves.rate_at(curve.ravel(), own_height.ravel()).reshape(curve.shape)
    return np.asarray(np.where(curve == NO_SPRING, 0.0, each).sum(axis=1), dtype=np.float64)


def beyond_readings(curves: LoadCurves, curve: IntArray, height: FloatArray, seat_step: FloatArray) -> FloatArray:
    """How far the springs of one valve stand outside the heights they were read at.

    Parameters
    ----------
    curves : LoadCurves
        The curves of all springs of the job [-]
    curve : array (P, K)
        Each spring's place in curves, UNKNOWN_CURVE or NO_SPRING [-]
    height : array (P,)
        Height of the outer spring [m]
    seat_step : array (P, K)
        How much shorter each spring stands than the outer one [m]

    Returns
    -------
    array (P,)
        The largest distance of any of them; 0 inside, NaN where none has readings [m]

    >>> from headbench.calc.load_curves import from_readings
    >>> curves = from_readings(np.array([0, 0]), np.array([0.040, 0.030]), np.array([500.0, 1000.0]))
    >>> beyond_readings(curves, np.array([[0]]), np.array([0.0415]), np.array([[0.0]])).round(9).tolist()
    [0.0015]
    """
    own_height = height[:, np.newaxis] - seat_step
    each = curves.beyond_readings(curve.ravel(), own_height.ravel()).reshape(curve.shape)
    return np.asarray(np.fmax.reduce(each, axis=1), dtype=np.float64)


def is_proven(curves: LoadCurves, curve: IntArray) -> BoolArray:
    """Whether the load on every spring of one valve was read on a tester.

    Parameters
    ----------
    curves : LoadCurves
        The curves of all springs of the job [-]
    curve : array (P, K)
        Each spring's place in curves, UNKNOWN_CURVE or NO_SPRING [-]

    Returns
    -------
    array (P,)
        False where one of them is known by its rating only, or not at all [-]

    >>> from headbench.calc.load_curves import from_rating
    >>> is_proven(from_rating(np.array([0.040]), np.array([500.0]), np.array([50e3])), np.array([[0]])).tolist()
    [False]
    """
    read = (curve >= 0) & ~np.isnan(curves.tallest[curve.clip(0)])
    return np.asarray((read | (curve == NO_SPRING)).all(axis=1), dtype=np.bool_)


def load_loss(load: FloatArray, rated_load: FloatArray) -> FloatArray:
    """Load lost against the rating at the same height, 100 (1 - F/F_rated).

    Parameters
    ----------
    load : array (S,)
        Load read or interpolated at the rated height [N]
    rated_load : array (S,)
        Load the data sheet prints there, above 0 [N]

    Returns
    -------
    array (S,)
        Loss; negative where the spring pushes more than rated [percent]

    Notes
    -----
    10 % is a published service limit, 5 % another (trade press).

    >>> load_loss(np.array([117.0]), np.array([130.0])).round(9).tolist()
    [10.0]
    """
    return np.asarray(100.0 * (1.0 - load / rated_load), dtype=np.float64)


ReadingFault = tuple[Literal["falls", "repeats", "flat", "too few"], int, int]
"""What is wrong with two readings, and their places among all readings."""


def find_reading_faults(spring: IntArray, height: FloatArray, load: FloatArray) -> list[ReadingFault]:
    """Readings of springs that cannot all be true.

    Parameters
    ----------
    spring : array (R,)
        The spring each reading belongs to, counted from 0 [-]
    height : array (R,)
        Heights read at, in any order [m]
    load : array (R,)
        Loads shown there [N]

    Returns
    -------
    list of (fault, place, place)
        "repeats": one height, two loads; "falls", "flat": the load falls or stays while the spring is
        compressed from the first place to the second; "too few": all readings, from the first place to
        the last, are at one height [-]

    >>> find_reading_faults(np.array([0, 0]), np.array([0.040, 0.030]), np.array([500.0, 480.0]))
    [('falls', 0, 1)]
    """
    grid = on_grid(height)
    tall_first = np.lexsort((load, -grid, spring))
    before, after = tall_first[:-1], tall_first[1:]
    together = spring[before] == spring[after]
    at_one_height = grid[before] == grid[after]
    rise = load[after] - load[before]
    repeats = together & at_one_height & (rise != 0.0)
    kinds: tuple[tuple[Literal["falls", "repeats", "flat"], BoolArray], ...] = (
        ("repeats", repeats),
        ("falls", together & ~at_one_height & (rise < 0.0)),
        ("flat", together & ~at_one_height & (rise == 0.0)),
    )
    faults: list[ReadingFault] = [
        (kind, int(before[place]), int(after[place])) for kind, found in kinds for place in np.flatnonzero(found)
    ]
    starts = np.flatnonzero(np.concatenate([[True], spring[before] != spring[after]]))
    ends = np.append(starts[1:], len(spring)) - 1
    for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
        if grid[tall_first[start]] == grid[tall_first[end]]:
            own = np.sort(tall_first[start : end + 1])
            faults.append(("too few", int(own[0]), int(own[-1])))
    return faults
