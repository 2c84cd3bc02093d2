"""Coil bind: what is left between the coils at full lift."""

from __future__ import annotations

from typing import Final, NamedTuple

from headbench.calc.heights.installed_height import open_height
from headbench.calc.judging.possible import if_possible
from headbench.calc.judging.rules import POSSIBLE_HEIGHT, POSSIBLE_LIFT
from headbench.calc.judging.touching import clearance_verdict, is_closed
from headbench.calc.judging.verdicts import Verdict
from headbench.calc.springs.spring_set import SpringSet, by_dimensions

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


class BindCheck(NamedTuple):
    """Whether the springs of one valve bind.

    open_height : float, of the outer spring at full lift [m]
    at_lift, closed : CoilBind, at full lift and with the valve closed
    by_dimensions : bool, whether a spring known by its dimensions would bind before full lift, whatever was read [-]
    verdict : int, Verdict code [-]
    """

    open_height: float
    at_lift: CoilBind
    closed: CoilBind
    by_dimensions: bool
    verdict: int


def check_coil_bind(installed_height: float, valve_lift: float, springs: SpringSet, limit: float) -> BindCheck:
    """Whether the springs of one valve keep their coils apart up to full lift.

    Parameters
    ----------
    installed_height : float
        Height of the outer spring with the valve closed; NaN not measured [m]
    valve_lift : float
        Lift at the valve; NaN not known [m]
    springs : SpringSet
        What stands there [-]
    limit : float
        The least that is to be left between the coils [m]

    Returns
    -------
    BindCheck
        Readings that cannot be right count as not taken [-]

    Notes
    -----
    See `coil_bind_clearance` and `coil_bind_verdict`.

    >>> from headbench.calc.springs.spring_set import OneSpring
    >>> spring = OneSpring(None, True, 0.0, 0.030, False, 0.0, 0.0, 0.0, 0.0, 0.0)
    >>> found = check_coil_bind(0.0445, 0.0125, SpringSet((spring,), 0.0), 0.0015)
    >>> round(found.open_height, 9), round(found.at_lift.clearance, 9), Verdict(found.verdict).name
    (0.032, 0.002, 'ACCEPT')
    """
    height = if_possible(installed_height, POSSIBLE_HEIGHT)
    opened = open_height(height, if_possible(valve_lift, POSSIBLE_LIFT))
    at_lift, closed = coil_bind_clearance(opened, springs), coil_bind_clearance(height, springs)
    verdict = coil_bind_verdict(at_lift, closed, limit)
    return BindCheck(opened, at_lift, closed, binds_by_dimensions(springs, opened), verdict)


def binds_by_dimensions(springs: SpringSet, open_height: float) -> bool:
    """Whether a spring known by its dimensions would bind before full lift.

    Parameters
    ----------
    springs : SpringSet
        What stands there [-]
    open_height : float
        Height of the outer spring at full lift [m]

    Returns
    -------
    bool
        False where none is known by its dimensions, or the height is not known [-]

    >>> binds_by_dimensions(SpringSet((), 0.0), 0.030)
    False
    """
    return any(is_closed(open_height - one.seat_rise - by_dimensions(one)) for one in springs.each)
