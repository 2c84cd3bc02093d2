"""Intake fit: what a V's intake faces and end rails need once both heads have come down alike."""

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


def intake_cuts(head_drop: float, bank_angle: float, face_tilt: float) -> IntakeCuts:
    """Cuts that let the manifold of a V fit again, n sin b/cos(b + a) and n cos a/cos(b + a).

    Parameters
    ----------
    head_drop : float
        How much nearer both heads come to the crank n [m]
    bank_angle : float
        Angle between the banks, 2 b [rad]
    face_tilt : float
        Intake face from square to the deck, positive when its normal turns up, a [rad]

    Returns
    -------
    IntakeCuts

    Notes
    -----
    Both banks alike; the manifold moves straight down and its ports stay on the head's. Where
    b + a reaches 90 degrees the faces lie flat and no lowering brings the ports in line:
    see `find_intake_faults`. Own derivation: the head's movement along the bore set equal to the manifold's
    drop less the face cut along the normal.

    >>> cuts = intake_cuts(1.0e-3, math.radians(90.0), math.radians(10.0))
    >>> round(cuts.face_cut * 1e3, 4), round(cuts.rail_cut * 1e3, 4)
    (1.2328, 1.717)
    """
    bore = 0.5 * bank_angle
    level = math.cos(bore + face_tilt)
    return IntakeCuts(
        face_cut=head_drop * math.sin(bore) / level,
        rail_cut=head_drop * math.cos(face_tilt) / level,
    )


def faces_upright(bank_angle: float, face_tilt: float) -> bool:
    """Whether the intake faces stand upright, b + a = 0, so that a manifold slides straight down between them.

    Parameters
    ----------
    bank_angle : float
        Angle between the banks, 2 b [rad]
    face_tilt : float
        Intake face from square to the deck, positive when its normal turns up, a; NaN if not measured [rad]

    Returns
    -------
    bool
        No lowering closes a gap then, and no shift moves the ports along the faces [-]

    >>> faces_upright(math.radians(90.0), math.radians(-45.0))
    True
    """
    return abs(math.sin(0.5 * bank_angle + face_tilt)) <= _FLAT


IntakeFault = Literal["no_v", "lies_flat", "faces_lie_flat", "faces_overhang"]
"""What is wrong with the angles of a V."""


def find_intake_faults(bank_angle: float, face_tilt: float) -> list[IntakeFault]:
    """Angles that leave no V to put a manifold into.

    Parameters
    ----------
    bank_angle : float
        Angle between the banks, 2 b [rad]
    face_tilt : float
        Intake face from square to the deck, positive when its normal turns up, a [rad]

    Returns
    -------
    list of fault
        "no_v": bank angle of 0 or less; "lies_flat": bank angle of 180 degrees or more; either says enough.
        "faces_lie_flat": b + a reaches 90 degrees, so that lowering the manifold never moves its ports along
        the faces; "faces_overhang": b + a is below 0, so that it cannot be lowered between them; at 0 they stand
        upright, which is a fit [-]

    >>> find_intake_faults(math.radians(90.0), math.radians(45.0))
    ['faces_lie_flat']
    >>> find_intake_faults(math.radians(90.0), math.radians(-45.0))
    []
    """
    bore = 0.5 * bank_angle
    faults: list[IntakeFault] = []
    if bore <= _FLAT:
        return ["no_v"]
    if math.cos(bore) <= _FLAT:
        return ["lies_flat"]
    if math.cos(bore + face_tilt) <= _FLAT:
        faults.append("faces_lie_flat")
    if math.sin(bore + face_tilt) < -_FLAT:
        faults.append("faces_overhang")
    return faults
