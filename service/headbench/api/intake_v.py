"""Intake of a V: what faces, ports and end rails need once the heads have moved, and what happens without."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.findings import Note, OpenItem, note
from headbench.api.milled import ACROSS, Moved, Movement, movement_faults, movement_to_si
from headbench.api.milling_notes import order_of_work
from headbench.api.quantities import (
    Angle,
    AngleOut,
    Answer,
    Columns,
    Length,
    LengthOut,
    Model,
    PositiveLength,
    SignedAngle,
    say,
    shows,
    written,
)
from headbench.api.wanted import as_written
from headbench.calc import FloatArray
from headbench.calc import intake_banks as calc
from headbench.calc.intake_fit import find_intake_faults, intake_cuts
from headbench.errors import Pointed
from headbench.units import Scales

HalfAngle = Annotated[Angle, Meta(description="Bore axis from vertical: 45 in a V of 90 degrees.")]
FaceTilt = Annotated[
    SignedAngle | None,
    Meta(
        description="Intake face from square to the deck; positive when it leans back, its normal turned up from a "
        "square one's. Null: not measured."
    ),
]


class Intake(Model, kw_only=True, frozen=True):
    """The intake side of a V, both banks made alike; its sizes are asked for by a wedge only."""

    bank_half_angle: HalfAngle
    face_tilt: FaceTilt = None
    other_head: Annotated[
        Moved | None, Meta(description="What brings the other head nearer; null: the same as this one.")
    ] = None
    rail_room: Annotated[
        Length,
        Meta(
            description="How far the manifold can come down before it stands on its end rails; with none, give more "
            "than the cut."
        ),
    ] = 0.0
    distance_across: Annotated[
        Length | None, Meta(description=f"Where the deck lies below the middle of the intake face. {ACROSS}")
    ] = None
    face_spacing: Annotated[PositiveLength | None, Meta(description="Between the middles of the two intake faces.")] = (
        None
    )
    face_width: Annotated[
        PositiveLength | None, Meta(description="Of an intake face, from its bottom to its top edge.")
    ] = None
    face_height: Annotated[
        PositiveLength | None, Meta(description="From the deck to the middle of the intake face, along the bore.")
    ] = None


class FaceCuts(Answer, kw_only=True, frozen=True):
    """What to take off one intake face, or off the manifold's where it meets it."""

    face_cut_top: Annotated[
        LengthOut | None, Meta(description="At the top edge; negative: metal would have to be added.")
    ]
    face_cut_bottom: Annotated[LengthOut | None, Meta(description="At the bottom edge.")]
    missing: Annotated[LengthOut | None, Meta(description="The most that would have to be added: no cut mends that.")]


class ManifoldCuts(Answer, kw_only=True, frozen=True):
    """Cuts after which the ports line up and both faces close."""

    this_head: FaceCuts
    other_head: FaceCuts
    rail_cut: Annotated[LengthOut | None, Meta(description="Off the end rails: how far the manifold comes down.")]
    sideways: Annotated[LengthOut | None, Meta(description="How far it moves towards the other head.")]
    manifold_tilt: Annotated[AngleOut | None, Meta(description="How far it turns, the other head's side up positive.")]


class FaceMisfit(Answer, kw_only=True, frozen=True):
    """How one head's face stands to the manifold's."""

    gap_top: Annotated[
        LengthOut | None, Meta(description="Open at the top edge, along the normal; negative: overlaps.")
    ]
    gap_bottom: Annotated[LengthOut | None, Meta(description="Open at the bottom edge.")]
    misalignment: Annotated[
        LengthOut | None, Meta(description="Ports and bolt holes of the head below (+) the manifold's, along the face.")
    ]


class ManifoldMisfit(Answer, kw_only=True, frozen=True):
    """How the manifold stands between the heads."""

    this_head: FaceMisfit
    other_head: FaceMisfit
    drop: Annotated[
        LengthOut | None, Meta(description="How far it has come down; negative: it rides up off its rails.")
    ]
    sideways: Annotated[LengthOut | None, Meta(description="How far it has moved towards the other head.")]


