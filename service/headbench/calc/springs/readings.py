"""Spring readings: the load curve that goes through what a tester showed of one spring."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from headbench.calc.judging.grid import on_grid
from headbench.calc.springs.one_curve import LoadCurve


class AveragedReading(NamedTuple):
    """All readings of a spring at one height, averaged.

    height : float [m]
    load : float, mean of the loads shown there [N]
    lowest, highest : float, least and most of them [N]
    times : int, how many there are [-]
    first : int, place of the first of them among the readings as they came [-]
    """

    height: float
    load: float
    lowest: float
    highest: float
    times: int
    first: int


def average_repeats(height: Sequence[float], load: Sequence[float]) -> list[AveragedReading]:
    """Readings of one spring with those at one height averaged, F = sum F_i/n, the shortest first.

    Parameters
    ----------
    height : sequence (R,)
        Heights read at, in any order [m]
    load : sequence (R,)
        Loads read there; NaN leaves a reading out [N]

    Returns
    -------
    list of AveragedReading

    Notes
    -----
    Heights that differ by less than a nanometer are one. A tester read on the way down and on the way up
    shows more and less than the spring pushes; the mean is what is wanted. Common practice, no source.

    >>> read = average_repeats([0.04, 0.03, 0.04], [500.0, 1000.0, 510.0])
    >>> [(one.height, one.load, one.times) for one in read]
    [(0.03, 1000.0, 1), (0.04, 505.0, 2)]
    """
    at: dict[int, list[int]] = {}
    for place, (where, shown) in enumerate(zip(height, load, strict=True)):
        if shown == shown:  # noqa: PLR0124 - NaN is not itself
            at.setdefault(on_grid(where), []).append(place)
    return [
        _averaged([load[place] for place in places], height[places[0]], places[0]) for _, places in sorted(at.items())
    ]


def _averaged(loads: Sequence[float], height: float, first: int) -> AveragedReading:
    if len(loads) == 1:
        return AveragedReading(height, loads[0], loads[0], loads[0], 1, first)
    lowest, highest = min(loads), max(loads)
    # one load read twice is that load, not a rounding off it
    mean = lowest if lowest == highest else sum(loads) / len(loads)
    return AveragedReading(height, mean, lowest, highest, len(loads), first)


def curve_through(height: Sequence[float], load: Sequence[float]) -> LoadCurve:
    """The curve through bench readings: a line through two, a shape-preserving curve through more.

    Parameters
    ----------
    height : sequence (R,)
        Heights read at, in any order, repeats averaged, two different ones at least [m]
    load : sequence (R,)
        Loads read there, strictly rising as the height falls: see `loads.find_reading_faults` [N]

    Returns
    -------
    LoadCurve

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
    referee in the tests; it takes as long to make as a whole valve, and a head has many springs.

    >>> curve = curve_through([0.040, 0.030], [500.0, 1000.0])
    >>> round(curve.load_at(0.035), 9)
    750.0
    """
    return curve_of_averaged(average_repeats(height, load))


def curve_of_averaged(read: Sequence[AveragedReading]) -> LoadCurve:
    """The same through readings that are averaged already.

    Parameters
    ----------
    read : sequence of AveragedReading
        Two at least, the shortest first [-]

    Returns
    -------
    LoadCurve

    >>> curve_of_averaged(average_repeats([0.040, 0.030], [500.0, 1000.0])).load
    (1000.0, 500.0)
    """
    heights, loads = tuple(one.height for one in read), tuple(one.load for one in read)
    steps = [after - before for before, after in pairwise(heights)]
    chords = [(after - before) / step for (before, after), step in zip(pairwise(loads), steps, strict=True)]
    slopes = _pchip_slopes(steps, chords)
    ends = min(slopes[0], 0.5 * chords[0]), min(slopes[-1], 0.5 * chords[-1])
    return LoadCurve(heights, loads, slopes, ends, lowest_read=heights[0], highest_read=heights[-1])


def _pchip_slopes(steps: Sequence[float], chords: Sequence[float]) -> tuple[float, ...]:
    """Slopes (N,) of strictly falling data from their steps and chords (N - 1,)."""
    if len(steps) == 1:
        return chords[0], chords[0]
    inner = [
        _weighted_harmonic(2.0 * after + before, after + 2.0 * before, left, right)
        for (before, after), (left, right) in zip(pairwise(steps), pairwise(chords), strict=True)
    ]
    first = _end_slope(steps[0], steps[1], chords[0], chords[1])
    last = _end_slope(steps[-1], steps[-2], chords[-1], chords[-2])
    return first, *inner, last


def _weighted_harmonic(weight: float, other_weight: float, chord: float, other_chord: float) -> float:
    return (weight + other_weight) / (weight / chord + other_weight / other_chord)


def _end_slope(step: float, next_step: float, chord: float, next_chord: float) -> float:
    three_point = ((2.0 * step + next_step) * chord - step * next_chord) / (step + next_step)
    return min(three_point, 0.0)


def line_through(height: Sequence[float], load: Sequence[float]) -> LoadCurve:
    """The straight line of least squares through bench readings, F = F_mean - k (H - H_mean).

    Parameters
    ----------
    height : sequence (R,)
        Heights read at, two different ones at least [m]
    load : sequence (R,)
        Loads read there [N]

    Returns
    -------
    LoadCurve

    Notes
    -----
    For springs of one rate whose readings scatter; what the line misses is worth a look.
    Ordinary least squares (NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1; from memory).

    >>> line = line_through([0.040, 0.035, 0.030], [500.0, 760.0, 1000.0])
    >>> round(-line.end_slope[0], 6)
    50000.0
    """
    middle, mean = sum(height) / len(height), sum(load) / len(load)
    off = [one - middle for one in height]
    slope = sum(x * y for x, y in zip(off, load, strict=True)) / sum(x * x for x in off)
    return LoadCurve((middle,), (mean,), (slope,), (slope, slope), lowest_read=min(height), highest_read=max(height))
