"""The kernels: one module per topic, numpy arrays in and out, base SI, no framework.

Every array has the position (or the spring) as its leading axis. NaN stands for a reading that has
not been taken: what depends on it comes out NaN as well, so nothing unmeasured turns into a number.
A formula that names no source is an own derivation.

scipy is imported as a whole, never a part of it at the top of a module: its parts load when they are first used,
so that whoever needs none of them does not wait a quarter of a second for them.
"""

from numpy import bool_, float64, int64
from numpy.typing import NDArray

FloatArray = NDArray[float64]
IntArray = NDArray[int64]
BoolArray = NDArray[bool_]