class IntakeSection(Answer, kw_only=True, frozen=True):
    """What the intake needs, and what happens without."""

    face_cut_factor: Annotated[
        float | None, Meta(description="Face cut per net approach, both heads alike and flat: sin b/cos(b + a).")
    ]
    rail_cut_factor: Annotated[float | None, Meta(description="Rail cut per net approach: cos a/cos(b + a).")]
    cuts: Annotated[ManifoldCuts, Meta(description="With the manifold kept level.")]
    cuts_tilted: Annotated[
        ManifoldCuts | None,
        Meta(description="With the manifold turned so that both faces taper alike; null where the heads turn alike."),
    ]
    uncut_in_place: Annotated[ManifoldMisfit, Meta(description="Nothing cut, the manifold held where it was.")]
    uncut_at_rest: Annotated[ManifoldMisfit, Meta(description="Nothing cut, the manifold where it comes to rest.")]
    faces_cut_only: Annotated[
        ManifoldMisfit, Meta(description="Faces cut as in `cuts`, the end rails not, the manifold at rest.")
    ]


@dataclass(frozen=True, slots=True)
class IntakeFit:
    """A V before and after, in SI; None instead where a reading is missing.

    v : intake_banks.IntakeV
    approach, head_tilt : array (2,), this head first [m, rad]
    level : BankCuts
    tilted : BankCuts or None
    """

    v: calc.IntakeV
    approach: FloatArray
    head_tilt: FloatArray
    level: calc.BankCuts
    tilted: calc.BankCuts | None


_INTAKE = Columns(Intake)
_CUTS = Columns(FaceCuts)
_MISFIT = Columns(FaceMisfit)
_SIZES: Final = {
    "distance_across": "where the deck lies below the middle of the intake face",
    "face_spacing": "from the middle of one intake face to the middle of the other",
    "face_width": "an intake face from its bottom to its top edge",
    "face_height": "from the deck to the middle of the intake face",
}
_IN_PLACE: Final = calc.ManifoldSeat(0.0, 0.0, 0.0)
_SAME: Final = 1e-12


def v_faults(bank_half_angle: float, face_tilt: float | None, prefix: str, scales: Scales) -> Iterator[Pointed]:
    """Angles, as the caller wrote them, that leave no V to put a manifold into."""
    unit = scales["angle"].factor
    tilt = math.nan if face_tilt is None else face_tilt * unit
    for fault in find_intake_faults(bank_half_angle * unit, tilt):
        match fault:
            case "no_v":
                detail = f"a half angle of {bank_half_angle:g} deg makes no V; the bores of an in-line engine have none"
                yield Pointed(f"{prefix}/bank_half_angle", detail)
            case "lies_flat":
                detail = (
                    f"bores at {bank_half_angle:g} deg from vertical lie flat; banks that oppose each other make no V"
                )
                yield Pointed(f"{prefix}/bank_half_angle", detail)
            case "faces_lie_flat":
                detail = (
                    f"with bores at {bank_half_angle:g} deg a tilt of {face_tilt:g} deg lays the intake faces flat or "
                    "past it: lowering the manifold never brings its ports in line"
                )
                yield Pointed(f"{prefix}/face_tilt", detail)
            case "faces_overhang":
                detail = (
                    f"with bores at {bank_half_angle:g} deg a tilt of {face_tilt:g} deg makes the intake faces "
                    "overhang: no manifold can be lowered onto them"
                )
                yield Pointed(f"{prefix}/face_tilt", detail)


def intake_faults(intake: Intake, scales: Scales) -> Iterator[Pointed]:
    """Statements about the V that cannot all hold."""
    yield from v_faults(intake.bank_half_angle, intake.face_tilt, "/intake", scales)
    if intake.other_head is not None:
        yield from movement_faults(intake.other_head, scales, "/intake/other_head")


