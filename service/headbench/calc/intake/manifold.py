"""Manifold: what the intake of a V needs once its heads have moved, and what happens where nothing is cut."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from headbench.calc import FloatArray
from headbench.calc.intake.banks import (
    BankCuts,
    BankMisfit,
    HeadMoves,
    IntakeV,
    bank_cuts,
    bank_misfit,
    settled_from,
)
from headbench.calc.intake.seat import ManifoldSeat, SealingCuts, sealing_cuts
from headbench.calc.movement.movement import Movement

SAME: Final = 1e-12
"""What differs by less is the same number written in another unit [m, rad]."""

IN_PLACE: Final = ManifoldSeat(0.0, 0.0, 0.0)
_UNCUT: Final = np.zeros((2, 2))


@dataclass(frozen=True, slots=True)
class IntakeSide:
    """The intake of a V as it was made, both banks alike; its sizes matter to an angle cut only, NaN not measured.

    bank_angle : float, between the banks' bores [rad]
    face_tilt : float, intake face from square to the deck, positive when its normal turns up; NaN not measured [rad]
    rail_room : float, how far the manifold can come down before it stands on its end rails [m]
    distance_across : float, where the deck lies below the middle of the intake face [m]
    face_spacing : float, between the middles of the two intake faces [m]
    face_width : float, of an intake face from its bottom to its top edge [m]
    face_height : float, from the deck to the middle of an intake face, along the bore [m]
    """

    bank_angle: float
    face_tilt: float = math.nan
    rail_room: float = 0.0
    distance_across: float = math.nan
    face_spacing: float = math.nan
    face_width: float = math.nan
    face_height: float = math.nan

    @property
    def sizes(self) -> tuple[float, float, float, float]:
        """The sizes that an angle cut asks for [m]."""
        return self.distance_across, self.face_spacing, self.face_width, self.face_height


@dataclass(frozen=True, slots=True)
class Standing:
    """Where the manifold stands, and how the faces meet it.

    seat : ManifoldSeat
    misfit : BankMisfit
    """

    seat: ManifoldSeat
    misfit: BankMisfit


@dataclass(frozen=True, slots=True)
class IntakeFit:
    """A V whose heads have moved, this head first, the other one second.

    v : IntakeV, as it was made
    moves : HeadMoves, what has moved the heads
    level : BankCuts, what puts the ports in line with the manifold kept level
    tilted : BankCuts or None, the same with the manifold turned; None where the heads turn alike
    sealing : SealingCuts, what closes both faces with the least metal off
    uncut_in_place : Standing, faces and rails uncut, the manifold held where it was
    uncut_at_rest : Standing, faces and rails uncut, the manifold where it comes to rest
    faces_cut_only : Standing, faces cut as in `level`, the rails not, the manifold at rest
    """

    v: IntakeV
    moves: HeadMoves
    level: BankCuts
    tilted: BankCuts | None
    sealing: SealingCuts
    uncut_in_place: Standing
    uncut_at_rest: Standing
    faces_cut_only: Standing


def fit_manifold(intake: IntakeSide, this_head: Movement, other_head: Movement) -> IntakeFit | None:
    """What faces, ports and end rails of a V need once both heads have moved, and what happens without.

    Parameters
    ----------
    intake : IntakeSide
        The intake as it was made [-]
    this_head : Movement
        What lets this head drop [-]
    other_head : Movement
        What lets the other one drop [-]

    Returns
    -------
    IntakeFit or None
        None while the tilt of the faces is not known, or after an angle cut one of the sizes [-]

    Notes
    -----
    `bank_cuts`, `sealing_cuts`, `bank_misfit` and `settled_from` say what each part rests on; `find_intake_faults`
    finds angles that leave no V.

    >>> flat = Movement(depth=1.0e-3)
    >>> fit = fit_manifold(IntakeSide(math.radians(90.0), math.radians(10.0)), flat, flat)
    >>> (fit.level.face_cut[0] * 1e3).round(4).tolist(), round(fit.level.seat.drop * 1e3, 4)
    ([1.2328, 1.2328], 1.717)
    """
    both = this_head, other_head
    flat = all(one.flat for one in both)
    if math.isnan(intake.face_tilt) or (not flat and any(map(math.isnan, intake.sizes))):
        return None
    # flat cuts turn no face, so that the sizes nobody gave have no say
    across, spacing, width, height = (0.0 if math.isnan(size) else size for size in intake.sizes)
    v = IntakeV(intake.bank_angle, intake.face_tilt, spacing, width, height)
    moves = HeadMoves(
        deck_cut=np.array([one.depth_at(across) for one in both]),
        block_drop=np.array([one.block_decked - one.gasket_thickness_change for one in both]),
        tilt=np.array([one.tilt for one in both]),
    )
    turned = 0.5 * (other_head.tilt - this_head.tilt)
    uncut = bank_misfit(v, moves, _UNCUT, IN_PLACE)
    level = bank_cuts(v, moves, 0.0)

    def at_rest(face_cut: FloatArray) -> Standing:
        seat = settled_from(uncut.gap + face_cut, v, intake.rail_room)
        return Standing(seat, bank_misfit(v, moves, face_cut, seat))

    return IntakeFit(
        v=v,
        moves=moves,
        level=level,
        tilted=bank_cuts(v, moves, turned) if abs(turned) > SAME else None,
        sealing=sealing_cuts(uncut.gap, uncut.misalignment, v.bank_angle, v.face_tilt),
        uncut_in_place=Standing(IN_PLACE, uncut),
        uncut_at_rest=at_rest(_UNCUT),
        # metal that would have to be added is not there, so those faces stay as they are
        faces_cut_only=at_rest(np.maximum(level.face_cut, 0.0)),
    )
