"""Chamber shape: how much of a chamber goes as its deck is milled away, and how deep to go for so much."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

import numpy as np
import scipy

from headbench.calc import FloatArray

_MOST_STEPS: Final = 100


@dataclass(frozen=True, slots=True)
class ChamberShape:
    """Volume that a cut takes from a chamber: cubic pieces where it was poured, a straight line beyond.

    curve : piecewise polynomial of the depth, volume between the deck and the plane so deep, strictly rising,
        straight at both ends [m3]
    deepest : float, deepest pour; infinite where area times depth is taken to hold all the way [m]
    """

    curve: scipy.interpolate.PPoly[np.float64]
    deepest: float

    def removed_by(self, deck_cut: FloatArray) -> FloatArray:
        """Volume that a cut takes away.

        Parameters
        ----------
        deck_cut : array (C,)
            Milled depth at each chamber d [m]

        Returns
        -------
        array (C,)
            Volume between the two planes [m3]

        >>> (from_area(50.0e-4).removed_by(np.array([1.0e-3])) * 1e6).round(9).tolist()
        [5.0]
        """
        return np.asarray(self.curve(deck_cut), dtype=np.float64)

    def cut_for(self, removed: FloatArray) -> FloatArray:
        """Depth that takes a volume away: the inverse of `removed_by`.

        Parameters
        ----------
        removed : array (C,)
            Volume to take away [m3]

        Returns
        -------
        array (C,)
            Milled depth d; negative for a volume to add [m]

        >>> (from_area(50.0e-4).cut_for(np.array([5.0e-6])) * 1e3).round(9).tolist()
        [1.0]
        """
        knots = self.curve.x
        at_knots = self.removed_by(knots)
        piece = np.searchsorted(at_knots, removed).clip(1, len(knots) - 1) - 1
        low, high = knots[piece], knots[piece + 1]
        share = (removed - at_knots[piece]) / (at_knots[piece + 1] - at_knots[piece])
        # beyond the pours, and on a knot, the straight line is the curve
        curved = (share > 0.0) & (share < 1.0)
        depth = np.asarray(low + share * (high - low), dtype=np.float64)
        area = self.curve.derivative()
        rounding = 2.0 * np.finfo(np.float64).eps * np.abs(at_knots).max()
        for _ in range(_MOST_STEPS):
            excess = np.where(curved, self.curve(depth) - removed, 0.0)
            if not (np.abs(excess) > rounding).any():
                break
            low, high = np.where(excess > 0.0, low, depth), np.where(excess > 0.0, depth, high)
            with np.errstate(divide="ignore", invalid="ignore"):
                newton = depth - excess / area(depth)
            # where Newton leaves its bracket, halve the bracket instead
            better = np.where((newton >= low) & (newton <= high), newton, 0.5 * (low + high))
            depth = np.where(curved, better, depth)
        return depth

    def beyond_pours(self, deck_cut: FloatArray) -> FloatArray:
        """How far a cut goes deeper than the chamber was poured.

        Parameters
        ----------
        deck_cut : array (C,)
            Milled depth at each chamber d [m]

        Returns
        -------
        array (C,)
            Distance; 0 inside the pours [m]

        >>> table = from_pours(np.array([0.0, 1.0e-3]), np.array([64.0e-6, 59.0e-6]))
        >>> table.beyond_pours(np.array([0.5e-3, 1.25e-3])).round(9).tolist()
        [0.0, 0.00025]
        """
        return np.asarray(np.maximum(deck_cut - self.deepest, 0.0), dtype=np.float64)


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
    return ChamberShape(scipy.interpolate.PPoly(np.array([[deck_area], [0.0]]), np.array([0.0, 1.0])), np.inf)


def from_pours(depth: FloatArray, volume: FloatArray) -> ChamberShape:
    """Shape of a chamber poured at several depths: a shape-preserving curve through the readings.

    Parameters
    ----------
    depth : array (N,)
        Depths of the liquid's level below the deck, 0 among them, N >= 2, in any order [m]
    volume : array (N,)
        Volume below each level, falling with depth: see `find_pour_faults` [m3]

    Returns
    -------
    ChamberShape

    Notes
    -----
    Slopes at the readings are PCHIP's, which keep the curve strictly rising. Beyond the deepest pour
    it goes on straight with its end slope, but with no less than half the slope of its last two
    readings, because the three-point end slope can come out as nothing.

    References
    ----------
    F. N. Fritsch and J. Butland, A method for constructing local monotone piecewise cubic
    interpolants, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304.

    >>> table = from_pours(np.array([0.0, 1.0e-3]), np.array([64.0e-6, 59.0e-6]))
    >>> (table.removed_by(np.array([0.5e-3])) * 1e6).round(9).tolist()
    [2.5]
    """
    ascending = np.argsort(depth)
    knots = np.asarray(depth[ascending], dtype=np.float64)
    removed = np.asarray(volume[ascending[0]] - volume[ascending], dtype=np.float64)
    inner = scipy.interpolate.PchipInterpolator(knots, removed)
    chord = np.diff(removed) / np.diff(knots)
    ends = np.maximum(inner(knots[[0, -1]], 1), 0.5 * chord[[0, -1]])
    width = knots[-1] - knots[0]
    straight = np.zeros((4, 2))
    straight[2] = ends
    straight[3] = removed[0] - ends[0] * width, removed[-1]
    curve = scipy.interpolate.PPoly(
        np.column_stack([straight[:, 0], inner.c, straight[:, 1]]),
        np.concatenate([[knots[0] - width], knots, [knots[-1] + width]]),
    )
    return ChamberShape(curve, float(knots[-1]))


PourFault = tuple[Literal["no_full_pour", "repeats", "doubles_back"], int, int]
"""What is wrong with two pours (or with the shallowest, twice), and their places in the order they were given."""


def find_pour_faults(depth: FloatArray, volume: FloatArray) -> list[PourFault]:
    """Pours of one chamber that cannot all be true.

    Parameters
    ----------
    depth : array (N,)
        Depths of the liquid's level below the deck, in any order [m]
    volume : array (N,)
        Volume below each level [m3]

    Returns
    -------
    list of (fault, place, place)
        "no_full_pour": none was poured to the deck itself; "repeats": one depth twice, to a nanometer;
        "doubles_back": the deeper level (second place) holds no less than the shallower, to 1e-15 m3 [-]

    >>> find_pour_faults(np.array([0.0, 1.0e-3]), np.array([59.0e-6, 64.0e-6]))
    [('doubles_back', 0, 1)]
    """
    # what no burette tells apart would make a curve that stands still, and has no inverse
    grid, held = np.rint(depth * 1e9), np.rint(volume * 1e15)
    shallow_first = np.argsort(grid, kind="stable").tolist()
    faults: list[PourFault] = []
    if shallow_first and grid[shallow_first[0]] != 0.0:
        faults.append(("no_full_pour", shallow_first[0], shallow_first[0]))
    for first, second in pairwise(shallow_first):
        if grid[first] == grid[second]:
            faults.append(("repeats", first, second))
        elif held[second] >= held[first]:
            faults.append(("doubles_back", first, second))
    return faults
