"""Fit: whether the manifold of a V seats, by feeler gauge and bolt holes, and what its readings tell of the heads."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from headbench.calc import BoolArray, FloatArray
from headbench.calc.intake.banks import BankMisfit
from headbench.calc.intake.gaps import (
    FaceGaps,
    MeasuredCuts,
    Seated,
    cuts_from_readings,
    face_gaps,
    sealing_from_readings,
    seated,
)
from headbench.calc.intake.heads import ReadHeads, expected_readings, heads_from_readings, told_apart
from headbench.calc.intake.seat import SealingCuts
from headbench.calc.judging import limits as known
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.rules import USUAL_FACE_GAP
from headbench.calc.judging.verdicts import Verdict, accepted_if_proven, setting_verdict, within
from headbench.calc.movement.movement import Movement

_BORDERLINE, _REJECT = int(Verdict.BORDERLINE), int(Verdict.REJECT)
_NAN: Final = np.full(2, math.nan)


@dataclass(frozen=True, slots=True)
class FaceReadings:
    """What was read at both faces of a V, the left bank first, as seen from the front of the engine; NaN not read.

    bank_angle : float, between the banks' bores [rad]
    gap : array (2, 2, 2), by bank, end (front, rear) and edge (top, bottom), the manifold in place, no gaskets [m]
    misalignment : array (2,), bolt holes of each head below (+) the manifold's, along the face [m]
    face_tilt : float, intake face from square to the deck, positive when its normal turns up [rad]
    intake_gasket_thickness : float, compressed, of the gasket that goes between face and manifold [m]
    rail_room : float, open below the end rails as it was measured [m]
    gauge_step, misalignment_step : float, smallest differences that are told in a gap, and at the bolt holes [m]
    milling : tuple of Movement or None, what let each head drop; None not known
    """

    bank_angle: float
    gap: FloatArray
    misalignment: FloatArray
    face_tilt: float = math.nan
    intake_gasket_thickness: float = math.nan
    rail_room: float = math.nan
    gauge_step: float = known.GAUGE_STEP.value
    misalignment_step: float = known.MISALIGNMENT_STEP.value
    milling: tuple[Movement | None, Movement | None] = (None, None)


@dataclass(frozen=True, slots=True)
class FaceLimits:
    """How well a manifold has to sit.

    gap, taper, twist, warp : float, see `face_gaps` [m]
    misalignment, bolt_entry : float, of bolt holes and ports, and at which the bolts still enter [m]
    misses_reject : bool, whether a setting off its limit is rejected [-]
    """

    gap: float = known.FACE_GAP_TOLERANCE.value
    taper: float = known.FACE_TAPER_TOLERANCE.value
    twist: float = known.FACE_TWIST_TOLERANCE.value
    warp: float = known.FACE_WARP_TOLERANCE.value
    misalignment: float = known.MISALIGNMENT_TOLERANCE.value
    bolt_entry: float = known.BOLT_ENTRY_TOLERANCE.value
    misses_reject: bool = False


@dataclass(frozen=True, slots=True)
class Held:
    """A length held against its limit, either way.

    value, limit : float [m]
    verdict : int, Verdict code [-]
    damages : bool, whether a miss is past a setting [-]
    """

    value: float
    limit: float
    verdict: int
    damages: bool

    @property
    def missed(self) -> bool:
        """Whether it is neither good nor waiting for a reading."""
        return self.verdict in {_BORDERLINE, _REJECT}


@dataclass(frozen=True, slots=True)
class FaceHeld:
    """One face held against its limits.

    gap, misalignment, bolt_entry : Held, with the manifold pushed home
    taper, twist, warp : Held, as they were read
    """

    gap: Held
    taper: Held
    twist: Held
    warp: Held
    misalignment: Held
    bolt_entry: Held

    @property
    def out_of_true(self) -> bool:
        """Whether it is found tapered, twisted or warped."""
        return self.taper.missed or self.twist.missed or self.warp.missed


@dataclass(frozen=True, slots=True)
class FaceFindings:
    """What both faces come to.

    gaps : FaceGaps
    seated : Seated
    heads : ReadHeads, NaN where the readings do not tell
    head_drop : array (2,), by the milling that was given; NaN where it does not tell [m]
    expected : BankMisfit
    cuts : MeasuredCuts
    sealing : SealingCuts
    cocked : bool, whether the manifold may sit cocked
    odd_gaps : array (2, 2, 2), gaps that no intake leaves: the reading or the manifold is wrong [-]
    odd_holes : array (2,), the same of the bolt holes [-]
    odd : bool, whether any reading is none that cuts may be told from [-]
    faces : tuple of FaceHeld
    difference : array (2,), head drop read less known [m]
    unexplained : array (2,), where the readings tell of more or less than the milling [-]
    explained : tuple of bool or None, whether its milling explains each face, which a flat cut leaves in true; None
        where that is not known [-]
    """

    gaps: FaceGaps
    seated: Seated
    heads: ReadHeads
    head_drop: FloatArray
    expected: BankMisfit
    cuts: MeasuredCuts
    sealing: SealingCuts
    cocked: bool
    odd_gaps: BoolArray
    odd_holes: BoolArray
    odd: bool
    faces: tuple[FaceHeld, FaceHeld]
    difference: FloatArray
    unexplained: BoolArray
    explained: tuple[bool | None, bool | None]


def fit_intake(readings: FaceReadings, limits: FaceLimits = FaceLimits()) -> FaceFindings:
    """Whether the manifold of a V seats, what to cut if not, and what its readings tell of the heads.

    Parameters
    ----------
    readings : FaceReadings
        What was read at both faces [-]
    limits : FaceLimits
        How well the manifold has to sit [-]

    Returns
    -------
    FaceFindings

    Notes
    -----
    `seated`, `cuts_from_readings`, `sealing_from_readings` and `heads_from_readings` say what each part rests on;
    `find_intake_faults` finds angles that leave no V. No cut is told from a reading that cannot be right, and nothing
    of the heads from a manifold that sits cocked or a head that was cut at an angle.

    >>> read = FaceReadings(math.radians(90.0), np.full((2, 2, 2), 1.5e-3), np.zeros(2), 0.0, 1.5e-3, 0.0)
    >>> found = fit_intake(read)
    >>> [face.gap.verdict for face in found.faces], found.cuts.face_cut.max()
    ([0, 0], np.float64(0.0))
    """
    angles = readings.bank_angle, readings.face_tilt
    gap, holes = readings.gap - readings.intake_gasket_thickness, readings.misalignment
    gaps = face_gaps(gap)
    cocked = _cocked(gaps, readings.gauge_step)
    # a manifold that sits cocked, or a head that was turned, passes for heads that dropped by different amounts
    blind = cocked or any(one is not None and not one.flat for one in readings.milling)
    odd_gaps, odd_holes = _unlike_any_intake(gap), _unlike_any_intake(holes)
    # no cut is told from a reading that cannot be right
    odd = bool(odd_gaps.any() or odd_holes.any())
    told, told_holes = (np.full(gap.shape, math.nan), _NAN) if odd else (gap, holes)
    seat = seated(gap, holes, readings.rail_room, *angles)
    steps = {"gauge_step": readings.gauge_step, "misalignment_step": readings.misalignment_step}
    drops = np.array([math.nan if one is None or not one.flat else _drop(one) for one in readings.milling])
    heads = heads_from_readings(_NAN if blind else gaps.gap, holes, *angles, **steps)
    faces = _hold(gaps, seat, limits, proven=not odd)
    difference = heads.head_drop - drops
    unexplained = told_apart(difference, heads.implied_head_drop_uncertainty)
    return FaceFindings(
        gaps=gaps,
        seated=seat,
        heads=heads,
        head_drop=drops,
        expected=expected_readings(drops, readings.intake_gasket_thickness, *angles),
        cuts=cuts_from_readings(told, told_holes, *angles),
        sealing=sealing_from_readings(told, holes, *angles),
        cocked=cocked,
        odd_gaps=odd_gaps,
        odd_holes=odd_holes,
        odd=odd,
        faces=faces,
        difference=difference,
        unexplained=unexplained,
        explained=_explained(faces, difference, unexplained),
    )


def _explained(
    faces: tuple[FaceHeld, FaceHeld], difference: FloatArray, unexplained: BoolArray
) -> tuple[bool | None, bool | None]:
    # the manifold lies between both heads: what one milling should have left hangs on the other's too
    if any(map(math.isnan, difference.tolist())):
        return None, None
    left, right = unexplained.tolist()
    return not (left or faces[0].out_of_true), not (right or faces[1].out_of_true)


def _drop(movement: Movement) -> float:
    return movement.depth + movement.block_decked - movement.gasket_thickness_change


def _cocked(gaps: FaceGaps, gauge_step: float) -> bool:
    """Whether one face is open at the top and the other at the bottom, by more than the feeler gauges show."""
    left, right = map(float, gaps.taper)
    return left * right < 0.0 and told_apart(min(abs(left), abs(right)), gauge_step)


def _unlike_any_intake(reading: FloatArray) -> BoolArray:
    """Gaps, or bolt holes out of line, that are more than any intake leaves; False where none was read."""
    return np.abs(reading) - USUAL_FACE_GAP.values[0] > GRID


def _hold(gaps: FaceGaps, seat: Seated, limits: FaceLimits, *, proven: bool) -> tuple[FaceHeld, FaceHeld]:
    """Both faces held against their limits; `proven` tells whether every reading can be right."""
    # what does not go in is no gap that a gasket fills
    overlaps = any(gap < -GRID for gap in seat.gap.tolist())

    def setting(value: float, limit: float) -> int:
        return setting_verdict(within(value, limit), misses_reject=limits.misses_reject)

    def face(side: int) -> FaceHeld:
        gap, holes, entry = (float(one[side]) for one in (seat.gap, seat.misalignment, seat.entry))
        taper, twist, warp = (float(one[side]) for one in (gaps.taper, gaps.twist, gaps.warp))
        # one end speaks for the taper, but nothing is good on one end alone
        taper = math.nan if math.isnan(float(gaps.gap[side])) else taper
        # where the manifold comes to sit hangs on the readings of both sides
        closes = accepted_if_proven(_REJECT if gap < -GRID else setting(gap, limits.gap), proven)
        aligned = accepted_if_proven(setting(holes, limits.misalignment), proven)
        enters = accepted_if_proven(within(entry, limits.bolt_entry), proven)
        return FaceHeld(
            gap=Held(gap, limits.gap, closes, damages=overlaps),
            taper=Held(taper, limits.taper, setting(taper, limits.taper), damages=False),
            twist=Held(twist, limits.twist, setting(twist, limits.twist), damages=False),
            warp=Held(warp, limits.warp, setting(warp, limits.warp), damages=False),
            misalignment=Held(holes, limits.misalignment, aligned, damages=False),
            bolt_entry=Held(entry, limits.bolt_entry, enters, damages=True),
        )

    return face(0), face(1)