def _movements(intake: Intake, movement: Movement, scales: Scales) -> tuple[Movement, Movement]:
    other = movement if intake.other_head is None else movement_to_si(intake.other_head, scales)
    return movement, other


def fit_intake(intake: Intake, movement: Movement, scales: Scales) -> IntakeFit | None:
    """What both movements do to the intake; None while a reading it needs is missing."""
    both = _movements(intake, movement, scales)
    if intake.face_tilt is None or any(_open_sizes(intake, both)):
        return None
    row = {name: column[0] for name, column in _INTAKE.to_si([intake], scales).items()}
    # flat cuts turn no face, so that the sizes nobody gave have no say
    sizes = {name: 0.0 if np.isnan(row[name]) else float(row[name]) for name in _SIZES}
    distance = np.array([sizes.pop("distance_across")])
    v = calc.IntakeV(bank_half_angle=float(row["bank_half_angle"]), face_tilt=float(row["face_tilt"]), **sizes)
    approach = np.array([float(one.approach_at(distance)[0]) for one in both])
    head_tilt = np.array([one.tilt for one in both])
    tilt = 0.5 * float(head_tilt[1] - head_tilt[0])
    return IntakeFit(
        v=v,
        approach=approach,
        head_tilt=head_tilt,
        level=calc.bank_cuts(v, approach, head_tilt, 0.0),
        tilted=calc.bank_cuts(v, approach, head_tilt, tilt) if abs(tilt) > _SAME else None,
    )


def _open_sizes(intake: Intake, both: tuple[Movement, Movement]) -> Iterator[str]:
    if not all(one.flat for one in both):
        yield from (name for name in _SIZES if getattr(intake, name) is None)


def intake_section(intake: Intake, fit: IntakeFit | None, scales: Scales) -> IntakeSection:
    """What the intake needs as it is answered."""
    unit = scales["angle"].factor
    tilt = math.nan if intake.face_tilt is None else intake.face_tilt * unit
    factors = intake_cuts(1.0, intake.bank_half_angle * unit, tilt)
    room = intake.rail_room * scales["length"].factor
    per_approach = dict(
        zip(
            ("face_cut_factor", "rail_cut_factor"),
            written(np.array([factors.face_cut, factors.rail_cut])),
            strict=True,
        )
    )
    if fit is None:
        return IntakeSection(
            **per_approach,
            cuts=_cuts(None, scales),
            cuts_tilted=None,
            uncut_in_place=_misfit(None, None, scales),
            uncut_at_rest=_misfit(None, None, scales),
            faces_cut_only=_misfit(None, None, scales),
        )
    uncut = np.zeros((2, 2))
    # metal that would have to be added is not there, so those faces stay as they are
    cut = np.maximum(fit.level.face_cut, 0.0)
    in_place, at_rest, cut_only = (
        _misfit(calc.bank_misfit(fit.v, fit.approach, fit.head_tilt, taken, seat), seat, scales)
        for taken, seat in (
            (uncut, _IN_PLACE),
            (uncut, calc.settled_seat(fit.v, fit.approach, fit.head_tilt, uncut, room)),
            (cut, calc.settled_seat(fit.v, fit.approach, fit.head_tilt, cut, room)),
        )
    )
    return IntakeSection(
        **per_approach,
        cuts=_cuts(fit.level, scales),
        cuts_tilted=None if fit.tilted is None else _cuts(fit.tilted, scales),
        uncut_in_place=in_place,
        uncut_at_rest=at_rest,
        faces_cut_only=cut_only,
    )


