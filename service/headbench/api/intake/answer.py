"""Intake fit as it is answered: how both faces stand, where the manifold sits, and both ways to cut."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Final, Literal

import numpy as np
from msgspec import Meta

from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, JobAnswered, Release
from headbench.api.intake.faces import FaceFindings, FaceLimits, Pair
from headbench.api.intake.manifold import move_fields
from headbench.api.vocabulary.checks import LengthCheck, VerdictName, length_checks, worst_of
from headbench.api.vocabulary.findings import Note, OpenItem
from headbench.api.vocabulary.places import ASIDE, MISSING
from headbench.api.vocabulary.quantities import AngleOut, Answer, Columns, LengthOut, UnitsUsed, as_written
from headbench.calc import FloatArray, IntArray
from headbench.calc.intake.gaps import MeasuredCuts, ReadHeads, Seated
from headbench.calc.intake.seat import SealingCuts
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.verdicts import Verdict, accepted_if_proven, setting_verdict, within


class FaceNumbers(Answer, kw_only=True, frozen=True):
    """What one face's readings amount to."""

    face_gap: Annotated[
        LengthOut | None, Meta(description="Gap at the middle of the face, intake_gasket_thickness taken off.")
    ]
    face_taper: Annotated[
        LengthOut | None, Meta(description="Gap at the top less gap at the bottom, by the ends measured.")
    ]
    face_twist: Annotated[LengthOut | None, Meta(description="Gap at the front less gap at the rear.")]
    face_warp: Annotated[LengthOut | None, Meta(description="How far each corner lies off the plane of all four.")]
    implied_head_drop: Annotated[
        LengthOut | None,
        Meta(
            description="How far this head has dropped, by the gaps and bolt holes of both sides; null = a reading "
            "is missing, the manifold is cocked, or a head was cut at an angle."
        ),
    ]


class MillingNumbers(Answer, kw_only=True, frozen=True):
    """What the milling that was entered should have left, faces and rails uncut, heads cut flat."""

    head_drop: Annotated[
        LengthOut | None,
        Meta(description="Head drop by what was cut, less gasket change; null = an angle cut, or no milling given."),
    ]
    difference: Annotated[LengthOut | None, Meta(description="implied_head_drop less head_drop.")]
    expected_gap: Annotated[
        LengthOut | None,
        Meta(
            description="Gap to expect with the manifold on its end rails as made, or on the faces where they meet "
            "first, intake_gasket_thickness taken off; null = a head's milling is not given."
        ),
    ]
    expected_misalignment: Annotated[
        LengthOut | None,
        Meta(description="Misalignment to expect at that place; null = a head's milling is not given."),
    ]


class AgainstMilling(MillingNumbers, kw_only=True, frozen=True):
    """One face against its head's milling."""

    explained_by_milling: Annotated[
        bool | None,
        Meta(
            description="Whether difference is within implied_head_drop_uncertainty and the face in true, as a flat "
            "cut leaves it; null = not measured, or a head's milling not given."
        ),
    ]


class FaceAnswer(FaceNumbers, kw_only=True, frozen=True):
    """One face: what was measured, and how it stands once the manifold is pushed home."""

    face_gap_check: Annotated[
        LengthCheck, Meta(description="Gap left at the middle once seated; negative: the manifold does not go in.")
    ]
    face_taper_check: Annotated[LengthCheck, Meta(description="Taper, both ends measured.")]
    face_twist_check: Annotated[LengthCheck, Meta(description="Twist against its limit.")]
    face_warp_check: Annotated[LengthCheck, Meta(description="Warp against its limit.")]
    misalignment_check: Annotated[
        LengthCheck, Meta(description="Misalignment once seated, against misalignment_tolerance.")
    ]
    bolt_entry_check: Annotated[
        LengthCheck,
        Meta(
            description="Misalignment with the manifold shifted to where its bolts enter best, against "
            "bolt_entry_tolerance: beyond it no bolt enters."
        ),
    ]
    verdict: Annotated[VerdictName, Meta(description="The worst of this face's checks.")]
    against_milling: Annotated[
        AgainstMilling | None,
        Meta(description="This face against its milling, apart from the verdict; null = no milling given."),
    ]


