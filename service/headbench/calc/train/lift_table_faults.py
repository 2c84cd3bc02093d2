"""Lift table faults: what keeps measured lifts from being differentiated, or from being true."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
import scipy

from headbench.calc import BoolArray, FloatArray
from headbench.calc.judging.rules import COARSE_ABOVE
from headbench.calc.train.lift_misfits import odd_reading
from headbench.calc.train.lift_table import (
    SAME_ANGLE,
    TURN,
    is_whole_turn,
    lobe_alone,
    motion_from_readings,
    scatter_allowance,
)
from headbench.calc.train.valve_motion import Motion, parabola_peak

FEWEST_READINGS: Final = 8
"""Readings above the base circle a table needs before it can be differentiated [-]."""


# the largest of some thirty independent values, and a reserve for the strength of smoothing being chosen from them
_SCATTER_FACTOR: Final = 5.0


@dataclass(frozen=True, slots=True)
class LiftTableFault:
    """What is wrong with a lift table, and where.

    "too few": fewer than FEWEST_READINGS above the base circle; value their number [-]
    "falls back", "repeats": the angle of the second place is lower than, or the same as, that of the first [rad]
    "beyond a turn": first and last reading are more than a turn apart; value how far [rad]
    "below zero": negative by more than the readings scatter; value the lift [m]
    "no base circle": the lowest lift of a whole turn is above 0 by more than that; value the lift [m]
    "does not close": a turn after the first reading the lift is another; value the difference [m]
    "open end": the lobe alone was read, but not down to the base circle; value the lift there [m]
    "does not fit": one reading is off its neighbors; value the lift these put there [m]
    "contradicts stated lift": value the peak of the readings, smoothed [m]

    kind : one of the above [-]
    first, last : int, the readings it is about, counted from 0 [-]
    value : float [see kind]
    """

    kind: Literal[
        "too few",
        "falls back",
        "repeats",
        "beyond a turn",
        "below zero",
        "no base circle",
        "does not close",
        "open end",
        "does not fit",
        "contradicts stated lift",
    ]
    first: int
    last: int
    value: float

    @property
    def contradicts(self) -> bool:
        """Whether two statements cannot both hold; otherwise there is something to be read, or read again."""
        return self.kind in {"falls back", "repeats", "beyond a turn", "contradicts stated lift"}


@dataclass(frozen=True, slots=True)
class Spacing:
    """What the distance between a table's readings leaves uncertain.

    error : float, of the acceleration round the peak; 0 where the scatter explains it all [m/rad2]
    error_share : float, the same over the mean acceleration there [-]
    enough : float, spacing of readings that brings the share down to COARSE_ABOVE [rad]
    """

    error: float
    error_share: float
    enough: float


def find_lift_table_faults(angle: FloatArray, lift: FloatArray, reading_noise: float) -> list[LiftTableFault]:
    """What keeps a lift table from being smoothed.

    Parameters
    ----------
    angle : array (R,)
        Cam angles [rad]
    lift : array (R,)
        Lifts read there [m]
    reading_noise : float
        Standard uncertainty of one reading, its random part u [m]

    Returns
    -------
    list of LiftTableFault
        In the order of LiftTableFault's kinds; what is wrong with the angles hides what follows. A table
        without any can be smoothed, and `find_smoothed_faults` looks at the rest [-]

    >>> at = np.radians(np.arange(0.0, 130.0, 2.0))
    >>> [fault.kind for fault in find_lift_table_faults(at, 0.01 * np.sin(at), 2e-6)]
    ['open end']
    """
    order = _angle_faults(angle)
    if order:
        return order
    last = len(angle) - 1
    allowed = scatter_allowance(reading_noise, len(lift))
    lifted = np.flatnonzero(lift > allowed)
    if len(lifted) < FEWEST_READINGS:
        return [LiftTableFault("too few", 0, max(last, 0), float(len(lifted)))]
    faults = [
        LiftTableFault("below zero", place, place, float(lift[place]))
        for place in np.flatnonzero(lift < -allowed).tolist()
    ]
    if is_whole_turn(angle):
        lowest = int(lift.argmin())
        difference = float(lift[last] - lift[0])
        if lift[lowest] > allowed:
            faults.append(LiftTableFault("no base circle", lowest, lowest, float(lift[lowest])))
        if angle[last] - angle[0] >= TURN - SAME_ANGLE and abs(difference) > np.sqrt(2.0) * allowed:
            faults.append(LiftTableFault("does not close", 0, last, difference))
    else:
        faults += [
            LiftTableFault("open end", place, place, float(lift[place])) for place in (0, last) if lift[place] > allowed
        ]
    return faults


def _angle_faults(angle: FloatArray) -> list[LiftTableFault]:
    step = np.diff(angle)
    falls = [
        LiftTableFault("falls back", int(at), int(at) + 1, float(angle[at + 1])) for at in np.flatnonzero(step < 0.0)
    ]
    same = [LiftTableFault("repeats", int(at), int(at) + 1, float(angle[at])) for at in np.flatnonzero(step == 0.0)]
    if not falls and len(angle) and angle[-1] - angle[0] > TURN + SAME_ANGLE:
        return [*same, LiftTableFault("beyond a turn", 0, len(angle) - 1, float(angle[-1] - angle[0]))]
    return falls + same


def halved(angle: FloatArray, lift: FloatArray, reading_noise: float) -> tuple[Motion, Motion]:
    """A lobe smoothed from every second of its readings, once from these and once from those.

    Parameters
    ----------
    angle : array (R,)
        Cam angles, ascending [rad]
    lift : array (R,)
        Lifts read there, without a fault that `find_lift_table_faults` knows [m]
    reading_noise : float
        Standard uncertainty of one reading, its random part u [m]

    Returns
    -------
    (Motion, Motion)

    >>> at = np.radians(np.arange(-80.0, 81.0, 2.0))
    >>> these, those = halved(at, 0.012 * np.maximum(np.cos(1.3 * at), 0.0), 2e-6)
    >>> round(float(these.lift.max()), 4), round(float(those.lift.max()), 4)
    (0.012, 0.012)
    """
    at, read = lobe_alone(angle, lift, reading_noise)
    these, those = (motion_from_readings(at[start::2], read[start::2], reading_noise).motion for start in (0, 1))
    return these, those


def find_smoothed_faults(
    angle: FloatArray,
    lift: FloatArray,
    reading_noise: float,
    smoothed: Motion,
    halves: tuple[Motion, Motion],
    stated_lift: float,
    lift_tolerance: float,
) -> list[LiftTableFault]:
    """What keeps a smoothed lift table from being true.

    Parameters
    ----------
    angle : array (R,)
        Cam angles, ascending [rad]
    lift : array (R,)
        Lifts read there, without a fault that `find_lift_table_faults` knows [m]
    reading_noise : float
        Standard uncertainty of one reading, its random part u [m]
    smoothed : Motion
        The table smoothed, as `motion_from_readings` has it [-]
    halves : (Motion, Motion)
        The same from every second reading, as `halved` has it [-]
    stated_lift : float
        Peak lift as the cam's maker states it, on the side the readings were taken; NaN if not stated [m]
    lift_tolerance : float
        How exact the stated lift is [m]

    Returns
    -------
    list of LiftTableFault
        "does not fit", which hides what follows, and "contradicts stated lift", at most once each [-]

    >>> from headbench.calc.train.textbook_motions import motion_from_profile
    >>> lobe = motion_from_profile("cycloidal", 0.012, 1.2, 1.2)
    >>> at = np.radians(np.arange(-80.0, 81.0, 2.0))
    >>> read = np.interp(at, lobe.angle, lobe.lift)
    >>> smoothed, halves = motion_from_readings(at, read, 2e-6).motion, halved(at, read, 2e-6)
    >>> [fault.kind for fault in find_smoothed_faults(at, read, 2e-6, smoothed, halves, 0.0125, 0.0)]
    ['contradicts stated lift']
    """
    if np.isnan(smoothed.lift).any():
        return []
    odd = odd_reading(angle, lift, reading_noise)
    if odd >= 0:
        beside = scipy.interpolate.CubicSpline(np.delete(angle, odd), np.delete(lift, odd))
        return [LiftTableFault("does not fit", odd, odd, float(beside(angle[odd])))]
    allowed = lift_tolerance + scatter_allowance(reading_noise, len(lift))
    peaks = _peaks(smoothed, halves)
    if abs(peaks[0] - stated_lift) > allowed + np.abs(peaks[1:] - peaks[0]).max():
        top = int(lift.argmax())
        return [LiftTableFault("contradicts stated lift", top, top, float(peaks[0]))]
    return []


def judge_spacing(angle: FloatArray, lift: FloatArray, smoothed: Motion, halves: tuple[Motion, Motion]) -> Spacing:
    """What a table's acceleration may be wrong by because its readings are apart, |a_half - a_whole|/4.

    Parameters
    ----------
    angle : array (R,)
        Cam angles, ascending [rad]
    lift : array (R,)
        Lifts read there [m]
    smoothed : Motion
        The table smoothed [-]
    halves : (Motion, Motion)
        The same from every second reading, as `halved` has it [-]

    Returns
    -------
    Spacing

    Notes
    -----
    The second derivative of a spline of degree 5 is wrong by something that grows with the fourth
    power of the spacing once that is fine, more slowly before; a quarter of the difference, as if with
    the square, is a careful estimate of what the whole table is wrong by (after Richardson's
    extrapolation, from memory; the quarter is an own derivation). What the scatter
    of the readings explains is taken off first. The spacing that would do takes the error to grow with
    the spacing itself, which asks for a little more than is needed.

    >>> from headbench.calc.train.textbook_motions import motion_from_profile
    >>> lobe = motion_from_profile("cycloidal", 0.012, 1.2, 1.2)
    >>> at = np.radians(np.arange(-80.0, 81.0, 2.0))
    >>> read = np.interp(at, lobe.angle, lobe.lift)
    >>> judge_spacing(at, read, motion_from_readings(at, read, 2e-6).motion, halved(at, read, 2e-6)).error_share < 0.05
    True
    """
    nose = smoothed.lift > _peaks(smoothed, halves)[0] / 2.0
    error = max(0.0, *(_error_of_whole(smoothed, half, nose) for half in halves))
    share = error / abs(float(smoothed.acceleration[nose].mean()))
    lifted = lift > lift.max() / 2.0
    widest = float(np.diff(angle)[lifted[:-1] | lifted[1:]].max())
    with np.errstate(divide="ignore"):
        return Spacing(error, share, float(np.float64(widest * COARSE_ABOVE) / share))


def with_error(motion: Motion, error: float) -> Motion:
    """A motion whose acceleration is uncertain by an error more, sqrt(u^2 + error^2).

    Parameters
    ----------
    motion : Motion
        The motion [-]
    error : float
        Standard uncertainty to add [m/rad^2]

    Returns
    -------
    Motion

    >>> from headbench.calc.train.textbook_motions import motion_from_profile
    >>> lobe = motion_from_profile("cycloidal", 0.012, 1.2, 1.2)
    >>> float(with_error(lobe, 3e-4).acceleration_uncertainty[0])
    0.0003
    """
    return replace(motion, acceleration_uncertainty=np.hypot(motion.acceleration_uncertainty, error))


def _peaks(smoothed: Motion, halves: tuple[Motion, Motion]) -> FloatArray:
    """Peak lifts (3,) of a table and of its halves."""
    same = [smoothed, *halves]
    return parabola_peak(np.stack([one.angle for one in same]), np.stack([one.lift for one in same])).value


def _error_of_whole(whole: Motion, half: Motion, nose: BoolArray) -> float:
    """What the whole table's acceleration may be wrong by round the peak, judged from half of its readings."""
    apart = np.interp(whole.angle, half.angle, half.acceleration) - whole.acceleration
    scatter = np.hypot(
        np.interp(whole.angle, half.angle, half.acceleration_uncertainty), whole.acceleration_uncertainty
    )
    return float((np.abs(apart) - _SCATTER_FACTOR * scatter)[nose].max()) / 4.0
