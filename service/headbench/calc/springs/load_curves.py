"""Load curves: many springs at once in arrays, for whoever asks at many heights.

Each is a `LoadCurve` (one_curve.py), whose formulas they share.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.springs.one_curve import LoadCurve, cubic_load, cubic_slope


@dataclass(frozen=True, slots=True)
class LoadCurves:
    """S springs, each by its own curve: see `stacked`.

    each : tuple of S LoadCurve [-]
    height : array (S, N), knots, ascending, the last one repeated as padding [m]
    load : array (S, N), load at the knots [N]
    slope : array (S, N), dF/dH at the knots, never positive [N/m]
    knots : array (S,), how many of the N are the spring's own; 1 makes a straight line [-]
    end_slope : array (S, 2), dF/dH below the shortest and above the tallest knot [N/m]

    The methods take `which` (P,), the spring each height belongs to; a negative one answers NaN.
    """

    each: tuple[LoadCurve, ...]
    height: FloatArray
    load: FloatArray
    slope: FloatArray
    knots: IntArray
    end_slope: FloatArray

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

        >>> from headbench.calc.springs.one_curve import rated_curve
        >>> curves = stacked([rated_curve(0.040, 500.0, 50e3)])
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

        >>> from headbench.calc.springs.one_curve import rated_curve
        >>> curves = stacked([rated_curve(0.040, 500.0, 50e3)])
        >>> curves.rate_at(np.array([0]), np.array([0.030])).tolist()
        [50000.0]
        """
        here = self._pieces(which, height)
        cubic = cubic_slope(here.t, here.step, here.load, here.slope)
        end_slope = self.end_slope[which.clip(0)]
        rate = -np.where(here.below, end_slope[:, 0], np.where(here.above, end_slope[:, 1], cubic))
        rate = np.where(self._unloaded(which, height) < 0.0, 0.0, rate)
        return np.where(here.unknown, np.nan, rate)

    def is_proven(self, which: IntArray, height: FloatArray) -> BoolArray:
        """Whether a spring was read on a tester at a height, or near enough to it.

        Parameters
        ----------
        which : array (P,)
            The springs, negative for none [-]
        height : array (P,)
            Their heights [m]

        Returns
        -------
        array (P,)
            See `LoadCurve.is_proven`; False for none [-]

        >>> from headbench.calc.springs.readings import curve_through
        >>> curves = stacked([curve_through([0.030, 0.040], [1000.0, 500.0])])
        >>> curves.is_proven(np.array([0, 0]), np.array([0.041, 0.042])).tolist()
        [True, False]
        """
        pairs = zip(which.tolist(), height.tolist(), strict=True)
        return np.array([one >= 0 and self.each[one].is_proven(at) for one, at in pairs], dtype=np.bool_)

    def _unloaded(self, which: IntArray, height: FloatArray) -> FloatArray:
        """Load without the floor at 0."""
        here = self._pieces(which, height)
        cubic = cubic_load(here.t, here.step, here.load, here.slope)
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


_UNKNOWN: Final = LoadCurve((np.nan,), (np.nan,), (np.nan,), (np.nan, np.nan))


def stacked(curves: Sequence[LoadCurve]) -> LoadCurves:
    """Springs as arrays, for many heights at once.

    Parameters
    ----------
    curves : sequence of LoadCurve
        The springs; of none at all there is one of which nothing is known [-]

    Returns
    -------
    LoadCurves

    >>> from headbench.calc.springs.one_curve import rated_curve
    >>> len(stacked([rated_curve(0.040, 500.0, 50e3), rated_curve(0.038, 400.0, 40e3)]).knots)
    2
    """
    each = tuple(curves) or (_UNKNOWN,)
    most = max(len(one.height) for one in each)

    def padded(rows: Sequence[tuple[float, ...]]) -> FloatArray:
        return np.array([(*row, *row[-1:] * (most - len(row))) for row in rows])

    return LoadCurves(
        each=each,
        height=padded([one.height for one in each]),
        load=padded([one.load for one in each]),
        slope=padded([one.slope for one in each]),
        knots=np.array([len(one.height) for one in each], dtype=np.int64),
        end_slope=np.array([one.end_slope for one in each]),
    )
