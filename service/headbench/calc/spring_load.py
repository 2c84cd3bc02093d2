"""Spring load: what the tester shows, whether it can be true, and what a spring lost.

The load itself at a height is in `load_curves` (one spring), `spring_curves` (of every kind) and `nested_springs`.
"""

from __future__ import annotations

from typing import Final, Literal

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.grid import on_grid


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


_SAME_LOAD: Final = 1e-6
"""Loads nearer than this are one load: no tester tells them apart [N]."""

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
    same = np.abs(rise) < _SAME_LOAD
    repeats = together & at_one_height & ~same
    kinds: tuple[tuple[Literal["falls", "repeats", "flat"], BoolArray], ...] = (
        ("repeats", repeats),
        ("falls", together & ~at_one_height & ~same & (rise < 0.0)),
        ("flat", together & ~at_one_height & same),
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
