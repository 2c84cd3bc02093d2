"""Intake banks: a V whose two heads have not moved alike, its manifold taken as one rigid body.

Arrays have the left bank first, the right one second, as seen from one end of the engine with the cylinders up.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from headbench.calc import FloatArray
from headbench.calc.intake.faces import faces_upright
from headbench.calc.intake.seat import ManifoldSeat, closed_seat
from headbench.calc.judging.grid import GRID

_SIDE: Final = np.array([-1.0, 1.0])
_EDGE: Final = np.array([0.5, -0.5])


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
    frame = _frame(v, moves, manifold_tilt)
    moved = _port_move(frame, upright=faces_upright(v.bank_angle, v.face_tilt))
    place = frame.manifold_middle + moved
    cut = _dot(frame.normal[:, np.newaxis], frame.head_edge - place[:, np.newaxis])
    return BankCuts(
        face_cut=cut,
        missing=np.maximum(-cut.min(axis=1), 0.0),
        seat=ManifoldSeat(sideways=float(moved.real), drop=float(-moved.imag), tilt=manifold_tilt),
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
    frame = _frame(v, moves, seat.tilt)
    place = frame.manifold_middle + seat.sideways - 1j * seat.drop
    return BankMisfit(
        gap=_dot(frame.normal[:, np.newaxis], place[:, np.newaxis] - frame.head_edge) + face_cut,
        misalignment=_dot(frame.along, place - frame.head_middle),
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
    before = bank_misfit(v, moves, face_cut, ManifoldSeat(0.0, 0.0, 0.0))
    return closed_seat(before.gap.min(axis=1), v.bank_angle, v.face_tilt, rail_room)


@dataclass(frozen=True, slots=True)
class _Frame:
    """The cross-section as complex numbers, right and up; a turn is a factor.

    Where the heads have come to, and the manifold turned about its middle but not yet moved.
    """

    along: NDArray[np.complex128]
    normal: NDArray[np.complex128]
    manifold_middle: NDArray[np.complex128]
    head_middle: NDArray[np.complex128]
    head_edge: NDArray[np.complex128]


def _frame(v: IntakeV, moves: HeadMoves, manifold_tilt: float) -> _Frame:
    half = 0.5 * v.bank_angle
    direction = half + v.face_tilt
    bore = _SIDE * np.sin(half) + 1j * np.cos(half)
    along = _SIDE * np.sin(direction) + 1j * np.cos(direction)
    normal = -_SIDE * np.cos(direction) + 1j * np.sin(direction)
    middle = 0.5 * _SIDE * v.face_spacing
    head_turn = np.exp(1j * _SIDE * moves.tilt)
    manifold_turn = np.exp(1j * manifold_tilt)
    # the cut goes with the head, which turns; block and gasket lie square to the bore, which does not
    drop = moves.deck_cut * head_turn + moves.block_drop
    head_middle = middle + bore * (v.face_height * (head_turn - 1.0) - drop)
    return _Frame(
        along=along * manifold_turn,
        normal=normal * manifold_turn,
        manifold_middle=middle * manifold_turn,
        head_middle=head_middle,
        head_edge=head_middle[:, np.newaxis] + v.face_width * _EDGE * (along * head_turn)[:, np.newaxis],
    )


def _port_move(frame: _Frame, *, upright: bool) -> complex:
    """How the manifold moves so that the middles of its faces come level with the heads' along both faces."""
    along = frame.along
    apart = frame.head_middle - frame.manifold_middle
    wanted = _dot(along, apart)
    if upright:
        # both faces run the same way: one height serves both or none does, and sideways it is put in the middle
        level = abs(wanted[1] - wanted[0]) < GRID
        return complex(apart.mean()) if level else complex(np.nan, np.nan)
    # NaN must stay NaN: a solver would refuse it
    determinant = along[0].real * along[1].imag - along[0].imag * along[1].real
    sideways = (wanted[0] * along[1].imag - wanted[1] * along[0].imag) / determinant
    up = (along[0].real * wanted[1] - along[1].real * wanted[0]) / determinant
    return complex(sideways, up)


def _dot(one: NDArray[np.complex128], other: NDArray[np.complex128]) -> FloatArray:
    return np.asarray(one.real * other.real + one.imag * other.imag, dtype=np.float64)
