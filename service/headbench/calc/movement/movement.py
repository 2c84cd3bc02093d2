"""Movement: how far a head drops toward the crank once metal has come off, wherever that is flat or at an angle."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from headbench.calc.judging.alike import N
from headbench.calc.judging.grid import GRID

# Less than half a nanometer either way is what the decimals of inch and millimeter leave of nothing.
_NOTHING: Final = 0.5 * GRID


def head_drop(deck_cut: N, block_decked: N | float, gasket_thickness_change: N | float) -> N:
    """How far the head drops toward the crank, n = d + e - dt.

    Parameters
    ----------
    deck_cut : float or array (C,)
        What comes off the head's deck at each chamber d [m]
    block_decked : float or array (C,)
        What comes off the block's deck e [m]
    gasket_thickness_change : float or array (C,)
        New compressed gasket less the old one dt [m]

    Returns
    -------
    float or array (C,)
        Head drop n; negative if the head rises, 0 where less than half a nanometer is left [m]

    Notes
    -----
    The chambers follow the deck cut alone; intake face, pushrods, piston to valve and overhead-cam
    timing follow the head drop alone. Own derivation.

    >>> round(head_drop(0.75e-3, 0.25e-3, 0.4e-3), 9)
    0.0006
    """
    return _or_nothing(deck_cut + block_decked - gasket_thickness_change)


def _or_nothing(length: N) -> N:
    if isinstance(length, float):
        return 0.0 if -_NOTHING < length < _NOTHING else length
    return np.where(np.abs(length) < _NOTHING, 0.0, length)


def wedge_cut(position: N, known_position: float, known_cut: float, slope: float) -> N:
    """Depth that a wedge cut (angle mill) takes at each place, d + (x - x_0) slope.

    Parameters
    ----------
    position : float or array (C,)
        Each chamber's middle, the centroid of its area at the deck, measured across the head x [m]
    known_position : float
        Where the depth is known x_0, measured the same way [m]
    known_cut : float
        Depth taken there d [m]
    slope : float
        How much deeper the cut goes per distance: tangent of the angle between old and new deck [-]

    Returns
    -------
    float or array (C,)
        Milled depth, square to the old deck; negative where the wedge has run out [m]

    >>> round(wedge_cut(0.100, 0.0, 0.5e-3, 0.01) * 1e3, 9)
    1.5
    """
    return _or_nothing(known_cut + slope * (position - known_position))


@dataclass(frozen=True, slots=True)
class Movement:
    """What lets one head drop toward the crank; a flat cut is a wedge without slope.

    depth : float, what comes off the head's deck at `place`, square to it [m]
    place : float, where that is across the head, from the deck's edge away from the intake face toward it [m]
    slope : float, how much deeper the cut goes per distance toward the intake face; 0 for a flat cut [-]
    block_decked : float, what comes off the block's deck [m]
    gasket_thickness_change : float, new compressed gasket less the old one [m]
    farthest : float, the place across the head, of all that a job names, that is farthest from its edge [m]
    """

    depth: float = 0.0
    place: float = 0.0
    slope: float = 0.0
    block_decked: float = 0.0
    gasket_thickness_change: float = 0.0
    farthest: float = 0.0

    @property
    def flat(self) -> bool:
        """Whether every place loses the same."""
        return self.slope == 0.0

    @property
    def tilt(self) -> float:
        """Lean of the new deck, positive with more off toward the intake face [rad]."""
        return math.atan(self.slope)

    @property
    def nothing_cut(self) -> bool:
        """Whether the head's deck stays as it is."""
        return self.slope == 0.0 and self.depth == 0.0

    @property
    def known_places(self) -> list[float]:
        """The deck's edge and the farthest place that the job names, between which all lies; the edge if flat [m]."""
        return [0.0] if self.flat else [0.0, self.farthest]

    @property
    def known_depths(self) -> list[float]:
        """What comes off at `known_places` [m]."""
        return [self.depth_at(place) for place in self.known_places]

    @property
    def known_drops(self) -> list[float]:
        """How far the head drops at `known_places` [m]."""
        return [self.drop_at(place) for place in self.known_places]

    def depth_at(self, position: float) -> float:
        """What comes off the head's deck at a place.

        Parameters
        ----------
        position : float
            Across the head; NaN where nobody gave it, which matters to an angle cut only [m]

        Returns
        -------
        float
            Milled depth; negative where an angle cut has run out, NaN where it needs a place nobody gave [m]

        >>> Movement(depth=0.75e-3).depth_at(math.nan)
        0.00075
        """
        return self.depth if self.flat else wedge_cut(position, self.place, self.depth, self.slope)

    def drop_at(self, position: float) -> float:
        """How far the head drops toward the crank at a place.

        Parameters
        ----------
        position : float
            Across the head; NaN where nobody gave it, which matters to an angle cut only [m]

        Returns
        -------
        float
            Head drop, negative where it rises [m]

        >>> round(Movement(depth=0.75e-3, block_decked=0.25e-3, gasket_thickness_change=0.4e-3).drop_at(0.0), 9)
        0.0006
        """
        return head_drop(self.depth_at(position), self.block_decked, self.gasket_thickness_change)


def slope_between(first_position: float, first_cut: float, second_position: float, second_cut: float) -> float:
    """Slope of a cut that is known by its depth at two places, (d_2 - d_1)/(x_2 - x_1).

    Parameters
    ----------
    first_position : float
        Where the first depth was read, measured across the head [m]
    first_cut : float
        Depth taken there [m]
    second_position : float
        Where the second depth was read, not the first place again [m]
    second_cut : float
        Depth taken there [m]

    Returns
    -------
    float
        0 where the depths are the same to a nanometer: a flat cut [-]

    >>> round(slope_between(0.0, 0.2e-3, 0.150, 1.7e-3), 9)
    0.01
    """
    deeper = second_cut - first_cut
    return 0.0 if abs(deeper) < GRID else deeper / (second_position - first_position)


def slope_of_tilt(tilt: float) -> float:
    """Slope of a cut with the head tilted in the mill, tan(tilt).

    Parameters
    ----------
    tilt : float
        Angle between old and new deck, positive with more off toward the intake face [rad]

    Returns
    -------
    float
        0 where it comes to less than a nanometer in a meter: a flat cut [-]

    >>> round(slope_of_tilt(math.atan(0.01)), 9), slope_of_tilt(1e-12)
    (0.01, 0.0)
    """
    slope = math.tan(tilt)
    # over a meter
    return 0.0 if abs(slope) < GRID else slope
