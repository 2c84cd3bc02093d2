"""Lobes: how one kind of valve moves, from the table of its lobe or a textbook stand-in, over its rocker."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.rules import TOO_COARSE_ABOVE
from headbench.calc.train.lift_misfits import typical_misfit
from headbench.calc.train.lift_table import motion_from_readings, scatter_allowance
from headbench.calc.train.lift_table_faults import (
    LiftTableFault,
    Spacing,
    find_lift_table_faults,
    find_smoothed_faults,
    halved,
    judge_spacing,
    with_error,
)
from headbench.calc.train.textbook_motions import Profile, motion_from_profile
from headbench.calc.train.valve_motion import SAMPLES, Motion, at_valve, parabola_peak, scaled_to, stacked
from headbench.calc.train.valvetrain import LiftPath

LIFTS_AGREE: Final = 0.05
"""Part of the stated lift that a measured peak may be off before they contradict each other; common practice, no
source: rockers miss their nominal ratio by a few percent, a lift read on the other side by far more."""

_UNKNOWN: Final = Motion(*(np.full(SAMPLES, np.nan) for _ in Motion.__dataclass_fields__))


@dataclass(frozen=True, slots=True)
class LiftTable:
    """A lobe as it was degreed.

    angle : array (R,), cam angles, in the order they were read at [rad]
    lift : array (R,), lifts read there [m]
    reading_noise : float, standard uncertainty of one reading, its random part [m]
    at_valve : bool, whether it was read at the valve, its lash set; else on the cam's side of the rocker [-]
    """

    angle: FloatArray
    lift: FloatArray
    reading_noise: float
    at_valve: bool


@dataclass(frozen=True, slots=True)
class StandIn:
    """A textbook profile in place of a lobe that nobody degreed.

    profile : Profile [-]
    rise, fall : float, cam angles from opening to peak and from there to closing, a turn together at most [rad]
    """

    profile: Profile
    rise: float
    fall: float


@dataclass(frozen=True, slots=True)
class Lobe:
    """One kind of valve's motion, and how well it is known.

    at_lobe : Motion, on the cam's side of the rocker; None where it was read, or given, at the valve [-]
    at_valve : Motion, NaN throughout where lift or ratio is not known [-]
    stated : float, full lift at the valve by what is stated beside it; NaN where nothing is [m]
    peak_lift : float, full lift at the valve by the readings; NaN without [m]
    scatter : float, largest difference of the two that the readings' scatter explains [m]
    residual : float, root mean square of readings less smoothed lift; NaN without readings [m]
    misfit : float, root mean square of what readings are off their neighbors; NaN where that is not known [m]
    spacing : Spacing, what the distance between readings leaves uncertain; None without readings [-]
    """

    at_lobe: Motion | None
    at_valve: Motion
    stated: float = np.nan
    peak_lift: float = np.nan
    scatter: float = 0.0
    residual: float = np.nan
    misfit: float = np.nan
    spacing: Spacing | None = None

    @property
    def is_known(self) -> bool:
        """Whether the valve's motion is known."""
        return not np.isnan(self.at_valve.lift[0])

    @property
    def never_opens(self) -> bool:
        """Whether lash, or nothing of a lobe, leaves the valve closed all the way round."""
        return bool(self.at_valve.lift.max() <= GRID)

    @property
    def proves(self) -> bool:
        """Whether the valve's motion was measured closely enough to judge float by."""
        return self.is_known and self.spacing is not None and self.spacing.error_share <= TOO_COARSE_ABOVE

    @property
    def differs(self) -> bool:
        """Whether the lobe was read to lift the valve otherwise than is stated."""
        return abs(self.peak_lift - self.stated) > self.scatter

    @property
    def full_lift(self) -> float:
        """Full lift to judge clearances by, as stated or as read where nothing is or the two differ: the larger [m].

        A clearance that is judged by the smaller of two lifts may not be there.
        """
        if self.differs or np.isnan(self.stated):
            return float(np.fmax(self.peak_lift, self.stated))
        return self.stated


