"""Coil bind: what is left between the coils at full lift."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.judging.touching import clearance_verdict, is_closed
from headbench.calc.judging.verdicts import Verdict


@dataclass(frozen=True, slots=True)
class CoilBind:
    """Coil-bind clearance per position.

    clearance : array (P,), the smallest of the springs whose coil-bind height is known [m]
    tightest : array (P,), which of the nested springs that is, 0 the outer one [-]
    complete : array (P,), False where a spring's coil-bind height or the open height is missing or doubtful [-]
    """

    clearance: FloatArray
    tightest: IntArray
    complete: BoolArray

    @property
    def touches(self) -> BoolArray:
        """Where coils touch at full lift or before."""
        return is_closed(self.clearance)

    def verdict(self, limit: FloatArray | float) -> IntArray:
        """Verdict on the smallest clearance.

        Parameters
        ----------
        limit : array (P,) or float
            The least that is good [m]

        Returns
        -------
        array (P,) of Verdict codes
            REJECT as soon as one spring is known to miss, or its coils touch whatever the limit; NOT_MEASURED
            while one that could is unknown or doubtful [-]

        >>> one_unread = coil_bind_clearance(np.array([0.032]), np.array([[0.0, 0.0]]), np.array([[0.030, np.nan]]))
        >>> one_unread.verdict(0.0015).tolist(), one_unread.verdict(0.0025).tolist()
        ([2], [3])
        """
        known = clearance_verdict(self.clearance, limit)
        unread = ~self.complete & (known != Verdict.REJECT)
        return np.where(unread, Verdict.NOT_MEASURED, known).astype(np.int64)


def coil_bind_clearance(
    open_height: FloatArray,
    seat_rise: FloatArray,
    coil_bind_height: FloatArray,
    doubtful: BoolArray | bool = False,  # noqa: FBT001, FBT002 - a column of the springs, as the others are
) -> CoilBind:
    """Smallest coil-bind clearance of the springs in one position, g_b = H_L - rise - H_b.

    Parameters
    ----------
    open_height : array (P,)
        Height of the outer spring at full lift H_L [m]
    seat_rise : array (P, K)
        How much shorter each nested spring stands than the outer one; 0 for the outer one [m]
    coil_bind_height : array (P, K)
        Height at which each spring's coils touch H_b; NaN not measured, -inf no such spring [m]

    doubtful : array (P, K) or bool
        Coil-bind heights that were read again and disagree, so prove nothing good; none if left out [-]

    Returns
    -------
    CoilBind

    Notes
    -----
    Each spring counts with its own height: coil-bind heights differ inside one set, so the smallest
    clearance decides, never a mean. Common practice, no source.

    >>> bind = coil_bind_clearance(np.array([0.032]), np.array([[0.0, 0.001]]), np.array([[0.030, 0.0285]]))
    >>> bind.clearance.round(9).tolist()
    [0.002]
    """
    each = (open_height[:, np.newaxis] - seat_rise) - coil_bind_height
    known = np.where(np.isnan(each), np.inf, each)
    tightest = known.argmin(axis=1)
    smallest = known[np.arange(len(known)), tightest]
    return CoilBind(
        clearance=np.where(np.isinf(smallest), np.nan, smallest),
        tightest=tightest,
        complete=np.asarray(~(np.isnan(each) | doubtful).any(axis=1), dtype=np.bool_),
    )


def coil_bind_verdict(at_lift: CoilBind, closed: CoilBind, limit: FloatArray | float) -> IntArray:
    """Verdict on the coil-bind clearance at full lift, with what the closed valve says already.

    Parameters
    ----------
    at_lift : CoilBind
        At full lift; its clearance is NaN while the lift is not known [m]
    closed : CoilBind
        With the valve closed, which is the most it can ever be [m]
    limit : array (P,) or float
        The least that is good [m]

    Returns
    -------
    array (P,) of Verdict codes
        REJECT where even the closed valve leaves too little [-]

    >>> unknown = coil_bind_clearance(np.array([np.nan]), np.array([[0.0]]), np.array([[0.030]]))
    >>> closed = coil_bind_clearance(np.array([0.031]), np.array([[0.0]]), np.array([[0.030]]))
    >>> coil_bind_verdict(unknown, closed, 0.0015).tolist(), coil_bind_verdict(unknown, closed, 0.0005).tolist()
    ([3], [2])
    """
    judged = at_lift.verdict(limit)
    return np.where(closed.verdict(limit) == Verdict.REJECT, Verdict.REJECT, judged).astype(np.int64)
