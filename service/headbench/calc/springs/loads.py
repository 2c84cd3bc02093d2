"""Spring load: what the tester shows, whether it can be true, and what a spring lost.

The load itself at a height is in `load_curves` (one spring), `spring_curves` (of every kind) and `nested_springs`.
"""

from __future__ import annotations

from typing import Final, Literal

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.judging.grid import on_grid
from headbench.calc.judging.rules import TESTER_REPEATS, TESTER_REPEATS_PERCENT


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
    What is too much stands in `limits.LOAD_LOSS_MAXIMUM`.

    >>> load_loss(np.array([117.0]), np.array([130.0])).round(9).tolist()
    [10.0]
    """
    return np.asarray(100.0 * (1.0 - load / rated_load), dtype=np.float64)


def differ_by_more_than_a_tester(one: FloatArray, other: FloatArray) -> BoolArray:
    """Whether two loads at one height differ by more than a tester repeats, |F1 - F2| > max(2 lbf, 2 % of the larger).

    Parameters
    ----------
    one, other : array (R,)
        The loads, NaN not known [N]

    Returns
    -------
    array (R,)
        False where one is not known [-]

    Notes
    -----
    See `rules.TESTER_REPEATS` and `rules.TESTER_REPEATS_PERCENT`. Common practice, no source.

    >>> differ_by_more_than_a_tester(np.array([100.0, 100.0, 1000.0]), np.array([105.0, 110.0, 985.0])).tolist()
    [False, True, False]
    """
    repeats = np.maximum(TESTER_REPEATS.values[0], 0.01 * TESTER_REPEATS_PERCENT.values[0] * np.maximum(one, other))
    return np.asarray(np.abs(one - other) > repeats * (1.0 + _ROUNDING), dtype=np.bool_)


_SAME_LOAD: Final = 1e-6
"""Loads nearer than this are one load: no tester tells them apart [N]."""

_ROUNDING: Final = 1e-9

ReadingFault = tuple[Literal["falls", "flat"], int, int]
"""What is wrong with two readings, and their places among all readings."""


def find_reading_faults(spring: IntArray, height: FloatArray, load: FloatArray) -> list[ReadingFault]:
    """Readings of springs that cannot all be true.

    Parameters
    ----------
    spring : array (R,)
        The spring each reading belongs to, counted from 0 [-]
    height : array (R,)
        Heights read at, in any order, none of a spring's twice: see `spring_readings.average_repeats` [m]
    load : array (R,)
        Loads shown there [N]

    Returns
    -------
    list of (fault, place, place)
        "falls", "flat": the load falls or stays while the spring is compressed from the first place to the
        second [-]

    >>> find_reading_faults(np.array([0, 0]), np.array([0.040, 0.030]), np.array([500.0, 480.0]))
    [('falls', 0, 1)]
    """
    tall_first = np.lexsort((-on_grid(height), spring))
    before, after = tall_first[:-1], tall_first[1:]
    together = spring[before] == spring[after]
    rise = load[after] - load[before]
    same = np.abs(rise) < _SAME_LOAD
    kinds: tuple[tuple[Literal["falls", "flat"], BoolArray], ...] = (
        ("falls", together & ~same & (rise < 0.0)),
        ("flat", together & same),
    )
    return [(kind, int(before[place]), int(after[place])) for kind, found in kinds for place in np.flatnonzero(found)]
