"""Chamber shape: how much of a chamber goes as its deck is milled away, and how deep to go for so much."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

import numpy as np
import scipy

from headbench.calc import FloatArray
from headbench.calc.judging.alike import N, each
from headbench.calc.judging.grid import GRID

TOLD_APART: Final = 1e-15
"""What no burette tells apart is the same volume [m3]."""

_CLOSE: Final = 4.0 * np.finfo(np.float64).eps

Piece = tuple[float, float, float, float]
"""A cubic by its coefficients, of the third power first, in the distance from the knot that it begins at."""


@dataclass(frozen=True, slots=True)
class ChamberShape:
    """Volume that a cut takes from a chamber: cubic pieces where it was poured, a straight line beyond.

    knots : tuple of float, depths that the pieces lie between, rising; the first and the last piece are straight and
        go on without end [m]
    pieces : tuple of Piece, volume between the deck and the plane so deep, strictly rising [m3]
    deepest : float, deepest pour; infinite where area times depth is taken to hold all the way [m]
    """

    knots: tuple[float, ...]
    pieces: tuple[Piece, ...]
    deepest: float

    def removed_by(self, deck_cut: N) -> N:
        """Volume that a cut takes away.

        Parameters
        ----------
        deck_cut : float or array (C,)
            Milled depth at each chamber d [m]

        Returns
        -------
        float or array (C,)
            Volume between the two planes [m3]

        >>> round(from_area(50.0e-4).removed_by(1.0e-3) * 1e6, 9)
        5.0
        """
        if isinstance(deck_cut, np.ndarray):
            return each(self.removed_by, deck_cut)
        piece = min(max(bisect_right(self.knots, deck_cut) - 1, 0), len(self.pieces) - 1)
        return _cubic(self.pieces[piece], deck_cut - self.knots[piece])

    def cut_for(self, removed: N) -> N:
        """Depth that takes a volume away: the inverse of `removed_by`.

        Parameters
        ----------
        removed : float or array (C,)
            Volume to take away [m3]

        Returns
        -------
        float or array (C,)
            Milled depth d; negative for a volume to add [m]

        >>> round(from_area(50.0e-4).cut_for(5.0e-6) * 1e3, 9)
        1.0
        """
        if isinstance(removed, np.ndarray):
            return each(self.cut_for, removed)
        at_knots = [constant for *_, constant in self.pieces]
        place = min(max(bisect_right(at_knots, removed) - 1, 0), len(self.pieces) - 1)
        knot, piece = self.knots[place], self.pieces[place]
        if piece[0] == piece[1] == 0.0:
            return knot + (removed - piece[3]) / piece[2]
        if removed == piece[3]:
            return knot
        width = self.knots[place + 1] - knot
        # a hair under the next knot the piece may not reach it
        if removed >= _cubic(piece, width):
            return knot + width
        deeper: float = scipy.optimize.brentq(
            lambda depth: _cubic(piece, depth) - removed, 0.0, width, xtol=_CLOSE * width, rtol=_CLOSE
        )
        return knot + deeper

    def beyond_pours(self, deck_cut: N) -> N:
        """How far a cut goes deeper than the chamber was poured.

        Parameters
        ----------
        deck_cut : float or array (C,)
            Milled depth at each chamber d [m]

        Returns
        -------
        float or array (C,)
            Distance; 0 inside the pours [m]

        >>> table = from_pours([0.0, 1.0e-3], [64.0e-6, 59.0e-6])
        >>> table.beyond_pours(0.5e-3), round(table.beyond_pours(1.25e-3), 9)
        (0.0, 0.00025)
        """
        if isinstance(deck_cut, np.ndarray):
            return each(self.beyond_pours, deck_cut)
        beyond = deck_cut - self.deepest
        return max(beyond, 0.0)


def _cubic(piece: Piece, x: float) -> float:
    third, second, first, constant = piece
    return ((third * x + second) * x + first) * x + constant


def from_area(deck_area: float) -> ChamberShape:
    """Shape of a chamber whose walls stand square to the deck: removed volume = A d.

    Parameters
    ----------
    deck_area : float
        Area of the chamber at the deck A, above 0; a measured volume per depth is the same quantity [m2]

    Returns
    -------
    ChamberShape

    Notes
    -----
    Exact for walls square to the deck; walls that lean make it first order in the depth. The area
    is measured, never got from a perimeter: only for a circle is that the same.

    >>> from_area(50.0e-4).deepest
    inf
    """
    return ChamberShape((0.0, 1.0), ((0.0, 0.0, deck_area, 0.0),), math.inf)


def from_pours(depth: FloatArray | Sequence[float], volume: FloatArray | Sequence[float]) -> ChamberShape:
    """Shape of a chamber poured at several depths: a shape-preserving curve through the readings.

    Parameters
    ----------
    depth : array (N,) or sequence of float
        Depths of the liquid's level below the deck, 0 among them, N >= 2, in any order [m]
    volume : array (N,) or sequence of float
        Volume below each level, falling with depth: see `find_pour_faults` [m3]

    Returns
    -------
    ChamberShape

    Notes
    -----
    Slopes at the readings are PCHIP's, which keep the curve strictly rising: inside, the harmonic mean of the
    slopes on both sides, the nearer one counting more; at an end, that of the parabola through three readings, 0
    where it would fall. Beyond the deepest pour it goes on straight with its end slope, but with no less than half
    the slope of its last two readings, because the three-point end slope can come out as nothing.

    References
    ----------
    F. N. Fritsch and J. Butland, A method for constructing local monotone piecewise cubic
    interpolants, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304.

    >>> table = from_pours([0.0, 1.0e-3], [64.0e-6, 59.0e-6])
    >>> round(table.removed_by(0.5e-3) * 1e6, 9)
    2.5
    """
    readings = sorted((float(level), float(held)) for level, held in zip(depth, volume, strict=True))
    knots = [level for level, _ in readings]
    removed = [readings[0][1] - held for _, held in readings]
    width = [high - low for low, high in pairwise(knots)]
    chord = [(high - low) / run for (low, high), run in zip(pairwise(removed), width, strict=True)]
    slope = _slopes(width, chord)
    first, last = max(slope[0], 0.5 * chord[0]), max(slope[-1], 0.5 * chord[-1])
    inner = [
        ((at + then - 2.0 * mean) / run**2, (3.0 * mean - 2.0 * at - then) / run, at, taken)
        for (at, then), mean, run, taken in zip(pairwise(slope), chord, width, removed[:-1], strict=True)
    ]
    whole = knots[-1] - knots[0]
    return ChamberShape(
        knots=(knots[0] - whole, *knots),
        pieces=((0.0, 0.0, first, removed[0] - first * whole), *inner, (0.0, 0.0, last, removed[-1])),
        deepest=knots[-1],
    )


def _slopes(width: Sequence[float], chord: Sequence[float]) -> list[float]:
    """PCHIP's slopes at the readings, by the distances between them and the slopes of the chords, all above 0."""
    if len(chord) == 1:
        return [chord[0], chord[0]]
    inner = [
        3.0 * (before + after) / ((2.0 * after + before) / low + (after + 2.0 * before) / high)
        for (before, after), (low, high) in zip(pairwise(width), pairwise(chord), strict=True)
    ]
    return [_end_slope(width, chord), *inner, _end_slope(width[::-1], chord[::-1])]


