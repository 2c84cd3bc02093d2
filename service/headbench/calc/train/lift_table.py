"""Lift table: a lobe as it was read with a dial gauge, smoothed by as much as the readings scatter."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from typing import Final

import numpy as np
import scipy

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.train.valve_motion import SAMPLES, Motion

TURN: Final = 2.0 * np.pi
"""One turn of the cam [rad]."""

SAME_ANGLE: Final = 1e-9
"""Angles nearer than this are the same angle written in another unit [rad]."""

FALSE_ALARM: Final = 0.01
"""Chance that scatter alone makes one of a table's readings look like a fault [-]."""

_DEGREE: Final = 5
_PIECES: Final = 64
_BASE_SHARE: Final = 0.1
# decades of the smoothing parameter: from through every reading to a parabola
_LEAST: Final = -8.0
_MOST: Final = 7.0
_FIRST: Final = 3.0
_FINE: Final = 1e-7
"""A step of this size is the last: what it leaves goes with its square."""
_MOST_STEPS: Final = 100
"""Steps after which the search ends; about four are usual."""

_FRACTION: Final = np.linspace(0.0, 1.0, SAMPLES)
_KNOTS: Final = np.concatenate([np.zeros(_DEGREE), np.linspace(0.0, 1.0, _PIECES + 1), np.ones(_DEGREE)])
_SPLINES: Final = _PIECES + _DEGREE
_OVERLAPS: Final = _DEGREE + 1
"""Splines that are not 0 on a piece [-]."""

# Everything below keeps to the band of overlapping splines: a few thousand products instead of a few
# million, and no call large enough for a linear algebra library to spread over threads and wait for.


def _first_spline(fraction: FloatArray) -> IntArray:
    """The first of the splines that are not 0 at fractions (N,) of the lobe."""
    return np.minimum(fraction * _PIECES, _PIECES - 1).astype(np.int64)


def _derivatives_at(fraction: FloatArray) -> FloatArray:
    """The splines that are not 0, and their first three derivatives (4, N, overlaps), at fractions (N,)."""
    splines = scipy.interpolate.BSpline(_KNOTS, np.eye(_SPLINES), _DEGREE)
    columns = _first_spline(fraction)[:, np.newaxis] + np.arange(_OVERLAPS)
    return np.stack([np.take_along_axis(splines(fraction, order), columns, axis=1) for order in range(4)])


def _banded_products(first: IntArray, splines: FloatArray) -> FloatArray:
    """Sums of products of every two overlapping splines (overlaps, splines), lower band first."""
    band = np.zeros((_OVERLAPS, _SPLINES))
    for apart in range(_OVERLAPS):
        products = splines[:, : _OVERLAPS - apart] * splines[:, apart:]
        columns = first[:, np.newaxis] + np.arange(_OVERLAPS - apart)
        band[apart] = np.bincount(columns.ravel(), products.ravel(), minlength=_SPLINES)
    return band


@cache
def _roughness() -> FloatArray:
    """Integrals of products of every two splines' third derivatives over the lobe, banded."""
    # a product of two quadratics on every piece: three Gauss points integrate it exactly
    nodes, weights = np.polynomial.legendre.leggauss(3)
    fraction = ((np.arange(_PIECES)[:, np.newaxis] + (nodes + 1.0) / 2.0) / _PIECES).ravel()
    root = np.sqrt(np.tile(weights, _PIECES) / (2.0 * _PIECES))
    return _banded_products(_first_spline(fraction), _derivatives_at(fraction)[3] * root[:, np.newaxis])


@cache
def _sampled() -> FloatArray:
    return _derivatives_at(_FRACTION)


_SAMPLED_COLUMNS: Final = _first_spline(_FRACTION)[:, np.newaxis] + np.arange(_OVERLAPS)


@cache
def _sampled_second() -> scipy.sparse.csr_array:
    """The splines' second derivatives at the samples (T, splines)."""
    rows = _OVERLAPS * np.arange(SAMPLES + 1)
    return scipy.sparse.csr_array((_sampled()[2].ravel(), _SAMPLED_COLUMNS.ravel(), rows))


@dataclass(frozen=True, slots=True)
class SmoothedTable:
    """A lift table smoothed.

    motion : Motion, on the side the readings were taken [-]
    residual : float, root mean square of readings minus smoothed lift [m]
    """

    motion: Motion
    residual: float


