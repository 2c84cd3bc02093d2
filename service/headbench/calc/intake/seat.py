"""Intake seat: where a level manifold goes between the faces of a V, and the least cut that lets it close both.

Arrays have the left bank first, the right one second, as seen from one end of the engine with the cylinders up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from headbench.calc import FloatArray
from headbench.calc.intake.faces import faces_upright
from headbench.calc.judging.grid import GRID


@dataclass(frozen=True, slots=True)
class ManifoldSeat:
    """Where a manifold sits against where it sat before.

    sideways : float, of its middle, to the right [m]
    drop : float, of its middle, down [m]
    tilt : float, right side up positive [rad]
    """

    sideways: float
    drop: float
    tilt: float


@dataclass(frozen=True, slots=True)
class SealingCuts:
    """What to cut so that both faces close with the least metal off, wherever the ports then stand.

    face_cut : array (2, K), off each bank's face (rows) at its corners or edges (columns); 0 where it is
        widest open [m]
    seat : ManifoldSeat, where the manifold then sits [-]
    misalignment : array (2,), ports and bolt holes of the head then below (+) the manifold's, along the face [m]
    """

    face_cut: FloatArray
    seat: ManifoldSeat
    misalignment: FloatArray


def sealing_cuts(gap: FloatArray, misalignment: FloatArray, bank_angle: float, face_tilt: float) -> SealingCuts:
    """Cuts that close both faces with the least metal off: each face made parallel, then the manifold let down.

    Parameters
    ----------
    gap : array (2, K)
        Open at each bank's face (rows) at its corners or edges (columns), the manifold in place; negative where
        they overlap [m]
    misalignment : array (2,)
        Ports and bolt holes of each head below (+) the manifold's there, along the face [m]
    bank_angle : float
        Angle between the banks, 2 b [rad]
    face_tilt : float
        Intake face from square to the deck, positive when its normal turns up, a [rad]

    Returns
    -------
    SealingCuts
        With faces that stand upright the seat's drop is NaN, and so is the misalignment: no lowering closes them [-]

    Notes
    -----
    Each face loses widest gap less gap; what is then open alike, g, closes with the manifold moved down by
    (g_left + g_right)/(2 sin(b + a)) and to the right by (g_right - g_left)/(2 cos(b + a)). The ports go where that
    leaves them. Own derivation.

    >>> gap = np.array([[0.4e-3, 0.2e-3], [0.4e-3, 0.4e-3]])
    >>> cuts = sealing_cuts(gap, np.full(2, 1.0e-3), np.deg2rad(90.0), 0.0)
    >>> (cuts.face_cut * 1e3).round(9).tolist(), round(cuts.seat.drop * 1e3, 6)
    ([[0.0, 0.2], [0.0, 0.0]], 0.565685)
    >>> (cuts.misalignment * 1e3).round(9).tolist()
    [0.6, 0.6]
    """
    rows = gap.tolist()
    widest = [-least_of([-one for one in row]) for row in rows]
    seat = closed_seat(widest, bank_angle, face_tilt, math.inf)
    return SealingCuts(
        face_cut=np.array([[most - one for one in row] for most, row in zip(widest, rows, strict=True)]),
        seat=seat,
        misalignment=misalignment_at(misalignment, seat, bank_angle, face_tilt),
    )


def closed_seat(
    gap: FloatArray | Sequence[float], bank_angle: float, face_tilt: float, rail_room: float
) -> ManifoldSeat:
    """Where a level manifold goes from gaps that are the same all over each face: down on both, or on its rails.

    Parameters
    ----------
    gap : array (2,) or sequence of float
        Least gap of each bank's face; negative where they overlap [m]
    bank_angle : float
        Angle between the banks, 2 b [rad]
    face_tilt : float
        Intake face from square to the deck, positive when its normal turns up, a [rad]
    rail_room : float
        How far the manifold can come down before it stands on its end rails; infinite for none [m]

    Returns
    -------
    ManifoldSeat
        Drop negative where the faces overlap and the manifold rides up. Between faces that stand upright it neither
        closes a gap by coming down nor rides up: what overlaps stays so, and with no rails its drop is NaN [-]

    >>> seat = closed_seat(np.array([1.0e-3, 0.0]), np.deg2rad(90.0), 0.0, np.inf)
    >>> round(seat.sideways * 1e3, 6), round(seat.drop * 1e3, 6)
    (-0.707107, 0.707107)
    """
    direction = 0.5 * bank_angle + face_tilt
    left, right = map(float, gap)
    if faces_upright(bank_angle, face_tilt):
        drop = 0.0 if left + right < -GRID else rail_room
        drop = drop if math.isfinite(drop + left + right) else math.nan
    else:
        drop = least_of([(left + right) / (2.0 * math.sin(direction)), rail_room])
    return ManifoldSeat(sideways=(right - left) / (2.0 * math.cos(direction)), drop=drop, tilt=0.0)


def least_of(values: Sequence[float]) -> float:
    """The least of some numbers, NaN where one of them is not known.

    Parameters
    ----------
    values : sequence of float
        Numbers, one at least [any unit]

    Returns
    -------
    float [any unit]

    >>> least_of([2.0, 1.0]), least_of([math.nan, 1.0])
    (1.0, nan)
    """
    return math.nan if any(map(math.isnan, values)) else min(values)


def rail_cut(drop: float, rail_room: float) -> float:
    """What comes off each end rail so that the manifold can come down, max(m - room, 0).

    Parameters
    ----------
    drop : float
        How far the manifold comes down m; negative where it rises, NaN not known [m]
    rail_room : float
        How far it can come down before it stands on its end rails [m]

    Returns
    -------
    float
        0 where there is room enough [m]

    >>> round(rail_cut(1.5e-3, 1.0e-3) * 1e3, 9), rail_cut(1.5e-3, 2.0e-3)
    (0.5, 0.0)
    """
    more = drop - rail_room
    return max(more, 0.0)


def misalignment_at(misalignment: FloatArray, seat: ManifoldSeat, bank_angle: float, face_tilt: float) -> FloatArray:
    """Misalignment once the manifold has moved, t + s sin(b + a) - m cos(b + a), s away from each bank's own side.

    Parameters
    ----------
    misalignment : array (2,)
        Ports and bolt holes of each head below (+) the manifold's before it moves t, along the face [m]
    seat : ManifoldSeat
        How far it moves, level: sideways s, down m [-]
    bank_angle : float
        Angle between the banks, 2 b [rad]
    face_tilt : float
        Intake face from square to the deck, positive when its normal turns up, a [rad]

    Returns
    -------
    array (2,) [m]

    >>> seat = ManifoldSeat(0.0, 1.0e-3, 0.0)
    >>> (misalignment_at(np.full(2, 1.0e-3), seat, np.deg2rad(90.0), 0.0) * 1e3).round(6).tolist()
    [0.292893, 0.292893]
    """
    direction = 0.5 * bank_angle + face_tilt
    aside, down = seat.sideways * math.sin(direction), seat.drop * math.cos(direction)
    left, right = misalignment.tolist()
    return np.array([left + (-aside - down), right + (aside - down)])
