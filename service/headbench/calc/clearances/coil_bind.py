"""Coil bind: what is left between the coils at full lift."""

from __future__ import annotations

from typing import Final, NamedTuple

from headbench.calc.judging.touching import clearance_verdict, is_closed
from headbench.calc.judging.verdicts import Verdict
from headbench.calc.springs.spring_set import SpringSet

_REJECT, _NOT_MEASURED = int(Verdict.REJECT), int(Verdict.NOT_MEASURED)
_NAN: Final = float("nan")


class CoilBind(NamedTuple):
    """Coil-bind clearance of one valve's springs.

    clearance : float, the smallest of the springs whose coil-bind height is known [m]
    tightest : int, which of the nested springs that is, 0 the outer one [-]
    complete : bool, False where a spring's coil-bind height or the open height is missing or doubtful [-]
    """

    clearance: float
    tightest: int
    complete: bool

    @property
    def touches(self) -> bool:
        """Whether coils touch at full lift or before."""
        return is_closed(self.clearance)

    def verdict(self, limit: float) -> int:
        """Verdict on the smallest clearance.

        Parameters
        ----------
        limit : float
            The least that is good [m]

        Returns
        -------
        Verdict code
            REJECT as soon as one spring is known to miss, or its coils touch whatever the limit; NOT_MEASURED
            while one that could is unknown or doubtful [-]

        >>> one_unread = CoilBind(clearance=0.002, tightest=0, complete=False)
        >>> one_unread.verdict(0.0015), one_unread.verdict(0.0025)
        (2, 3)
        """
        known = clearance_verdict(self.clearance, limit)
        return known if self.complete or known == _REJECT else _NOT_MEASURED


def coil_bind_clearance(open_height: float, springs: SpringSet) -> CoilBind:
    """Smallest coil-bind clearance of the springs in one position, g_b = H_L - rise - H_b.

    Parameters
    ----------
    open_height : float
        Height of the outer spring at full lift H_L [m]
    springs : SpringSet
        What stands there, each with its seat rise and its coil-bind height H_b [-]

    Returns
    -------
    CoilBind

    Notes
    -----
    Each spring counts with its own height: coil-bind heights differ inside one set, so the smallest
    clearance decides, never a mean. Heights that were read again and disagree prove nothing good. Common
    practice, no source.

    >>> from headbench.calc.springs.spring_set import OneSpring
    >>> pair = [
    ...     OneSpring(None, True, rise, bind, False, 0.0, 0.0, 0.0, 0.0, 0.0)
    ...     for rise, bind in ((0.0, 0.030), (0.001, 0.0285))
    ... ]
    >>> round(coil_bind_clearance(0.032, SpringSet(tuple(pair), 0.0)).clearance, 9)
    0.002
    """
    clearance = open_height - springs.tallest_bind
    return CoilBind(clearance, springs.tightest, springs.binds_read and clearance == clearance)  # noqa: PLR0124 - not NaN


def coil_bind_verdict(at_lift: CoilBind, closed: CoilBind, limit: float) -> int:
    """Verdict on the coil-bind clearance at full lift, with what the closed valve says already.

    Parameters
    ----------
    at_lift : CoilBind
        At full lift; its clearance is NaN while the lift is not known [m]
    closed : CoilBind
        With the valve closed, which is the most it can ever be [m]
    limit : float
        The least that is good [m]

    Returns
    -------
    Verdict code
        REJECT where even the closed valve leaves too little [-]

    >>> unknown, closed = CoilBind(_NAN, 0, complete=False), CoilBind(0.001, 0, complete=True)
    >>> coil_bind_verdict(unknown, closed, 0.0015), coil_bind_verdict(unknown, closed, 0.0005)
    (3, 2)
    """
    return _REJECT if closed.verdict(limit) == _REJECT else at_lift.verdict(limit)