class Corners(Answer, kw_only=True, frozen=True):
    """What to take off at the corners of a face; negative: metal would have to be added."""

    front_top: Annotated[LengthOut | None, Meta(description="Cut at the front, top edge.")]
    front_bottom: Annotated[LengthOut | None, Meta(description="Cut at the front, bottom edge.")]
    rear_top: Annotated[LengthOut | None, Meta(description="Cut at the rear, top edge.")]
    rear_bottom: Annotated[LengthOut | None, Meta(description="Cut at the rear, bottom edge.")]


class AlignedFace(Answer, kw_only=True, frozen=True):
    """What to take off one face so that ports and bolt holes come in line and it closes."""

    face_cut: Annotated[Corners, Meta(description="What comes off this face, or off the manifold where it meets it.")]
    missing: Annotated[LengthOut | None, Meta(description=MISSING)]


class TruedFace(Answer, kw_only=True, frozen=True):
    """The least to take off one face so that it seals, and where its ports then stand."""

    face_cut: Annotated[Corners, Meta(description="The wedge that makes the face parallel; 0 where it is widest open.")]
    misalignment: Annotated[
        LengthOut | None, Meta(description="Bolt holes and ports of the head then below (+) the manifold's.")
    ]


class MeasuredMove(Answer, kw_only=True, frozen=True):
    """How the manifold moves from where it was measured, once the cuts are made."""

    manifold_drop: Annotated[
        LengthOut | None, Meta(description="How far the manifold comes down; negative: it sits higher.")
    ]
    rail_cut: Annotated[
        LengthOut | None,
        Meta(description="What comes off each end rail: the manifold's drop less rail_room, 0 where that is enough."),
    ]
    sideways: Annotated[LengthOut | None, Meta(description=f"How far the manifold moves aside. {ASIDE}")]


class CutsByReadings(MeasuredMove, kw_only=True, frozen=True):
    """Cuts after which ports and bolt holes line up and both faces close."""

    left: Annotated[AlignedFace, Meta(description="The left face.")]
    right: Annotated[AlignedFace, Meta(description="The right face.")]


class SealingByReadings(MeasuredMove, kw_only=True, frozen=True):
    """Cuts after which both faces close with the least metal off, the ports left where that puts them."""

    left: Annotated[TruedFace, Meta(description="The left face.")]
    right: Annotated[TruedFace, Meta(description="The right face.")]


class SeatedManifold(Answer, kw_only=True, frozen=True):
    """Where the manifold goes from where it was measured once it is pushed home on its gaskets, nothing cut."""

    manifold_drop: Annotated[
        LengthOut | None, Meta(description="How far the manifold comes down; negative: the gaskets lift it.")
    ]
    sideways: Annotated[LengthOut | None, Meta(description=f"How far the manifold moves aside. {ASIDE}")]
    rail_gap: Annotated[LengthOut | None, Meta(description="Gap then left at the end rails, for the end seals.")]


class ManifoldAsMeasured(Answer, kw_only=True, frozen=True):
    """Where the manifold sat when it was measured, against where it sat on the engine as made, by the readings."""

    manifold_drop: Annotated[LengthOut | None, Meta(description="How far it sat below (+); null = not measured.")]
    sideways: Annotated[LengthOut | None, Meta(description=f"How far aside it sat. {ASIDE}")]


