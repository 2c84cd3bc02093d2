"""One curve: what one spring pushes at a height, known by its readings or its rating.

A spring is not one number. `LoadCurve` is one spring in plain floats, which is what a valve asks for; `LoadCurves`
(load_curves.py) is many of them in arrays, for whoever asks at many heights. The formulas stand here, once for both.
"""

from __future__ import annotations

import math
import operator
from bisect import bisect_left, bisect_right
from dataclasses import dataclass, replace
from typing import Any, Final

from headbench.calc.judging.grid import GRID
from headbench.calc.judging.rules import NEAR_READINGS, NEAR_READINGS_PERCENT, PROVEN_BEYOND_PERCENT

_NAN: Final = float("nan")
_MOST_STEPS: Final = 100
"""Steps after which a search ends; about five are usual."""
_FINEST: Final = 1e-15
"""Share of a piece below which a step no longer matters."""
_NEAR: Final = NEAR_READINGS.values[0]
_NEAR_SHARE: Final = 0.01 * NEAR_READINGS_PERCENT.values[0]
_PROVEN_SHARE: Final = 0.01 * PROVEN_BEYOND_PERCENT.values[0]


def cubic_load(t: Any, step: Any, load: tuple[Any, Any], slope: tuple[Any, Any]) -> Any:
    """Load on the cubic piece between two knots, by Hermite's four polynomials.

    Parameters
    ----------
    t : float or array (P,)
        Place on the piece, 0 to 1 [-]
    step : float or array (P,)
        Its length [m]
    load : two floats or arrays (P,)
        Load at its ends [N]
    slope : two floats or arrays (P,)
        dF/dH at its ends [N/m]

    Returns
    -------
    float or array (P,)
        Load [N]

    References
    ----------
    F. N. Fritsch and R. E. Carlson, Monotone piecewise cubic interpolation, SIAM J. Numer. Anal. 17 (1980), 238-246.

    >>> cubic_load(0.5, 0.01, (1000.0, 500.0), (-50e3, -50e3))
    750.0
    """
    rest = 1.0 - t
    # products, not powers: a power of a float rounds now and then otherwise than numpy's square
    square, rest_square = t * t, rest * rest
    return (
        (1.0 + 2.0 * t) * rest_square * load[0]
        + t * rest_square * step * slope[0]
        + square * (3.0 - 2.0 * t) * load[1]
        + square * (t - 1.0) * step * slope[1]
    )


def cubic_slope(t: Any, step: Any, load: tuple[Any, Any], slope: tuple[Any, Any]) -> Any:
    """The slope dF/dH of the same piece: the derivative of `cubic_load`.

    Parameters
    ----------
    t : float or array (P,)
        Place on the piece, 0 to 1 [-]
    step : float or array (P,)
        Its length [m]
    load : two floats or arrays (P,)
        Load at its ends [N]
    slope : two floats or arrays (P,)
        dF/dH at its ends [N/m]

    Returns
    -------
    float or array (P,)
        Slope [N/m]

    >>> cubic_slope(0.5, 0.01, (1000.0, 500.0), (-50e3, -50e3))
    -50000.0
    """
    square = t * t
    return (
        (6.0 * square - 6.0 * t) * (load[0] - load[1]) / step
        + (3.0 * square - 4.0 * t + 1.0) * slope[0]
        + (3.0 * square - 2.0 * t) * slope[1]
    )


