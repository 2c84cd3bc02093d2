"""Heads: what gaps and bolt holes tell of how far both heads of a V have come down, and what milling should leave.

Arrays have the left bank first, the right one second.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import overload

import numpy as np

from headbench.calc import BoolArray, FloatArray
from headbench.calc.intake.banks import BankMisfit, HeadMoves, IntakeV, bank_misfit, settled_seat
from headbench.calc.intake.seat import ManifoldSeat
from headbench.calc.judging.verdicts import Verdict, within


@dataclass(frozen=True, slots=True)
class ReadHeads:
    """What gaps and bolt holes tell of the heads and of the manifold.

    head_drop : array (2,), how much nearer each head has come to the crank [m]
    seat : ManifoldSeat, where the manifold sat when it was measured, against where it sat as made [-]
    implied_head_drop_uncertainty : float, how far a head drop can be out by the steps of the readings [m]
    """

    head_drop: FloatArray
    seat: ManifoldSeat
    implied_head_drop_uncertainty: float


def heads_from_readings(
    gap: FloatArray,
    misalignment: FloatArray,
    bank_angle: float,
    face_tilt: float,
    *,
    gauge_step: float,
    misalignment_step: float,
) -> ReadHeads:
    """Both heads and the manifold from four readings, 2 n = (T sin d - G cos d)/sin b +- (g sin d + t cos d)/cos b.

    Parameters
    ----------
    gap : array (2,)
        Gap at the middle of each face, less the gasket, wherever the manifold sits [m]
    misalignment : array (2,)
        Bolt holes of each head below (+) the manifold's there, along the face [m]
    bank_angle : float
        Angle between the banks, 2 b [rad]
    face_tilt : float
        Intake face from square to the deck, positive when its normal turns up, a; d = b + a [rad]
    gauge_step : float
        Smallest difference that is told in a gap [m]
    misalignment_step : float
        Smallest difference that is told at the bolt holes [m]

    Returns
    -------
    ReadHeads
        NaN while one of the four is missing: none of the four unknowns follows from three [-]

    Notes
    -----
    Two heads down their bores and a level manifold sideways and down are four unknowns, gap and holes on both sides
    four readings: g = n sin a -+ s cos d - m sin d and t = n cos a +- s sin d - m cos d, upper sign right.
    G and T are sums over the sides; in the first line g and t are right less left. Flat cuts only: a head that was
    cut at an angle also moves square to its bore, and a cocked manifold passes for heads that dropped unlike.
    Own derivation.

    >>> steps = {"gauge_step": 0.025e-3, "misalignment_step": 0.25e-3}
    >>> found = heads_from_readings(np.zeros(2), np.array([1.2e-3, 1.2e-3]), np.deg2rad(90.0), 0.0, **steps)
    >>> (found.head_drop * 1e3).round(9).tolist(), round(found.implied_head_drop_uncertainty * 1e3, 6)
    ([1.2, 1.2], 0.275)
    """
    bore = 0.5 * bank_angle
    direction = bore + face_tilt
    sine, cosine = math.sin(direction), math.cos(direction)
    (left_gap, right_gap), (left_holes, right_holes) = gap.tolist(), misalignment.tolist()
    gaps, holes = left_gap + right_gap, left_holes + right_holes
    gap_difference, hole_difference = right_gap - left_gap, right_holes - left_holes
    both = (holes * sine - gaps * cosine) / math.sin(bore)
    apart = (gap_difference * sine + hole_difference * cosine) / math.cos(bore)
    drop = (holes * math.sin(face_tilt) - gaps * math.cos(face_tilt)) / (2.0 * math.sin(bore))
    sideways = (hole_difference * math.sin(face_tilt) - gap_difference * math.cos(face_tilt)) / (2.0 * math.cos(bore))
    # the worst case of all four readings out by their steps at once
    by_holes = max(sine / math.sin(bore), cosine / math.cos(bore))
    by_gaps = max(cosine / math.sin(bore), sine / math.cos(bore))
    return ReadHeads(
        head_drop=np.array([0.5 * (both - apart), 0.5 * (both + apart)]),
        seat=ManifoldSeat(sideways=sideways, drop=drop, tilt=0.0),
        implied_head_drop_uncertainty=misalignment_step * by_holes + gauge_step * by_gaps,
    )


def expected_readings(head_drop: FloatArray, gasket: float, bank_angle: float, face_tilt: float) -> BankMisfit:
    """Gap and bolt holes that flat milling leaves at uncut faces, the manifold at rest without its gaskets.

    Parameters
    ----------
    head_drop : array (2,)
        How much nearer each head has come to the crank [m]
    gasket : float
        Compressed thickness that each face is measured without [m]
    bank_angle : float
        Angle between the banks, 2 b [rad]
    face_tilt : float
        Intake face from square to the deck, positive when its normal turns up, a [rad]

    Returns
    -------
    BankMisfit
        Its gap less the gasket; the manifold on its end rails where it stood as made, or ridden up on faces that
        meet before, shifted until both faces are open alike [-]

    >>> found = expected_readings(np.full(2, 1.0e-3), 0.0, np.deg2rad(90.0), np.deg2rad(10.0))
    >>> (found.gap[:, 0] * 1e3).round(4).tolist(), (found.misalignment * 1e3).round(4).tolist()
    ([0.1736, 0.1736], [0.9848, 0.9848])
    """
    v = IntakeV(bank_angle, face_tilt, 0.0, 0.0, 0.0)
    moves = HeadMoves(head_drop, np.zeros(2), np.zeros(2))
    open_by_gasket = np.full((2, 2), gasket)
    at_rest = bank_misfit(v, moves, open_by_gasket, settled_seat(v, moves, open_by_gasket, 0.0))
    return BankMisfit(gap=at_rest.gap - gasket, misalignment=at_rest.misalignment)


@overload
def told_apart(difference: float, step: float) -> bool: ...
@overload
def told_apart(difference: FloatArray, step: float) -> BoolArray: ...
def told_apart(difference: FloatArray | float, step: float) -> BoolArray | bool:
    """Where a difference of readings is more than the step that can be told.

    Parameters
    ----------
    difference : float or array (2,)
        Between readings, either way; NaN where one is missing, which tells nothing [m]
    step : float
        Smallest difference that can be told; exactly that is not more [m]

    Returns
    -------
    bool, or array (2,)
        True where it can be told [-]

    >>> told_apart(np.array([0.3e-3 - 0.2e-3, -0.2e-3, np.nan]), 0.1e-3).tolist()
    [False, True, False]
    """
    if isinstance(difference, np.ndarray):
        return np.array([told_apart(one, step) for one in difference.tolist()])
    return within(difference, step) == Verdict.REJECT
