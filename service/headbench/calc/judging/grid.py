"""Grid: lengths as whole nanometers, so that no comparison hangs on rounding."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, overload

import numpy as np

from headbench.calc import FloatArray, IntArray

GRID: Final = 1e-9
"""Thicknesses and heights are whole nanometers: 0.0001 in and 0.001 mm both are, exactly [m]."""


@overload
def on_grid(length: float) -> int: ...
@overload
def on_grid(length: FloatArray | Sequence[float]) -> IntArray: ...
def on_grid(length: FloatArray | Sequence[float] | float) -> IntArray | int:
    """Lengths as whole nanometers.

    Parameters
    ----------
    length : float or array (...)
        Lengths, none NaN [m]

    Returns
    -------
    int, or array (...) of int
        The same in nanometers [nm]

    >>> on_grid([0.0254, 0.0254 * 0.0001]).tolist()
    [25400000, 2540]
    """
    if isinstance(length, float):
        # both round a half to even
        return round(length / GRID)
    return np.rint(np.asarray(length) / GRID).astype(np.int64)
