"""Intake notes: what is still to be measured of a V, what its heads' cuts do to its intake, and what helps."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from headbench.api.intake.manifold import SIZES, Intake, open_sizes
from headbench.api.movement.moved import order_of_work
from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.saying import say, shows
from headbench.calc import FloatArray
from headbench.calc.intake.faces import faces_upright
from headbench.calc.intake.manifold import SAME, IntakeFit
from headbench.calc.intake.seat import SealingCuts, rail_cut
from headbench.calc.judging.rules import USUAL_BANK_ANGLES
from headbench.calc.movement.movement import Movement

ASK_FOR_TILT = "Measure the intake face angle, degrees off square to the deck."
_HEADS = ("this head", "the other head")


def unusual_bank_angle(bank_angle: float, pointer: str) -> Iterator[Note]:
    """A V so narrow that half its angle may have been entered."""
    if bank_angle < USUAL_BANK_ANGLES.values[0] - SAME:
        detail = (
            f"A V of {say(bank_angle, 'angle')} is rare. Enter the whole angle between the banks: 90 for a "
            "90-degree V, whose bores lean 45 each."
        )
        yield note("unusual_reading", pointer, detail)


def cut_words(face_cut: FloatArray, rails: float, faces: Sequence[str]) -> str:
    """What comes off each face (rows of face_cut) at most, and off the end rails [m]; empty where nothing does."""
    each = [max(row) for row in face_cut.reshape(2, -1).tolist()]
    off = [
        f"up to {say(by, 'length')} off {face}"
        for by, face in zip(each, faces, strict=True)
        if by > 0.0 and shows(by, "length")
    ]
    if rails > 0.0 and shows(rails, "length"):
        off.append(f"{say(rails, 'length')} off the end rails")
    return ", ".join(off)


def missing_metal(
    missing: FloatArray,
    head_drop: FloatArray,
    sealing: SealingCuts,
    rail_room: float,
    heads: Sequence[str],
    pointer: str,
) -> Iterator[Note]:
    """Faces too short of metal for ports in line: how far, what would mend it, and what sealing first comes to."""

    def length(value: float) -> str:
        return say(abs(value), "length")

    short = [place for place in (0, 1) if shows(float(missing[place]), "length")]
    if not short:
        return
    by = " and ".join(f"{heads[place]}'s face is up to {length(missing[place])} short" for place in short)
    thicker = " and ".join(f"{length(missing[place])} at {heads[place]}" for place in short)
    ways = [f"Fit thicker intake gaskets, by {thicker}"]
    down = np.fmax(head_drop.max(), 0.0) - head_drop
    lower = [f"{heads[place]} {length(down[place])} further" for place in (0, 1) if shows(float(down[place]), "length")]
    if lower:
        ways.append(f"bring {' and '.join(lower)} down (mill it, or a thinner head gasket)")
    detail = f"With the ports in line {by}; milling can't fix that. {', or '.join(ways)}."
    if not np.isnan(sealing.seat.drop):
        faces = [f"{head}'s face" for head in heads]
        off = cut_words(sealing.face_cut, rail_cut(sealing.seat.drop, rail_room), faces)
        first = f"Or seal first: cut {off}." if off else "Or cut nothing: both faces close as they are."
        out = " and ".join(
            f"{length(by)} {'low' if by >= 0.0 else 'high'} at {head}"
            for head, by in zip(heads, sealing.misalignment.tolist(), strict=True)
            if shows(abs(by), "length")
        )
        detail += f" {first} Ports then sit {out}: match them, and open up the bolt holes if the bolts bind."
    yield note("metal_missing", pointer, detail)


def open_intake(intake: Intake, movement: Movement) -> Iterator[OpenItem]:
    """What is still to be measured of the V."""
    needed_for = ["cuts", "sealing_first", "uncut_in_place", "uncut_at_rest", "faces_cut_only"]

    def item(field: str, detail: str, *more: str) -> OpenItem:
        pointer = f"/intake_side/{field}"
        return OpenItem(pointer=pointer, position=None, spring=None, needed_for=[*more, *needed_for], detail=detail)

    if intake.face_tilt is None:
        yield item("face_tilt", ASK_FOR_TILT, "face_cut_factor", "rail_cut_factor")
    for name in open_sizes(intake, movement):
        yield item(name, f"Measure {SIZES[name]}; an angle cut turns the intake face.")


def intake_notes(intake: Intake, fit: IntakeFit | None) -> Iterator[Note]:
    """What is to be said about the intake; nothing where nothing moved."""
    yield from unusual_bank_angle(intake.bank_angle, "/intake_side/bank_angle")
    if fit is None or not (np.abs(fit.moves.head_drop).max() > SAME or np.abs(fit.moves.tilt).max() > SAME):
        return
    head_drop, room = fit.moves.head_drop, intake.rail_room
    yield from missing_metal(fit.level.missing, head_drop, fit.sealing, room, _HEADS, "/intake_side")
    # NaN compares false: no place of the manifold, no cut
    if fit.level.face_cut.max() > SAME:
        yield order_of_work("/intake_side")
    faces = [f"{head}'s face" for head in _HEADS]
    # faces too short of metal are told the cuts that seal instead
    drop = fit.level.seat.drop
    off = "" if np.isnan(drop) else cut_words(fit.level.face_cut, rail_cut(drop, room), faces)
    if off and not shows(float(fit.level.missing.max()), "length"):
        detail = f"To put ports and bolt holes in line, cut {off} (cuts)."
        yield note("intake_cuts", "/intake_side", detail)
    if faces_upright(fit.v.bank_angle, fit.v.face_tilt):
        yield from _upright_notes(fit)
    if intake.face_tilt == 0.0 and not fit.moves.tilt.any():
        detail = (
            "Intake faces square to the deck open no gap: a feeler gauge finds nothing, while ports and bolt holes are "
            f"out by {say(float(np.abs(head_drop).max()), 'length')}. Check the bolt holes."
        )
        yield note("gauge_finds_nothing", "/intake_side/face_tilt", detail)
    if shows(abs(fit.level.seat.sideways), "length"):
        detail = (
            "The heads have dropped by different amounts: with the ports in line the manifold sits "
            f"{say(abs(fit.level.seat.sideways), 'length')} to one side. Check its bolt holes, the distributor "
            "and the throttle linkage."
        )
        yield note("banks_unequal", "/intake_side/other_head", detail)


def _upright_notes(fit: IntakeFit) -> Iterator[Note]:
    """What faces that stand upright do that no other faces do."""
    apart = abs(float(fit.moves.head_drop[1] - fit.moves.head_drop[0]))
    if np.isnan(fit.level.seat.drop):
        detail = (
            "The intake faces stand upright, so moving the manifold sideways can't make up for heads that dropped by "
            f"different amounts. Bring the higher head down another {say(apart, 'length')}, then run this "
            "again for the cuts."
        )
        yield note("ports_out_of_reach", "/intake_side/other_head", detail)
    overlap = -float(fit.uncut_in_place.misfit.gap.min(axis=1).sum())
    if shows(max(overlap, 0.0), "length"):
        known = not np.isnan(fit.level.seat.drop)
        faces = [f"{head}'s face" for head in _HEADS]
        off = cut_words(fit.level.face_cut, 0.0, faces) if known else ""
        half = say(0.5 * overlap, "length")
        detail = (
            f"The intake faces stand upright and come {say(overlap, 'length')} closer together: the manifold "
            f"does not go in. Cut the faces first: {off or f'{half} off each'}."
        )
        yield note("manifold_too_wide", "/intake_side", detail)
