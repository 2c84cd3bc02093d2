"""Spring readings: the load curve that goes through what a tester showed."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from headbench.calc import FloatArray, IntArray
from headbench.calc.judging.grid import on_grid
from headbench.calc.springs.load_curves import LoadCurves, from_rating


@dataclass(frozen=True, slots=True)
class AveragedReadings:
    """Readings of springs with those at one height averaged, tallest last within each spring.

    spring : array (N,), the spring each belongs to [-]
    height : array (N,), none of a spring's twice [m]
    load : array (N,), mean of the loads shown there [N]
    lowest, highest : array (N,), least and most of them [N]
    count : array (N,), how many there are [-]
    first : array (N,), place of the first of them among the readings as they came [-]
    """

    spring: IntArray
    height: FloatArray
    load: FloatArray
    lowest: FloatArray
    highest: FloatArray
    count: IntArray
    first: IntArray


def average_repeats(spring: IntArray, height: FloatArray, load: FloatArray) -> AveragedReadings:
    """Readings with those at one height averaged, F = sum F_i/n.

    Parameters
    ----------
    spring : array (R,)
        The spring each reading belongs to, counted from 0 [-]
    height : array (R,)
        Heights read at, in any order [m]
    load : array (R,)
        Loads read there; NaN leaves a reading out [N]

    Returns
    -------
    AveragedReadings

    Notes
    -----
    Heights that differ by less than a nanometer are one. A tester read on the way down and on the way up
    shows more and less than the spring pushes; the mean is what is wanted. Common practice, no source.

    >>> read = average_repeats(np.zeros(3, int), np.array([0.04, 0.03, 0.04]), np.array([500.0, 1000.0, 510.0]))
    >>> read.height.tolist(), read.load.tolist(), read.count.tolist()
    ([0.03, 0.04], [1000.0, 505.0], [1, 2])
    """
    kept = np.flatnonzero(~np.isnan(load))
    order = kept[np.lexsort((kept, on_grid(height[kept]), spring[kept]))]
    spring, height, load = spring[order], height[order], load[order]
    begins = np.ones(len(order), dtype=np.bool_)
    begins[1:] = (np.diff(spring) != 0) | (np.diff(on_grid(height)) != 0)
    starts = np.flatnonzero(begins)
    count = np.diff(np.append(starts, len(order)))
    if len(starts) == 0:
        return AveragedReadings(spring, height, load, load, load, count, order)
    lowest, highest = np.minimum.reduceat(load, starts), np.maximum.reduceat(load, starts)
    # one load read twice is that load, not a rounding off it
    mean = np.where(lowest == highest, lowest, np.add.reduceat(load, starts) / count)
    return AveragedReadings(spring[starts], height[starts], mean, lowest, highest, count, order[starts])


def from_readings(spring: IntArray, height: FloatArray, load: FloatArray) -> LoadCurves:
    """Curves through bench readings: a line through two, a shape-preserving curve through more.

    Parameters
    ----------
    spring : array (R,)
        The spring each reading belongs to, counted from 0, none left out [-]
    height : array (R,)
        Heights read at, in any order, repeats averaged, two different ones per spring at least [m]
    load : array (R,)
        Loads read there, strictly rising as the height falls: see `spring_load.find_reading_faults` [N]

    Returns
    -------
    LoadCurves

    Notes
    -----
    Slopes at the inner readings are the weighted harmonic mean of their neighbors' (PCHIP), which
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
    read = average_repeats(spring, height, load)
    spring, height, load = read.spring, read.height, read.load
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
    sure = np.zeros(len(knots), dtype=np.bool_)
    return LoadCurves(x, y, slope, knots, end_slope, lowest_read=x[:, 0], highest_read=x[:, -1], in_doubt=sure)


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
    For springs of one rate whose readings scatter; what the line misses is worth a look.
    Ordinary least squares (NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1; from memory).

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
        in_doubt=np.zeros(len(count), dtype=np.bool_),
    )


def from_one_reading(height: float, load: float, rate: float) -> LoadCurves:
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
    LoadCurves
        Read at that one height [-]

    >>> curve = from_one_reading(0.040, 500.0, 50e3)
    >>> curve.load_at(np.array([0]), np.array([0.039])).round(9).tolist(), curve.lowest_read.tolist()
    ([550.0], [0.04])
    """
    one = np.array([height])
    return replace(from_rating(one, np.array([load]), np.array([rate])), lowest_read=one, highest_read=one)


def lower_of_two_runs(first: LoadCurves, height: FloatArray, load: FloatArray) -> LoadCurves:
    """The lower of two runs of one spring at every height, F = min(F_1, F_2).

    Parameters
    ----------
    first : LoadCurves
        What the first run made, of one spring [-]
    height : array (R,)
        Heights of the second run, in any order, none far outside those of the first [m]
    load : array (R,)
        Loads of the second run, strictly rising as the height falls [N]

    Returns
    -------
    LoadCurves
        A curve through the lower run at the heights of both, in doubt [-]

    Notes
    -----
    Beyond its own heights the second run is as far off the first as at the nearest of them. Which of two
    runs that disagree is wrong is not known; the lower load is the one that lets a valve float. Own
    derivation.

    >>> first = from_readings(np.zeros(2, int), np.array([0.040, 0.030]), np.array([500.0, 1000.0]))
    >>> lower = lower_of_two_runs(first, np.array([0.040]), np.array([450.0]))
    >>> lower.load_at(np.zeros(2, int), np.array([0.040, 0.030])).tolist(), lower.in_doubt.tolist()
    ([450.0, 950.0], [True])
    """
    second = average_repeats(np.zeros(len(height), dtype=np.int64), height, load)
    own = np.array([first.lowest_read[0], first.highest_read[0]]) if first.knots[0] == 1 else first.height[0]
    heights = np.unique(np.concatenate([own, second.height]))
    which = np.zeros(len(heights), dtype=np.int64)
    inside = np.clip(heights, second.height[0], second.height[-1])
    if len(second.height) > 1:
        there = from_readings(second.spring, second.height, second.load).load_at(which, inside)
    else:
        there = np.full(len(heights), second.load[0])
    off = np.minimum(there - first.load_at(which, inside), 0.0)
    loads = first.load_at(which, heights) + off
    # where both runs push nothing the curve has come to its end
    falls = np.append(np.ones(1, dtype=np.bool_), np.diff(loads) < 0.0)
    heights, loads = heights[falls], loads[falls]
    if len(heights) == 1:
        lower = from_one_reading(float(heights[0]), float(loads[0]), float(-first.end_slope[0, 0]))
    else:
        lower = from_readings(which[: len(heights)], heights, loads)
    return replace(lower, in_doubt=np.ones(1, dtype=np.bool_))
