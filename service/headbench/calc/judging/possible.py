"""Possible readings: one that cannot be right, a decimal point off, counts as not taken."""

from __future__ import annotations

from typing import Final

from headbench.calc.judging.grid import GRID
from headbench.calc.judging.rules import Rule

_NAN: Final = float("nan")


def is_possible(reading: float, rule: Rule) -> bool:
    """Whether a reading is one that a bench can show.

    Parameters
    ----------
    reading : float
        A length as it was read, NaN where it was not [m]
    rule : Rule
        The readings that are possible: between its two values, or short of its only one [-]

    Returns
    -------
    bool
        True also where nothing was read [-]

    Notes
    -----
    The range is wider than that of usual readings: what is only odd is noted and judged as it stands.

    >>> from headbench.calc.judging.rules import POSSIBLE_COIL_BIND_HEIGHT
    >>> [is_possible(height * 0.0254, POSSIBLE_COIL_BIND_HEIGHT) for height in (0.112, 0.3, 1.12, 11.2)]
    [False, True, True, False]
    """
    *low, high = rule.values
    return not (reading > high - GRID or any(reading < end + GRID for end in low))


def if_possible(reading: float, rule: Rule) -> float:
    """A reading as it counts: one that cannot be right is none, so that no verdict and no remedy rests on it.

    Parameters
    ----------
    reading : float
        A length as it was read, NaN where it was not [m]
    rule : Rule
        The readings that are possible [-]

    Returns
    -------
    float
        NaN where it is not possible [m]

    >>> from headbench.calc.judging.rules import POSSIBLE_HEIGHT
    >>> round(if_possible(0.0467, POSSIBLE_HEIGHT), 9), if_possible(0.467, POSSIBLE_HEIGHT)
    (0.0467, nan)
    """
    return reading if is_possible(reading, rule) else _NAN
