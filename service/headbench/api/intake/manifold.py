"""Intake of a V: what faces, ports and end rails need once the heads have moved, and what happens without."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.movement.moved import Moved, movement_faults, movement_of
from headbench.api.vocabulary.places import ACROSS, ASIDE, MISSING
from headbench.api.vocabulary.quantities import (
    AngleOut,
    Answer,
    IncludedAngle,
    Length,
    LengthOut,
    Model,
    PositiveLength,
    RatioOut,
    SignedAngle,
    number_of,
)
from headbench.api.vocabulary.saying import say
from headbench.calc.intake.banks import BankCuts
from headbench.calc.intake.faces import find_intake_faults, intake_cuts
from headbench.calc.intake.manifold import IntakeFit, IntakeSide, Standing
from headbench.calc.intake.seat import ManifoldSeat, SealingCuts, rail_cut
from headbench.calc.movement.movement import Movement
from headbench.errors import Pointed

BankAngle = Annotated[
    IncludedAngle,
    Meta(description="Angle between the two banks, as the trade names a V: 90 for a 90-degree V.", examples=[72]),
]
FaceTilt = Annotated[
    SignedAngle | None,
    Meta(
        description="Intake face angle, degrees off square to the deck; positive where the face leans back and looks "
        "further up than a square one, minus half the bank angle where it stands upright. Null = not measured.",
        examples=[7],
    ),
]


class Intake(Model, kw_only=True, frozen=True):
    """The intake side of a V, both banks made alike; its sizes are needed for an angle cut only."""

    bank_angle: BankAngle
    face_tilt: FaceTilt = None
    other_head: Annotated[
        Moved | None,
        Meta(
            description="What lets the other head drop; null = the same as this one.",
            examples=[{"cut": {"kind": "flat", "depth": 0.020}}],
        ),
    ] = None
    rail_room: Annotated[
        Length,
        Meta(
            description="How far the manifold can come down before it rests on the block's end rails; 0 where it rests "
            "on them. With open rails enter more than the cut.",
            examples=[0.060],
        ),
    ] = 0.0
    distance_across: Annotated[
        Length | None,
        Meta(description=f"Where the deck lies below the middle of the intake face. {ACROSS}", examples=[6.2]),
    ] = None
    face_spacing: Annotated[
        PositiveLength | None,
        Meta(
            description="From the middle of one intake face to the middle of the other; null = not measured.",
            examples=[9.5],
        ),
    ] = None
    face_width: Annotated[
        PositiveLength | None,
        Meta(description="Intake face, bottom edge to top edge; null = not measured.", examples=[2.6]),
    ] = None
    face_height: Annotated[
        PositiveLength | None,
        Meta(description="Deck to the middle of the intake face, along the bore; null = not measured.", examples=[1.9]),
    ] = None


class FaceCuts(Answer, kw_only=True, frozen=True):
    """What to take off one intake face, or off the manifold's where it meets it."""

    face_cut_top: Annotated[
        LengthOut | None, Meta(description="Cut at the top edge; negative: metal would have to be added.")
    ]
    face_cut_bottom: Annotated[
        LengthOut | None, Meta(description="Cut at the bottom edge; negative: metal would have to be added.")
    ]
    missing: Annotated[LengthOut | None, Meta(description=MISSING)]


class ManifoldMove(Answer, kw_only=True, frozen=True):
    """How the manifold moves once the cuts are made."""

    manifold_drop: Annotated[
        LengthOut | None, Meta(description="How far the manifold comes down; negative: it sits higher.")
    ]
    rail_cut: Annotated[
        LengthOut | None,
        Meta(
            description="What comes off each end rail: the manifold's drop less the room under the rails, 0 where "
            "that is enough."
        ),
    ]
    sideways: Annotated[LengthOut | None, Meta(description=f"How far the manifold moves aside. {ASIDE}")]


class ManifoldCuts(ManifoldMove, kw_only=True, frozen=True):
    """Cuts after which the ports line up and both faces close."""

    this_head: FaceCuts
    other_head: FaceCuts
    manifold_tilt: Annotated[
        AngleOut | None, Meta(description="How far the manifold turns, the other head's side up positive.")
    ]


class SealedFace(Answer, kw_only=True, frozen=True):
    """The least to take off one face so that it seals, and where its ports then stand."""

    face_cut_top: Annotated[LengthOut | None, Meta(description="Cut at the top edge; 0 where it is widest open.")]
    face_cut_bottom: Annotated[LengthOut | None, Meta(description="Cut at the bottom edge; 0 where it is widest open.")]
    misalignment: Annotated[
        LengthOut | None,
        Meta(description="Ports and bolt holes of the head then below (+) the manifold's, along the face."),
    ]


