"""Verdicts: a value against its limit, and the worst of several."""

from __future__ import annotations

from collections.abc import Callable
from enum import IntEnum
from typing import Any, Final, overload

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray


class Verdict(IntEnum):
    """What a check came to, from best to worst.

    `NOT_MEASURED` ranks below `BORDERLINE`: a reading that is missing may hide anything, and it
    never counts as good. `REJECT` is worst because it is known.
    """

    ACCEPT = 0
    BORDERLINE = 1
    NOT_MEASURED = 2
    REJECT = 3


# an enumeration is slow to look a member up in, and these stand in every comparison
_ACCEPT, _BORDERLINE, _NOT_MEASURED, _REJECT = (int(code) for code in Verdict)

# Readings are exact to a nanometer and a millinewton at best; a value that misses its limit by less
# than this is the limit written in another unit, not a miss.
_ROUNDING: Final = 1e-12


GUARD_BAND: Final = 1.65
"""Standard uncertainties a value has to clear its limit by, for 95 % one-sided [-]."""


def one_by_one(judge: Callable[..., Any], *columns: Any) -> Any:
    """What a judgment of single numbers comes to on arrays of them, one after another.

    Parameters
    ----------
    judge : function
        Takes a number of each column [-]
    columns : arrays that broadcast together, or single numbers
        What is judged [any unit]

    Returns
    -------
    array of int

    >>> one_by_one(max, np.array([1, 5]), 3).tolist()
    [3, 5]
    """
    rows = np.broadcast_arrays(*columns)
    flat = (row.ravel().tolist() for row in rows)
    return np.array([judge(*each) for each in zip(*flat, strict=True)], dtype=np.int64).reshape(rows[0].shape)


@overload
def at_least(value: float, limit: float, uncertainty: float = 0.0) -> int: ...
@overload
def at_least(value: FloatArray, limit: FloatArray | float, uncertainty: FloatArray | float = 0.0) -> IntArray: ...
def at_least(value: Any, limit: Any, uncertainty: Any = 0.0) -> Any:
    """Verdict on values that must reach a limit, outside a guard band of GUARD_BAND standard uncertainties.

    Parameters
    ----------
    value : float or array (P,)
        What was computed, NaN where a reading is missing [any unit]
    limit : float or array (P,)
        The least that is good [same unit as value]
    uncertainty : float or array (P,)
        Standard uncertainty of the value; 0 or NaN where it is not known [same unit as value]

    Returns
    -------
    Verdict code, or array (P,) of them
        BORDERLINE inside the guard band [-]

    Notes
    -----
    ISO 14253-1:2017 and JCGM 106:2012, 8.3, ask for a guard band when the uncertainty is known (from memory);
    without one the plain comparison is all that can be said, and a value on its limit is accepted.

    >>> at_least(np.array([0.07, 0.06, 0.05, np.nan]), 0.06).tolist()
    [0, 0, 3, 2]
    >>> at_least(np.array([0.07, 0.06, 0.05]), 0.06, 0.005).tolist()
    [0, 1, 3]
    """
    if isinstance(value, np.ndarray):
        return one_by_one(at_least, value, limit, uncertainty)
    spare = value - limit
    if spare != spare:  # noqa: PLR0124 - NaN is not itself
        return _NOT_MEASURED
    rounding = _ROUNDING * (1.0 + abs(limit))
    guard = GUARD_BAND * uncertainty if uncertainty > 0.0 else 0.0
    if spare >= guard - rounding:
        return _ACCEPT
    return _REJECT if spare <= rounding - guard else _BORDERLINE


@overload
def at_most(value: float, limit: float) -> int: ...
@overload
def at_most(value: FloatArray, limit: FloatArray | float) -> IntArray: ...
def at_most(value: Any, limit: Any) -> Any:
    """Verdict on values that must not pass a limit, by plain comparison.

    Parameters
    ----------
    value : float or array (P,)
        What was computed, NaN where a reading is missing [any unit]
    limit : float or array (P,)
        The most that is good [same unit as value]

    Returns
    -------
    Verdict code, or array (P,) of them [-]

    >>> at_most(np.array([9.0, 10.0, 11.0, np.nan]), 10.0).tolist()
    [0, 0, 3, 2]
    """
    return at_least(-value, -limit)