class IntakeFitAnswer(Answer, kw_only=True, frozen=True):
    """Both faces, and the manifold between them."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[VerdictName, Meta(description="Whether the manifold seats: the worst check of both faces.")]
    explained_by_milling: Annotated[
        bool | None,
        Meta(
            description="Whether what was cut explains the readings, apart from whether it seats; null = not given, or "
            "not measured."
        ),
    ]
    bank_angle: Annotated[AngleOut, Meta(description="Angle between the banks that all of this is figured for.")]
    face_out_of_true: Annotated[
        Literal["neither", "left", "right", "both"] | None,
        Meta(description="Which face is out of true by taper, twist or warp; null = not measured."),
    ]
    manifold_cocked_by: Annotated[
        LengthOut | None,
        Meta(description="Part of the right face's taper, taken from the left's, that a cocked manifold makes."),
    ]
    implied_head_drop_uncertainty: Annotated[
        LengthOut | None,
        Meta(description="How far implied_head_drop can be out by gauge_step and misalignment_step together."),
    ]
    manifold_as_measured: Annotated[ManifoldAsMeasured, Meta(description="Where the manifold sat as measured.")]
    seated: Annotated[SeatedManifold, Meta(description="Where the manifold sits once pushed home.")]
    cuts: Annotated[CutsByReadings, Meta(description="Cuts that put the ports in line.")]
    sealing_first: Annotated[SealingByReadings, Meta(description="Cuts that seal with the least metal off.")]
    left: Annotated[FaceAnswer, Meta(description="The left face.")]
    right: Annotated[FaceAnswer, Meta(description="The right face.")]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


_NUMBERS = Columns(FaceNumbers)
_MILLING = Columns(MillingNumbers)
_CORNERS = Columns(Corners)
_SEATED = Columns(SeatedManifold)
_AS_MEASURED = Columns(ManifoldAsMeasured)


def face_answers(faces: Pair, found: FaceFindings, limits: FaceLimits) -> list[FaceAnswer]:
    """Both faces as they are answered."""
    numbers = _NUMBERS.rows(
        {
            "face_gap": found.gaps.gap,
            "face_taper": found.gaps.taper,
            "face_twist": found.gaps.twist,
            "face_warp": found.gaps.warp,
            "implied_head_drop": found.heads.head_drop,
        },
    )
    checks = _checks(found, limits)
    by_side: list[dict[str, Any]] = [{name: check[side] for name, check in checks.items()} for side in (0, 1)]
    against = _against_milling(faces, found, [out_of_true(one) for one in by_side])
    return [
        FaceAnswer(
            **numbers[side],
            **by_side[side],
            verdict=worst_of([check[side].verdict for check in checks.values()]),
            against_milling=against[side],
        )
        for side in (0, 1)
    ]


def _checks(found: FaceFindings, limits: FaceLimits) -> dict[str, list[LengthCheck]]:
    def setting(value: FloatArray, limit: float) -> IntArray:
        return setting_verdict(within(value, limit), misses_reject=limits.misses_reject)

    def believed(verdicts: IntArray) -> IntArray:
        # where the manifold comes to sit hangs on the readings of both sides
        return accepted_if_proven(verdicts, np.full(2, not found.odd))

    def check(value: FloatArray, limit: float, verdicts: IntArray, *, damage: bool = False) -> list[LengthCheck]:
        return length_checks(value, limit, "within", verdicts, check_class="damage" if damage else "setting")

    gap, holes = found.seated.gap, found.seated.misalignment
    # what does not go in is no gap that a gasket fills
    overlaps = bool((gap < -GRID).any())
    gap_verdict = np.where(gap < -GRID, Verdict.REJECT, setting(gap, limits.gap)).astype(np.int64)
    # one end speaks for the taper, but nothing is good on one end alone
    taper = np.where(np.isnan(found.gaps.gap), np.nan, found.gaps.taper)
    entry = found.seated.entry
    return {
        "face_gap_check": check(gap, limits.gap, believed(gap_verdict), damage=overlaps),
        "face_taper_check": check(taper, limits.taper, setting(taper, limits.taper)),
        "face_twist_check": check(found.gaps.twist, limits.twist, setting(found.gaps.twist, limits.twist)),
        "face_warp_check": check(found.gaps.warp, limits.warp, setting(found.gaps.warp, limits.warp)),
        "misalignment_check": check(holes, limits.bolt_hole, believed(setting(holes, limits.bolt_hole))),
        "bolt_entry_check": check(entry, limits.bolt_entry, believed(within(entry, limits.bolt_entry)), damage=True),
    }


def _against_milling(faces: Pair, found: FaceFindings, crooked: list[bool]) -> list[AgainstMilling | None]:
    rows = _MILLING.rows(
        {
            "head_drop": found.head_drop,
            "difference": found.difference,
            "expected_gap": found.expected.gap[:, 0],
            "expected_misalignment": found.expected.misalignment,
        },
    )
    # the manifold lies between both heads: what one milling should have left hangs on the other's too
    told = not np.isnan(found.difference).any()
    wrong = [out or bent for out, bent in zip(found.unexplained.tolist(), crooked, strict=True)]
    explained = [not out if told else None for out in wrong]
    return [
        None if face.milling is None else AgainstMilling(**row, explained_by_milling=one)
        for face, row, one in zip(faces, rows, explained, strict=True)
    ]


def explained_by_milling(faces: list[FaceAnswer]) -> bool | None:
    """Whether what was cut explains both faces; None where that is not known of both."""
    told = [None if face.against_milling is None else face.against_milling.explained_by_milling for face in faces]
    return None if None in told else all(told)


_TRUE: Final = ("face_taper_check", "face_twist_check", "face_warp_check")


def out_of_true(checks: Mapping[str, LengthCheck]) -> bool:
    """Whether a face's checks find it tapered, twisted or warped."""
    return any(checks[name].verdict in ("borderline", "reject") for name in _TRUE)


