"""Valve motion: lift and its derivatives over the cam angle, at the lobe or at the valve.

Where a motion comes from is told elsewhere: `lift_table` for measured lobes, `textbook_motions` for stand-ins; what a
lobe is known by in `lift_figures`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from headbench.calc import FloatArray, IntArray
from headbench.calc.train.valvetrain import rocker_ratio_over_lift, valve_lift

SAMPLES: Final = 182
"""Cam angles a motion is held at, opening to closing: every motion has as many, so that they stack [-]."""

CRANK_PER_CAM: Final = 2.0
"""Turns of the crank to one of the cam, four-stroke [-]."""

_AROUND: Final = np.array([-1, 0, 1])


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