@overload
def within(deviation: float, limit: float) -> int: ...
@overload
def within(deviation: FloatArray, limit: FloatArray | float) -> IntArray: ...
def within(deviation: Any, limit: Any) -> Any:
    """Verdict on deviations that must stay inside plus or minus a limit, by plain comparison.

    Parameters
    ----------
    deviation : float or array (P,)
        Value minus what was wanted, NaN where either is missing [any unit]
    limit : float or array (P,)
        The largest deviation that is good, either way [same unit as deviation]

    Returns
    -------
    Verdict code, or array (P,) of them [-]

    >>> within(np.array([0.005, -0.005, 0.006, np.nan]), 0.005).tolist()
    [0, 0, 3, 2]
    """
    return at_most(abs(deviation), limit)


@overload
def accepted_if_proven(verdict: int, proven: bool) -> int: ...  # noqa: FBT001 - a column of verdicts may stand here
@overload
def accepted_if_proven(verdict: IntArray, proven: BoolArray) -> IntArray: ...
def accepted_if_proven(verdict: Any, proven: Any) -> Any:
    """Verdicts of which the good ones count only where they rest on a measurement.

    Parameters
    ----------
    verdict : int or array (P,)
        Verdict codes [-]
    proven : bool or array (P,)
        Whether what was judged was measured, not taken from a data sheet or figured [-]

    Returns
    -------
    Verdict code, or array (P,) of them
        NOT_MEASURED for an ACCEPT, or a BORDERLINE, that is not proven [-]

    >>> accepted_if_proven(np.array([0, 0, 3]), np.array([True, False, False])).tolist()
    [0, 2, 3]
    """
    if isinstance(verdict, np.ndarray):
        return one_by_one(accepted_if_proven, verdict, proven)
    return _NOT_MEASURED if verdict <= _BORDERLINE and not proven else verdict


def worst(verdicts: IntArray) -> IntArray:
    """The worst of several verdicts on each position.

    Parameters
    ----------
    verdicts : array (C, P)
        Verdict codes [-]

    Returns
    -------
    array (P,) of Verdict codes; NOT_MEASURED where there was nothing to judge [-]

    >>> worst(np.array([[0, 2], [3, 0]])).tolist()
    [3, 2]
    """
    if len(verdicts) == 0:
        return np.full(verdicts.shape[1:], Verdict.NOT_MEASURED, dtype=np.int64)
    return np.asarray(verdicts.max(axis=0), dtype=np.int64)


@overload
def only_rejects(verdicts: int) -> int: ...
@overload
def only_rejects(verdicts: IntArray) -> IntArray: ...
def only_rejects(verdicts: Any) -> Any:
    """Verdicts of a check that can only speak against: what it does not reject, it leaves to others.

    Parameters
    ----------
    verdicts : int or array (P,)
        Verdict codes [-]

    Returns
    -------
    Verdict code, or array (P,) of them
        REJECT or ACCEPT [-]

    >>> only_rejects(np.array([0, 2, 3])).tolist()
    [0, 0, 3]
    """
    if isinstance(verdicts, np.ndarray):
        return one_by_one(only_rejects, verdicts)
    return _REJECT if verdicts == _REJECT else _ACCEPT


@overload
def setting_verdict(verdict: int, *, misses_reject: bool) -> int: ...
@overload
def setting_verdict(verdict: IntArray, *, misses_reject: bool) -> IntArray: ...
def setting_verdict(verdict: Any, *, misses_reject: bool) -> Any:
    """Verdicts of a check on a setting: off its target is for a person to decide, unless the job rejects it.

    Parameters
    ----------
    verdict : int or array (P,)
        Verdict codes of the plain comparison [-]
    misses_reject : bool
        Whether the job asks for what is off its target to be rejected [-]

    Returns
    -------
    Verdict code, or array (P,) of them
        BORDERLINE for a REJECT, unless misses_reject [-]

    Notes
    -----
    A height, a load or a mass off its target runs; coils, retainers and pistons that touch do not.
    Only the second kind is damage. Common practice, no source.

    >>> setting_verdict(np.array([0, 2, 3]), misses_reject=False).tolist()
    [0, 2, 1]
    >>> setting_verdict(np.array([0, 2, 3]), misses_reject=True).tolist()
    [0, 2, 3]
    """
    if misses_reject:
        return verdict
    if isinstance(verdict, np.ndarray):
        return np.where(verdict == _REJECT, _BORDERLINE, verdict)
    return _BORDERLINE if verdict == _REJECT else verdict