def face_out_of_true(faces: list[FaceAnswer]) -> Literal["neither", "left", "right", "both"] | None:
    """Which face is out of true; None where what was measured shows nothing and not all was measured."""
    checks = [{name: getattr(face, name) for name in _TRUE} for face in faces]
    out = [out_of_true(side) for side in checks]
    unread = [any(check.verdict == "not_measured" for check in side.values()) for side in checks]
    if any(some and not bad for some, bad in zip(unread, out, strict=True)):
        return None
    return _WHICH[out[0], out[1]]


_WHICH: Final[dict[tuple[bool, bool], Literal["neither", "left", "right", "both"]]] = {
    (False, False): "neither",
    (True, False): "left",
    (False, True): "right",
    (True, True): "both",
}


def seated_manifold(seated: Seated) -> SeatedManifold:
    """Where the manifold sits once pushed home, as it is answered."""
    columns = {"manifold_drop": seated.seat.drop, "sideways": seated.seat.sideways, "rail_gap": seated.rail_gap}
    return SeatedManifold(**_one(_SEATED, columns))


def manifold_as_measured(heads: ReadHeads) -> ManifoldAsMeasured:
    """Where the manifold sat when it was measured, as it is answered."""
    return ManifoldAsMeasured(**_one(_AS_MEASURED, {"manifold_drop": heads.seat.drop, "sideways": heads.seat.sideways}))


def cuts_by_readings(cuts: MeasuredCuts, room: float) -> CutsByReadings:
    """Cuts that bring the ports in line, as they are answered."""
    left, right = (
        AlignedFace(face_cut=corners, missing=as_written(missing))
        for corners, missing in zip(_corners(cuts.face_cut), cuts.missing.tolist(), strict=True)
    )
    return CutsByReadings(left=left, right=right, **move_fields(cuts.seat, room))


def sealing_by_readings(sealing: SealingCuts, room: float) -> SealingByReadings:
    """Cuts that seal with the least metal off, as they are answered."""
    left, right = (
        TruedFace(face_cut=corners, misalignment=as_written(out))
        for corners, out in zip(_corners(sealing.face_cut), sealing.misalignment.tolist(), strict=True)
    )
    return SealingByReadings(left=left, right=right, **move_fields(sealing.seat, room))


def _corners(values: FloatArray) -> list[Corners]:
    names = ("front_top", "front_bottom", "rear_top", "rear_bottom")
    columns = dict(zip(names, values.reshape(2, 4).T, strict=True))
    return [Corners(**row) for row in _CORNERS.rows(columns)]


def _one(columns: Columns[Any], values: dict[str, float]) -> dict[str, Any]:
    """The fields of one struct from SI."""
    row: dict[str, Any] = columns.rows({name: np.array([value]) for name, value in values.items()})[0]
    return row
