"""Scale readings: a set of parts made to match."""

from __future__ import annotations

import math
from collections.abc import Sequence


def mass_to_remove(mass: Sequence[float]) -> list[float]:
    """What to take off each part to match the lightest of its kind, m - min m.

    Parameters
    ----------
    mass : sequence (P,)
        Mass of each part of one kind, NaN where it was not weighed [kg]

    Returns
    -------
    list (P,)
        What to take off; 0 for the lightest, NaN where it was not weighed [kg]

    >>> [round(off, 9) for off in mass_to_remove([0.1045, 0.1041])]
    [0.0004, 0.0]
    """
    lightest = min((one for one in mass if one == one), default=math.nan)  # noqa: PLR0124 - NaN is not itself
    return [one - lightest for one in mass]