def _cuts(cuts: calc.BankCuts | None, scales: Scales) -> ManifoldCuts:
    face_cut = np.full((2, 2), np.nan) if cuts is None else cuts.face_cut
    missing = np.full(2, np.nan) if cuts is None else cuts.missing
    seat = calc.ManifoldSeat(math.nan, math.nan, math.nan) if cuts is None else cuts.seat
    columns = {"face_cut_top": face_cut[:, 0], "face_cut_bottom": face_cut[:, 1], "missing": missing}
    this_head, other_head = (FaceCuts(**row) for row in _CUTS.from_si(columns, scales))
    return ManifoldCuts(
        this_head=this_head,
        other_head=other_head,
        rail_cut=as_written(seat.drop, "length", scales),
        sideways=as_written(seat.sideways, "length", scales),
        manifold_tilt=as_written(seat.tilt, "angle", scales),
    )


def _misfit(misfit: calc.BankMisfit | None, seat: calc.ManifoldSeat | None, scales: Scales) -> ManifoldMisfit:
    gap = np.full((2, 2), np.nan) if misfit is None else misfit.gap
    misalignment = np.full(2, np.nan) if misfit is None else misfit.misalignment
    columns = {"gap_top": gap[:, 0], "gap_bottom": gap[:, 1], "misalignment": misalignment}
    this_head, other_head = (FaceMisfit(**row) for row in _MISFIT.from_si(columns, scales))
    return ManifoldMisfit(
        this_head=this_head,
        other_head=other_head,
        drop=None if seat is None else as_written(seat.drop, "length", scales),
        sideways=None if seat is None else as_written(seat.sideways, "length", scales),
    )


def open_intake(intake: Intake, movement: Movement, scales: Scales) -> Iterator[OpenItem]:
    """What is still to be measured of the V."""
    held = ["cuts", "uncut_in_place", "uncut_at_rest", "faces_cut_only"]

    def item(field: str, detail: str, *more: str) -> OpenItem:
        pointer = f"/intake/{field}"
        return OpenItem(pointer=pointer, position=None, spring=None, needed_for=[*more, *held], detail=detail)

    if intake.face_tilt is None:
        detail = "Measure how far the intake face is from square to the deck."
        yield item("face_tilt", detail, "face_cut_factor", "rail_cut_factor")
    for name in _open_sizes(intake, _movements(intake, movement, scales)):
        yield item(name, f"Measure {_SIZES[name]}; an angle cut turns the faces.")


def intake_notes(intake: Intake, fit: IntakeFit | None, scales: Scales) -> Iterator[Note]:
    """What is to be said about the intake; nothing where nothing moved."""
    if fit is None or not (np.abs(fit.approach).max() > _SAME or np.abs(fit.head_tilt).max() > _SAME):
        return
    missing = float(fit.level.missing.max())
    if shows(missing, "length", scales):
        this, other = (fit.level.missing > _SAME).tolist()
        instead = "Bring the other head down as much"
        if this and other:
            instead = "Both heads have moved away: fit thinner head gaskets, or bring both down"
        elif other and not this and fit.approach[0] < fit.approach[1]:
            instead = "Bring this head down as much"
        detail = (
            f"Up to {say(missing, 'length', scales)} would have to be added to a face: no cut mends that. {instead}, "
            "or space the manifold with a thicker intake gasket there."
        )
        yield note("metal_missing", "/intake", detail)
    if fit.level.face_cut.max() > _SAME:
        yield order_of_work("/intake")
    if intake.face_tilt == 0.0 and not fit.head_tilt.any():
        detail = (
            "With faces square to the deck no gap opens at all: a feeler gauge finds nothing, while ports and bolt "
            "holes are out of line. Check the bolt holes."
        )
        yield note("gauge_finds_nothing", "/intake/face_tilt", detail)
    if shows(abs(fit.level.seat.sideways), "length", scales):
        detail = (
            f"The heads have not moved alike: the manifold moves {say(abs(fit.level.seat.sideways), 'length', scales)} "
            "sideways; check its bolt holes, the distributor and the linkage."
        )
        yield note("banks_unequal", "/intake/other_head", detail)
