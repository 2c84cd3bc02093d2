"""Verdicts: a value against its limit, and the worst of several."""

from __future__ import annotations

from enum import IntEnum
from typing import Final

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


def at_least(value: FloatArray, limit: FloatArray | float, uncertainty: FloatArray | float = 0.0) -> IntArray:
    """Verdict on values that must reach a limit, outside a guard band of GUARD_BAND standard uncertainties.

    Parameters
    ----------
    value : array (P,)
        What was computed, NaN where a reading is missing [any unit]
    limit : array (P,) or float
        The least that is good [same unit as value]
    uncertainty : array (P,) or float
        Standard uncertainty of the value; 0 or NaN where it is not known [same unit as value]

    Returns
    -------
    array (P,) of Verdict codes
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
    spare = value - limit
    rounding = _ROUNDING * (1.0 + np.abs(limit))
    if isinstance(uncertainty, float) and uncertainty == 0.0:
        verdict = np.where(spare >= -rounding, _ACCEPT, _REJECT)
    else:
        guard = GUARD_BAND * np.nan_to_num(uncertainty)
        missed = np.where(spare <= rounding - guard, _REJECT, _BORDERLINE)
        verdict = np.where(spare >= guard - rounding, _ACCEPT, missed)
    return np.where(np.isnan(spare), _NOT_MEASURED, verdict)


def at_most(value: FloatArray, limit: FloatArray | float) -> IntArray:
    """Verdict on values that must not pass a limit, by plain comparison.

    Parameters
    ----------
    value : array (P,)
        What was computed, NaN where a reading is missing [any unit]
    limit : array (P,) or float
        The most that is good [same unit as value]

    Returns
    -------
    array (P,) of Verdict codes [-]

    >>> at_most(np.array([9.0, 10.0, 11.0, np.nan]), 10.0).tolist()
    [0, 0, 3, 2]
    """
    return at_least(-value, -np.asarray(limit))


def within(deviation: FloatArray, limit: FloatArray | float) -> IntArray:
    """Verdict on deviations that must stay inside plus or minus a limit, by plain comparison.

    Parameters
    ----------
    deviation : array (P,)
        Value minus what was wanted, NaN where either is missing [any unit]
    limit : array (P,) or float
        The largest deviation that is good, either way [same unit as deviation]

    Returns
    -------
    array (P,) of Verdict codes [-]

    >>> within(np.array([0.005, -0.005, 0.006, np.nan]), 0.005).tolist()
    [0, 0, 3, 2]
    """
    return at_most(np.abs(deviation), limit)


def accepted_if_proven(verdict: IntArray, proven: BoolArray) -> IntArray:
    """Verdicts of which the good ones count only where they rest on a measurement.

    Parameters
    ----------
    verdict : array (P,)
        Verdict codes [-]
    proven : array (P,)
        Whether what was judged was measured, not taken from a data sheet or figured [-]

    Returns
    -------
    array (P,) of Verdict codes
        NOT_MEASURED for an ACCEPT, or a BORDERLINE, that is not proven [-]

    >>> accepted_if_proven(np.array([0, 0, 3]), np.array([True, False, False])).tolist()
    [0, 2, 3]
    """
    return np.where((verdict <= _BORDERLINE) & ~proven, _NOT_MEASURED, verdict)


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


def only_rejects(verdicts: IntArray) -> IntArray:
    """Verdicts of a check that can only speak against: what it does not reject, it leaves to others.

    Parameters
    ----------
    verdicts : array (P,)
        Verdict codes [-]

    Returns
    -------
    array (P,) of Verdict codes
        REJECT or ACCEPT [-]

    >>> only_rejects(np.array([0, 2, 3])).tolist()
    [0, 0, 3]
    """
    return np.where(verdicts == _REJECT, _REJECT, _ACCEPT)


def setting_verdict(verdict: IntArray, *, misses_reject: bool) -> IntArray:
    """Verdicts of a check on a setting: off its target is for a person to decide, unless the job rejects it.

    Parameters
    ----------
    verdict : array (P,)
        Verdict codes of the plain comparison [-]
    misses_reject : bool
        Whether the job asks for what is off its target to be rejected [-]

    Returns
    -------
    array (P,) of Verdict codes
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
    return np.where(verdict == _REJECT, _BORDERLINE, verdict)
