"""Valve motion: lift and its derivatives over the cam angle, at the lobe or at the valve, and its figures.

Where a motion comes from is told elsewhere: `lift_table` for measured lobes, `textbook_motions` for stand-ins.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

import numpy as np
import scipy

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.train.valvetrain import rocker_ratio_over_lift, valve_lift

Number = TypeVar("Number", float, FloatArray)

SAMPLES: Final = 182
"""Cam angles a motion is held at, opening to closing: every motion has as many, so that they stack [-]."""

CRANK_PER_CAM: Final = 2.0
"""Turns of the crank to one of the cam, four-stroke [-]."""

_AROUND: Final = np.array([-1, 0, 1])
_PIECE: Final = np.array([0.0, 1.0])
"""Ends of one cubic between two samples [-]."""


@dataclass(frozen=True, slots=True)
class Motion:
    """Lift and its derivatives by the cam angle: one lobe (T,), or one per position (P, T).

    Before the first and after the last angle the lift is 0.

    angle : array (..., T), cam angle, ascending; twice the same where the acceleration or its bend jumps [rad]
    lift : array (..., T), L [m]
    velocity : array (..., T), L' [m/rad]
    acceleration : array (..., T), L'' [m/rad2]
    jerk : array (..., T), L''' [m/rad3]
    acceleration_uncertainty : array (..., T), standard uncertainty of L'' from the readings' scatter [m/rad2]
    """

    angle: FloatArray
    lift: FloatArray
    velocity: FloatArray
    acceleration: FloatArray
    jerk: FloatArray
    acceleration_uncertainty: FloatArray


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


@dataclass(frozen=True, slots=True)
class Peak:
    """Where rows of values are largest, with a parabola through the three values about the largest.

    place : array (P,), the sample next to it [-]
    angle : array (P,) [rad]
    value : array (P,) [the values' unit]
    """

    place: IntArray
    angle: FloatArray
    value: FloatArray


def at_valve(motion: Motion, rocker_ratio: FloatArray, at_lobe_lift: FloatArray, lash: float) -> Motion:
    """Motion of the valve from that of the lobe, L = l r(l) - s while that is above 0.

    Parameters
    ----------
    motion : Motion
        Motion at the lobe; one measured at the valve with its lash needs none of this [-]
    rocker_ratio : array (N,)
        Rocker ratio r: one, or the valve's lift over the lobe's as read at several lobe lifts [-]
    at_lobe_lift : array (N,)
        Lobe lifts the ratios were read at, ascending; not used for a single ratio [m]
    lash : float
        Running clearance at the valve s; 0 with hydraulic lifters [m]

    Returns
    -------
    Motion

    Notes
    -----
    The ratio is that of `rocker_ratio_over_lift`; the derivatives of the lift follow by the chain rule.
    Where the lash is taken up the velocity steps from 0 to that of the ramp, as it does in the engine.

    >>> from headbench.calc.train.textbook_motions import motion_from_profile
    >>> lobe = motion_from_profile("harmonic", 8e-3, 1.2, 1.2)
    >>> valve = at_valve(lobe, np.array([1.5]), np.array([0.0]), 0.5e-3)
    >>> float(valve.lift.max().round(9))
    0.0115
    """
    lobe_lift = motion.lift
    ratio, slope, curvature, third = rocker_ratio_over_lift(rocker_ratio, at_lobe_lift, lobe_lift)
    lift = valve_lift(lobe_lift, ratio, np.full(1, lash))
    # derivatives of l r(l) by l
    first = ratio + lobe_lift * slope
    second = 2.0 * slope + lobe_lift * curvature
    last = 3.0 * curvature + lobe_lift * third
    velocity = first * motion.velocity
    acceleration = second * motion.velocity**2 + first * motion.acceleration
    jerk = last * motion.velocity**3 + 3.0 * second * motion.velocity * motion.acceleration + first * motion.jerk
    closed = lift <= 0.0
    return Motion(
        angle=motion.angle,
        lift=np.where(closed, 0.0, lift),
        velocity=np.where(closed, 0.0, velocity),
        acceleration=np.where(closed, 0.0, acceleration),
        jerk=np.where(closed, 0.0, jerk),
        acceleration_uncertainty=np.where(closed, 0.0, np.abs(first) * motion.acceleration_uncertainty),
    )


def stacked(motions: Sequence[Motion], which: IntArray) -> Motion:
    """Motions of a head's positions, one lobe's after another.

    Parameters
    ----------
    motions : sequence of Motion
        The lobes there are, (T,) each [-]
    which : array (P,)
        The lobe of each position, counted from 0 [-]

    Returns
    -------
    Motion
        Arrays (P, T) [-]

    >>> from headbench.calc.train.textbook_motions import motion_from_profile
    >>> lobes = [motion_from_profile("harmonic", lift, 1.2, 1.2) for lift in (8e-3, 7e-3)]
    >>> stacked(lobes, np.array([0, 1, 0, 1])).lift.shape
    (4, 182)
    """
    return Motion(
        angle=np.stack([motion.angle for motion in motions])[which],
        lift=np.stack([motion.lift for motion in motions])[which],
        velocity=np.stack([motion.velocity for motion in motions])[which],
        acceleration=np.stack([motion.acceleration for motion in motions])[which],
        jerk=np.stack([motion.jerk for motion in motions])[which],
        acceleration_uncertainty=np.stack([motion.acceleration_uncertainty for motion in motions])[which],
    )


def scaled_to(motion: Motion, peak_lift: FloatArray) -> Motion:
    """Motions of the same shape with another peak, L peak/max(L).

    Parameters
    ----------
    motion : Motion
        Motions at the valve, arrays (P, T) [-]
    peak_lift : array (P,)
        Peak lift as measured at each valve; NaN where it was not, and the motion stays as it is [m]

    Returns
    -------
    Motion

    Notes
    -----
    As a rocker of another ratio would have it (own derivation): lift and its derivatives go with the ratio.

    >>> from headbench.calc.train.textbook_motions import motion_from_profile
    >>> lobes = stacked([motion_from_profile("harmonic", 0.012, 1.2, 1.2)], np.array([0]))
    >>> float(scaled_to(lobes, np.array([0.0114])).lift.max())
    0.0114
    """
    with np.errstate(invalid="ignore"):
        factor = peak_lift / motion.lift.max(axis=1)
    factor = np.where(np.isnan(peak_lift), 1.0, factor)[:, np.newaxis]
    return Motion(
        angle=motion.angle,
        lift=factor * motion.lift,
        velocity=factor * motion.velocity,
        acceleration=factor * motion.acceleration,
        jerk=factor * motion.jerk,
        acceleration_uncertainty=factor * motion.acceleration_uncertainty,
    )


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
    angle, lift, velocity = motion.angle, motion.lift, motion.velocity
    reached = lift >= checking_lift[:, np.newaxis]
    there, last = reached.any(axis=1), len(lift) - 1
    first_up, last_up = reached[there].argmax(axis=1), last - reached[there, ::-1].argmax(axis=1)
    left = np.clip(np.concatenate([first_up - 1, last_up]), 0, last - 1)
    step, low, high = angle[left + 1] - angle[left], lift[left], lift[left + 1]
    cubics = np.stack(cubic_between(step, low, high, velocity[left], velocity[left + 1])[::-1])
    wanted = np.tile(checking_lift[there], 2)
    cubics[-1] -= wanted
    # one by one: scipy drops a root that is also the one of the piece before it
    pieces = [scipy.interpolate.PPoly.construct_fast(cubic[:, np.newaxis], _PIECE) for cubic in cubics.T]
    roots = [piece.roots(extrapolate=False) for piece in pieces]
    # a lift that is passed on a sample itself may miss the piece by rounding
    on_sample = np.abs(high - wanted) < np.abs(low - wanted)
    which = [0] * len(first_up) + [-1] * len(last_up)
    part = [own[end] if len(own) else float(at) for own, end, at in zip(roots, which, on_sample, strict=True)]
    passing = np.full((2, len(checking_lift)), np.nan)
    passing[:, there] = (angle[left] + np.array(part) * step).reshape(2, -1)
    opening, closing = passing
    never = lift.max() < checking_lift
    return Durations(opening, closing, np.where(never, 0.0, CRANK_PER_CAM * (closing - opening)))


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


def parabola_peak(angle: FloatArray, values: FloatArray) -> Peak:
    """Largest value of every row, and where, by the parabola through it and its two neighbors.

    Parameters
    ----------
    angle : array (P, T)
        Angles of the values, ascending [rad]
    values : array (P, T)
        The values; a row with a NaN answers NaN [any unit]

    Returns
    -------
    Peak

    Notes
    -----
    A value at the end of its row, beside a jump (the same angle twice) or beside an infinite one is
    taken as it stands. The parabola's error is of the fourth order in the spacing for the value.

    >>> at = np.array([[0.0, 1.0, 2.0, 3.0]])
    >>> peak = parabola_peak(at, -((at - 1.25) ** 2))
    >>> peak.angle.tolist(), peak.value.tolist()
    ([1.25], [0.0])
    """
    place = values.argmax(axis=1)
    inner = np.clip(place, 1, values.shape[1] - 2)
    around = np.arange(len(values))[:, np.newaxis], inner[:, np.newaxis] + _AROUND
    rows = zip(angle[around].tolist(), values[around].tolist(), (place - inner).tolist(), strict=True)
    tops = [_top(at, value) if own == 0 else (at[own + 1], value[own + 1]) for at, value, own in rows]
    peak_angle, peak_value = np.array(tops).reshape(-1, 2).T
    return Peak(place=place.astype(np.int64), angle=peak_angle, value=peak_value)


def _top(at: Sequence[float], value: Sequence[float]) -> tuple[float, float]:
    """The top of the parabola through three values, where there is one; else the middle value."""
    (x0, x1, x2), (y0, y1, y2) = at, value
    if not (x0 < x1 < x2):
        return x1, y1
    before, after = (y1 - y0) / (x1 - x0), (y2 - y1) / (x2 - x1)
    bend = (after - before) / (x2 - x0)
    if not -math.inf < bend < 0.0:
        return x1, y1
    slope = (before * (x2 - x1) + after * (x1 - x0)) / (x2 - x0)
    return x1 - slope / (2.0 * bend), y1 - slope * slope / (4.0 * bend)
