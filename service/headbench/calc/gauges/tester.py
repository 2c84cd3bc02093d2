"""Tester: what a spring tester's reading is worth once it was checked with known loads."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from itertools import pairwise
from typing import Final, Literal, NamedTuple


class Calibration(NamedTuple):
    """The known loads a tester was checked with, rising: see `calibrated`.

    indicated : what it showed under them [N]
    applied : the known loads [N]
    """

    indicated: tuple[float, ...]
    applied: tuple[float, ...]

    def true_load(self, indicated_load: float) -> float:
        """True load behind an indicated one, straight between the loads the tester was checked at.

        Parameters
        ----------
        indicated_load : float
            What the tester shows [N]

        Returns
        -------
        float
            Corrected load; beyond the last known load the last straight line goes on [N]

        Notes
        -----
        One known load alone is taken as a scale error: the line through it and nothing. Common practice, no
        source.

        >>> one = calibrated([101.0], [100.0])
        >>> round(one.true_load(50.0), 3), round(one.true_load(150.0), 3)
        (49.505, 148.515)
        >>> two = calibrated([2.0, 102.0], [0.0, 100.0])
        >>> two.true_load(52.0), two.true_load(150.0)
        (50.0, 148.0)
        """
        x, y = self
        if len(x) == 1:
            return indicated_load * (y[0] / x[0])
        piece = min(max(bisect_left(x, indicated_load), 1), len(x) - 1) - 1
        slope = (y[piece + 1] - y[piece]) / (x[piece + 1] - x[piece])
        return y[piece] + slope * (indicated_load - x[piece])


def calibrated(indicated: Sequence[float], applied: Sequence[float]) -> Calibration:
    """A tester that was checked with known loads.

    Parameters
    ----------
    indicated : sequence (C,)
        What it showed under the known loads, all different, in any order [N]
    applied : sequence (C,)
        The known loads, rising with what it showed: see `find_calibration_faults` [N]

    Returns
    -------
    Calibration

    >>> calibrated([102.0, 2.0], [100.0, 0.0])
    Calibration(indicated=(2.0, 102.0), applied=(0.0, 100.0))
    """
    rising = sorted(zip(indicated, applied, strict=True))
    return Calibration(tuple(shown for shown, _ in rising), tuple(known for _, known in rising))


_NOTHING: Final = 1e-6
"""What no tester and no scale tells from nothing: a millionth of a newton, a thousandth of a gram."""
_ALIKE: Final = 1e-9
"""Share by which two indications must differ to be two."""

CalibrationFault = tuple[Literal["repeats", "falls", "no scale"], int, int]
"""What is wrong with two known loads, and their places in the order they were given."""


def find_calibration_faults(indicated: Sequence[float], applied: Sequence[float]) -> list[CalibrationFault]:
    """Known loads and what the tester showed that cannot make a correction.

    Parameters
    ----------
    indicated : sequence (C,)
        What the tester showed [N]
    applied : sequence (C,)
        The known loads [N]

    Returns
    -------
    list of (fault, place, place)
        "repeats": one indication for two known loads, or one twice; "falls": it shows more under less;
        "no scale": a single pair of which one is nothing [-]

    >>> find_calibration_faults([101.0, 99.0], [100.0, 150.0])
    [('falls', 1, 0)]
    """
    if len(indicated) == 1:
        return [("no scale", 0, 0)] if min(indicated[0], applied[0]) <= _NOTHING else []
    order = sorted(range(len(indicated)), key=lambda place: (indicated[place], applied[place]))
    faults: list[CalibrationFault] = []
    for first, second in pairwise(order):
        if indicated[second] - indicated[first] <= _NOTHING + _ALIKE * indicated[second]:
            faults.append(("repeats", first, second))
        elif applied[second] <= applied[first]:
            faults.append(("falls", first, second))
    return faults
