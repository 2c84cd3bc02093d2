"""Lift slips: lifts that no valve has, a decimal point off, on which no clearance is accepted."""

from __future__ import annotations

from headbench.calc.judging.possible import is_possible
from headbench.calc.judging.rules import POSSIBLE_LIFT


def lift_is_possible(valve_lift: float) -> bool:
    """Whether a lift is one that a valve can have.

    Parameters
    ----------
    valve_lift : float
        Full lift, NaN where it is not known [m]

    Returns
    -------
    bool
        False where the decimal point of the reading has slipped; True where nothing is known [-]

    Notes
    -----
    The range is wider than that of usual lifts: what is only odd, such as 2.5 mm on a small engine, is noted and
    judged as it stands. Common practice, no source.

    >>> [lift_is_possible(lift * 0.0254) for lift in (0.055, 0.1, 0.55, 1.25, 5.5, float("nan"))]
    [False, True, True, True, False, True]
    """
    return is_possible(valve_lift, POSSIBLE_LIFT)
