"""Intake fit: what a V's intake faces, ports and end rails need once the heads have come nearer to the crank."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

# cos(b + a) is a difference of near-equal numbers at 90 degrees; closer than this it is nothing.
_FLAT: Final = 1e-9


@dataclass(frozen=True, slots=True)
class IntakeCuts:
    """What to cut so that a manifold fits as it did; negative for metal that would have to be added.

    face_cut : float, off each intake face, square to it, on head or manifold [m]
    rail_cut : float, off each end rail: how far the manifold comes straight down [m]
    """

    face_cut: float
    rail_cut: float


@dataclass(frozen=True, slots=True)
class IntakeMisfit:
    """How a face of the head stands to the manifold's.

    gap : float, between the faces along their normal; negative where they would overlap [m]
    misalignment : float, ports and bolt holes of the head below (+) the manifold's along the face [m]
    """

    gap: float
    misalignment: float


def intake_cuts(approach: float, bank_half_angle: float, face_tilt: float) -> IntakeCuts:
    """Cuts that let the manifold of a V fit again, n sin b/cos(b + a) and n cos a/cos(b + a).

    Parameters
    ----------
    approach : float
        Net approach of both heads n [m]
    bank_half_angle : float
        Bore axis from vertical b [rad]
    face_tilt : float
        Intake face from square to the deck, positive when its normal turns up, a [rad]

    Returns
    -------
    IntakeCuts

    Notes
    -----
    Both banks alike; the manifold moves straight down and its ports stay on the head's. Where
    b + a reaches 90 degrees the faces lie flat and no lowering brings the ports in line:
    see `find_intake_faults`. Derived from the vectors of `intake_misfit` set to nothing.

    >>> cuts = intake_cuts(1.0e-3, math.radians(45.0), math.radians(10.0))
    >>> round(cuts.face_cut * 1e3, 4), round(cuts.rail_cut * 1e3, 4)
    (1.2328, 1.717)
    """
    level = math.cos(bank_half_angle + face_tilt)
    return IntakeCuts(
        face_cut=approach * math.sin(bank_half_angle) / level,
        rail_cut=approach * math.cos(face_tilt) / level,
    )


def intake_misfit(
    approach: float, bank_half_angle: float, face_tilt: float, face_cut: float, manifold_drop: float
) -> IntakeMisfit:
    """Gap and misalignment at one face, n sin a + f - m sin(b + a) and n cos a - m cos(b + a).

    Parameters
    ----------
    approach : float
        Net approach of the head n [m]
    bank_half_angle : float
        Bore axis from vertical b [rad]
    face_tilt : float
        Intake face from square to the deck, positive when its normal turns up, a [rad]
    face_cut : float
        What came off the face, square to it f; 0 uncut [m]
    manifold_drop : float
        How far the manifold has come straight down m; 0 on uncut end rails [m]

    Returns
    -------
    IntakeMisfit

    Notes
    -----
    With a square face and nothing cut there is no gap at all, only misalignment: a feeler gauge
    finds nothing.

    >>> uncut = intake_misfit(1.0e-3, math.radians(45.0), 0.0, 0.0, 0.0)
    >>> uncut.gap, round(uncut.misalignment * 1e3, 9)
    (0.0, 1.0)
    """
    face_direction = bank_half_angle + face_tilt
    return IntakeMisfit(
        gap=approach * math.sin(face_tilt) + face_cut - manifold_drop * math.sin(face_direction),
        misalignment=approach * math.cos(face_tilt) - manifold_drop * math.cos(face_direction),
    )


IntakeFault = Literal["no_v", "lies_flat", "faces_lie_flat", "faces_overhang"]
"""What is wrong with the angles of a V."""


def find_intake_faults(bank_half_angle: float, face_tilt: float) -> list[IntakeFault]:
    """Angles that leave no V to put a manifold into.

    Parameters
    ----------
    bank_half_angle : float
        Bore axis from vertical b [rad]
    face_tilt : float
        Intake face from square to the deck, positive when its normal turns up, a [rad]

    Returns
    -------
    list of fault
        "no_v": half angle of 0 or less; "lies_flat": half angle of 90 degrees or more; either says enough.
        "faces_lie_flat": b + a reaches 90 degrees, so that lowering the manifold never moves its ports along
        the faces; "faces_overhang": b + a is 0 or less, so that it cannot be lowered onto them [-]

    >>> find_intake_faults(math.radians(45.0), math.radians(45.0))
    ['faces_lie_flat']
    """
    faults: list[IntakeFault] = []
    if bank_half_angle <= _FLAT:
        return ["no_v"]
    if math.cos(bank_half_angle) <= _FLAT:
        return ["lies_flat"]
    if math.cos(bank_half_angle + face_tilt) <= _FLAT:
        faults.append("faces_lie_flat")
    if math.sin(bank_half_angle + face_tilt) <= _FLAT:
        faults.append("faces_overhang")
    return faults
