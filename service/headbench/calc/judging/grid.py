"""Grid: lengths as whole nanometers, so that no comparison hangs on rounding."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from headbench.calc import FloatArray, IntArray

GRID: Final = 1e-9
"""Thicknesses and heights are whole nanometers: 0.0001 in and 0.001 mm both are, exactly [m]."""


def on_grid(length: FloatArray | Sequence[float]) -> IntArray:
    """Lengths as whole nanometers.

    Parameters
    ----------
    length : array (...)
        Lengths, none NaN [m]

    Returns
    -------
    array (...) of int
        The same in nanometers [nm]

    >>> on_grid([0.0254, 0.0254 * 0.0001]).tolist()
    [25400000, 2540]
    """
    return np.rint(np.asarray(length) / GRID).astype(np.int64)
