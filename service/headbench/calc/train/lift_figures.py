"""Lift figures: what a lobe is known by, its peaks and durations, between the samples of its motion."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, TypeVar

import numpy as np
import scipy

from headbench.calc import BoolArray, FloatArray
from headbench.calc.train.valve_motion import CRANK_PER_CAM, Motion, parabola_peak

Number = TypeVar("Number", float, FloatArray)

_PIECE: Final = np.array([0.0, 1.0])
"""Ends of one cubic between two samples [-]."""


@dataclass(frozen=True, slots=True)
class Durations:
    """How long a lift stays above each of C checking lifts.

    opening_angle, closing_angle : array (C,), cam angles where it passes each of them; NaN if never [rad]
    duration : array (C,), crank angle between them, 0 where the lift never gets there [rad]
    """

    opening_angle: FloatArray
    closing_angle: FloatArray
    duration: FloatArray


@dataclass(frozen=True, slots=True)
class LiftFigures:
    """What a lobe is known by.

    peak_lift : float [m]
    peak_angle : float, cam angle of the peak [rad]
    lift_area : float, area under the lift over the cam angle [m rad]
    peak_opening_velocity, peak_closing_velocity : float, opening and closing [m/rad]
    peak_acceleration, peak_deceleration : float [m/rad2]
    peak_jerk : float, either way [m/rad3]
    durations : Durations, above each checking lift
    """

    peak_lift: float
    peak_angle: float
    lift_area: float
    peak_opening_velocity: float
    peak_closing_velocity: float
    peak_acceleration: float
    peak_deceleration: float
    peak_jerk: float
    durations: Durations


def lift_figures(motion: Motion, checking_lift: FloatArray) -> LiftFigures:
    """Peak lift, lift area, extremes of the derivatives, and duration at checking lifts of one lobe.

    Parameters
    ----------
    motion : Motion
        Motion of one lobe, arrays (T,) [-]
    checking_lift : array (C,)
        Lifts to take the duration at, above 0 [m]

    Returns
    -------
    LiftFigures

    Notes
    -----
    Between the samples lift, velocity and acceleration are the cubics that their values and slopes at
    both ends define (Hermite's interpolation; own derivation), so that an extreme on a sample is the
    sample's own.

    >>> from headbench.calc.train.textbook_motions import motion_from_profile
    >>> figures = lift_figures(motion_from_profile("harmonic", 0.012, 1.2, 1.2), np.array([0.006]))
    >>> figures.durations.duration.round(6).tolist(), round(figures.lift_area, 9)
    ([2.4], 0.0144)
    """
    angle, lift, velocity = motion.angle, motion.lift, motion.velocity
    acceleration, jerk = motion.acceleration, motion.jerk
    step = np.diff(angle)
    area = step / 2.0 * (lift[:-1] + lift[1:]) + step**2 / 12.0 * (velocity[:-1] - velocity[1:])
    # where the valve leaves its seat the velocity may jump: no cubic runs across that
    smooth = (step > 0.0) & (lift[:-1] > 0.0) & (lift[1:] > 0.0)
    peak_angle, peak_lift = _cubic_peak(angle, lift, velocity, smooth)
    return LiftFigures(
        peak_lift=peak_lift,
        peak_angle=peak_angle,
        lift_area=float(area.sum()),
        peak_opening_velocity=_cubic_peak(angle, velocity, acceleration, smooth)[1],
        peak_closing_velocity=-_cubic_peak(angle, -velocity, -acceleration, smooth)[1],
        peak_acceleration=_cubic_peak(angle, acceleration, jerk, smooth)[1],
        peak_deceleration=-_cubic_peak(angle, -acceleration, -jerk, smooth)[1],
        peak_jerk=float(parabola_peak(angle[np.newaxis], np.abs(jerk)[np.newaxis]).value[0]),
        durations=durations(motion, checking_lift),
    )


def durations(motion: Motion, checking_lift: FloatArray) -> Durations:
    """How long one lobe's lift stays above checking lifts, from where it rises past each to where it falls past it.

    Parameters
    ----------
    motion : Motion
        Motion of one lobe, arrays (T,) [-]
    checking_lift : array (C,)
        Lifts to take the duration at, above 0 [m]

    Returns
    -------
    Durations

    Notes
    -----
    Between the samples the lift is the cubic that `lift_figures` takes. A duration is told in crank angle, as the
    trade does; angles are the cam's.

    >>> from headbench.calc.train.textbook_motions import motion_from_profile
    >>> durations(motion_from_profile("harmonic", 0.012, 1.2, 1.2), np.array([0.006])).duration.round(6).tolist()
    [2.4]
    """
    passing = np.full((2, len(checking_lift)), np.nan)
    for place, wanted in enumerate(checking_lift.tolist()):
        reached = np.flatnonzero(motion.lift >= wanted)
        if len(reached):
            passing[:, place] = _passing(motion, wanted, reached[0] - 1, 0), _passing(motion, wanted, reached[-1], -1)
    opening, closing = passing
    never = motion.lift.max() < checking_lift
    return Durations(opening, closing, np.where(never, 0.0, CRANK_PER_CAM * (closing - opening)))


def _passing(motion: Motion, wanted: float, left: int, root: int) -> float:
    """Angle at which the cubic after a sample passes a lift, the first (0) or the last time (-1)."""
    left = min(max(left, 0), len(motion.lift) - 2)
    own = slice(left, left + 2)
    (start, end), (low, high), slopes = (
        values[own].tolist() for values in (motion.angle, motion.lift, motion.velocity)
    )
    constant, linear, square, cube = cubic_between(end - start, low, high, *slopes)
    cubic = np.array([[cube], [square], [linear], [constant - wanted]])
    roots = scipy.interpolate.PPoly.construct_fast(cubic, _PIECE).roots(extrapolate=False)
    # a lift that is passed on a sample itself may miss the piece by rounding
    part = roots[root] if len(roots) else float(abs(high - wanted) < abs(low - wanted))
    return float(start + part * (end - start))


def cubic_between(step: Number, low: Number, high: Number, slope: Number, next_slope: Number) -> tuple[Number, ...]:
    """Coefficients of t^0 to t^3, t from 0 to 1, of the cubic through two samples with their slopes (Hermite's).

    Parameters
    ----------
    step : float or array (N,)
        How far the samples are apart [rad]
    low, high : float or array (N,)
        Their values [any unit]
    slope, next_slope : float or array (N,)
        The values' slopes there, by the angle [any unit]

    Returns
    -------
    tuple of four
        Coefficients [any unit]

    >>> cubic_between(2.0, 0.0, 8.0, 0.0, 12.0)
    (0.0, 0.0, 0.0, 8.0)
    """
    rise, start, end = high - low, slope * step, next_slope * step
    return low, start, 3.0 * rise - 2.0 * start - end, start + end - 2.0 * rise


def _cubic_peak(angle: FloatArray, values: FloatArray, slopes: FloatArray, smooth: BoolArray) -> tuple[float, float]:
    """Angle and value of the highest point of the cubics on both sides of the largest value, where they are smooth."""
    place = int(values.argmax())
    first = max(place - 1, 0)
    own = slice(first, place + 2)
    at, value, slope = angle[own].tolist(), values[own].tolist(), slopes[own].tolist()
    best = at[place - first], value[place - first]
    for left, is_smooth in enumerate(smooth[first : place + 1].tolist()):
        if not is_smooth:
            continue
        step = at[left + 1] - at[left]
        low, start, square, cube = cubic_between(step, value[left], value[left + 1], slope[left], slope[left + 1])
        bend = square**2 - 3.0 * cube * start
        if bend <= 0.0:
            continue
        # where the slope is 0 and falls, in the form that loses no digits: a parabola's top where the cube is nothing
        if square < 0.0:
            t = start / (math.sqrt(bend) - square)
        elif cube < 0.0:
            t = (square + math.sqrt(bend)) / (-3.0 * cube)
        else:
            continue
        top = low + t * (start + t * (square + t * cube))
        if 0.0 < t < 1.0 and top > best[1]:
            best = at[left] + t * step, top
    return best
