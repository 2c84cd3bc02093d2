"""Intake of a V: what faces, ports and end rails need once the heads have moved, and what happens without."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.movement.moved import Moved, Movement, movement_faults, movement_of
from headbench.api.vocabulary.places import ACROSS, ASIDE, MISSING
from headbench.api.vocabulary.quantities import (
    AngleOut,
    Answer,
    Columns,
    IncludedAngle,
    Length,
    LengthOut,
    Model,
    PositiveLength,
    RatioOut,
    SignedAngle,
    as_written,
    written,
)
from headbench.api.vocabulary.saying import say
from headbench.calc.intake import banks as calc
from headbench.calc.intake import seat as seats
from headbench.calc.intake.faces import find_intake_faults, intake_cuts
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


@dataclass(frozen=True, slots=True)
class IntakeFit:
    """A V before and after; None instead where a reading is missing.

    v : intake_banks.IntakeV
    moves : intake_banks.HeadMoves, this head first
    level : BankCuts
    tilted : BankCuts or None
    sealing : SealingCuts
    """

    v: calc.IntakeV
    moves: calc.HeadMoves
    level: calc.BankCuts
    tilted: calc.BankCuts | None
    sealing: seats.SealingCuts


_INTAKE = Columns(Intake)
_CUTS = Columns(FaceCuts)
_SEALED = Columns(SealedFace)
_MOVE = Columns(ManifoldMove)
_MISFIT = Columns(FaceMisfit)
SIZES: Final = {
    "distance_across": "from the deck's edge opposite the intake face to below the middle of the intake face",
    "face_spacing": "from the middle of one intake face to the middle of the other",
    "face_width": "the intake face from its bottom edge to its top edge",
    "face_height": "from the deck to the middle of the intake face, along the bore",
}
"""Sizes of the V that an angle cut needs, and how to measure each."""
IN_PLACE: Final = seats.ManifoldSeat(0.0, 0.0, 0.0)
_UNCUT: Final = np.zeros((2, 2))
SAME: Final = 1e-12
"""Less than this is nothing: rounding of lengths [m] and angles [rad]."""


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


def both_movements(intake: Intake, movement: Movement) -> tuple[Movement, Movement]:
    """Movement of this head and of the other, which is the same if nothing is said of it."""
    other = movement if intake.other_head is None else movement_of(intake.other_head)
    return movement, other


def open_sizes(intake: Intake, both: tuple[Movement, Movement]) -> Iterator[str]:
    """The sizes of the V that are needed and not measured."""
    if not all(one.flat for one in both):
        yield from (name for name in SIZES if getattr(intake, name) is None)


def fit_intake(intake: Intake, movement: Movement) -> IntakeFit | None:
    """What both movements do to the intake; None while a reading it needs is missing."""
    both = both_movements(intake, movement)
    if intake.face_tilt is None or any(open_sizes(intake, both)):
        return None
    row = {name: column[0] for name, column in _INTAKE.of([intake]).items()}
    # flat cuts turn no face, so that the sizes nobody gave have no say
    sizes = {name: 0.0 if np.isnan(row[name]) else float(row[name]) for name in SIZES}
    distance = np.array([sizes.pop("distance_across")])
    v = calc.IntakeV(bank_angle=float(row["bank_angle"]), face_tilt=float(row["face_tilt"]), **sizes)
    moves = calc.HeadMoves(
        deck_cut=np.array([float(one.depth_at(distance)[0]) for one in both]),
        block_drop=np.array([one.block_decked - one.gasket_thickness_change for one in both]),
        tilt=np.array([one.tilt for one in both]),
    )
    tilt = 0.5 * float(moves.tilt[1] - moves.tilt[0])
    uncut = calc.bank_misfit(v, moves, _UNCUT, IN_PLACE)
    return IntakeFit(
        v=v,
        moves=moves,
        level=calc.bank_cuts(v, moves, 0.0),
        tilted=calc.bank_cuts(v, moves, tilt) if abs(tilt) > SAME else None,
        sealing=seats.sealing_cuts(uncut.gap, uncut.misalignment, v.bank_angle, v.face_tilt),
    )


def intake_section(intake: Intake, fit: IntakeFit | None) -> IntakeSection:
    """What the intake needs as it is answered."""
    tilt = math.nan if intake.face_tilt is None else intake.face_tilt
    factors = intake_cuts(1.0, intake.bank_angle, tilt)
    room = intake.rail_room
    face_cut_factor, rail_cut_factor = written(np.array([factors.face_cut, factors.rail_cut]))
    in_place = at_rest = cut_only = _misfit(None, None)
    if fit is not None:
        # metal that would have to be added is not there, so those faces stay as they are
        cut = np.maximum(fit.level.face_cut, 0.0)
        in_place, at_rest, cut_only = (
            _misfit(calc.bank_misfit(fit.v, fit.moves, taken, seat), seat)
            for taken, seat in (
                (_UNCUT, IN_PLACE),
                (_UNCUT, calc.settled_seat(fit.v, fit.moves, _UNCUT, room)),
                (cut, calc.settled_seat(fit.v, fit.moves, cut, room)),
            )
        )
    return IntakeSection(
        bank_angle=intake.bank_angle,
        face_cut_factor=face_cut_factor,
        rail_cut_factor=rail_cut_factor,
        cuts=_cuts(None if fit is None else fit.level, room),
        cuts_tilted=None if fit is None or fit.tilted is None else _cuts(fit.tilted, room),
        sealing_first=_sealing(None if fit is None else fit.sealing, room),
        uncut_in_place=in_place,
        uncut_at_rest=at_rest,
        faces_cut_only=cut_only,
    )


_NOWHERE: Final = seats.ManifoldSeat(math.nan, math.nan, math.nan)


def move_fields(seat: seats.ManifoldSeat, rail_room: float) -> dict[str, float | None]:
    """The fields of ManifoldMove for a seat, with so much room under the rails [m]."""
    columns = {
        "manifold_drop": np.array([seat.drop]),
        "rail_cut": np.array([seats.rail_cut(seat.drop, rail_room)]),
        "sideways": np.array([seat.sideways]),
    }
    return _MOVE.rows(columns)[0]


def _cuts(cuts: calc.BankCuts | None, room: float) -> ManifoldCuts:
    face_cut = np.full((2, 2), np.nan) if cuts is None else cuts.face_cut
    missing = np.full(2, np.nan) if cuts is None else cuts.missing
    seat = _NOWHERE if cuts is None else cuts.seat
    columns = {"face_cut_top": face_cut[:, 0], "face_cut_bottom": face_cut[:, 1], "missing": missing}
    this_head, other_head = (FaceCuts(**row) for row in _CUTS.rows(columns))
    return ManifoldCuts(
        this_head=this_head,
        other_head=other_head,
        manifold_tilt=as_written(seat.tilt),
        **move_fields(seat, room),
    )


def _sealing(sealing: seats.SealingCuts | None, room: float) -> SealingFirst:
    face_cut = np.full((2, 2), np.nan) if sealing is None else sealing.face_cut
    misalignment = np.full(2, np.nan) if sealing is None else sealing.misalignment
    columns = {"face_cut_top": face_cut[:, 0], "face_cut_bottom": face_cut[:, 1], "misalignment": misalignment}
    this_head, other_head = (SealedFace(**row) for row in _SEALED.rows(columns))
    seat = _NOWHERE if sealing is None else sealing.seat
    return SealingFirst(this_head=this_head, other_head=other_head, **move_fields(seat, room))


def _misfit(misfit: calc.BankMisfit | None, seat: seats.ManifoldSeat | None) -> ManifoldMisfit:
    gap = np.full((2, 2), np.nan) if misfit is None else misfit.gap
    misalignment = np.full(2, np.nan) if misfit is None else misfit.misalignment
    columns = {"gap_top": gap[:, 0], "gap_bottom": gap[:, 1], "misalignment": misalignment}
    this_head, other_head = (FaceMisfit(**row) for row in _MISFIT.rows(columns))
    return ManifoldMisfit(
        this_head=this_head,
        other_head=other_head,
        manifold_drop=None if seat is None else as_written(seat.drop),
        sideways=None if seat is None else as_written(seat.sideways),
    )