class SealingFirst(ManifoldMove, kw_only=True, frozen=True):
    """Cuts after which both faces close with the least metal off, the ports left where that puts them."""

    this_head: SealedFace
    other_head: SealedFace


class FaceMisfit(Answer, kw_only=True, frozen=True):
    """How one head's face stands to the manifold's."""

    gap_top: Annotated[
        LengthOut | None, Meta(description="Gap at the top edge, square to the face; negative: they overlap.")
    ]
    gap_bottom: Annotated[
        LengthOut | None, Meta(description="Gap at the bottom edge, square to the face; negative: they overlap.")
    ]
    misalignment: Annotated[
        LengthOut | None, Meta(description="Ports and bolt holes of the head below (+) the manifold's, along the face.")
    ]


class ManifoldMisfit(Answer, kw_only=True, frozen=True):
    """How the manifold stands between the heads."""

    this_head: FaceMisfit
    other_head: FaceMisfit
    manifold_drop: Annotated[
        LengthOut | None, Meta(description="How far the manifold has come down; negative: it rides up off its rails.")
    ]
    sideways: Annotated[LengthOut | None, Meta(description=f"How far the manifold has moved aside. {ASIDE}")]


class IntakeSection(Answer, kw_only=True, frozen=True):
    """What the intake needs, and what happens without."""

    bank_angle: Annotated[AngleOut, Meta(description="Angle between the banks that all of this is figured for.")]
    face_cut_factor: Annotated[
        RatioOut | None,
        Meta(description="Face cut per head drop, both heads alike and flat: sin b/cos(b + a), b half the bank angle."),
    ]
    rail_cut_factor: Annotated[
        RatioOut | None, Meta(description="Manifold drop per head drop, both heads alike and flat: cos a/cos(b + a).")
    ]
    cuts: Annotated[ManifoldCuts, Meta(description="Cuts that put the ports in line, the manifold kept level.")]
    cuts_tilted: Annotated[
        ManifoldCuts | None,
        Meta(
            description="Cuts that put the ports in line, the manifold turned so that both faces taper alike: the "
            "end rails are cut "
            "at manifold_tilt too, rail_cut deep at their middle. Null = the heads turn alike."
        ),
    ]
    sealing_first: Annotated[
        SealingFirst,
        Meta(description="Cuts that close both faces with the least metal off; ports stay out by misalignment."),
    ]
    uncut_in_place: Annotated[
        ManifoldMisfit, Meta(description="Faces and rails uncut, the manifold held where it was.")
    ]
    uncut_at_rest: Annotated[
        ManifoldMisfit, Meta(description="Faces and rails uncut, the manifold where it comes to rest.")
    ]
    faces_cut_only: Annotated[
        ManifoldMisfit, Meta(description="Faces cut as in `cuts`, the end rails not, the manifold at rest.")
    ]


SIZES: Final = {
    "distance_across": "from the deck's edge opposite the intake face to below the middle of the intake face",
    "face_spacing": "from the middle of one intake face to the middle of the other",
    "face_width": "the intake face from its bottom edge to its top edge",
    "face_height": "from the deck to the middle of the intake face, along the bore",
}
"""Sizes of the V that an angle cut needs, and how to measure each."""


def v_faults(bank_angle: float, face_tilt: float | None, prefix: str) -> Iterator[Pointed]:
    """Angles that leave no V to put a manifold into."""
    tilt = math.nan if face_tilt is None else face_tilt
    v = f"a bank angle of {say(bank_angle, 'angle')}"
    face = f"with {v} a face tilt of {say(0.0 if face_tilt is None else face_tilt, 'angle')}"
    for fault in find_intake_faults(bank_angle, tilt):
        match fault:
            case "no_v":
                detail = f"{v} is an in-line engine; enter the angle between the banks"
                yield Pointed(f"{prefix}/bank_angle", detail)
            case "lies_flat":
                detail = f"{v} is an opposed engine; its manifold sits in no V"
                yield Pointed(f"{prefix}/bank_angle", detail)
            case "faces_lie_flat":
                detail = (
                    f"{face} lays the intake faces flat; it must be below "
                    f"{say(0.5 * (math.pi - bank_angle), 'angle')}, measured from square to the deck"
                )
                yield Pointed(f"{prefix}/face_tilt", detail)
            case "faces_overhang":
                detail = (
                    f"{face} makes the intake faces overhang, and no manifold drops in; it must be "
                    f"{say(-0.5 * bank_angle, 'angle')} or more, measured from square to the deck"
                )
                yield Pointed(f"{prefix}/face_tilt", detail)


