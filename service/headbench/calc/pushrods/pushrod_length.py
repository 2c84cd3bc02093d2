"""Pushrod length: how much shorter it must be once the head has come down, and what the lifter makes of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from operator import mul
from typing import Final, Literal

from headbench.calc import FloatArray
from headbench.calc.judging.alike import N, cos, sin, sqrt


def pushrod_shortening(head_drop: N, pushrod_length: N | float, pushrod_angle: N | float) -> N:
    """How much nearer the pushrod's ends come, L - sqrt((L cos g - n)^2 + (L sin g)^2).

    Parameters
    ----------
    head_drop : float or array (V,)
        How far the head drops toward the crank n [m]
    pushrod_length : float or array (V,)
        Length between the pushrod's ends before L [m]
    pushrod_angle : float or array (V,)
        Between pushrod and bore axis g, valve closed [rad]

    Returns
    -------
    float or array (V,)
        Shortening; what the preload of a hydraulic lifter grows by with the old pushrod [m]

    Notes
    -----
    Exact distance between the ends; n cos g is its first order. The rocker comes down with the head; how an
    angle cut swings it sideways is left out: height over the deck times sin tilt times sin g, 0.012 in at
    5 in, 1 degree and 8 degrees. Own derivation.

    >>> round(pushrod_shortening(1.0e-3, 0.2, 0.0), 9)
    0.001
    """
    along = pushrod_length * cos(pushrod_angle)
    after = sqrt((along - head_drop) ** 2 + (pushrod_length * sin(pushrod_angle)) ** 2)
    # the difference of squares over the sum: subtracting the lengths would lose the digits that count
    return head_drop * (2.0 * along - head_drop) / (pushrod_length + after)


@dataclass(frozen=True, slots=True)
class PushrodStand:
    """How a pushrod stands before anything comes off.

    length : float, between its ends [m]
    angle : float, between pushrod and bore axis [rad]
    """

    length: float
    angle: float


def pushrod_between(
    lifter_end: Sequence[float], rocker_end: Sequence[float], bore_direction: Sequence[float]
) -> PushrodStand:
    """Length of a pushrod and how it leans, from where its ends are, |p - q| and its angle to the bore.

    Parameters
    ----------
    lifter_end : sequence of float (3)
        Pushrod's end in the lifter q, valve closed [m]
    rocker_end : sequence of float (3)
        Pushrod's end in the rocker p, valve closed [m]
    bore_direction : sequence of float (3)
        Along the bore from crank to head, any length but 0 [-]

    Returns
    -------
    PushrodStand

    >>> stand = pushrod_between([0.0, 0.0, 0.0], [0.0, 0.1, 0.1], [0.0, 0.0, 1.0])
    >>> round(stand.length, 6), round(math.degrees(stand.angle), 9)
    (0.141421, 45.0)
    """
    pushrod = [rocker - lifter for lifter, rocker in zip(lifter_end, rocker_end, strict=True)]
    length = math.hypot(*pushrod)
    along = sum(map(mul, pushrod, bore_direction)) / math.hypot(*bore_direction)
    return PushrodStand(length, math.atan2(math.sqrt(max(length**2 - along**2, 0.0)), along))


def preload_after(preload: N, shortening: N | float) -> N:
    """Preload of a hydraulic lifter after the work with the pushrod that was there, p + shortening.

    Parameters
    ----------
    preload : float or array (V,)
        Preload before; NaN where it was not measured [m]
    shortening : float or array (V,)
        How much nearer the pushrod's ends come: `pushrod_shortening`, and `preload_from_sunk_valve` [m]

    Returns
    -------
    float or array (V,)
        Preload after; negative for lash at the lifter [m]

    >>> round(preload_after(1.0e-3, 0.5e-3), 9)
    0.0015
    """
    return preload + shortening


def preload_from_sunk_valve(sink: N, rocker_ratio: N | float) -> N:
    """Preload that a lifter gains from a valve that sits deeper, s/r.

    Parameters
    ----------
    sink : float or array (V,)
        How much taller the stem stands: `piston_to_valve.sunk_valve` s [m]
    rocker_ratio : float or array (V,)
        Travel of the rocker at the valve per travel at the pushrod r [-]

    Returns
    -------
    float or array (V,)
        Gain, which adds to the shortening [m]

    Notes
    -----
    The rocker turns about a pivot that stays: its valve end goes up, its pushrod end down. Small
    angles. Own derivation.

    >>> round(preload_from_sunk_valve(0.75e-3, 1.5), 9)
    0.0005
    """
    return sink / rocker_ratio


def length_for_preload(mock_up_length: N, mock_up_preload: N, target_preload: N | float) -> N:
    """Pushrod length that gives a wanted preload, mocked up + wanted - read.

    Parameters
    ----------
    mock_up_length : float or array (V,)
        Length of the checking pushrod [m]
    mock_up_preload : float or array (V,)
        Preload read with it, lifter on the base circle of its lobe; negative for lash at the lifter [m]
    target_preload : float or array (V,)
        Preload wanted [m]

    Returns
    -------
    float or array (V,)
        Pushrod length [m]

    Notes
    -----
    Preload grows one to one with length while lifter and pushrod stand in line; a pushrod that leans by g
    against its lifter gives cos g of it. Lengths must be measured the same way, over the ends or to
    the gauge's oil hole. Own derivation.

    >>> round(length_for_preload(0.2000, 0.25e-3, 1.0e-3), 9)
    0.20075
    """
    return mock_up_length + (target_preload - mock_up_preload)


def nut_turns(change: N, thread_pitch: float, lever_ratio: N | float) -> N:
    """Turns of an adjustable rocker's nut that move the pushrod's end by so much, z/(pitch lever).

    Parameters
    ----------
    change : float or array (V,)
        Movement wanted at the pushrod's end of the rocker, down (tighter) positive z [m]
    thread_pitch : float
        Travel of the nut per turn [m]
    lever_ratio : float or array (V,)
        Travel of the pushrod's end per travel of the nut: (x + y)/y with the nut over the pivot, x its
        distance to the pushrod, y to the valve tip; 1 with an adjuster over the pushrod [-]

    Returns
    -------
    float or array (V,)
        Turns, tighter positive [-]

    Notes
    -----
    The rocker turns about the valve's tip as its pivot moves, so the pushrod's end goes further than
    the nut. Small angles. Own derivation.

    >>> round(nut_turns(2.0e-3, 1.25e-3, 1.6), 9)
    1.0
    """
    return change / (thread_pitch * lever_ratio)


PushrodFault = tuple[Literal["no_length", "lies_across", "passes_its_end"], int]
"""What is wrong with a pushrod, and its place."""


def find_pushrod_faults(
    head_drop: FloatArray | Sequence[float],
    pushrod_length: FloatArray | Sequence[float],
    pushrod_angle: FloatArray | Sequence[float],
) -> list[PushrodFault]:
    """Pushrods that cannot stand as they are said to.

    Parameters
    ----------
    head_drop : array (V,) or sequence of float
        How far the head drops toward the crank [m]
    pushrod_length : array (V,) or sequence of float
        Length between the pushrod's ends before [m]
    pushrod_angle : array (V,) or sequence of float
        Between pushrod and bore axis [rad]

    Returns
    -------
    list of (fault, place)
        "no_length": both ends at one place; "lies_across": at 90 degrees to the bore or more;
        "passes_its_end": the head would come down past the lifter's end of the pushrod [-]

    >>> find_pushrod_faults([1.0e-3], [0.2], [math.pi / 2])
    [('lies_across', 0)]
    """
    found: dict[int, PushrodFault] = {}
    for place, (drop, length, angle) in enumerate(zip(head_drop, pushrod_length, pushrod_angle, strict=True)):
        if length <= 0.0:
            found[place] = ("no_length", place)
        elif abs(angle) >= 0.5 * math.pi:
            found[place] = ("lies_across", place)
        elif drop >= length * math.cos(angle):
            found[place] = ("passes_its_end", place)
    return sorted(found.values(), key=lambda fault: _ORDER.index(fault[0]))


_ORDER: Final = ("no_length", "lies_across", "passes_its_end")