def _end_slope(width: Sequence[float], chord: Sequence[float]) -> float:
    near, next_one = width[0], width[1]
    return max(((2.0 * near + next_one) * chord[0] - near * chord[1]) / (near + next_one), 0.0)


PourFault = tuple[Literal["no_full_pour", "repeats", "doubles_back"], int, int]
"""What is wrong with two pours (or with the shallowest, twice), and their places in the order they were given."""


def find_pour_faults(depth: FloatArray | Sequence[float], volume: FloatArray | Sequence[float]) -> list[PourFault]:
    """Pours of one chamber that cannot all be true.

    Parameters
    ----------
    depth : array (N,) or sequence of float
        Depths of the liquid's level below the deck, in any order [m]
    volume : array (N,) or sequence of float
        Volume below each level [m3]

    Returns
    -------
    list of (fault, place, place)
        "no_full_pour": none was poured to the deck itself; "repeats": one depth twice, to a nanometer;
        "doubles_back": the deeper level (second place) holds no less than the shallower, to 1e-15 m3 [-]

    >>> find_pour_faults([0.0, 1.0e-3], [59.0e-6, 64.0e-6])
    [('doubles_back', 0, 1)]
    """
    # what no burette tells apart would make a curve that stands still, and has no inverse
    grid = [round(float(level) / GRID) for level in depth]
    held = [round(float(below) / TOLD_APART) for below in volume]
    shallow_first = sorted(range(len(grid)), key=grid.__getitem__)
    faults: list[PourFault] = []
    if shallow_first and grid[shallow_first[0]] != 0:
        faults.append(("no_full_pour", shallow_first[0], shallow_first[0]))
    for first, second in pairwise(shallow_first):
        if grid[first] == grid[second]:
            faults.append(("repeats", first, second))
        elif held[second] >= held[first]:
            faults.append(("doubles_back", first, second))
    return faults
