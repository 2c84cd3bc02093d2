"""Float sheet: when every valve floats, what is left at the intended speed, and how its springs surge."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.clearances.coil_bind import coil_bind_clearance
from headbench.calc.judging.touching import is_closed
from headbench.calc.judging.verdicts import Verdict, accepted_if_proven, at_least, setting_verdict
from headbench.calc.springs.nested import NO_SPRING, any_loose, is_proven, nested_load
from headbench.calc.springs.side_by_side import Springs
from headbench.calc.springs.spring_set import known_bind_height
from headbench.calc.train.lift_slips import lift_is_possible
from headbench.calc.train.valve_motion import Motion
from headbench.calc.valve_float.speed import (
    ContactForce,
    FloatSpeed,
    LoadNeeded,
    contact_force,
    float_speed,
    load_needed,
    load_over_lift,
    mass_allowed,
    speed_gained,
    speed_reserve,
)
from headbench.calc.valve_float.surge import surge_frequency, surge_ratio

GRAM: Final = 1e-3
"""What the speed gained is told for [kg]."""


@dataclass(frozen=True, slots=True)
class FloatReadings:
    """What decides when P positions float; NaN where it is not known.

    motion : Motion, at the valve, arrays (P, T) [-]
    valve_lift : array (P,), full lift that clearances are judged by, where that is more than the motion's; NaN if not
    known [m]
    measured : array (P,), whether that motion was measured, not a stand-in [-]
    all_weighed : array (P,), False where a part that moves is not in the moving mass [-]
    springs : Springs
    installed_height : array (P,), of the outer spring [m]
    trusted : array (P,), whether nothing is in doubt about that height and the loads there [-]
    mass : array (P,), moving mass reduced to the valve [kg]
    load_uncertainty : array (P,), standard uncertainty, 0 where none is stated [N]
    mass_uncertainty : array (P,), standard uncertainty, 0 where none is stated [kg]
    crank_speed : float, intended [rad/s]
    wanted_crank_speed : float, to know what it takes [rad/s]
    reserve_limit : array (P,), least reserve [percent]
    reserve_named : array (P,), whether the job names that limit; else it is the default [-]
    misses_reject : bool, whether the job rejects what misses a default [-]
    surge_limit : array (P,), least surge ratio, NaN where the job names none [-]
    """

    motion: Motion
    valve_lift: FloatArray
    measured: BoolArray
    all_weighed: BoolArray
    springs: Springs
    installed_height: FloatArray
    trusted: BoolArray
    mass: FloatArray
    load_uncertainty: FloatArray
    mass_uncertainty: FloatArray
    crank_speed: float
    wanted_crank_speed: float
    reserve_limit: FloatArray
    reserve_named: BoolArray
    misses_reject: bool
    surge_limit: FloatArray


@dataclass(frozen=True, slots=True)
class Surging:
    """How the springs of every position surge; the slowest decides.

    frequency : array (P,), lowest of the springs that are known [Hz]
    spring : array (P,), which of the nested springs that is, 0 the outer one [-]
    complete : array (P,), False where one of the springs is not known [-]
    """

    frequency: FloatArray
    spring: IntArray
    complete: BoolArray


@dataclass(frozen=True, slots=True)
class FloatSheet:
    """Everything about float and surge, per position; NaN where it is not known, or has no end.

    load : array (P, T), spring load over the lobe; NaN where the coils touch [N]
    speed : FloatSpeed
    reserve : array (P,), at the intended speed [percent]
    forces : ContactForce, at the intended speed
    needed : LoadNeeded, for the wanted speed
    mass_allowed : array (P,), for the wanted speed [kg]
    gained_per_gram : array (P,), crank speed gained by a gram off the valve [rad/s]
    surging : Surging
    surge_ratio : array (P,), at the intended speed [-]
    reserve_verdict, surge_verdict : array (P,), Verdict codes [-]
    """

    load: FloatArray
    speed: FloatSpeed
    reserve: FloatArray
    forces: ContactForce
    needed: LoadNeeded
    mass_allowed: FloatArray
    gained_per_gram: FloatArray
    surging: Surging
    surge_ratio: FloatArray
    reserve_verdict: IntArray
    surge_verdict: IntArray


def float_sheet(readings: FloatReadings) -> FloatSheet:
    """Work out when every position floats and surges, from what is known so far.

    Parameters
    ----------
    readings : FloatReadings
        The positions of one head or a pair [-]

    Returns
    -------
    FloatSheet

    Notes
    -----
    A rigid train floats later than any real one, so a float speed under the intended speed is
    rejected whatever the limit (own derivation), and a reserve under a limit that the job names too.
    The default limit is habit: a reserve that misses it alone is for a person to decide. A reserve is
    judged only where the motion was measured: a stand-in proves nothing either way. It is rejected
    where the coils touch at full lift, as read or else by dimensions, or a spring is loose at the seat,
    whatever the motion, and borderline within the guard band of its uncertainty (see `at_least`). A
    spring known by its rating or its dimensions alone may reject, but never accepts, and so does a
    moving mass that leaves out a part, or coils nobody knows the bind of: what is not known only makes it
    float earlier. Where its
    coils touch a spring has no load to give, so the float speed is not known there. A surge ratio
    is judged only against a limit that the job names.

    >>> from headbench.calc.springs.one_curve import rated_curve
    >>> from headbench.calc.springs.side_by_side import side_by_side
    >>> from headbench.calc.springs.spring_set import OneSpring, SpringSet
    >>> from headbench.calc.train.textbook_motions import motion_from_profile
    >>> from headbench.calc.train.valve_motion import stacked
    >>> curve = rated_curve(0.040, 500.0, 50e3)
    >>> spring = OneSpring(curve, True, 0.0, 0.026, False, 0.08, 0.0, 0.0, 1 / 3, 0.0)
    >>> one, exact = np.ones(1), np.zeros(1)
    >>> sheet = float_sheet(FloatReadings(
    ...     motion=stacked([motion_from_profile("harmonic", 0.012, 1.2, 1.2)], np.array([0])),
    ...     valve_lift=0.012 * one, measured=np.array([False]), all_weighed=np.array([True]),
    ...     springs=side_by_side([SpringSet((spring,), 0.0)]),
    ...     installed_height=0.040 * one, trusted=one > 0.0, mass=0.16 * one,
    ...     load_uncertainty=exact, mass_uncertainty=exact, crank_speed=700.0, wanted_crank_speed=900.0,
    ...     reserve_limit=10.0 * one, reserve_named=one > 0.0, misses_reject=False, surge_limit=13.0 * one,
    ... ))
    >>> sheet.reserve.round(1).tolist(), sheet.surge_ratio.round(1).tolist(), sheet.needed.open_load.round(1).tolist()
    ([16.8], [7.1], [1332.4])
    >>> Verdict(sheet.reserve_verdict[0]).name, Verdict(sheet.surge_verdict[0]).name
    ('NOT_MEASURED', 'REJECT')
    """
    motion, mass, springs = readings.motion, readings.mass, readings.springs
    bound = np.array([known_bind_height(one) for one in springs.sets])
    moves = np.flatnonzero(~np.isnan(motion.lift[:, 0]))

    def load_at(place: IntArray, height: FloatArray) -> FloatArray:
        own = moves[place]
        load = nested_load(springs.curves, springs.curve[own], height, springs.seat_rise[own])
        return np.where(is_closed(height - bound[own]), np.nan, load)

    load = np.full(motion.lift.shape, np.nan)
    load[moves] = load_over_lift(load_at, readings.installed_height[moves], motion.lift[moves])
    endless = float_speed(motion, load, mass, readings.load_uncertainty, readings.mass_uncertainty)
    speed = replace(
        endless,
        crank_speed=_finite(endless.crank_speed),
        crank_speed_uncertainty=_finite(endless.crank_speed_uncertainty),
    )
    reserve = 100.0 * speed_reserve(speed.crank_speed, readings.crank_speed)
    needed = load_needed(motion, load, mass, endless.crank_speed, readings.wanted_crank_speed)
    surging = _surging(springs, readings.installed_height)
    ratio = surge_ratio(surging.frequency, readings.crank_speed)
    closed = readings.installed_height
    lift = np.fmax(motion.lift.max(axis=1), readings.valve_lift)
    # on a lift that cannot be right nothing is judged
    possible = np.array([lift_is_possible(one) for one in lift.tolist()])
    full = closed - np.where(possible, lift, np.nan)
    proven_closed, proven_full = (
        is_proven(springs.curves, springs.curve, height, springs.seat_rise) for height in (closed, full)
    )
    pairs = zip(springs.sets, full.tolist(), strict=True)
    known = np.array([coil_bind_clearance(opened, own).complete for own, opened in pairs])
    proven_closed &= readings.trusted
    proven = proven_closed & proven_full & readings.all_weighed & known
    scatter = 100.0 * speed.crank_speed_uncertainty / readings.crank_speed
    judged = at_least(reserve, readings.reserve_limit, scatter)
    by_default = setting_verdict(judged, misses_reject=readings.misses_reject)
    floats = at_least(reserve, 0.0, scatter) == Verdict.REJECT
    judged = np.where(readings.reserve_named, judged, np.where(floats, Verdict.REJECT, by_default))
    judged = np.where(readings.measured & possible, accepted_if_proven(judged, proven), Verdict.NOT_MEASURED)
    # coils that touch at full lift, and springs that push nothing at the seat, hold no train on its cam
    touches = is_closed(full - bound)
    fails = touches | any_loose(springs.curves, springs.curve, closed, springs.seat_rise)
    surge_verdict = accepted_if_proven(at_least(ratio, readings.surge_limit), proven_closed & surging.complete)
    heavier = np.where(mass > 2.0 * GRAM, mass, np.nan)
    return FloatSheet(
        load=load,
        speed=speed,
        reserve=reserve,
        forces=contact_force(motion, load, mass, readings.crank_speed),
        needed=LoadNeeded(_finite(needed.added), _finite(needed.open_load), _finite(needed.factor)),
        mass_allowed=mass_allowed(mass, speed.crank_speed, readings.wanted_crank_speed),
        gained_per_gram=speed_gained(heavier, speed.crank_speed, np.full(len(mass), GRAM)),
        surging=surging,
        surge_ratio=ratio,
        reserve_verdict=np.where(fails, Verdict.REJECT, judged).astype(np.int64),
        surge_verdict=surge_verdict,
    )


def _surging(springs: Springs, installed_height: FloatArray) -> Surging:
    height = installed_height[:, np.newaxis] - springs.seat_rise
    rate = springs.curves.rate_at(springs.curve.ravel(), height.ravel()).reshape(height.shape)
    there = ~np.isneginf(springs.coil_bind_height)
    # a curve that holds the load of several springs says nothing of each
    together = (there & (springs.curve == NO_SPRING)).any(axis=1)
    factor = springs.curves.surge_factor(springs.curve.ravel(), height.ravel()).reshape(height.shape)
    each = factor * surge_frequency(np.where(together[:, np.newaxis], np.nan, rate), springs.active_mass)
    known = np.where(there & ~np.isnan(each), each, np.inf)
    spring = known.argmin(axis=1).astype(np.int64)
    lowest = known[np.arange(len(known)), spring]
    complete = ~(there & np.isnan(each)).any(axis=1)
    return Surging(_finite(lowest), spring, np.asarray(complete, dtype=np.bool_))


def _finite(values: FloatArray) -> FloatArray:
    return np.where(np.isfinite(values), values, np.nan)