def cam_angle(crank_angle: FloatArray) -> FloatArray:
    """Cam angle of readings taken with a degree wheel on the crank, half of it.

    Parameters
    ----------
    crank_angle : array (R,)
        Crank angles [rad]

    Returns
    -------
    array (R,)
        Cam angles [rad]

    >>> cam_angle(np.array([3.0])).tolist()
    [1.5]
    """
    return crank_angle / 2.0


def scatter_allowance(reading_noise: float, readings: int) -> float:
    """Largest error to expect among all readings of a table, z u with z from the normal distribution.

    Parameters
    ----------
    reading_noise : float
        Standard uncertainty of one reading u [m]
    readings : int
        How many there are [-]

    Returns
    -------
    float
        The error only one table in a hundred exceeds, either way, anywhere [m]

    Notes
    -----
    Bonferroni's bound: the chance of a false alarm is shared out among the readings (NIST/SEMATECH
    e-Handbook of Statistical Methods (2012), 7.4.7.3).

    >>> round(scatter_allowance(1.0, 180), 3)
    4.031
    """
    return float(-scipy.special.ndtri(FALSE_ALARM / (2.0 * max(readings, 1)))) * reading_noise


def motion_from_readings(angle: FloatArray, lift: FloatArray, reading_noise: float) -> SmoothedTable:
    """Motion of a measured lobe, the smoothest curve that its readings miss by no more than they scatter.

    Parameters
    ----------
    angle : array (R,)
        Cam angles, ascending, any spacing; a whole turn or the lobe alone: see `find_lift_table_faults` [rad]
    lift : array (R,)
        Lifts read there, opening and closing flank [m]
    reading_noise : float
        Standard uncertainty of one reading, its random part u [m]

    Returns
    -------
    SmoothedTable
        NaN throughout where a reading is NaN; angles of a lobe that runs over an end of the table go on past it [-]

    Notes
    -----
    A spline g of degree 5 minimises sum (g - L)^2 + p times the integral of g'''^2, and p is the one
    with sum (g - L)^2 = (n + sqrt(2 n)) u^2, one standard deviation above what n readings scatter on
    average: the stated noise decides, nothing else. It is the upper end of the range Reinsch gives,
    because aiming at n u^2 itself fits noise into the acceleration whenever the readings happen to
    scatter more. Degree 5 because the acceleration is wanted, not the lift.

    Only the lobe is fitted, with a little base circle on both sides; that and the rest is 0 in the
    motion, and slowing down counts only between the first and the last reading that stand above what
    they scatter: a spline ripples beside a lobe that closes at once, and no reading shows it. At most 64 pieces:
    a feature narrower than a fiftieth of the lobe is lost. The uncertainty of the acceleration is that
    of a linear fit, g'' = sum w_i L_i with u(g'')^2 = u^2 sum w_i^2; what smoothing flattens is not
    in it, and the gauge's own scale error neither. Noise stated too small leaves ripple in the
    acceleration, too large flattens it: compare `residual` with what was stated.

    References
    ----------
    C. H. Reinsch, Smoothing by spline functions, Numer. Math. 10 (1967) 177-183 (the criterion, and
    its range of n +- sqrt(2 n)). H. J. Woltring, A Fortran package for
    generalized, cross-validatory spline smoothing and differentiation, Adv. Eng. Software 8 (1986)
    104-113 (degree 5 for accelerations; its criteria are others). F. O'Sullivan, A statistical
    perspective on ill-posed inverse problems, Stat. Sci. 1 (1986) 502-518 (fewer pieces than readings).

    >>> from headbench.calc.train.textbook_motions import motion_from_profile
    >>> lobe = motion_from_profile("cycloidal", 0.012, 1.2, 1.2)
    >>> at = np.radians(np.arange(-80.0, 81.0, 2.0))
    >>> smoothed = motion_from_readings(at, np.interp(at, lobe.angle, lobe.lift), 2e-6)
    >>> round(float(smoothed.motion.lift.max()), 5), round(smoothed.residual, 9)
    (0.01201, 2.153e-06)
    """
    if np.isnan(angle).any() or np.isnan(lift).any() or np.isnan(reading_noise):
        unknown = np.full(SAMPLES, np.nan)
        return SmoothedTable(Motion(unknown, unknown, unknown, unknown, unknown, unknown), float("nan"))
    at, read = lobe_alone(angle, lift, reading_noise)
    start, length = at[0], at[-1] - at[0]
    design = scipy.interpolate.BSpline.design_matrix((at - start) / length, _KNOTS, _DEGREE)
    splines = _Splines(design.data.reshape(-1, _OVERLAPS), design.indices.reshape(-1, _OVERLAPS).astype(np.int64))
    fit = _banded_products(splines.which[:, 0], splines.values)
    roughness = _roughness() * (fit[0].sum() / _roughness()[0].sum())
    smooth = partial(_smoothed, splines, fit, roughness, read)
    to_miss = (len(read) + np.sqrt(2.0 * len(read))) * reading_noise**2
    chosen = smooth(_exponent(smooth, to_miss))
    derivatives = (_sampled() * chosen.weights[_SAMPLED_COLUMNS]).sum(axis=2) / length ** np.arange(4)[:, np.newaxis]
    uncertainty = reading_noise / length**2 * _second_derivative_gain(chosen.factor, design)
    spline = Motion(
        angle=start + length * _FRACTION,
        lift=derivatives[0],
        velocity=derivatives[1],
        acceleration=derivatives[2],
        jerk=derivatives[3],
        acceleration_uncertainty=uncertainty,
    )
    motion = _held_on_base_circle(spline, at, read > scatter_allowance(reading_noise, len(lift)))
    return SmoothedTable(motion, float(np.sqrt(chosen.missed / len(read))))