@dataclass(frozen=True, slots=True)
class LoadCurve:
    """Load against height for one spring: cubic pieces between knots, straight lines beyond them.

    height : knots, ascending; a single one makes a straight line [m]
    load : load at the knots [N]
    slope : dF/dH at the knots, never positive [N/m]
    end_slope : dF/dH below the shortest and above the tallest knot [N/m]
    lowest_read, highest_read : between which heights it was read; NaN for a rating [m]
    in_doubt : whether its readings disagree by more than a tester repeats [-]
    """

    height: tuple[float, ...]
    load: tuple[float, ...]
    slope: tuple[float, ...]
    end_slope: tuple[float, float]
    lowest_read: float = _NAN
    highest_read: float = _NAN
    in_doubt: bool = False

    def load_at(self, height: float) -> float:
        """Load at a height.

        Parameters
        ----------
        height : float
            Height of the spring [m]

        Returns
        -------
        float
            Load, never below 0: a spring taller than free pushes nothing [N]

        >>> curve = rated_curve(0.040, 500.0, 50e3)
        >>> round(curve.load_at(0.030), 9), curve.load_at(0.060)
        (1000.0, 0.0)
        """
        load = self._unloaded(height)
        return max(load, 0.0) if load == load else _NAN  # noqa: PLR0124 - NaN is not itself

    def rate_at(self, height: float) -> float:
        """Rate k = -dF/dH at a height.

        Parameters
        ----------
        height : float
            Height of the spring [m]

        Returns
        -------
        float
            Rate; 0 where the spring is taller than free [N/m]

        >>> curve = rated_curve(0.040, 500.0, 50e3)
        >>> curve.rate_at(0.030), curve.rate_at(0.060)
        (50000.0, 0.0)
        """
        load, knots = self._unloaded(height), self.height
        if not load >= 0.0:
            return 0.0 if load < 0.0 else _NAN
        if height < knots[0]:
            return -self.end_slope[0]
        if height > knots[-1] or len(knots) == 1:
            return -self.end_slope[1]
        left = self._piece(height)
        step, ends = knots[left + 1] - knots[left], slice(left, left + 2)
        return -float(cubic_slope((height - knots[left]) / step, step, self.load[ends], self.slope[ends]))  # type: ignore[arg-type] # two of each

    def height_for(self, load: float) -> float:
        """Height at which it pushes a load: the inverse of `load_at`.

        Parameters
        ----------
        load : float
            The load, above 0 [N]

        Returns
        -------
        float
            Height; NaN where the straight line beyond the readings would need a height of 0 or less [m]

        >>> round(rated_curve(0.040, 500.0, 50e3).height_for(1000.0), 12)
        0.03
        """
        if load > self.load[0]:
            height = self.height[0] + (load - self.load[0]) / self.end_slope[0]
        elif load >= self.load[-1] and len(self.height) > 1:
            height = self._height_inside(load)
        else:
            height = self.height[-1] + (load - self.load[-1]) / self.end_slope[1]
        return height if height > 0.0 else _NAN

    def _unloaded(self, height: float) -> float:
        """Load without the floor at 0."""
        knots = self.height
        if height < knots[0]:
            return self.load[0] + self.end_slope[0] * (height - knots[0])
        if height > knots[-1] or len(knots) == 1:
            return self.load[-1] + self.end_slope[1] * (height - knots[-1])
        if height != height:  # noqa: PLR0124 - NaN is not itself
            return _NAN
        left = self._piece(height)
        step, ends = knots[left + 1] - knots[left], slice(left, left + 2)
        return float(cubic_load((height - knots[left]) / step, step, self.load[ends], self.slope[ends]))  # type: ignore[arg-type] # two of each

    def _piece(self, height: float) -> int:
        return min(bisect_right(self.height, height) - 1, len(self.height) - 2)

    def _height_inside(self, load: float) -> float:
        """By Newton's steps on the piece between two knots; halved where they leave it or come no nearer."""
        # loads fall from knot to knot
        left = max(min(bisect_left(self.load, -load, key=operator.neg), len(self.load) - 1) - 1, 0)
        ends = slice(left, left + 2)
        step, loads, slopes = self.height[left + 1] - self.height[left], self.load[ends], self.slope[ends]
        low, high, before = 0.0, 1.0, math.inf
        t = (loads[0] - load) / (loads[0] - loads[1]) if loads[0] > loads[1] else 0.5
        for _ in range(_MOST_STEPS):
            over = float(cubic_load(t, step, loads, slopes)) - load  # type: ignore[arg-type] # likewise
            low, high = (t, high) if over > 0.0 else (low, t)
            falls = float(cubic_slope(t, step, loads, slopes)) * step  # type: ignore[arg-type] # likewise
            nearer = t - over / falls if falls < 0.0 else math.inf
            if abs(nearer - t) <= _FINEST or high - low <= _FINEST:
                break
            t = nearer if low < nearer < high and abs(over) <= 0.5 * before else 0.5 * (low + high)
            before = abs(over)
        return self.height[left] + t * step

    def beyond_readings(self, height: float) -> float:
        """How far a height lies outside the heights it was read at.

        Parameters
        ----------
        height : float
            Height of the spring [m]

        Returns
        -------
        float
            Distance; 0 inside the readings, NaN for a rating, which has none [m]

        >>> from headbench.calc.springs.readings import curve_through
        >>> curve = curve_through([0.030, 0.040], [1000.0, 500.0])
        >>> curve.beyond_readings(0.035), round(curve.beyond_readings(0.029), 9)
        (0.0, 0.001)
        """
        below, above = self.lowest_read - height, height - self.highest_read
        outside = max(above, below)
        # a height on the last reading is on it, whatever its unit was
        return 0.0 if outside < 0.5 * GRID else outside

    def is_near_readings(self, height: float) -> bool:
        """Whether a height lies inside the heights it was read at, or too little outside for a word.

        Parameters
        ----------
        height : float
            Height of the spring [m]

        Returns
        -------
        bool
            False farther outside than the larger of `rules.NEAR_READINGS` and `rules.NEAR_READINGS_PERCENT` of
            what the readings span, and where nothing was read [-]

        >>> from headbench.calc.springs.readings import curve_through
        >>> curve = curve_through([0.030, 0.040], [1000.0, 500.0])
        >>> curve.is_near_readings(0.0402), curve.is_near_readings(0.0403)
        (True, False)
        """
        near = max(_NEAR, _NEAR_SHARE * (self.highest_read - self.lowest_read))
        return self.beyond_readings(height) <= near + GRID

    def is_proven(self, height: float) -> bool:
        """Whether it was read on a tester at a height, or near enough to it.

        Parameters
        ----------
        height : float
            Height of the spring [m]

        Returns
        -------
        bool
            False for a rating, for readings that are in doubt, and farther outside the readings than
            `rules.PROVEN_BEYOND_PERCENT` of what they span [-]

        >>> from headbench.calc.springs.readings import curve_through
        >>> curve = curve_through([0.030, 0.040], [1000.0, 500.0])
        >>> curve.is_proven(0.041), curve.is_proven(0.042)
        (True, False)
        """
        low, high = self.proven_between
        return not self.in_doubt and low <= height <= high

    @property
    def proven_between(self) -> tuple[float, float]:
        """Between which heights its readings prove a load, in doubt or not; NaN for a rating [m]."""
        span = self.highest_read - self.lowest_read
        near = max(_PROVEN_SHARE * span, _NEAR, _NEAR_SHARE * span) + GRID
        return self.lowest_read - near, self.highest_read + near


