"""Floats: lobes, springs and masses in, when every valve floats and how its springs surge out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.masses.valve_mass import MovingMass, WeighedParts, moving_mass_by_part, seen_from_valve
from headbench.calc.springs.side_by_side import Springs
from headbench.calc.train.lobes import Lobe, motions_of
from headbench.calc.train.valve_motion import Motion
from headbench.calc.valve_float.sheet import FloatReadings, FloatSheet, float_sheet
from headbench.calc.valve_float.surge import surge_harmonics

_ORDERS: Final = 100
_BESIDE: Final = 1
"""Harmonics on either side of the nearest one that are told with it [-]."""


@dataclass(frozen=True, slots=True)
class FloatSetting:
    """The speeds and limits of a job; NaN where it says nothing.

    crank_speed, wanted_crank_speed : float, intended, and to know what it takes [rad/s]
    reserve_limit : array (P,), least reserve [percent]
    reserve_named : array (P,), whether the job names that limit; else it is the default [-]
    misses_reject : bool, whether the job rejects what misses a default [-]
    surge_limit : array (P,), least surge ratio [-]
    load_uncertainty : float, standard uncertainty of the springs' load [N]
    mass_uncertainty : float, of the moving mass, beside what weighing shows [kg]
    trace_points : int, how many angles over each lobe to tell the forces at; None for none [-]
    """

    crank_speed: float
    wanted_crank_speed: float
    reserve_limit: FloatArray
    reserve_named: BoolArray
    misses_reject: bool
    surge_limit: FloatArray
    load_uncertainty: float = 0.0
    mass_uncertainty: float = 0.0
    trace_points: int | None = None


@dataclass(frozen=True, slots=True)
class FloatValves:
    """The lobes, springs and moving parts of P positions; NaN where a reading was not taken.

    lobes : sequence of Lobe, the lobes there are; None where nothing is known of one [-]
    lobe : array (P,), the lobe of each position, counted from 0 [-]
    own_lift : array (P,), full lift as measured at each valve itself [m]
    valve_lift : array (P,), full lift that clearances are judged by [m]
    installed_height : array (P,), of the outer spring [m]
    trusted : array (P,), whether nothing is in doubt about that height and the loads there [-]
    springs : Springs
    parts : sequence (P,) of WeighedParts, what moves with each valve [-]
    ratio_known : array (P,), whether the rocker ratio among the parts was given [-]
    all_weighed : array (P,), False where a part that moves is not among them [-]
    mass_uncertainty : array (P,), standard uncertainty of the moving mass from weighing [kg]
    """

    lobes: Sequence[Lobe | None]
    lobe: IntArray
    own_lift: FloatArray
    valve_lift: FloatArray
    installed_height: FloatArray
    trusted: BoolArray
    springs: Springs
    parts: Sequence[WeighedParts]
    ratio_known: BoolArray
    all_weighed: BoolArray
    mass_uncertainty: FloatArray


@dataclass(frozen=True, slots=True)
class SpeedPerGram:
    """Crank speed gained by a gram less, by where it comes off.

    valve : array (P,), off the valve, its retainer, locks or cap [rad/s]
    springs : array (P,), off the springs' active coils [rad/s]
    lifter : array (P,), off pushrod or lifter; NaN where the ratio is not known [rad/s]
    """

    valve: FloatArray
    springs: FloatArray
    lifter: FloatArray


@dataclass(frozen=True, slots=True)
class Harmonic:
    """One harmonic of a valve's lift over the cam's turn.

    order : int, times per turn of the cam [-]
    amplitude : float [m]
    crank_speed : float, at which it meets the surge frequency [rad/s]
    """

    order: int
    amplitude: float
    crank_speed: float


@dataclass(frozen=True, slots=True)
class ForceTrace:
    """Forces at one valve over its lobe, at N angles.

    angle : array (N,), cam angle, from opening to closing [rad]
    lift : array (N,), at the valve [m]
    load : array (N,), of the springs; NaN where it is not known or their coils touch [N]
    inertia : array (N,), what the motion asks for [N]
    contact : array (N,), what presses train and cam together; below 0 they part [N]
    """

    angle: FloatArray
    lift: FloatArray
    load: FloatArray
    inertia: FloatArray
    contact: FloatArray


@dataclass(frozen=True, slots=True)
class Floats:
    """When every valve floats and how its springs surge.

    motion : Motion, of each valve, arrays (P, T) [-]
    mass : list (P,) of MovingMass, by part [-]
    sheet : FloatSheet, float speed, reserve, surge and their verdicts [-]
    per_gram : SpeedPerGram
    harmonics : list (P,), the Harmonic nearest to the surge frequency at the intended speed, and its neighbors [-]
    traces : list (P,) of ForceTrace at the intended speed; None where none was asked for, or the motion is not known
    """

    motion: Motion
    mass: list[MovingMass]
    sheet: FloatSheet
    per_gram: SpeedPerGram
    harmonics: list[list[Harmonic]]
    traces: list[ForceTrace | None]


def find_floats(valves: FloatValves, setting: FloatSetting) -> Floats:
    """Float speed, reserve and surge of every valve of a head, from its lobes, springs and masses.

    Parameters
    ----------
    valves : FloatValves
        What is known of the valves [-]
    setting : FloatSetting
        At which speeds, and against which limits [-]

    Returns
    -------
    Floats

    Notes
    -----
    Each valve moves as its lobe does, scaled to its own lift where that was measured; its mass is that of
    `moving_mass_by_part`, its judgment that of `float_sheet`, where validity and sources stand. A gram off the
    lifter's side is 1/r^2 of one off the valve, one off the springs as much as their share.

    >>> from headbench.calc.springs.readings import curve_through
    >>> from headbench.calc.springs.side_by_side import side_by_side
    >>> from headbench.calc.springs.spring_set import OneSpring, SpringSet
    >>> from headbench.calc.train.lobes import StandIn, lobe_from_stand_in
    >>> from headbench.calc.train.valvetrain import LiftPath
    >>> one, none, yes = np.ones(1), np.zeros(1), np.ones(1, dtype=np.bool_)
    >>> lobe = lobe_from_stand_in(
    ...     StandIn("harmonic", 1.2, 1.2), LiftPath(np.nan, 0.008, np.array([1.5]), np.zeros(1), 0.0)
    ... )
    >>> curve = curve_through([0.040, 0.025], [500.0, 1250.0])
    >>> spring = OneSpring(curve, True, 0.0, 0.024, False, 0.075, 0.0, 0.0, 1 / 3, 0.0)
    >>> floats = find_floats(
    ...     FloatValves(
    ...         lobes=[lobe], lobe=np.array([0]), own_lift=np.array([np.nan]), valve_lift=0.012 * one,
    ...         installed_height=0.040 * one, trusted=yes,
    ...         springs=side_by_side([SpringSet((spring,), 0.0)]),
    ...         parts=[
    ...             WeighedParts(
    ...                 valve=0.095, retainer=0.020, locks=0.005, lash_cap=0.0, springs=0.075, spring_share=1 / 3,
    ...                 retainer_coils=0.0, seat_coils=0.0, dampers=0.0, damper_share=1 / 3, rocker=0.015, pushrod=0.0,
    ...                 lifter=0.0, rocker_ratio=1.5,
    ...             )
    ...         ],
    ...         ratio_known=yes, all_weighed=yes, mass_uncertainty=none,
    ...     ),
    ...     FloatSetting(700.0, 900.0, 10.0 * one, yes, misses_reject=False, surge_limit=5.0 * one),
    ... )
    >>> [round(each.total, 9) for each in floats.mass], floats.sheet.speed.crank_speed.round(1).tolist()
    ([0.16], [817.8])
    >>> floats.sheet.reserve.round(1).tolist(), floats.sheet.surge_ratio.round(2).tolist()
    ([16.8], [7.33])
    >>> [(harmonic.order, round(harmonic.crank_speed)) for harmonic in floats.harmonics[0]]
    [(6, 855), (7, 733), (8, 641)]
    """
    mass = [moving_mass_by_part(parts) for parts in valves.parts]
    motion, measured = motions_of(valves.lobes, valves.lobe, valves.own_lift)
    sheet = float_sheet(
        FloatReadings(
            motion=motion,
            valve_lift=valves.valve_lift,
            measured=measured,
            all_weighed=valves.all_weighed,
            springs=valves.springs,
            installed_height=valves.installed_height,
            trusted=valves.trusted,
            mass=np.array([each.total for each in mass]),
            load_uncertainty=np.full(len(valves.lobe), setting.load_uncertainty),
            mass_uncertainty=np.hypot(valves.mass_uncertainty, setting.mass_uncertainty),
            crank_speed=setting.crank_speed,
            wanted_crank_speed=setting.wanted_crank_speed,
            reserve_limit=setting.reserve_limit,
            reserve_named=setting.reserve_named,
            misses_reject=setting.misses_reject,
            surge_limit=setting.surge_limit,
        )
    )
    gained = sheet.gained_per_gram
    share = np.array([parts.spring_share for parts in valves.parts])
    off_lifter = [
        seen_from_valve(by, parts.rocker_ratio) for by, parts in zip(gained.tolist(), valves.parts, strict=True)
    ]
    per_gram = SpeedPerGram(
        valve=gained,
        springs=share * gained,
        lifter=np.where(valves.ratio_known, off_lifter, np.nan),
    )
    harmonics = _harmonics(valves, motion, sheet, setting.crank_speed)
    return Floats(motion, mass, sheet, per_gram, harmonics, _traces(motion, sheet, setting.trace_points))


def _harmonics(valves: FloatValves, motion: Motion, sheet: FloatSheet, crank_speed: float) -> list[list[Harmonic]]:
    """The harmonics next to the surge frequency; none where that, the speed or the motion is not known."""
    told: list[list[Harmonic]] = [[] for _ in valves.lobe]
    peaks = motion.lift.max(axis=1)
    for number, lobe in enumerate(valves.lobes):
        own = np.flatnonzero((valves.lobe == number) & ~np.isnan(peaks))
        if lobe is None or not len(own):
            continue
        found = surge_harmonics(lobe.at_valve, sheet.surging.frequency[own], crank_speed, _ORDERS)
        # a motion that is scaled has its harmonics scaled
        scale = peaks[own] / lobe.at_valve.lift.max()
        for place, by, speeds, nearest in zip(own, scale, found.crank_speed, found.nearest.tolist(), strict=True):
            if nearest > 0:
                orders = range(max(nearest - _BESIDE, 1), min(nearest + _BESIDE, _ORDERS) + 1)
                told[place] = [Harmonic(n, float(by * found.amplitude[n - 1]), float(speeds[n - 1])) for n in orders]
    return told


def _traces(motion: Motion, sheet: FloatSheet, points: int | None) -> list[ForceTrace | None]:
    """Forces over every lobe at evenly spaced angles, by straight lines between the samples."""
    if points is None:
        return [None] * len(motion.angle)
    share = np.linspace(0.0, 1.0, points)
    over_lobe = (motion.lift, sheet.load, sheet.forces.inertia, sheet.forces.contact)
    traces: list[ForceTrace | None] = []
    for place, angle in enumerate(motion.angle):
        if np.isnan(angle[0]):
            traces.append(None)
            continue
        at = angle[0] + (angle[-1] - angle[0]) * share
        traces.append(ForceTrace(at, *(np.interp(at, angle, values[place]) for values in over_lobe)))
    return traces
