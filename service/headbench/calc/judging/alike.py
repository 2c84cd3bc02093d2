"""Alike: functions of one number that serve an array as well, so that a formula stands once for either.

Few valves are computed one after another in plain numbers, many points as an array; numpy takes a single number ten
times as long as `math` does, and hands back one of its own.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TypeVar, overload

import numpy as np

from headbench.calc import FloatArray

N = TypeVar("N", float, FloatArray)
"""A number, or an array of them."""


def each(question: Callable[..., float], *columns: FloatArray | float) -> FloatArray:
    """What is asked of single numbers, of arrays of them, one after another.

    Parameters
    ----------
    question : function
        Takes a number of each column [-]
    columns : arrays that broadcast together, or single numbers
        What is asked [any unit]

    Returns
    -------
    array (...) [any unit]

    >>> each(math.hypot, np.array([3.0, 5.0]), np.array([4.0, 12.0])).tolist()
    [5.0, 13.0]
    """
    rows = np.broadcast_arrays(*columns)
    flat = (row.ravel().tolist() for row in rows)
    return np.array([question(*one) for one in zip(*flat, strict=True)], dtype=np.float64).reshape(rows[0].shape)


@overload
def sin(angle: float) -> float: ...
@overload
def sin(angle: FloatArray) -> FloatArray: ...
def sin(angle: FloatArray | float) -> FloatArray | float:
    """Sine of an angle, or of each.

    Parameters
    ----------
    angle : float or array (...)
        Angles, NaN not known [rad]

    Returns
    -------
    float or array (...) [-]

    >>> sin(0.0), sin(np.zeros(2)).tolist()
    (0.0, [0.0, 0.0])
    """
    return np.sin(angle) if isinstance(angle, np.ndarray) else math.sin(angle)


@overload
def cos(angle: float) -> float: ...
@overload
def cos(angle: FloatArray) -> FloatArray: ...
def cos(angle: FloatArray | float) -> FloatArray | float:
    """Cosine of an angle, or of each.

    Parameters
    ----------
    angle : float or array (...)
        Angles, NaN not known [rad]

    Returns
    -------
    float or array (...) [-]

    >>> cos(0.0), cos(np.zeros(2)).tolist()
    (1.0, [1.0, 1.0])
    """
    return np.cos(angle) if isinstance(angle, np.ndarray) else math.cos(angle)


@overload
def arcsin(sine: float) -> float: ...
@overload
def arcsin(sine: FloatArray) -> FloatArray: ...
def arcsin(sine: FloatArray | float) -> FloatArray | float:
    """Angle of a sine, or of each.

    Parameters
    ----------
    sine : float or array (...)
        From -1 to 1, NaN not known [-]

    Returns
    -------
    float or array (...) [rad]

    >>> arcsin(0.0), arcsin(np.zeros(2)).tolist()
    (0.0, [0.0, 0.0])
    """
    return np.arcsin(sine) if isinstance(sine, np.ndarray) else math.asin(sine)


@overload
def sqrt(square: float) -> float: ...
@overload
def sqrt(square: FloatArray) -> FloatArray: ...
def sqrt(square: FloatArray | float) -> FloatArray | float:
    """Square root of a number, or of each.

    Parameters
    ----------
    square : float or array (...)
        0 or more, NaN not known [any unit]

    Returns
    -------
    float or array (...) [any unit]

    >>> sqrt(4.0), sqrt(np.array([4.0, 9.0])).tolist()
    (2.0, [2.0, 3.0])
    """
    return np.sqrt(square) if isinstance(square, np.ndarray) else math.sqrt(square)


@overload
def absolute(value: float) -> float: ...
@overload
def absolute(value: FloatArray) -> FloatArray: ...
def absolute(value: FloatArray | float) -> FloatArray | float:
    """A number without its sign, or each; a name for `abs` that keeps to one kind of number.

    Parameters
    ----------
    value : float or array (...)
        Numbers, NaN not known [any unit]

    Returns
    -------
    float or array (...) [any unit]

    >>> absolute(-2.0), absolute(np.array([-2.0, 3.0])).tolist()
    (2.0, [2.0, 3.0])
    """
    return np.abs(value) if isinstance(value, np.ndarray) else abs(value)
