"""Pushrod length: how much shorter it must be once the head has come down, and what the lifter makes of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from headbench.calc import FloatArray


def pushrod_shortening(
    head_drop: FloatArray, pushrod_length: FloatArray | float, pushrod_angle: FloatArray | float
) -> FloatArray:
    """How much nearer the pushrod's ends come, L - sqrt((L cos g - n)^2 + (L sin g)^2).

    Parameters
    ----------
    head_drop : array (V,)
        How far the head drops toward the crank n [m]
    pushrod_length : array (V,) or float
        Length between the pushrod's ends before L [m]
    pushrod_angle : array (V,) or float
        Between pushrod and bore axis g, valve closed [rad]

    Returns
    -------
    array (V,)
        Shortening; what the preload of a hydraulic lifter grows by with the old pushrod [m]

    Notes
    -----
    Exact distance between the ends; n cos g is its first order. The rocker comes down with the head; how an
    angle cut swings it sideways is left out: height over the deck times sin tilt times sin g, 0.012 in at
    5 in, 1 degree and 8 degrees. Own derivation.

    >>> pushrod_shortening(np.array([1.0e-3]), 0.2, 0.0).round(9).tolist()
    [0.001]
    """
    along = pushrod_length * np.cos(pushrod_angle)
    after = np.hypot(along - head_drop, pushrod_length * np.sin(pushrod_angle))
    # the difference of squares over the sum: subtracting the lengths would lose the digits that count
    return np.asarray(head_drop * (2.0 * along - head_drop) / (pushrod_length + after), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class PushrodStand:
    """How pushrods stand before anything comes off.

    length : array (V,), between their ends [m]
    angle : array (V,), between pushrod and bore axis [rad]
    """

    length: FloatArray
    angle: FloatArray


def pushrod_between(lifter_end: FloatArray, rocker_end: FloatArray, bore_direction: FloatArray) -> PushrodStand:
    """Length of pushrods and how they lean, from where their ends are, |p - q| and its angle to the bore.

    Parameters
    ----------
    lifter_end : array (V, 3)
        Pushrod's end in the lifter q, valve closed [m]
    rocker_end : array (V, 3)
        Pushrod's end in the rocker p, valve closed [m]
    bore_direction : array (3,)
        Along the bore from crank to head, any length but 0 [-]

    Returns
    -------
    PushrodStand

    >>> stand = pushrod_between(np.array([[0.0, 0.0, 0.0]]), np.array([[0.0, 0.1, 0.1]]), np.array([0.0, 0.0, 1.0]))
    >>> stand.length.round(6).tolist(), np.rad2deg(stand.angle).round(9).tolist()
    ([0.141421], [45.0])
    """
    pushrod = rocker_end - lifter_end
    length = np.linalg.norm(pushrod, axis=-1)
    along = pushrod @ bore_direction / np.linalg.norm(bore_direction)
    angle = np.arctan2(np.sqrt(np.maximum(np.square(length) - np.square(along), 0.0)), along)
    return PushrodStand(np.asarray(length, dtype=np.float64), np.asarray(angle, dtype=np.float64))


def preload_after(preload: FloatArray, shortening: FloatArray | float) -> FloatArray:
    """Preload of a hydraulic lifter after the work with the pushrod that was there, p + shortening.

    Parameters
    ----------
    preload : array (V,)
        Preload before; NaN where it was not measured [m]
    shortening : array (V,) or float
        How much nearer the pushrod's ends come: `pushrod_shortening`, and `preload_from_sunk_valve` [m]

    Returns
    -------
    array (V,)
        Preload after; negative for lash at the lifter [m]

    >>> preload_after(np.array([1.0e-3]), 0.5e-3).round(9).tolist()
    [0.0015]
    """
    return np.asarray(preload + shortening, dtype=np.float64)


def preload_from_sunk_valve(sink: FloatArray, rocker_ratio: FloatArray | float) -> FloatArray:
    """Preload that a lifter gains from a valve that sits deeper, s/r.

    Parameters
    ----------
    sink : array (V,)
        How much taller the stem stands: `piston_to_valve.sunk_valve` s [m]
    rocker_ratio : array (V,) or float
        Travel of the rocker at the valve per travel at the pushrod r [-]

    Returns
    -------
    array (V,)
        Gain, which adds to the shortening [m]

    Notes
    -----
    The rocker turns about a pivot that stays: its valve end goes up, its pushrod end down. Small
    angles. Own derivation.

    >>> preload_from_sunk_valve(np.array([0.75e-3]), 1.5).round(9).tolist()
    [0.0005]
    """
    return np.asarray(sink / rocker_ratio, dtype=np.float64)


def length_for_preload(
    mock_up_length: FloatArray, mock_up_preload: FloatArray, target_preload: FloatArray | float
) -> FloatArray:
    """Pushrod length that gives a wanted preload, mocked up + wanted - read.

    Parameters
    ----------
    mock_up_length : array (V,)
        Length of the checking pushrod [m]
    mock_up_preload : array (V,)
        Preload read with it, lifter on the base circle of its lobe; negative for lash at the lifter [m]
    target_preload : array (V,) or float
        Preload wanted [m]

    Returns
    -------
    array (V,)
        Pushrod length [m]

    Notes
    -----
    Preload grows one to one with length while lifter and pushrod stand in line; a pushrod that leans by g
    against its lifter gives cos g of it. Lengths must be measured the same way, over the ends or to
    the gauge's oil hole. Own derivation.

    >>> length_for_preload(np.array([0.2000]), np.array([0.25e-3]), 1.0e-3).round(9).tolist()
    [0.20075]
    """
    return np.asarray(mock_up_length + (target_preload - mock_up_preload), dtype=np.float64)


def nut_turns(change: FloatArray, thread_pitch: float, lever_ratio: FloatArray | float) -> FloatArray:
    """Turns of an adjustable rocker's nut that move the pushrod's end by so much, z/(pitch lever).

    Parameters
    ----------
    change : array (V,)
        Movement wanted at the pushrod's end of the rocker, down (tighter) positive z [m]
    thread_pitch : float
        Travel of the nut per turn [m]
    lever_ratio : array (V,) or float
        Travel of the pushrod's end per travel of the nut: (x + y)/y with the nut over the pivot, x its
        distance to the pushrod, y to the valve tip; 1 with an adjuster over the pushrod [-]

    Returns
    -------
    array (V,)
        Turns, tighter positive [-]

    Notes
    -----
    The rocker turns about the valve's tip as its pivot moves, so the pushrod's end goes further than
    the nut. Small angles. Own derivation.

    >>> nut_turns(np.array([2.0e-3]), 1.25e-3, 1.6).round(9).tolist()
    [1.0]
    """
    return np.asarray(change / (thread_pitch * lever_ratio), dtype=np.float64)


PushrodFault = tuple[Literal["no_length", "lies_across", "passes_its_end"], int]
"""What is wrong with a pushrod, and its place."""


def find_pushrod_faults(
    head_drop: FloatArray, pushrod_length: FloatArray, pushrod_angle: FloatArray
) -> list[PushrodFault]:
    """Pushrods that cannot stand as they are said to.

    Parameters
    ----------
    head_drop : array (V,)
        How far the head drops toward the crank [m]
    pushrod_length : array (V,)
        Length between the pushrod's ends before [m]
    pushrod_angle : array (V,)
        Between pushrod and bore axis [rad]

    Returns
    -------
    list of (fault, place)
        "no_length": both ends at one place; "lies_across": at 90 degrees to the bore or more;
        "passes_its_end": the head would come down past the lifter's end of the pushrod [-]

    >>> find_pushrod_faults(np.array([1.0e-3]), np.array([0.2]), np.array([np.pi / 2]))
    [('lies_across', 0)]
    """
    none = pushrod_length <= 0.0
    across = ~none & (np.abs(pushrod_angle) >= 0.5 * np.pi)
    past = ~none & ~across & (head_drop >= pushrod_length * np.cos(pushrod_angle))
    faults: list[PushrodFault] = [("no_length", place) for place in np.flatnonzero(none).tolist()]
    faults += [("lies_across", place) for place in np.flatnonzero(across).tolist()]
    faults += [("passes_its_end", place) for place in np.flatnonzero(past).tolist()]
    return faults
