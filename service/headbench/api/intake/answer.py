"""Intake fit as it is answered: how both faces stand, where the manifold sits, and both ways to cut."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from msgspec import Meta

from headbench.api.intake.faces import Face, Pair
from headbench.api.vocabulary.checks import LengthCheck, VerdictName, length_check, worst_of
from headbench.api.vocabulary.findings import Note, OpenItem
from headbench.api.vocabulary.places import ASIDE, MISSING
from headbench.api.vocabulary.quantities import AngleOut, Answer, LengthOut, UnitsUsed
from headbench.calc import FloatArray
from headbench.calc.intake.fit import FaceFindings, Held
from headbench.calc.intake.gaps import MeasuredCuts, Seated
from headbench.calc.intake.heads import ReadHeads
from headbench.calc.intake.seat import SealingCuts, rail_cut
from headbench.calc.judging.limits import CheckClass
from headbench.calc.judging.verdicts import Verdict


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


def face_answers(faces: Pair, found: FaceFindings) -> list[FaceAnswer]:
    """Both faces as they are answered."""
    return [_face_answer(face, found, side) for side, face in enumerate(faces)]


def _face_answer(face: Face, found: FaceFindings, side: int) -> FaceAnswer:
    gaps, held = found.gaps, found.faces[side]
    checks = [_check(one) for one in (held.gap, held.taper, held.twist, held.warp, held.misalignment, held.bolt_entry)]
    gap, taper, twist, warp, misalignment, entry = checks
    return FaceAnswer(
        face_gap=float(gaps.gap[side]),
        face_taper=float(gaps.taper[side]),
        face_twist=float(gaps.twist[side]),
        face_warp=float(gaps.warp[side]),
        implied_head_drop=float(found.heads.head_drop[side]),
        face_gap_check=gap,
        face_taper_check=taper,
        face_twist_check=twist,
        face_warp_check=warp,
        misalignment_check=misalignment,
        bolt_entry_check=entry,
        verdict=worst_of([check.verdict for check in checks]),
        against_milling=None if face.milling is None else _against_milling(found, side),
    )


def _check(held: Held) -> LengthCheck:
    check_class: CheckClass = "damage" if held.damages else "setting"
    return length_check(held.value, held.limit, "within", held.verdict, check_class=check_class)


def _against_milling(found: FaceFindings, side: int) -> AgainstMilling:
    return AgainstMilling(
        head_drop=float(found.head_drop[side]),
        difference=float(found.difference[side]),
        expected_gap=float(found.expected.gap[side, 0]),
        expected_misalignment=float(found.expected.misalignment[side]),
        explained_by_milling=found.explained[side],
    )


def explained_by_milling(faces: Pair, found: FaceFindings) -> bool | None:
    """Whether what was cut explains both faces; None where that is not known of both."""
    if any(face.milling is None for face in faces) or None in found.explained:
        return None
    return all(found.explained)


def face_out_of_true(found: FaceFindings) -> Literal["neither", "left", "right", "both"] | None:
    """Which face is out of true; None where what was measured shows nothing and not all was measured."""
    for held in found.faces:
        unread = any(one.verdict == Verdict.NOT_MEASURED for one in (held.taper, held.twist, held.warp))
        if unread and not held.out_of_true:
            return None
    left, right = found.faces
    return _WHICH[left.out_of_true, right.out_of_true]


_WHICH: Final[dict[tuple[bool, bool], Literal["neither", "left", "right", "both"]]] = {
    (False, False): "neither",
    (True, False): "left",
    (False, True): "right",
    (True, True): "both",
}


def seated_manifold(seated: Seated) -> SeatedManifold:
    """Where the manifold sits once pushed home, as it is answered."""
    return SeatedManifold(manifold_drop=seated.seat.drop, sideways=seated.seat.sideways, rail_gap=seated.rail_gap)


def manifold_as_measured(heads: ReadHeads) -> ManifoldAsMeasured:
    """Where the manifold sat when it was measured, as it is answered."""
    return ManifoldAsMeasured(manifold_drop=heads.seat.drop, sideways=heads.seat.sideways)


def cuts_by_readings(cuts: MeasuredCuts, room: float) -> CutsByReadings:
    """Cuts that bring the ports in line, as they are answered."""
    left, right = (
        AlignedFace(face_cut=corners, missing=missing)
        for corners, missing in zip(_corners(cuts.face_cut), cuts.missing.tolist(), strict=True)
    )
    return CutsByReadings(
        left=left,
        right=right,
        manifold_drop=cuts.seat.drop,
        rail_cut=rail_cut(cuts.seat.drop, room),
        sideways=cuts.seat.sideways,
    )


def sealing_by_readings(sealing: SealingCuts, room: float) -> SealingByReadings:
    """Cuts that seal with the least metal off, as they are answered."""
    left, right = (
        TruedFace(face_cut=corners, misalignment=out)
        for corners, out in zip(_corners(sealing.face_cut), sealing.misalignment.tolist(), strict=True)
    )
    return SealingByReadings(
        left=left,
        right=right,
        manifold_drop=sealing.seat.drop,
        rail_cut=rail_cut(sealing.seat.drop, room),
        sideways=sealing.seat.sideways,
    )


def _corners(values: FloatArray) -> list[Corners]:
    return [
        Corners(front_top=front_top, front_bottom=front_bottom, rear_top=rear_top, rear_bottom=rear_bottom)
        for front_top, front_bottom, rear_top, rear_bottom in values.reshape(2, 4).tolist()
    ]
