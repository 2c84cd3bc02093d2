"""Valve float: the speed at which the spring can no longer hold the train on the cam.

The train is taken as rigid: one mass, one spring. Real trains bend and float earlier.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from headbench.calc import FloatArray, IntArray
from headbench.calc.train.valve_motion import CRANK_PER_CAM, Motion, Peak, parabola_peak

LoadAt = Callable[[IntArray, FloatArray], FloatArray]
"""Load of the springs of positions (N,) at heights (N,) [N]."""


@dataclass(frozen=True, slots=True)
class FloatSpeed:
    """Where the train parts first, and how fast the crank turns then.

    crank_speed : array (P,), infinite where the spring is never called upon [rad/s]
    crank_speed_uncertainty : array (P,), standard uncertainty [rad/s]
    angle : array (P,), cam angle it happens at; NaN, as what follows, where the speed is infinite [rad]
    lift : array (P,), valve lift there [m]
    load : array (P,), spring load there [N]
    """

    crank_speed: FloatArray
    crank_speed_uncertainty: FloatArray
    angle: FloatArray
    lift: FloatArray
    load: FloatArray


@dataclass(frozen=True, slots=True)
class ContactForce:
    """Forces at the valve over the lobe at one crank speed.

    inertia : array (P, T), m L'' w^2, what the motion asks for [N]
    contact : array (P, T), spring load and inertia, what presses train and cam together; below 0 they part [N]
    least : array (P,), the smallest contact force while the valve is off its seat [N]
    least_angle : array (P,), cam angle of it [rad]
    """

    inertia: FloatArray
    contact: FloatArray
    least: FloatArray
    least_angle: FloatArray


@dataclass(frozen=True, slots=True)
class LoadNeeded:
    """What the springs must push for a train to follow its cam to a crank speed.

    added : array (P,), load to add at every height alike, as a tighter set-up does; negative is in hand [N]
    open_load : array (P,), load at full lift with that [N]
    factor : array (P,), or all loads times this, as a stiffer spring does [-]
    """

    added: FloatArray
    open_load: FloatArray
    factor: FloatArray


def load_over_lift(load_at: LoadAt, installed_height: FloatArray, lift: FloatArray) -> FloatArray:
    """Spring load over the lobe, F(H - L).

    Parameters
    ----------
    load_at : LoadAt
        Load of any position's springs at any height [N]
    installed_height : array (P,)
        Height of the outer spring, valve closed H [m]
    lift : array (P, T)
        Valve lift L [m]

    Returns
    -------
    array (P, T)
        Load [N]

    >>> stiffness = np.array([50e3, 60e3])
    >>> straight = lambda position, height: stiffness[position] * (0.050 - height)
    >>> load_over_lift(straight, np.array([0.040, 0.040]), np.array([[0.0, 0.01], [0.0, 0.01]])).round(6).tolist()
    [[500.0, 1000.0], [600.0, 1200.0]]
    """
    position = np.repeat(np.arange(len(lift), dtype=np.int64), lift.shape[1])
    height = installed_height[:, np.newaxis] - lift
    return load_at(position, height.ravel()).reshape(lift.shape)


def float_speed(
    motion: Motion,
    load: FloatArray,
    mass: FloatArray,
    load_uncertainty: FloatArray,
    mass_uncertainty: FloatArray,
) -> FloatSpeed:
    """Lowest crank speed at which the train parts, 2 min sqrt(F/(m |L''|)) where L'' < 0.

    Parameters
    ----------
    motion : Motion
        Motion at the valve, arrays (P, T) [-]
    load : array (P, T)
        Spring load over the lobe F [N]
    mass : array (P,)
        Moving mass reduced to the valve m [kg]
    load_uncertainty : array (P,)
        Standard uncertainty of the load, 0 where none is stated [N]
    mass_uncertainty : array (P,)
        Standard uncertainty of the mass, 0 where none is stated [kg]

    Returns
    -------
    FloatSpeed

    Notes
    -----
    Newton's second law for one mass: the cam can push but not pull, so m L'' w^2 + F is what is left
    between them, w the cam's speed. Leaves out what bends, friction, gas forces and spring surge;
    a real train floats earlier, by how much only a test tells. A load that is 0 or less while the
    valve should slow down gives speed 0; an unknown one there gives NaN.

    The uncertainty is first order, u(w)/w = half of sqrt((u_a/a)^2 + (u_F/F)^2 + (u_m/m)^2), with u_a
    the motion's own. The smallest of many values that scatter lies low on average: the speed from a
    noisy table errs to the low side, by one to two of its standard uncertainties, and by up to
    four for a lobe with a sharp nose (own derivation, by made-up scatter on polynomial lobes).

    References
    ----------
    JCGM 100:2008 (GUM), 5.1.2.

    >>> from headbench.calc.train.textbook_motions import motion_from_profile
    >>> from headbench.calc.train.valve_motion import stacked
    >>> motion = stacked([motion_from_profile("harmonic", 0.012, 1.2, 1.2)], np.array([0]))
    >>> load, exact = 500.0 + 50e3 * motion.lift, np.zeros(1)
    >>> parts = float_speed(motion, load, np.array([0.16]), exact, exact)
    >>> parts.crank_speed.round(1).tolist(), parts.angle.tolist(), parts.lift.tolist()
    ([817.8], [0.0], [0.012])
    """
    row = np.arange(len(load))
    with np.errstate(divide="ignore", invalid="ignore"):
        inverse_square = np.where(load <= 0.0, np.inf, -mass[:, np.newaxis] * motion.acceleration / load)
        peak = _most_while_braking(motion, mass, inverse_square)
        crank_speed = CRANK_PER_CAM / np.sqrt(np.maximum(peak.value, 0.0))
        somewhere = np.isfinite(crank_speed)
        angle = np.where(somewhere, peak.angle, np.nan)
        at_load = _at(motion.angle, load, peak.place, angle)
        relative = np.stack(
            [
                motion.acceleration_uncertainty[row, peak.place] / motion.acceleration[row, peak.place],
                load_uncertainty / at_load,
                mass_uncertainty / mass,
            ]
        )
        uncertainty = crank_speed / 2.0 * np.sqrt((relative**2).sum(axis=0))
    return FloatSpeed(
        crank_speed=crank_speed,
        crank_speed_uncertainty=uncertainty,
        angle=angle,
        lift=_at(motion.angle, motion.lift, peak.place, angle),
        load=at_load,
    )


def _most_while_braking(motion: Motion, mass: FloatArray, values: FloatArray) -> Peak:
    """The largest of values (P, T) where the spring has to slow the train down; -inf where it never has to."""
    braking = (motion.lift > 0.0) & (motion.acceleration < 0.0)
    unknown = np.isnan(motion.acceleration + motion.lift + mass[:, np.newaxis])
    return parabola_peak(motion.angle, np.where(unknown, np.nan, np.where(braking, values, -np.inf)))


def _at(angle: FloatArray, values: FloatArray, place: IntArray, wanted: FloatArray) -> FloatArray:
    """Values (P,) at angles (P,) no more than one sample away from place, by a straight line; NaN at a NaN."""
    row = np.arange(len(values))
    toward = np.clip(place + np.where(wanted > angle[row, place], 1, -1), 0, values.shape[1] - 1)
    step = angle[row, toward] - angle[row, place]
    part = (wanted - angle[row, place]) / np.where(step == 0.0, 1.0, step)
    here = values[row, place]
    return np.asarray(np.where(part == 0.0, here, here + part * (values[row, toward] - here)), dtype=np.float64)


def contact_force(motion: Motion, load: FloatArray, mass: FloatArray, crank_speed: float) -> ContactForce:
    """Force between train and cam over the lobe at a crank speed, F + m L'' w^2.

    Parameters
    ----------
    motion : Motion
        Motion at the valve, arrays (P, T) [-]
    load : array (P, T)
        Spring load over the lobe F [N]
    mass : array (P,)
        Moving mass reduced to the valve m [kg]
    crank_speed : float
        Crank speed; the cam's w is half of it [rad/s]

    Returns
    -------
    ContactForce

    Notes
    -----
    Told at the valve's axis; between lobe and lifter it is the rocker ratio times as much. On the seat
    the spring's load rests on the seat and not on the cam.

    >>> from headbench.calc.train.textbook_motions import motion_from_profile
    >>> from headbench.calc.train.valve_motion import stacked
    >>> motion = stacked([motion_from_profile("harmonic", 0.012, 1.2, 1.2)], np.array([0]))
    >>> forces = contact_force(motion, 500.0 + 50e3 * motion.lift, np.array([0.16]), 600.0)
    >>> forces.least.round(1).tolist()
    [507.8]
    """
    inertia = _inertia(motion, mass, crank_speed)
    contact = load + inertia
    on_cam = np.where(motion.lift > 0.0, -contact, np.where(np.isnan(motion.lift), np.nan, -np.inf))
    least = parabola_peak(motion.angle, on_cam)
    return ContactForce(inertia, contact, -least.value, least.angle)


def _inertia(motion: Motion, mass: FloatArray, crank_speed: float) -> FloatArray:
    """What the motion asks for at a crank speed, m L'' w^2 (P, T)."""
    return mass[:, np.newaxis] * motion.acceleration * (crank_speed / CRANK_PER_CAM) ** 2


def speed_reserve(float_crank_speed: FloatArray, crank_speed: float) -> FloatArray:
    """How much faster than intended the train could turn, w_float/w - 1.

    Parameters
    ----------
    float_crank_speed : array (P,)
        Crank speed the train parts at [rad/s]
    crank_speed : float
        Intended crank speed, above 0 [rad/s]

    Returns
    -------
    array (P,)
        Reserve; negative where it floats before [-]

    >>> speed_reserve(np.array([840.0]), 700.0).round(9).tolist()
    [0.2]
    """
    return float_crank_speed / crank_speed - 1.0


def load_needed(
    motion: Motion, load: FloatArray, mass: FloatArray, float_crank_speed: FloatArray, crank_speed: float
) -> LoadNeeded:
    """Least load that holds the train on its cam to a crank speed, max(m |L''| w^2 - F) more, where L'' < 0.

    Parameters
    ----------
    motion : Motion
        Motion at the valve, arrays (P, T) [-]
    load : array (P, T)
        Spring load over the lobe as it is F, above 0 [N]
    mass : array (P,)
        Moving mass reduced to the valve m [kg]
    float_crank_speed : array (P,)
        Crank speed the train parts at with that load [rad/s]
    crank_speed : float
        Wanted crank speed [rad/s]

    Returns
    -------
    LoadNeeded

    Notes
    -----
    No more of what is in hand can be given up than the seat load. A stiffer spring adds mass too, a
    third of what it weighs more: figure again with it.

    >>> from headbench.calc.train.textbook_motions import motion_from_profile
    >>> from headbench.calc.train.valve_motion import stacked
    >>> motion = stacked([motion_from_profile("harmonic", 0.012, 1.2, 1.2)], np.array([0]))
    >>> needed = load_needed(motion, 500.0 + 50e3 * motion.lift, np.array([0.16]), np.array([817.8]), 900.0)
    >>> needed.added.round(1).tolist(), needed.open_load.round(1).tolist()
    ([232.4], [1332.4])
    """
    added = _most_while_braking(motion, mass, -load - _inertia(motion, mass, crank_speed)).value
    row, full = np.arange(len(load)), motion.lift.argmax(axis=1)
    with np.errstate(divide="ignore"):
        factor = (crank_speed / float_crank_speed) ** 2
    return LoadNeeded(added, load[row, full] + added, factor)


def mass_allowed(mass: FloatArray, float_crank_speed: FloatArray, crank_speed: float) -> FloatArray:
    """Largest moving mass the same springs hold on the cam to a crank speed, m (w_float/w)^2.

    Parameters
    ----------
    mass : array (P,)
        Moving mass as it is m [kg]
    float_crank_speed : array (P,)
        Crank speed the train parts at with it [rad/s]
    crank_speed : float
        Wanted crank speed, above 0 [rad/s]

    Returns
    -------
    array (P,)
        Moving mass [kg]

    >>> mass_allowed(np.array([0.16]), np.array([800.0]), 1000.0).round(9).tolist()
    [0.1024]
    """
    return mass * (float_crank_speed / crank_speed) ** 2


def speed_gained(mass: FloatArray, float_crank_speed: FloatArray, saved: FloatArray) -> FloatArray:
    """Crank speed gained by taking off moving mass, w_float (sqrt(m/(m - saved)) - 1).

    Parameters
    ----------
    mass : array (P,)
        Moving mass as it is m [kg]
    float_crank_speed : array (P,)
        Crank speed the train parts at with it [rad/s]
    saved : array (P,)
        Mass taken off at the valve's axis, less than m; 0.001 tells the speed gained per gram [kg]

    Returns
    -------
    array (P,)
        Speed gained [rad/s]

    Notes
    -----
    A gram taken off the lifter's side counts 1/r^2 of one at the valve, one off a spring a third.

    >>> speed_gained(np.array([0.16]), np.array([800.0]), np.array([0.001])).round(4).tolist()
    [2.5118]
    """
    return float_crank_speed * (np.sqrt(mass / (mass - saved)) - 1.0)
