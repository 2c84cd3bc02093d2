"""Valve motion: lift and its derivatives over the cam angle, at the lobe or at the valve, and its figures.

Where a motion comes from is told elsewhere: `lift_table` for measured lobes, `textbook_motions` for stand-ins.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.train.valvetrain import rocker_ratio_over_lift, valve_lift

SAMPLES: Final = 182
"""Cam angles a motion is held at, opening to closing: every motion has as many, so that they stack [-]."""

CRANK_PER_CAM: Final = 2.0
"""Turns of the crank to one of the cam, four-stroke [-]."""

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
    opening = _passing(angle, lift, velocity, checking_lift)
    closing = -_passing(-angle[::-1], lift[::-1], -velocity[::-1], checking_lift)
    never = lift.max() < checking_lift
    return Durations(opening, closing, np.where(never, 0.0, CRANK_PER_CAM * (closing - opening)))


def _cubic(values: FloatArray, slopes: FloatArray, angle: FloatArray, left: int) -> tuple[float, float, float, float]:
    """Coefficients of t^0 to t^3 of the cubic from one sample to the next, t from 0 to 1."""
    step, low, rise = angle[left + 1] - angle[left], values[left], values[left + 1] - values[left]
    start, end = slopes[left] * step, slopes[left + 1] * step
    return float(low), float(start), float(3.0 * rise - 2.0 * start - end), float(start + end - 2.0 * rise)


def _cubic_peak(angle: FloatArray, values: FloatArray, slopes: FloatArray, smooth: BoolArray) -> tuple[float, float]:
    """Angle and value of the highest point of the cubics on both sides of the largest value, where they are smooth."""
    place = int(values.argmax())
    best = float(angle[place]), float(values[place])
    for left in range(max(place - 1, 0), min(place + 1, len(smooth))):
        if not smooth[left]:
            continue
        low, start, square, cube = _cubic(values, slopes, angle, left)
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
        value = low + t * (start + t * (square + t * cube))
        if 0.0 < t < 1.0 and value > best[1]:
            best = float(angle[left] + t * (angle[left + 1] - angle[left])), value
    return best


def _passing(angle: FloatArray, lift: FloatArray, velocity: FloatArray, checking_lift: FloatArray) -> FloatArray:
    """Angle (C,) at which a lift first rises past each checking lift (C,)."""
    passing = np.full(len(checking_lift), np.nan)
    for place, wanted in enumerate(checking_lift.tolist()):
        reached = lift >= wanted
        if not reached.any():
            continue
        left = max(int(reached.argmax()) - 1, 0)
        cubic = np.array(_cubic(lift, velocity, angle, left)[::-1])[:, np.newaxis]
        roots = scipy.interpolate.PPoly.construct_fast(cubic, _PIECE).solve(wanted, extrapolate=False)
        # a lift that is passed on a sample itself may miss the piece by rounding
        t = roots[0] if len(roots) else float(lift[left] < wanted)
        passing[place] = angle[left] + t * (angle[left + 1] - angle[left])
    return passing


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
    row = np.arange(len(values))
    place = values.argmax(axis=1)
    inner = np.clip(place, 1, values.shape[1] - 2)
    x0, x1, x2 = (angle[row, inner + shift] for shift in (-1, 0, 1))
    y0, y1, y2 = (values[row, inner + shift] for shift in (-1, 0, 1))
    with np.errstate(divide="ignore", invalid="ignore"):
        before, after = (y1 - y0) / (x1 - x0), (y2 - y1) / (x2 - x1)
        bend = (after - before) / (x2 - x0)
        slope = (before * (x2 - x1) + after * (x1 - x0)) / (x2 - x0)
        shift = -slope / (2.0 * bend)
        usable = (place == inner) & np.isfinite(shift) & (bend < 0.0)
        top = y1 - slope**2 / (4.0 * bend)
    return Peak(
        place=place.astype(np.int64),
        angle=np.where(usable, x1 + shift, angle[row, place]),
        value=np.where(usable, top, values[row, place]),
    )