def intake_faults(intake: Intake) -> Iterator[Pointed]:
    """Statements about the V that cannot all hold."""
    yield from v_faults(intake.bank_angle, intake.face_tilt, "/intake_side")
    if intake.other_head is not None:
        yield from movement_faults(intake.other_head, "/intake_side/other_head")


def intake_of(intake: Intake) -> IntakeSide:
    """The intake as it was made."""
    return IntakeSide(
        bank_angle=intake.bank_angle,
        face_tilt=number_of(intake.face_tilt),
        rail_room=intake.rail_room,
        distance_across=number_of(intake.distance_across),
        face_spacing=number_of(intake.face_spacing),
        face_width=number_of(intake.face_width),
        face_height=number_of(intake.face_height),
    )


def open_sizes(intake: Intake, movement: Movement) -> Iterator[str]:
    """The sizes of the V that are needed and not measured."""
    flat = movement.flat and (intake.other_head is None or movement_of(intake.other_head).flat)
    if not flat:
        yield from (name for name in SIZES if getattr(intake, name) is None)


def intake_section(intake: Intake, fit: IntakeFit | None) -> IntakeSection:
    """What the intake needs as it is answered."""
    factors = intake_cuts(1.0, intake.bank_angle, number_of(intake.face_tilt))
    room = intake.rail_room
    return IntakeSection(
        bank_angle=intake.bank_angle,
        face_cut_factor=factors.face_cut,
        rail_cut_factor=factors.rail_cut,
        cuts=_cuts(None if fit is None else fit.level, room),
        cuts_tilted=None if fit is None or fit.tilted is None else _cuts(fit.tilted, room),
        sealing_first=_sealing(None if fit is None else fit.sealing, room),
        uncut_in_place=_misfit(None if fit is None else fit.uncut_in_place),
        uncut_at_rest=_misfit(None if fit is None else fit.uncut_at_rest),
        faces_cut_only=_misfit(None if fit is None else fit.faces_cut_only),
    )


_NOWHERE: Final = ManifoldSeat(math.nan, math.nan, math.nan)


def _cuts(cuts: BankCuts | None, room: float) -> ManifoldCuts:
    seat = _NOWHERE if cuts is None else cuts.seat
    this_head, other_head = (
        [FaceCuts(face_cut_top=None, face_cut_bottom=None, missing=None)] * 2
        if cuts is None
        else [
            FaceCuts(face_cut_top=top, face_cut_bottom=bottom, missing=missing)
            for (top, bottom), missing in zip(cuts.face_cut.tolist(), cuts.missing.tolist(), strict=True)
        ]
    )
    return ManifoldCuts(
        this_head=this_head,
        other_head=other_head,
        manifold_drop=seat.drop,
        rail_cut=rail_cut(seat.drop, room),
        sideways=seat.sideways,
        manifold_tilt=seat.tilt,
    )


def _sealing(sealing: SealingCuts | None, room: float) -> SealingFirst:
    seat = _NOWHERE if sealing is None else sealing.seat
    this_head, other_head = (
        [SealedFace(face_cut_top=None, face_cut_bottom=None, misalignment=None)] * 2
        if sealing is None
        else [
            SealedFace(face_cut_top=top, face_cut_bottom=bottom, misalignment=out)
            for (top, bottom), out in zip(sealing.face_cut.tolist(), sealing.misalignment.tolist(), strict=True)
        ]
    )
    return SealingFirst(
        this_head=this_head,
        other_head=other_head,
        manifold_drop=seat.drop,
        rail_cut=rail_cut(seat.drop, room),
        sideways=seat.sideways,
    )


def _misfit(standing: Standing | None) -> ManifoldMisfit:
    if standing is None:
        nothing = FaceMisfit(gap_top=None, gap_bottom=None, misalignment=None)
        return ManifoldMisfit(this_head=nothing, other_head=nothing, manifold_drop=None, sideways=None)
    misfit = standing.misfit
    this_head, other_head = (
        FaceMisfit(gap_top=top, gap_bottom=bottom, misalignment=out)
        for (top, bottom), out in zip(misfit.gap.tolist(), misfit.misalignment.tolist(), strict=True)
    )
    return ManifoldMisfit(
        this_head=this_head,
        other_head=other_head,
        manifold_drop=standing.seat.drop,
        sideways=standing.seat.sideways,
    )
