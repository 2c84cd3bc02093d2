"""Spring readings: the load curve that goes through what a tester showed."""

from __future__ import annotations

import numpy as np

from headbench.calc import FloatArray, IntArray
from headbench.calc.grid import on_grid
from headbench.calc.load_curves import LoadCurves


def from_readings(spring: IntArray, height: FloatArray, load: FloatArray) -> LoadCurves:
    """Curves through bench readings: a line through two, a shape-preserving curve through more.

    Parameters
    ----------
    spring : array (R,)
        The spring each reading belongs to, counted from 0, none left out [-]
    height : array (R,)
        Heights read at, in any order, repeats allowed, two different ones per spring at least [m]
    load : array (R,)
        Loads read there, strictly rising as the height falls: see `spring_load.find_reading_faults` [N]

    Returns
    -------
    LoadCurves

    Notes
    -----
    Slopes at the inner readings are the weighted harmonic mean of their neighbours' (PCHIP), which
    keeps the curve strictly falling. Beyond the readings the curve goes on straight with its end
    slope, but with no less than half the slope of its last two readings: the three-point end slope
    of a sharply progressive spring can come out as nothing.

    References
    ----------
    F. N. Fritsch and J. Butland, A method for constructing local monotone piecewise cubic
    interpolants, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304. scipy's PchipInterpolator is the
    referee in the tests; it holds one set of heights per object, and a head has many springs.

    >>> curves = from_readings(np.array([0, 0]), np.array([0.040, 0.030]), np.array([500.0, 1000.0]))
    >>> curves.load_at(np.array([0]), np.array([0.035])).round(9).tolist()
    [750.0]
    """
    order = np.lexsort((height, spring))
    spring, height, load = spring[order], height[order], load[order]
    first = np.ones(len(spring), dtype=np.bool_)
    first[1:] = (np.diff(spring) != 0) | (np.diff(on_grid(height)) != 0)
    spring, height, load = spring[first], height[first], load[first]
    knots = np.bincount(spring)
    starts = np.cumsum(knots) - knots
    # every spring's own readings, then its last one again up to the longest spring's count
    place = starts[:, np.newaxis] + np.minimum(np.arange(knots.max()), knots[:, np.newaxis] - 1)
    x, y = height[place], load[place]
    slope = np.zeros_like(y)
    end_slope = np.zeros((len(knots), 2))
    for count in set(knots.tolist()):
        rows = knots == count
        step = np.diff(x[rows, :count])
        chord = np.diff(y[rows, :count]) / step
        own = _pchip_slopes(step, chord)
        slope[rows, :count] = own
        end_slope[rows] = np.minimum(own[:, [0, -1]], 0.5 * chord[:, [0, -1]])
    return LoadCurves(x, y, slope, knots, end_slope, lowest_read=x[:, 0], highest_read=x[:, -1])


def _pchip_slopes(step: FloatArray, chord: FloatArray) -> FloatArray:
    """Slopes (S, N) of strictly falling data from their steps and chords (S, N - 1)."""
    if step.shape[1] == 1:
        return np.repeat(chord, 2, axis=1)
    before, after = 2.0 * step[:, 1:] + step[:, :-1], step[:, 1:] + 2.0 * step[:, :-1]
    inner = (before + after) / (before / chord[:, :-1] + after / chord[:, 1:])
    return np.concatenate(
        [
            _end_slope(step[:, :1], step[:, 1:2], chord[:, :1], chord[:, 1:2]),
            inner,
            _end_slope(step[:, -1:], step[:, -2:-1], chord[:, -1:], chord[:, -2:-1]),
        ],
        axis=1,
    )


def _end_slope(step: FloatArray, next_step: FloatArray, chord: FloatArray, next_chord: FloatArray) -> FloatArray:
    three_point = ((2.0 * step + next_step) * chord - step * next_chord) / (step + next_step)
    return np.minimum(three_point, 0.0)


def line_through(spring: IntArray, height: FloatArray, load: FloatArray) -> LoadCurves:
    """Straight lines of least squares through bench readings, F = F_mean - k (H - H_mean).

    Parameters
    ----------
    spring : array (R,)
        The spring each reading belongs to, counted from 0, none left out [-]
    height : array (R,)
        Heights read at, two different ones per spring at least [m]
    load : array (R,)
        Loads read there [N]

    Returns
    -------
    LoadCurves

    Notes
    -----
    For springs of one rate whose readings scatter; what the line misses is worth a look. Any text on
    statistics.

    >>> line = line_through(np.zeros(3, int), np.array([0.040, 0.035, 0.030]), np.array([500.0, 760.0, 1000.0]))
    >>> line.rate_at(np.array([0]), np.array([0.035])).round(6).tolist()
    [50000.0]
    """
    count = np.bincount(spring)
    mean_height, mean_load = np.bincount(spring, height) / count, np.bincount(spring, load) / count
    off = height - mean_height[spring]
    slope = (np.bincount(spring, off * load) / np.bincount(spring, off * off))[:, np.newaxis]
    lowest, highest = np.full(len(count), np.inf), np.full(len(count), -np.inf)
    np.minimum.at(lowest, spring, height)
    np.maximum.at(highest, spring, height)
    return LoadCurves(
        height=mean_height[:, np.newaxis],
        load=mean_load[:, np.newaxis],
        slope=slope,
        knots=np.ones(len(count), dtype=np.int64),
        end_slope=np.repeat(slope, 2, axis=1),
        lowest_read=lowest,
        highest_read=highest,
    )