def rated_curve(height: float, load: float, rate: float) -> LoadCurve:
    """The line of a data sheet that prints one load at one height and a rate, F = F_1 - k (H - H_1).

    Parameters
    ----------
    height : float
        Height of the printed load H_1 [m]
    load : float
        The printed load F_1 [N]
    rate : float
        The printed rate k, above 0 [N/m]

    Returns
    -------
    LoadCurve
        A straight line; nothing about it was measured [-]

    >>> rated_curve(0.040, 500.0, 50e3).highest_read
    nan
    """
    return LoadCurve((height,), (load,), (-rate,), (-rate, -rate))


def curve_of_one_reading(height: float, load: float, rate: float) -> LoadCurve:
    """The line through one reading of one spring, with the rate of its rating, F = F_1 - k (H - H_1).

    Parameters
    ----------
    height : float
        Height read at H_1 [m]
    load : float
        Load read there F_1 [N]
    rate : float
        Rate that is printed k, above 0 [N/m]

    Returns
    -------
    LoadCurve
        Read at that one height [-]

    >>> curve = curve_of_one_reading(0.040, 500.0, 50e3)
    >>> round(curve.load_at(0.039), 9), curve.lowest_read
    (550.0, 0.04)
    """
    return replace(rated_curve(height, load, rate), lowest_read=height, highest_read=height)