def lobe_from_table(table: LiftTable, path: LiftPath) -> Lobe | list[LiftTableFault]:
    """A lobe's table, smoothed once, over its rocker; or what keeps it from being used.

    Parameters
    ----------
    table : LiftTable
        The lobe as it was degreed [-]
    path : LiftPath
        How its lift gets to the valve, as far as that is known [-]

    Returns
    -------
    Lobe, or a list of LiftTableFault
        The faults as `find_lift_table_faults` or, with none of those, `find_smoothed_faults` has them [-]

    >>> at = np.radians(np.arange(-80.0, 81.0, 2.0))
    >>> read = 0.008 * np.maximum(1.0 - (at / 1.2) ** 2, 0.0) ** 4
    >>> path = LiftPath(np.nan, 0.008, np.array([1.5]), np.zeros(1), 0.0005)
    >>> lobe = lobe_from_table(LiftTable(at, read, 2e-6, at_valve=False), path)
    >>> round(lobe.peak_lift, 5), round(lobe.stated, 5), lobe.proves, lobe.differs
    (0.0115, 0.0115, True, False)
    >>> [fault.kind for fault in lobe_from_table(LiftTable(at[:40], read[:40], 2e-6, at_valve=False), path)]
    ['open end']
    """
    angle, lift, noise = table.angle, table.lift, table.reading_noise
    found = find_lift_table_faults(angle, lift, noise)
    if found:
        return found
    stated = path.full_lift if table.at_valve else path.full_lobe_lift
    smoothed, halves = motion_from_readings(angle, lift, noise), halved(angle, lift, noise)
    found = find_smoothed_faults(angle, lift, noise, smoothed.motion, halves, stated, LIFTS_AGREE * stated)
    if found:
        return found
    spacing = judge_spacing(angle, lift, smoothed.motion, halves)
    read = with_error(smoothed.motion, spacing.error)
    moved = read if table.at_valve else over_rocker(read, path)
    scatter = scatter_allowance(noise, len(lift))
    return Lobe(
        at_lobe=None if table.at_valve else read,
        at_valve=moved,
        stated=path.full_lift,
        peak_lift=float(parabola_peak(moved.angle[np.newaxis], moved.lift[np.newaxis]).value[0]),
        scatter=scatter if table.at_valve else scatter * path.full_ratio,
        residual=smoothed.residual,
        misfit=typical_misfit(angle, lift, noise),
        spacing=spacing,
    )


def lobe_from_stand_in(stand_in: StandIn, path: LiftPath) -> Lobe:
    """A textbook profile that rises to the lobe's lift where that is given, to the valve's otherwise.

    Parameters
    ----------
    stand_in : StandIn
        The profile [-]
    path : LiftPath
        What is known of the lift [-]

    Returns
    -------
    Lobe
        Proves nothing; its motion is not known while no lift is, or no ratio of a lobe's lift [-]

    >>> path = LiftPath(np.nan, 0.008, np.array([1.5]), np.zeros(1), 0.0005)
    >>> lobe = lobe_from_stand_in(StandIn("harmonic", 1.2, 1.2), path)
    >>> round(float(lobe.at_valve.lift.max()), 6), lobe.proves
    (0.0115, False)
    """
    lobe_lift, stated = path.lobe_lift, path.full_lift
    if not np.isnan(lobe_lift):
        lobe = motion_from_profile(stand_in.profile, lobe_lift, stand_in.rise, stand_in.fall)
        return Lobe(lobe, over_rocker(lobe, path), stated)
    if np.isnan(stated):
        return Lobe(None, _UNKNOWN)
    return Lobe(None, motion_from_profile(stand_in.profile, stated, stand_in.rise, stand_in.fall), stated)


def over_rocker(lobe: Motion, path: LiftPath) -> Motion:
    """Motion of the valve from that of the lobe, over its rocker and lash.

    Parameters
    ----------
    lobe : Motion
        Motion on the cam's side [-]
    path : LiftPath
        How the lobe's lift gets to the valve [-]

    Returns
    -------
    Motion
        See `at_valve`; NaN throughout where the ratio is not known [-]

    >>> lobe = motion_from_profile("harmonic", 8e-3, 1.2, 1.2)
    >>> path = LiftPath(np.nan, np.nan, np.array([1.5]), np.zeros(1), 0.5e-3)
    >>> float(over_rocker(lobe, path).lift.max().round(9))
    0.0115
    """
    if np.isnan(path.rocker_ratio).any():
        return _UNKNOWN
    return at_valve(lobe, path.rocker_ratio, path.at_lobe_lift, path.lash)


def motions_of(lobes: Sequence[Lobe | None], which: IntArray, own_lift: FloatArray) -> tuple[Motion, BoolArray]:
    """How every valve moves, each with its own full lift where one was measured, and whether that is proven.

    Parameters
    ----------
    lobes : sequence of Lobe
        The lobes there are; None where nothing is known of one [-]
    which : array (P,)
        The lobe of each position, counted from 0 [-]
    own_lift : array (P,)
        Full lift as measured at each valve, NaN where it was not [m]

    Returns
    -------
    (Motion, array (P,))
        Arrays (P, T), NaN where a lobe's motion is not known [-]

    >>> path = LiftPath(0.012, np.nan, np.array([np.nan]), np.zeros(1), 0.0)
    >>> lobe = lobe_from_stand_in(StandIn("harmonic", 1.2, 1.2), path)
    >>> motion, proven = motions_of([lobe, None], np.array([0, 0, 1]), np.array([np.nan, 0.0114, np.nan]))
    >>> motion.lift.max(axis=1).tolist(), proven.tolist()
    ([0.012, 0.0114, nan], [False, False, False])
    """
    motion = stacked([_UNKNOWN if lobe is None else lobe.at_valve for lobe in lobes], which)
    proven = np.array([lobe is not None and lobe.proves for lobe in lobes], dtype=np.bool_)
    return scaled_to(motion, own_lift), proven[which]
