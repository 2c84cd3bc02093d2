"""Intake gaps: what feeler gauge and bolt holes say about the faces of a V, and what to cut from them.

Arrays have the left bank first, the right one second; readings at a face go by bank, end (front, rear) and
edge (top, bottom).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from headbench.calc import BoolArray, FloatArray
from headbench.calc.grid import GRID
from headbench.calc.intake_banks import BankMisfit, IntakeV, ManifoldSeat, bank_misfit, settled_seat
from headbench.calc.verdicts import Verdict, within

_SIDE: Final = np.array([-1.0, 1.0])
_SADDLE: Final = np.array([[1.0, -1.0], [-1.0, 1.0]])


@dataclass(frozen=True, slots=True)
class FaceGaps:
    """What the feeler gaps of two faces amount to.

    gap : array (2,), at the middle of each face; NaN with one end unread [m]
    taper : array (2,), how much more is open at the top than at the bottom, by the ends that were read [m]
    twist : array (2,), how much more is open at the front than at the rear; NaN with one end unread [m]
    warp : array (2,), what no flat cut removes: how far each corner lies off the plane [m]
    out_of_true : array (2,), True where taper or twist of a face exceeds the gauge's step [-]
    manifold_tilt : float, part of the right face's taper, taken from the left one's, that a tilted manifold makes [m]
    cut_to_parallel : array (2, 2, 2), the wedge that makes each face parallel to the manifold's, nothing at the
        corner that is widest open [m]
    parallel_gap : array (2,), what is then open everywhere on each face [m]
    """

    gap: FloatArray
    taper: FloatArray
    twist: FloatArray
    warp: FloatArray
    out_of_true: BoolArray
    manifold_tilt: float
    cut_to_parallel: FloatArray
    parallel_gap: FloatArray


def face_gaps(feeler_gap: FloatArray, gauge_step: float) -> FaceGaps:
    """Taper, twist and warp of the gaps at both faces, and the wedge that makes them parallel.

    Parameters
    ----------
    feeler_gap : array (2, 2, 2)
        Gaps by bank, end and edge, manifold in place without gaskets; NaN where none was read [m]
    gauge_step : float
        Smallest difference the feeler gauge tells [m]

    Returns
    -------
    FaceGaps

    Notes
    -----
    Four corners make a plane and a rest: gap + taper/2 + twist/2 + warp, with signs by corner. Where one
    end was not read, the other one speaks for the taper, and nothing else is known of the face. One side open at the
    top and the other at the bottom can be a manifold that stands askew as well as two faces; that
    share is `manifold_tilt`.

    >>> gaps = np.array([[[0.3e-3, 0.1e-3], [0.3e-3, 0.1e-3]], [[0.0, 0.0], [0.0, 0.0]]])
    >>> found = face_gaps(gaps, 0.025e-3)
    >>> (found.taper * 1e3).round(9).tolist(), found.out_of_true.tolist()
    ([0.2, 0.0], [True, False])
    """
    by_end = feeler_gap.mean(axis=2)
    taper_by_end = feeler_gap[:, :, 0] - feeler_gap[:, :, 1]
    taper = _mean_of_known(taper_by_end)
    twist = by_end[:, 0] - by_end[:, 1]
    warp = 0.25 * (taper_by_end[:, 0] - taper_by_end[:, 1])
    plane = _plane(feeler_gap, warp)
    widest = plane.reshape(2, 4).max(axis=1)
    return FaceGaps(
        gap=by_end.mean(axis=1),
        taper=taper,
        twist=twist,
        warp=warp,
        out_of_true=told_apart(taper, gauge_step) | told_apart(twist, gauge_step),
        manifold_tilt=float(0.5 * (taper[1] - taper[0])),
        cut_to_parallel=widest[:, np.newaxis, np.newaxis] - plane,
        parallel_gap=widest,
    )


@dataclass(frozen=True, slots=True)
class MeasuredCuts:
    """What to cut at faces that were felt, so that ports and bolt holes come in line.

    face_cut : array (2, 2, 2), off each face by bank, end and edge; negative for metal that would have to be
        added [m]
    missing : array (2,), the most that would have to be added on each bank: cutting cannot mend it [m]
    drop : float, how far the manifold comes down, which the end rails must give [m]
    sideways : float, how far it moves to the right [m]
    """

    face_cut: FloatArray
    missing: FloatArray
    drop: float
    sideways: float


def cuts_from_readings(
    feeler_gap: FloatArray, misalignment: FloatArray, bank_half_angle: float, face_tilt: float
) -> MeasuredCuts:
    """Face cuts from gaps and misalignment; on banks alike f = m sin(b + a) - g with m = t/cos(b + a).

    Parameters
    ----------
    feeler_gap : array (2, 2, 2)
        Gaps by bank, end and edge, manifold in place without gaskets; NaN where none was read [m]
    misalignment : array (2,)
        Bolt holes of each head below (+) the manifold's, along the face [m]
    bank_half_angle : float
        Bore axis from vertical b [rad]
    face_tilt : float
        Intake face from square to the deck, positive when its normal turns up, a [rad]

    Returns
    -------
    MeasuredCuts

    Notes
    -----
    The holes say where the manifold has to go: down by their mean over cos(b + a), sideways by half
    their difference over sin(b + a). The faces are then cut to meet it, flat: the warp stays.

    >>> square = np.deg2rad(45.0)
    >>> cuts = cuts_from_readings(np.zeros((2, 2, 2)), np.array([1.0e-3, 1.0e-3]), square, 0.0)
    >>> round(cuts.drop * 1e3, 4), (cuts.face_cut[0, 0] * 1e3).round(9).tolist()
    (1.4142, [1.0, 1.0])
    """
    direction = bank_half_angle + face_tilt
    drop = 0.5 * (misalignment[0] + misalignment[1]) / np.cos(direction)
    sideways = 0.5 * (misalignment[0] - misalignment[1]) / np.sin(direction)
    taper_by_end = feeler_gap[:, :, 0] - feeler_gap[:, :, 1]
    plane = _plane(feeler_gap, 0.25 * (taper_by_end[:, 0] - taper_by_end[:, 1]))
    closing = drop * np.sin(direction) + _SIDE * sideways * np.cos(direction)
    cut = closing[:, np.newaxis, np.newaxis] - plane
    return MeasuredCuts(
        face_cut=cut,
        missing=np.maximum(-cut.reshape(2, 4).min(axis=1), 0.0),
        drop=float(drop),
        sideways=float(sideways),
    )


@dataclass(frozen=True, slots=True)
class AgainstMilling:
    """Readings at the faces against what the milling should have done to them.

    expected_gap : array (2,), what milling opens along the normal, the manifold where it comes to rest [m]
    gap_excess : array (2,), read less expected [m]
    expected_misalignment : array (2,), what milling puts the holes out by [m]
    misalignment_excess : array (2,), read less expected [m]
    implied_approach : array (2,), net approach that explains the readings best [m]
    unexplained : array (2,), what stays square to the bore, which no milling of the deck makes; NaN where the
        manifold rides on the faces, which moves it [m]
    """

    expected_gap: FloatArray
    gap_excess: FloatArray
    expected_misalignment: FloatArray
    misalignment_excess: FloatArray
    implied_approach: FloatArray
    unexplained: FloatArray


def against_milling(
    gap: FloatArray, misalignment: FloatArray, approach: FloatArray, bank_half_angle: float, face_tilt: float
) -> AgainstMilling:
    """Readings less what the approach explains, and the approach they imply, n = g sin a + t cos a, or riding.

    Parameters
    ----------
    gap : array (2,)
        Gap at the middle of each face, manifold on its end rails, or on the faces where they meet before [m]
    misalignment : array (2,)
        Bolt holes of each head below (+) the manifold's, along the face [m]
    approach : array (2,)
        Net approach that is known of each head [m]
    bank_half_angle : float
        Bore axis from vertical b [rad]
    face_tilt : float
        Intake face from square to the deck, positive when its normal turns up, a [rad]

    Returns
    -------
    AgainstMilling

    Notes
    -----
    Gap and misalignment are one movement of the head seen in two directions: along the bore it is
    approach, square to it nothing that milling does. A head milled before shows as more approach
    than is known. Faces that lean forward (a below 0) meet before the manifold is down: it then rides up on
    them, and n = (t sin(b + a) - g cos(b + a))/sin b whatever its height, heads alike. A head whose
    approach is not known is taken to have come down as the other one.

    >>> out = np.array([1.2e-3, 1.0e-3])
    >>> found = against_milling(np.zeros(2), out, np.full(2, 1.0e-3), np.deg2rad(45.0), 0.0)
    >>> (found.implied_approach * 1e3).round(9).tolist(), (found.misalignment_excess * 1e3).round(9).tolist()
    ([1.2, 1.0], [0.2, 0.0])
    """
    unknown = np.isnan(approach)
    expected = _at_rest(np.where(unknown, approach[::-1], approach), bank_half_angle, face_tilt)
    expected_gap = np.where(unknown, np.nan, expected.gap[:, 0])
    expected_misalignment = np.where(unknown, np.nan, expected.misalignment)
    sine, cosine = np.sin(face_tilt), np.cos(face_tilt)
    direction = bank_half_angle + face_tilt
    riding = (face_tilt < 0.0) & (misalignment > 0.0)
    by_riding = (misalignment * np.sin(direction) - gap * np.cos(direction)) / np.sin(bank_half_angle)
    return AgainstMilling(
        expected_gap=expected_gap,
        gap_excess=gap - expected_gap,
        expected_misalignment=expected_misalignment,
        misalignment_excess=misalignment - expected_misalignment,
        implied_approach=np.where(riding, by_riding, gap * sine + misalignment * cosine),
        unexplained=np.where(riding, np.nan, gap * cosine - misalignment * sine),
    )


def told_apart(difference: FloatArray | float, step: float) -> BoolArray:
    """Where a difference of readings is more than the step that can be told.

    Parameters
    ----------
    difference : array (...) or float
        Between readings, either way; NaN where one is missing, which tells nothing [m]
    step : float
        Smallest difference that can be told; exactly that is not more [m]

    Returns
    -------
    array (...)
        True where it can be told [-]

    >>> told_apart(np.array([0.3e-3 - 0.2e-3, -0.2e-3, np.nan]), 0.1e-3).tolist()
    [False, True, False]
    """
    return np.asarray(within(np.asarray(difference), step) == Verdict.REJECT, dtype=np.bool_)


def _at_rest(approach: FloatArray, bank_half_angle: float, face_tilt: float) -> BankMisfit:
    """How the uncut faces stand: the manifold in its place, or ridden up where a face meets it before."""
    v = IntakeV(bank_half_angle, face_tilt, 0.0, 0.0, 0.0)
    stands = v, approach, np.zeros(2), np.zeros((2, 2))
    in_place = bank_misfit(*stands, ManifoldSeat(0.0, 0.0, 0.0))
    if not bool((in_place.gap < -GRID).any()):
        return in_place
    return bank_misfit(*stands, settled_seat(*stands, 0.0))


def _mean_of_known(by_end: FloatArray) -> FloatArray:
    known = ~np.isnan(by_end)
    total = np.where(known, by_end, 0.0).sum(axis=1)
    with np.errstate(invalid="ignore"):
        return np.asarray(total / known.sum(axis=1), dtype=np.float64)


def _plane(feeler_gap: FloatArray, warp: FloatArray) -> FloatArray:
    return np.asarray(feeler_gap - warp[:, np.newaxis, np.newaxis] * _SADDLE, dtype=np.float64)
