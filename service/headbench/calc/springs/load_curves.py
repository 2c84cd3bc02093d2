"""Load curves: what a spring pushes at a height, how stiff it is there, and at which height it pushes a load.

A spring is not one number. `LoadCurves` holds many springs at once, each known by its own readings or its
rating, and answers for any of them in one call.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.rules import NEAR_READINGS, NEAR_READINGS_PERCENT


@dataclass(frozen=True, slots=True)
class LoadCurves:
    """Load against height for S springs: cubic pieces between knots, straight lines beyond them.

    height : array (S, N), knots, ascending, the last one repeated as padding [m]
    load : array (S, N), load at the knots [N]
    slope : array (S, N), dF/dH at the knots, never positive [N/m]
    knots : array (S,), how many of the N are the spring's own; 1 makes a straight line [-]
    end_slope : array (S, 2), dF/dH below the shortest and above the tallest knot [N/m]
    lowest_read, highest_read : array (S,), between which heights it was read; NaN for a rating [m]
    in_doubt : array (S,), True where its readings disagree by more than a tester repeats [-]

    The methods take `which` (P,), the spring each height belongs to; a negative one answers NaN.
    """

    height: FloatArray
    load: FloatArray
    slope: FloatArray
    knots: IntArray
    end_slope: FloatArray
    lowest_read: FloatArray
    highest_read: FloatArray
    in_doubt: BoolArray

    def only(self, spring: int) -> LoadCurves:
        """One of the springs alone.

        Parameters
        ----------
        spring : int
            Its place [-]

        Returns
        -------
        LoadCurves

        >>> two = from_rating(np.array([0.040, 0.038]), np.array([500.0, 400.0]), np.array([50e3, 40e3]))
        >>> two.only(1).load_at(np.array([0]), np.array([0.038])).tolist()
        [400.0]
        """
        rows = slice(spring, spring + 1)
        return LoadCurves(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))

    def load_at(self, which: IntArray, height: FloatArray) -> FloatArray:
        """Load at a height.

        Parameters
        ----------
        which : array (P,)
            The spring each height belongs to, negative for none [-]
        height : array (P,)
            Heights of the springs [m]

        Returns
        -------
        array (P,)
            Load, never below 0: a spring taller than free pushes nothing [N]

        >>> curves = from_rating(np.array([0.040]), np.array([500.0]), np.array([50e3]))
        >>> curves.load_at(np.array([0, 0]), np.array([0.030, 0.060])).round(9).tolist()
        [1000.0, 0.0]
        """
        return np.maximum(self._unloaded(which, height), 0.0)

    def rate_at(self, which: IntArray, height: FloatArray) -> FloatArray:
        """Rate k = -dF/dH at a height.

        Parameters
        ----------
        which : array (P,)
            The spring each height belongs to, negative for none [-]
        height : array (P,)
            Heights of the springs [m]

        Returns
        -------
        array (P,)
            Rate; 0 where the spring is taller than free [N/m]

        >>> curves = from_rating(np.array([0.040]), np.array([500.0]), np.array([50e3]))
        >>> curves.rate_at(np.array([0]), np.array([0.030])).tolist()
        [50000.0]
        """
        here = self._pieces(which, height)
        t, step, slope = here.t, here.step, here.slope
        cubic = (
            (6.0 * t**2 - 6.0 * t) * (here.load[0] - here.load[1]) / step
            + (3.0 * t**2 - 4.0 * t + 1.0) * slope[0]
            + (3.0 * t**2 - 2.0 * t) * slope[1]
        )
        end_slope = self.end_slope[which.clip(0)]
        rate = -np.where(here.below, end_slope[:, 0], np.where(here.above, end_slope[:, 1], cubic))
        rate = np.where(self._unloaded(which, height) < 0.0, 0.0, rate)
        return np.where(here.unknown, np.nan, rate)

    def height_for(self, which: IntArray, load: FloatArray) -> FloatArray:
        """Height at which a spring pushes a load: the inverse of `load_at`.

        Parameters
        ----------
        which : array (P,)
            The spring each load belongs to, negative for none [-]
        load : array (P,)
            Wanted loads, above 0 [N]

        Returns
        -------
        array (P,)
            Height; NaN where the straight line beyond the readings would need a height of 0 or less [m]

        >>> curves = from_rating(np.array([0.040]), np.array([500.0]), np.array([50e3]))
        >>> curves.height_for(np.array([0]), np.array([1000.0])).round(12).tolist()
        [0.03]
        """
        spring = which.clip(0)
        most, least, slope = self.load[spring, 0], self.load[spring, -1], self.end_slope[spring]
        below = self.height[spring, 0] + (load - most) / slope[:, 0]
        above = self.height[spring, -1] + (load - least) / slope[:, 1]
        inside = (load <= most) & (load >= least)
        height = np.where(load > most, below, above)
        if inside.any():
            height[inside] = self._height_inside(spring[inside], load[inside])
        return np.where((which >= 0) & (height > 0.0), height, np.nan)

    def beyond_readings(self, which: IntArray, height: FloatArray) -> FloatArray:
        """How far a height lies outside the heights a spring was read at.

        Parameters
        ----------
        which : array (P,)
            The spring each height belongs to, negative for none [-]
        height : array (P,)
            Heights of the springs [m]

        Returns
        -------
        array (P,)
            Distance; 0 inside the readings, NaN for a rating, which has none [m]

        >>> from headbench.calc.springs.readings import from_readings
        >>> curves = from_readings(np.array([0, 0]), np.array([0.030, 0.040]), np.array([1000.0, 500.0]))
        >>> curves.beyond_readings(np.array([0, 0]), np.array([0.035, 0.029])).round(9).tolist()
        [0.0, 0.001]
        """
        spring = which.clip(0)
        outside = np.maximum(self.lowest_read[spring] - height, height - self.highest_read[spring])
        # a height on the last reading is on it, whatever its unit was
        outside = np.where(outside < 0.5 * GRID, 0.0, outside)
        return np.where(which >= 0, outside, np.nan)

    def is_near_readings(self, which: IntArray, height: FloatArray) -> BoolArray:
        """Whether a height lies inside the heights a spring was read at, or too little outside for a word.

        Parameters
        ----------
        which : array (P,)
            The spring each height belongs to, negative for none [-]
        height : array (P,)
            Heights of the springs [m]

        Returns
        -------
        array (P,)
            False farther outside than the larger of `rules.NEAR_READINGS` and `rules.NEAR_READINGS_PERCENT` of
            what the readings span, and where nothing was read [-]

        >>> from headbench.calc.springs.readings import from_readings
        >>> curves = from_readings(np.array([0, 0]), np.array([0.030, 0.040]), np.array([1000.0, 500.0]))
        >>> curves.is_near_readings(np.array([0, 0]), np.array([0.0402, 0.0403])).tolist()
        [True, False]
        """
        spring = which.clip(0)
        span = self.highest_read[spring] - self.lowest_read[spring]
        near = np.maximum(NEAR_READINGS.values[0], 0.01 * NEAR_READINGS_PERCENT.values[0] * span)
        return np.asarray(self.beyond_readings(which, height) <= near + GRID, dtype=np.bool_)

    def _unloaded(self, which: IntArray, height: FloatArray) -> FloatArray:
        """Load without the floor at 0."""
        here = self._pieces(which, height)
        t = here.t
        cubic = (
            (1.0 + 2.0 * t) * (1.0 - t) ** 2 * here.load[0]
            + t * (1.0 - t) ** 2 * here.step * here.slope[0]
            + t**2 * (3.0 - 2.0 * t) * here.load[1]
            + t**2 * (t - 1.0) * here.step * here.slope[1]
        )
        spring = which.clip(0)
        end_slope = self.end_slope[spring]
        low = self.load[spring, 0] + end_slope[:, 0] * (height - self.height[spring, 0])
        high = self.load[spring, -1] + end_slope[:, 1] * (height - self.height[spring, -1])
        load = np.where(here.below, low, np.where(here.above, high, cubic))
        return np.where(here.unknown, np.nan, load)

    def _pieces(self, which: IntArray, height: FloatArray) -> _Pieces:
        spring = which.clip(0)
        knots = self.height[spring]
        row = np.arange(len(spring))
        left = (height[:, np.newaxis] >= knots).sum(axis=1) - 1
        left = np.minimum(left, self.knots[spring] - 2).clip(0)
        right = np.minimum(left + 1, knots.shape[1] - 1)
        start, end = knots[row, left], knots[row, right]
        # a straight line has one knot and no piece; its step is never used, but must divide
        step = np.where(end > start, end - start, 1.0)
        return _Pieces(
            t=(height - start) / step,
            step=step,
            load=(self.load[spring, left], self.load[spring, right]),
            slope=(self.slope[spring, left], self.slope[spring, right]),
            below=height < knots[:, 0],
            above=height > knots[:, -1],
            unknown=(which < 0) | np.isnan(height),
        )

    def _height_inside(self, which: IntArray, load: FloatArray) -> FloatArray:
        from scipy.optimize import elementwise  # noqa: PLC0415 - see headbench.calc

        def excess(height: FloatArray, spring: IntArray, wanted: FloatArray) -> FloatArray:
            return self._unloaded(spring, height) - wanted

        found = elementwise.find_root(excess, (self.height[which, 0], self.height[which, -1]), args=(which, load))
        return np.asarray(found.x, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class _Pieces:
    """The cubic piece each height falls on."""

    t: FloatArray
    step: FloatArray
    load: tuple[FloatArray, FloatArray]
    slope: tuple[FloatArray, FloatArray]
    below: BoolArray
    above: BoolArray
    unknown: BoolArray


def from_rating(height: FloatArray, load: FloatArray, rate: FloatArray) -> LoadCurves:
    """Curves from data sheets that print one load at one height and a rate.

    Parameters
    ----------
    height : array (S,)
        Height of the printed load [m]
    load : array (S,)
        The printed load [N]
    rate : array (S,)
        The printed rate, above 0 [N/m]

    Returns
    -------
    LoadCurves
        Straight lines; nothing about them was measured [-]

    >>> from_rating(np.array([0.040]), np.array([500.0]), np.array([50e3])).highest_read.tolist()
    [nan]
    """
    unmeasured = np.full(len(height), np.nan)
    slope = -rate[:, np.newaxis]
    return LoadCurves(
        height=height[:, np.newaxis],
        load=load[:, np.newaxis],
        slope=slope,
        knots=np.ones(len(height), dtype=np.int64),
        end_slope=np.repeat(slope, 2, axis=1),
        lowest_read=unmeasured,
        highest_read=unmeasured,
        in_doubt=np.zeros(len(height), dtype=np.bool_),
    )


def unknown_curves() -> LoadCurves:
    """One spring of which nothing is known, for a job that names no spring's load.

    Returns
    -------
    LoadCurves
        Every load, rate and height comes out NaN [-]

    >>> unknown_curves().load_at(np.array([0]), np.array([0.040])).tolist()
    [nan]
    """
    nothing = np.full(1, np.nan)
    return from_rating(nothing, nothing, nothing)


def joined(curves: Sequence[LoadCurves]) -> LoadCurves:
    """Several sets of curves as one, in their order.

    Parameters
    ----------
    curves : sequence of LoadCurves
        Sets of any size, at least one spring in all [-]

    Returns
    -------
    LoadCurves

    >>> one = from_rating(np.array([0.040]), np.array([500.0]), np.array([50e3]))
    >>> len(joined([one, one]).knots)
    2
    """
    if len(curves) == 1:
        return curves[0]
    most = max(one.height.shape[1] for one in curves)

    def widened(array: FloatArray) -> FloatArray:
        return np.pad(array, ((0, 0), (0, most - array.shape[1])), mode="edge")

    return LoadCurves(
        height=np.concatenate([widened(one.height) for one in curves]),
        load=np.concatenate([widened(one.load) for one in curves]),
        slope=np.concatenate([widened(one.slope) for one in curves]),
        knots=np.concatenate([one.knots for one in curves]),
        end_slope=np.concatenate([one.end_slope for one in curves]),
        lowest_read=np.concatenate([one.lowest_read for one in curves]),
        highest_read=np.concatenate([one.highest_read for one in curves]),
        in_doubt=np.concatenate([one.in_doubt for one in curves]),
    )
