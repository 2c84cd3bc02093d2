"""Intake gaps: what feeler gauge and bolt holes say about the faces of a V, whether it seats, and what to cut.

Arrays have the left bank first, the right one second; readings at a face go by bank, end (front, rear) and
edge (top, bottom).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from headbench.calc import FloatArray
from headbench.calc.intake.faces import faces_upright
from headbench.calc.intake.seat import ManifoldSeat, SealingCuts, closed_seat, least_of, misalignment_at, sealing_cuts
from headbench.calc.judging.grid import GRID

_SADDLE: Final = (1.0, -1.0, -1.0, 1.0)


@dataclass(frozen=True, slots=True)
class FaceGaps:
    """What the feeler gaps of two faces amount to.

    gap : array (2,), at the middle of each face; NaN with one end not measured [m]
    taper : array (2,), how much more is open at the top than at the bottom, by the ends that were read [m]
    twist : array (2,), how much more is open at the front than at the rear; NaN with one end not measured [m]
    warp : array (2,), what no flat cut removes: how far each corner lies off the plane [m]
    manifold_tilt : float, part of the right face's taper, taken from the left one's, that a tilted manifold makes [m]
    """

    gap: FloatArray
    taper: FloatArray
    twist: FloatArray
    warp: FloatArray
    manifold_tilt: float


def face_gaps(feeler_gap: FloatArray) -> FaceGaps:
    """Taper, twist and warp of the gaps at both faces.

    Parameters
    ----------
    feeler_gap : array (2, 2, 2)
        Gaps by bank, end and edge, manifold in place without gaskets; NaN where none was read [m]

    Returns
    -------
    FaceGaps

    Notes
    -----
    Four corners make a plane and a rest: gap + taper/2 + twist/2 + warp, with signs by corner. Where one
    end was not read, the other one speaks for the taper, and nothing else is known of the face. One side open at the
    top and the other at the bottom can be a manifold that stands cocked as well as two faces; that
    share is `manifold_tilt`. Own derivation.

    >>> gaps = np.array([[[0.3e-3, 0.1e-3], [0.3e-3, 0.1e-3]], [[0.0, 0.0], [0.0, 0.0]]])
    >>> (face_gaps(gaps).taper * 1e3).round(9).tolist()
    [0.2, 0.0]
    """
    ends = [[(0.5 * (top + bottom), top - bottom) for top, bottom in bank] for bank in feeler_gap.tolist()]
    left, right = (_mean_of_known([taper for _, taper in bank]) for bank in ends)
    return FaceGaps(
        gap=np.array([0.5 * (front + rear) for (front, _), (rear, _) in ends]),
        taper=np.array([left, right]),
        twist=np.array([front - rear for (front, _), (rear, _) in ends]),
        warp=np.array(_warp(feeler_gap)),
        manifold_tilt=0.5 * (right - left),
    )


@dataclass(frozen=True, slots=True)
class Seated:
    """Where a manifold that was measured comes to sit once it is pushed home on its gaskets.

    gap : array (2,), then open at the middle of each face; negative only where it does not go in at all [m]
    misalignment : array (2,), bolt holes of each head then below (+) the manifold's, along the face [m]
    entry : array (2,), the same with the manifold shifted to where its bolts enter best, as far as it is free; NaN
        with one side not measured [m]
    seat : ManifoldSeat, how far it has moved from where it was measured [-]
    rail_gap : float, then open below its end rails [m]
    held_open : float, least gap of both faces that the end rails then keep open [m]
    held_up : float, how much further down it would close that; NaN where coming down closes nothing [m]
    """

    gap: FloatArray
    misalignment: FloatArray
    entry: FloatArray
    seat: ManifoldSeat
    rail_gap: float
    held_open: float
    held_up: float


def seated(
    feeler_gap: FloatArray, misalignment: FloatArray, rail_room: float, bank_angle: float, face_tilt: float
) -> Seated:
    """Gaps and bolt holes with the manifold on its faces, m = (g_left + g_right)/(2 sin(b + a)), or on its end rails.

    Parameters
    ----------
    feeler_gap : array (2, 2, 2)
        Gaps by bank, end and edge, less the gasket: negative where it will lift the manifold; NaN not measured [m]
    misalignment : array (2,)
        Bolt holes of each head below (+) the manifold's as it was measured, along the face [m]
    rail_room : float
        Open below the end rails as it was measured; 0 where it stood on them [m]
    bank_angle : float
        Angle between the banks, 2 b [rad]
    face_tilt : float
        Intake face from square to the deck, positive when its normal turns up, a [rad]

    Returns
    -------
    Seated

    Notes
    -----
    Where it was put sideways by hand says nothing: on its faces they say where it goes, and on its rails it is
    shifted until both are open alike at their middles. A gasket thicker than the gap lifts it along both faces, and
    takes its bolt holes up with it. Rigid, without bolts that pull or gaskets that give. Own derivation.

    >>> gasket = np.full((2, 2, 2), -1.5e-3)
    >>> lifted = seated(gasket, np.zeros(2), 0.0, np.deg2rad(90.0), 0.0)
    >>> lifted.gap.round(12).tolist(), (lifted.misalignment * 1e3).round(6).tolist(), round(lifted.rail_gap * 1e3, 6)
    ([0.0, 0.0], [1.5, 1.5], 2.12132)
    """
    corners = feeler_gap.reshape(2, 4).tolist()
    least, (left, right) = [least_of(bank) for bank in corners], (0.25 * sum(bank) for bank in corners)
    home = closed_seat(least, bank_angle, face_tilt, rail_room)
    direction = 0.5 * bank_angle + face_tilt
    sine, cosine = math.sin(direction), math.cos(direction)
    held_open = 0.5 * (least[0] + least[1]) - home.drop * sine
    free = max(held_open, 0.0) / cosine
    evened = _between(home.sideways, free, (right - left) / (2.0 * cosine))
    seat = ManifoldSeat(sideways=evened, drop=home.drop, tilt=0.0)
    holes = misalignment_at(misalignment, seat, bank_angle, face_tilt)
    entry = holes
    if not faces_upright(bank_angle, face_tilt):
        alike = evened + float(holes[0] - holes[1]) / (2.0 * sine)
        shifted = _between(home.sideways, free, alike)
        entry = misalignment_at(misalignment, ManifoldSeat(shifted, home.drop, 0.0), bank_angle, face_tilt)
    closed = home.drop * sine
    return Seated(
        gap=np.array([left - closed + evened * cosine, right - closed - evened * cosine]),
        misalignment=holes,
        entry=entry,
        seat=seat,
        rail_gap=rail_room - home.drop,
        held_open=held_open,
        held_up=closed_seat(least, bank_angle, face_tilt, math.inf).drop - home.drop,
    )


def _between(middle: float, free: float, wanted: float) -> float:
    """What is wanted, as far as it lies within so much of the middle; NaN where one of them is not known."""
    if math.isnan(wanted + middle + free):
        return math.nan
    return min(max(wanted, middle - free), middle + free)


@dataclass(frozen=True, slots=True)
class MeasuredCuts:
    """What to cut at faces that were measured, so that ports and bolt holes come in line.

    face_cut : array (2, 2, 2), off each face by bank, end and edge; negative for metal that would have to be
        added [m]
    missing : array (2,), the most that would have to be added on each bank: cutting cannot mend it [m]
    seat : ManifoldSeat, how far the manifold then moves from where it was measured [-]
    """

    face_cut: FloatArray
    missing: FloatArray
    seat: ManifoldSeat


def cuts_from_readings(
    feeler_gap: FloatArray, misalignment: FloatArray, bank_angle: float, face_tilt: float
) -> MeasuredCuts:
    """Face cuts from gaps and misalignment; on banks alike f = m sin(b + a) - g with m = t/cos(b + a).

    Parameters
    ----------
    feeler_gap : array (2, 2, 2)
        Gaps by bank, end and edge, less the gasket, manifold in place; NaN where none was read [m]
    misalignment : array (2,)
        Bolt holes of each head below (+) the manifold's, along the face [m]
    bank_angle : float
        Angle between the banks, 2 b [rad]
    face_tilt : float
        Intake face from square to the deck, positive when its normal turns up, a [rad]

    Returns
    -------
    MeasuredCuts
        NaN where faces stand upright and the holes of the two sides are not out alike: no place of the manifold
        serves both [-]

    Notes
    -----
    The holes say where the manifold has to go: down by their mean over cos(b + a), sideways by half
    their difference over sin(b + a). The faces are then cut to meet it, flat: the warp stays. Own derivation.

    >>> square = np.deg2rad(90.0)
    >>> cuts = cuts_from_readings(np.zeros((2, 2, 2)), np.array([1.0e-3, 1.0e-3]), square, 0.0)
    >>> round(cuts.seat.drop * 1e3, 4), (cuts.face_cut[0, 0] * 1e3).round(9).tolist()
    (1.4142, [1.0, 1.0])
    """
    direction = 0.5 * bank_angle + face_tilt
    sine, cosine = math.sin(direction), math.cos(direction)
    left, right = misalignment.tolist()
    drop = 0.5 * (left + right) / cosine
    plane = _plane(feeler_gap)
    if faces_upright(bank_angle, face_tilt):
        gap = [0.25 * sum(bank) for bank in plane]
        alike = abs(left - right) < GRID
        sideways = 0.5 * (gap[1] - gap[0]) if alike else math.nan
        drop = drop if alike else math.nan
    else:
        sideways = 0.5 * (left - right) / sine
    closing = [drop * sine + side * sideways * cosine for side in (-1.0, 1.0)]
    cuts = [[by - one for one in bank] for by, bank in zip(closing, plane, strict=True)]
    short = [-least_of(bank) for bank in cuts]
    return MeasuredCuts(
        face_cut=np.array(cuts).reshape(2, 2, 2),
        missing=np.array([max(by, 0.0) for by in short]),
        seat=ManifoldSeat(sideways=sideways, drop=drop, tilt=0.0),
    )


def sealing_from_readings(
    feeler_gap: FloatArray, misalignment: FloatArray, bank_angle: float, face_tilt: float
) -> SealingCuts:
    """Cuts that close both faces with the least metal off: `intake_seat.sealing_cuts` of the planes that were measured.

    Parameters
    ----------
    feeler_gap : array (2, 2, 2)
        Gaps by bank, end and edge, less the gasket, manifold in place; NaN where none was read [m]
    misalignment : array (2,)
        Bolt holes of each head below (+) the manifold's, along the face [m]
    bank_angle : float
        Angle between the banks, 2 b [rad]
    face_tilt : float
        Intake face from square to the deck, positive when its normal turns up, a [rad]

    Returns
    -------
    SealingCuts
        Its face cut by bank and corner (front top, front bottom, rear top, rear bottom); the warp stays [-]

    >>> gaps = np.array([[[0.3e-3, 0.1e-3], [0.3e-3, 0.1e-3]], [[0.3e-3, 0.3e-3], [0.3e-3, 0.3e-3]]])
    >>> cuts = sealing_from_readings(gaps, np.full(2, 0.3e-3), np.deg2rad(90.0), 0.0)
    >>> (cuts.face_cut[0] * 1e3).round(9).tolist(), round(cuts.seat.drop * 1e3, 6)
    ([0.0, 0.2, 0.0, 0.2], 0.424264)
    """
    return sealing_cuts(np.array(_plane(feeler_gap)), misalignment, bank_angle, face_tilt)


def _mean_of_known(values: Sequence[float]) -> float:
    known = [value for value in values if not math.isnan(value)]
    return sum(known) / len(known) if known else math.nan


def _warp(feeler_gap: FloatArray) -> list[float]:
    return [
        0.25 * ((top - bottom) - (rear_top - rear_bottom))
        for (top, bottom), (rear_top, rear_bottom) in feeler_gap.tolist()
    ]


def _plane(feeler_gap: FloatArray) -> list[list[float]]:
    """Each face by its corners (front top, front bottom, rear top, rear bottom), its warp taken off."""
    banks = zip(feeler_gap.reshape(2, 4).tolist(), _warp(feeler_gap), strict=True)
    return [[one - sign * warp for one, sign in zip(bank, _SADDLE, strict=True)] for bank, warp in banks]
