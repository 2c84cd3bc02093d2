"""Intake banks: a V whose two heads have not moved alike, its manifold taken as one rigid body.

Arrays have the left bank first, the right one second, as seen from one end of the engine with the cylinders up.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from headbench.calc import FloatArray
from headbench.calc.intake.faces import faces_upright
from headbench.calc.intake.seat import ManifoldSeat, closed_seat, least_of
from headbench.calc.judging.grid import GRID


@dataclass(frozen=True, slots=True)
class IntakeV:
    """The cross-section of a V as it was made, both banks alike.

    bank_angle : float, between the banks' bores [rad]
    face_tilt : float, intake face from square to the deck, positive when its normal turns up [rad]
    face_spacing : float, between the middles of the two intake faces [m]
    face_width : float, of an intake face from its bottom to its top edge [m]
    face_height : float, from the deck to the middle of an intake face, along the bore [m]
    """

    bank_angle: float
    face_tilt: float
    face_spacing: float
    face_width: float
    face_height: float


@dataclass(frozen=True, slots=True)
class HeadMoves:
    """What has moved the two heads.

    deck_cut : array (2,), off each head's deck below the middle of its intake face, square to the old deck [m]
    block_drop : array (2,), how far the block's decking, less the gasket's change, brings each head down its bore [m]
    tilt : array (2,), turn of each head by an angle cut, positive with more taken off toward the valley; 0 flat [rad]
    """

    deck_cut: FloatArray
    block_drop: FloatArray
    tilt: FloatArray

    @property
    def head_drop(self) -> FloatArray:
        """How much nearer each head comes to the crank, at the deck below its intake face [m]."""
        return np.asarray(self.deck_cut + self.block_drop, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class BankCuts:
    """What to cut so that the ports stay in line and both faces close.

    face_cut : array (2, 2), off each bank's face (rows) at its top and bottom edge (columns), square to the
        manifold's face; negative for metal that would have to be added [m]
    missing : array (2,), the most that would have to be added on each bank: cutting cannot mend it [m]
    seat : ManifoldSeat, where the manifold then sits [-]
    """

    face_cut: FloatArray
    missing: FloatArray
    seat: ManifoldSeat


@dataclass(frozen=True, slots=True)
class BankMisfit:
    """How the heads' faces stand to the manifold's.

    gap : array (2, 2), at each bank's face (rows), top and bottom edge (columns), negative where they overlap [m]
    misalignment : array (2,), ports and bolt holes of the head below (+) the manifold's along the face [m]
    """

    gap: FloatArray
    misalignment: FloatArray


def bank_cuts(v: IntakeV, moves: HeadMoves, manifold_tilt: float) -> BankCuts:
    """Cuts for two banks that have not moved alike: the manifold's place from its ports, then the faces.

    Parameters
    ----------
    v : IntakeV
        Cross-section before [-]
    moves : HeadMoves
        What has moved the heads [-]
    manifold_tilt : float
        Turn that the manifold shall take, right side up positive; 0 keeps it level [rad]

    Returns
    -------
    BankCuts
        NaN where no place of the manifold brings both sides' ports in line: heads that came down unlike, with
        faces that stand upright [-]

    Notes
    -----
    Heads that were cut flat keep the direction of their faces, however unequal: the manifold then moves
    sideways and down and stays level, and the bank that came down less needs the thicker face cut. A
    wedge turns a face: tapered cuts, or, as far as both heads turned the same way round, a tilted
    manifold. Exact for any turn, with the new deck's point below the face put where the old one lay, and then down
    the block's bore by what came off the block; dowels that stand elsewhere shift it by the second order.
    Own derivation.

    >>> v = IntakeV(np.deg2rad(90.0), np.deg2rad(10.0), 0.25, 0.06, 0.05)
    >>> cuts = bank_cuts(v, HeadMoves(np.array([1.0e-3, 1.0e-3]), np.zeros(2), np.zeros(2)), 0.0)
    >>> (cuts.face_cut[0] * 1e3).round(4).tolist(), round(cuts.seat.drop * 1e3, 4)
    ([1.2328, 1.2328], 1.717)
    """
    banks = _banks(v, moves, manifold_tilt)
    moved = _port_move(banks, upright=faces_upright(v.bank_angle, v.face_tilt))
    cuts = [[_dot(bank.normal, edge - (bank.manifold_middle + moved)) for edge in bank.head_edge] for bank in banks]
    short = [-least_of(row) for row in cuts]
    return BankCuts(
        face_cut=np.array(cuts),
        missing=np.array([max(by, 0.0) for by in short]),
        seat=ManifoldSeat(sideways=moved.real, drop=-moved.imag, tilt=manifold_tilt),
    )


def bank_misfit(v: IntakeV, moves: HeadMoves, face_cut: FloatArray, seat: ManifoldSeat) -> BankMisfit:
    """Gaps and misalignment at both faces, wherever the manifold sits and whatever has been cut.

    Parameters
    ----------
    v : IntakeV
        Cross-section before [-]
    moves : HeadMoves
        What has moved the heads [-]
    face_cut : array (2, 2)
        What came off each face (rows) at its top and bottom edge (columns); 0 uncut [m]
    seat : ManifoldSeat
        Where the manifold sits; all 0 on uncut end rails [-]

    Returns
    -------
    BankMisfit

    >>> v = IntakeV(np.deg2rad(90.0), 0.0, 0.25, 0.06, 0.05)
    >>> one_down = HeadMoves(np.array([0.0, 1.0e-3]), np.zeros(2), np.zeros(2))
    >>> uncut = bank_misfit(v, one_down, np.zeros((2, 2)), ManifoldSeat(0.0, 0.0, 0.0))
    >>> (uncut.misalignment * 1e3).round(9).tolist()
    [0.0, 1.0]
    """
    banks, moved = _banks(v, moves, seat.tilt), complex(seat.sideways, -seat.drop)
    places = [bank.manifold_middle + moved for bank in banks]
    return BankMisfit(
        gap=np.array(
            [
                [_dot(bank.normal, place - edge) for edge in bank.head_edge]
                for bank, place in zip(banks, places, strict=True)
            ]
        )
        + face_cut,
        misalignment=np.array(
            [_dot(bank.along, place - bank.head_middle) for bank, place in zip(banks, places, strict=True)]
        ),
    )


def settled_seat(v: IntakeV, moves: HeadMoves, face_cut: FloatArray, rail_room: float) -> ManifoldSeat:
    """Where a manifold that stays level comes to rest: on both faces, or on its end rails before.

    Parameters
    ----------
    v : IntakeV
        Cross-section before [-]
    moves : HeadMoves
        What has moved the heads [-]
    face_cut : array (2, 2)
        What came off each face (rows) at its top and bottom edge (columns); 0 uncut [m]
    rail_room : float
        How far the manifold can come down before it stands on its end rails; infinite for none [m]

    Returns
    -------
    ManifoldSeat
        Drop negative where the faces meet early and the manifold rides up off its rails [-]

    Notes
    -----
    On its rails it can be shifted; it is put where both faces are open by the same amount. Bolts that
    bend the manifold, and gaskets that give, are left out.

    >>> v = IntakeV(np.deg2rad(90.0), 0.0, 0.25, 0.06, 0.05)
    >>> face_cut = np.array([[1.0e-3, 1.0e-3], [0.0, 0.0]])
    >>> seat = settled_seat(v, HeadMoves(np.zeros(2), np.zeros(2), np.zeros(2)), face_cut, np.inf)
    >>> round(seat.sideways * 1e3, 6), round(seat.drop * 1e3, 6)
    (-0.707107, 0.707107)
    """
    return settled_from(bank_misfit(v, moves, face_cut, ManifoldSeat(0.0, 0.0, 0.0)).gap, v, rail_room)


def settled_from(gap: FloatArray, v: IntakeV, rail_room: float) -> ManifoldSeat:
    """Where a level manifold comes to rest from where it was: `settled_seat` of gaps that are known already.

    Parameters
    ----------
    gap : array (2, 2)
        Open at each bank's face (rows), top and bottom edge (columns), the manifold where it was [m]
    v : IntakeV
        Cross-section before [-]
    rail_room : float
        How far the manifold can come down before it stands on its end rails; infinite for none [m]

    Returns
    -------
    ManifoldSeat

    >>> v = IntakeV(np.deg2rad(90.0), 0.0, 0.25, 0.06, 0.05)
    >>> seat = settled_from(np.array([[1.0e-3, 1.0e-3], [0.0, 0.0]]), v, math.inf)
    >>> round(seat.sideways * 1e3, 6), round(seat.drop * 1e3, 6)
    (-0.707107, 0.707107)
    """
    return closed_seat([least_of(row) for row in gap.tolist()], v.bank_angle, v.face_tilt, rail_room)


@dataclass(frozen=True, slots=True)
class _Bank:
    """One bank of the cross-section as complex numbers, right and up; a turn is a factor.

    Where its head has come to, and the manifold turned about its middle but not yet moved.
    """

    along: complex
    normal: complex
    manifold_middle: complex
    head_middle: complex
    head_edge: tuple[complex, complex]


def _banks(v: IntakeV, moves: HeadMoves, manifold_tilt: float) -> list[_Bank]:
    half = 0.5 * v.bank_angle
    direction = half + v.face_tilt
    manifold_turn = cmath.exp(complex(0.0, manifold_tilt))
    banks = []
    for side, cut, block, tilt in zip(
        (-1.0, 1.0), moves.deck_cut.tolist(), moves.block_drop.tolist(), moves.tilt.tolist(), strict=True
    ):
        bore = complex(side * math.sin(half), math.cos(half))
        along = complex(side * math.sin(direction), math.cos(direction))
        normal = complex(-side * math.cos(direction), math.sin(direction))
        middle = complex(0.5 * side * v.face_spacing, 0.0)
        head_turn = cmath.exp(complex(0.0, side * tilt))
        # the cut goes with the head, which turns; block and gasket lie square to the bore, which does not
        drop = cut * head_turn + block
        head_middle = middle + bore * (v.face_height * (head_turn - 1.0) - drop)
        up = 0.5 * v.face_width * along * head_turn
        banks.append(
            _Bank(
                along=along * manifold_turn,
                normal=normal * manifold_turn,
                manifold_middle=middle * manifold_turn,
                head_middle=head_middle,
                head_edge=(head_middle + up, head_middle - up),
            )
        )
    return banks


def _port_move(banks: Sequence[_Bank], *, upright: bool) -> complex:
    """How the manifold moves so that the middles of its faces come level with the heads' along both faces."""
    apart = [bank.head_middle - bank.manifold_middle for bank in banks]
    left, right = (_dot(bank.along, by) for bank, by in zip(banks, apart, strict=True))
    if upright:
        # both faces run the same way: one height serves both or none does, and sideways it is put in the middle
        return 0.5 * (apart[0] + apart[1]) if abs(right - left) < GRID else complex(math.nan, math.nan)
    one, other = (bank.along for bank in banks)
    determinant = one.real * other.imag - one.imag * other.real
    sideways = (left * other.imag - right * one.imag) / determinant
    return complex(sideways, (one.real * right - other.real * left) / determinant)


def _dot(one: complex, other: complex) -> float:
    return one.real * other.real + one.imag * other.imag