@dataclass(frozen=True, slots=True)
class _Splines:
    """The splines that are not 0 at R readings: their values, and which they are (R, overlaps)."""

    values: FloatArray
    which: IntArray

    def along(self, weights: FloatArray) -> FloatArray:
        """The curve (R,) that the splines make."""
        return np.asarray((self.values * weights[self.which]).sum(axis=1), dtype=np.float64)

    def summed(self, values: FloatArray) -> FloatArray:
        """What every spline takes (splines,) from values (R,) at the readings."""
        taken = self.values * values[:, np.newaxis]
        return np.asarray(np.bincount(self.which.ravel(), taken.ravel(), minlength=_SPLINES), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class _Smoothed:
    """Readings smoothed by so much.

    factor : array (overlaps, splines), Cholesky's of the fit with the roughness in it, banded
    weights : array (splines,), of the splines [m]
    missed : float, sum of the squares of what the readings are missed by [m2]
    growth : float, how fast the logarithm of that grows with the decades of the smoothing parameter [-]
    """

    factor: FloatArray
    weights: FloatArray
    missed: float
    growth: float


def _smoothed(
    splines: _Splines, fit: FloatArray, roughness: FloatArray, read: FloatArray, exponent: float
) -> _Smoothed:
    factor = scipy.linalg.cholesky_banded(fit + 10.0**exponent * roughness, lower=True, check_finite=False)
    weights = _solved(factor, splines.summed(read))
    off = read - splines.along(weights)
    missed = float(off @ off)
    # with A = fit + p roughness and g = p roughness weights, which is what the splines take from the readings'
    # misses, d(missed)/dp = 2/p g A^-1 g
    taken = splines.summed(off)
    growth = 2.0 * math.log(10.0) * float(taken @ _solved(factor, taken)) / missed if missed > 0.0 else 0.0
    return _Smoothed(factor, weights, missed, growth)


def _exponent(smooth: Callable[[float], _Smoothed], to_miss: float) -> float:
    """Decades of the smoothing parameter with which the readings are missed by so much.

    By Newton's steps on the logarithms, which are near straight; halved where they leave the range it must lie in.
    """
    low, high = _LEAST, _MOST
    if smooth(low).missed >= to_miss:
        return low
    if smooth(high).missed <= to_miss:
        return high
    exponent = _FIRST
    for _ in range(_MOST_STEPS):
        here = smooth(exponent)
        low, high = (low, exponent) if here.missed > to_miss else (exponent, high)
        nearer = exponent - math.log(here.missed / to_miss) / here.growth if here.growth > 0.0 else math.inf
        before, exponent = exponent, nearer if low <= nearer <= high else 0.5 * (low + high)
        if abs(exponent - before) <= _FINE:
            break
    return exponent


def _solved(factor: FloatArray, wanted: FloatArray) -> FloatArray:
    solution, _ = scipy.linalg.lapack.dpbtrs(factor, wanted, lower=1)
    return np.asarray(solution, dtype=np.float64)


def _held_on_base_circle(motion: Motion, at: FloatArray, lifted: BoolArray) -> Motion:
    """A smoothed motion without the ripple that no reading shows: 0 on the base circle, no slowing down beside it."""
    up = np.flatnonzero(lifted)
    opens, closes = at[max(up[0] - 1, 0)], at[min(up[-1] + 1, len(at) - 1)]
    off = (motion.angle < opens) | (motion.angle > closes)
    unread = (motion.angle < at[up[0]]) | (motion.angle > at[up[-1]])
    # between the last reading on the base circle and the first above it a lobe pushes; that it brakes is not read
    pushing = np.where(unread, np.maximum(motion.acceleration, 0.0), motion.acceleration)
    return Motion(
        angle=motion.angle,
        lift=np.where(off, 0.0, motion.lift),
        velocity=np.where(off, 0.0, motion.velocity),
        acceleration=np.where(off, 0.0, pushing),
        jerk=np.where(off, 0.0, motion.jerk),
        acceleration_uncertainty=motion.acceleration_uncertainty,
    )


def _second_derivative_gain(factor: FloatArray, splines: scipy.sparse.csr_array) -> FloatArray:
    """Standard deviation (T,) of the second derivative by the fraction, for readings that scatter by 1."""
    inverse = _solved(factor, np.eye(_SPLINES))
    # what each second derivative takes from each reading; squares summed, so that nothing cancels
    taken = splines @ (_sampled_second() @ inverse).T
    return np.asarray(np.sqrt((taken**2).sum(axis=0)), dtype=np.float64)


def lobe_alone(angle: FloatArray, lift: FloatArray, reading_noise: float) -> tuple[FloatArray, FloatArray]:
    """The readings of the lobe with those of a tenth of its width on both sides, in one piece.

    Parameters
    ----------
    angle : array (R,)
        Cam angles, ascending [rad]
    lift : array (R,)
        Lifts read there, one at least above what the readings scatter [m]
    reading_noise : float
        Standard uncertainty of one reading [m]

    Returns
    -------
    (array, array)
        Cam angles and lifts; where a lobe runs over an end of a whole turn, its peak keeps its angle and
        the rest goes on past that end [rad], [m]

    >>> around = np.arange(0.0, 6.3, 0.1)
    >>> at, lift = lobe_alone(around, np.maximum(np.cos(around), 0.0), 1e-6)
    >>> at[[0, -1]].round(1).tolist()
    [-1.9, 1.9]
    """
    end = angle[-1]
    lifted = lift > scatter_allowance(reading_noise, len(lift))
    if is_whole_turn(angle):
        ring = len(lift) - int(angle[-1] - angle[0] >= TURN - SAME_ANGLE)
        up = np.flatnonzero(lifted[:ring])
        gaps = np.diff(up, append=up[:1] + ring)
        # the longest way from one lifted reading to the next is the base circle: cut the turn in its middle
        first = (up[gaps.argmax()] + gaps.max() // 2) % ring
        order = (first + np.arange(ring)) % ring
        angle, lift, lifted = angle[order] + np.where(order < first, TURN, 0.0), lift[order], lifted[order]
    up = np.flatnonzero(lifted)
    opens, closes = max(up[0] - 1, 0), min(up[-1] + 1, len(lift) - 1)
    beside = _BASE_SHARE * (angle[closes] - angle[opens])
    kept = (angle >= angle[opens] - beside) & (angle <= angle[closes] + beside)
    back = TURN if angle[lift.argmax()] > end else 0.0
    return angle[kept] - back, lift[kept]


def is_whole_turn(angle: FloatArray) -> bool:
    """Whether a table goes all the way round, so that its last reading is next to its first.

    Parameters
    ----------
    angle : array (R,)
        Cam angles, ascending, two at least [rad]

    Returns
    -------
    bool
        True where what is left of the turn is no wider than the table's widest step, and a half [-]

    >>> is_whole_turn(np.radians(np.arange(0.0, 360.0, 2.0))), is_whole_turn(np.radians(np.arange(160.0)))
    (True, False)
    """
    return bool(TURN - (angle[-1] - angle[0]) <= 1.5 * np.diff(angle).max())
