"""The kernels: one module per topic, numpy arrays in and out, base SI, no framework.

Every array has the position (or the spring) as its leading axis. NaN stands for a reading that has
not been taken: what depends on it comes out NaN as well, so nothing unmeasured turns into a number.
A formula that names no source is an own derivation.
"""

from math import nan

from numpy import bool_, float64, int64
from numpy.typing import NDArray

FloatArray = NDArray[float64]
IntArray = NDArray[int64]
BoolArray = NDArray[bool_]


def or_nan(reading: float | None) -> float:
    """A reading as the kernels take it: NaN for one that was not taken."""
    return nan if reading is None else reading
