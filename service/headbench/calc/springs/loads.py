"""Spring load: what the tester shows, whether it can be true, and what a spring lost.

The load itself at a height is in `one_curve` (one spring) and `spring_set` (all on one valve); at many heights in
`load_curves`, `curves` (springs of every kind) and `nested`.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final, Literal

from headbench.calc.judging.grid import on_grid
from headbench.calc.judging.rules import TESTER_REPEATS, TESTER_REPEATS_PERCENT


def load_loss(load: float, rated_load: float) -> float:
    """Load lost against the rating at the same height, 100 (1 - F/F_rated).

    Parameters
    ----------
    load : float
        Load read or interpolated at the rated height, NaN not known [N]
    rated_load : float
        Load the data sheet prints there, above 0 [N]

    Returns
    -------
    float
        Loss; negative where the spring pushes more than rated [percent]

    Notes
    -----
    What is too much stands in `limits.LOAD_LOSS_MAXIMUM`.

    >>> round(load_loss(117.0, 130.0), 9)
    10.0
    """
    return 100.0 * (1.0 - load / rated_load)


def differ_by_more_than_a_tester(one: float, other: float) -> bool:
    """Whether two loads at one height differ by more than a tester repeats, |F1 - F2| > max(2 lbf, 2 % of the larger).

    Parameters
    ----------
    one, other : float
        The loads, NaN not known [N]

    Returns
    -------
    bool
        False where one is not known [-]

    Notes
    -----
    See `rules.TESTER_REPEATS` and `rules.TESTER_REPEATS_PERCENT`. Common practice, no source.

    >>> [differ_by_more_than_a_tester(*both) for both in ((100.0, 105.0), (100.0, 110.0), (1000.0, 985.0))]
    [False, True, False]
    """
    return abs(one - other) > repeat_of_a_tester(one, other) * (1.0 + _ROUNDING)


def repeat_of_a_tester(one: float, other: float) -> float:
    """Difference of two loads at one height that is put down to the tester, max(2 lbf, 2 % of the larger).

    Parameters
    ----------
    one, other : float
        The loads [N]

    Returns
    -------
    float
        The difference [N]

    Notes
    -----
    See `rules.TESTER_REPEATS` and `rules.TESTER_REPEATS_PERCENT`. Common practice, no source.

    >>> repeat_of_a_tester(990.0, 1000.0)
    20.0
    """
    return max(TESTER_REPEATS.values[0], 0.01 * TESTER_REPEATS_PERCENT.values[0] * max(one, other))


_SAME_LOAD: Final = 1e-6
"""Loads nearer than this are one load: no tester tells them apart [N]."""

_ROUNDING: Final = 1e-9

ReadingFault = tuple[Literal["falls", "flat"], int, int]
"""What is wrong with two readings, and their places among all readings."""


def find_reading_faults(height: Sequence[float], load: Sequence[float]) -> list[ReadingFault]:
    """Readings of one spring that cannot all be true.

    Parameters
    ----------
    height : sequence (R,)
        Heights read at, in any order, none twice: see `readings.average_repeats` [m]
    load : sequence (R,)
        Loads shown there [N]

    Returns
    -------
    list of (fault, place, place)
        "falls", "flat": the load falls or stays while the spring is compressed from the first place to the
        second [-]

    >>> find_reading_faults([0.040, 0.030], [500.0, 480.0])
    [('falls', 0, 1)]
    """
    tall_first = sorted(range(len(height)), key=lambda place: -on_grid(height[place]))
    faults: dict[Literal["falls", "flat"], list[ReadingFault]] = {"falls": [], "flat": []}
    for before, after in pairwise(tall_first):
        rise = load[after] - load[before]
        if abs(rise) < _SAME_LOAD:
            faults["flat"].append(("flat", before, after))
        elif rise < 0.0:
            faults["falls"].append(("falls", before, after))
    return [*faults["falls"], *faults["flat"]]
