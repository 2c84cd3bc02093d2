"""Intake findings: what /v1/intake-fit still asks for, and what it says about the faces."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from headbench.api.intake.answer import FaceAnswer
from headbench.api.intake.faces import Face, IntakeFitRequest, cut_at_an_angle
from headbench.api.intake.notes import ASK_FOR_TILT, cut_words, missing_metal, unusual_bank_angle
from headbench.api.movement.moved import order_of_work
from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.quantities import number_of
from headbench.api.vocabulary.saying import say, shows
from headbench.calc.intake.fit import FaceFindings
from headbench.calc.intake.heads import told_apart
from headbench.calc.intake.manifold import SAME
from headbench.calc.intake.seat import rail_cut
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.rules import USUAL_FACE_GAP

_SIDES = ("left", "right")
_SEATED = ["face_gap_check", "misalignment_check", "bolt_entry_check", "seated"]
_CUTS = ["cuts", "sealing_first"]
_HEADS = ["implied_head_drop", "explained_by_milling", "manifold_as_measured"]


def _item(pointer: str, needed_for: list[str], detail: str) -> OpenItem:
    return OpenItem(pointer=pointer, position=None, spring=None, needed_for=needed_for, detail=detail)


def open_intake_fit(request: IntakeFitRequest, found: FaceFindings) -> Iterator[OpenItem]:
    """Still to be measured or entered."""
    for pointer, which, _ in _odd(request, found):
        yield _item(pointer, [*_SEATED, *_CUTS], f"Measure it again: {which}.")
    if request.face_tilt is None:
        yield _item("/face_tilt", [*_SEATED, *_CUTS, *_HEADS, "implied_head_drop_uncertainty"], ASK_FOR_TILT)
    if request.intake_gasket_thickness is None:
        detail = "Enter the compressed thickness of the intake gasket; 0 if the manifold seals metal to metal."
        yield _item("/intake_gasket_thickness", ["gap", *_SEATED, *_CUTS, *_HEADS], detail)
    if request.rail_room is None:
        detail = "Measure the gap between manifold and end rails as it sits now; 0 if it rests on them."
        yield _item("/rail_room", [*_SEATED, "rail_cut"], detail)
    for side, face in zip(_SIDES, (request.left, request.right), strict=True):
        yield from _open_face(side, face)
    millings = request.left.milling, request.right.milling
    if any(millings):
        for side, milling in zip(_SIDES, millings, strict=True):
            if milling is None:
                detail = f"Enter what was cut off the {side} head; a flat cut of 0 if nothing was."
                needed_for = ["explained_by_milling", "expected_gap", "expected_misalignment"]
                yield _item(f"/{side}/milling", needed_for, detail)


def _open_face(side: str, face: Face) -> Iterator[OpenItem]:
    for name, end in (("front", face.front), ("rear", face.rear)):
        for edge in ("top", "bottom"):
            if getattr(end, edge) is None:
                detail = f"Measure the gap with feeler gauges: {side} face, {name}, {edge} edge."
                faces = ["gap", "taper", "twist", "warp", "face_taper_check", "face_twist_check", "face_warp_check"]
                yield _item(f"/{side}/{name}/{edge}", [*faces, *_SEATED, *_CUTS, *_HEADS], detail)
    if face.misalignment is None:
        detail = f"Measure how far the {side} head's bolt holes sit below the manifold's, along the face."
        needed_for = ["misalignment_check", "bolt_entry_check", *_CUTS, *_HEADS]
        yield _item(f"/{side}/misalignment", needed_for, detail)


def intake_fit_notes(
    request: IntakeFitRequest, found: FaceFindings, faces: list[FaceAnswer], room: float
) -> Iterator[Note]:
    """What is to be said about the faces."""
    yield from unusual_bank_angle(request.bank_angle, "/bank_angle")
    if found.odd:
        # nothing follows from readings that cannot be right
        yield from _odd_notes(request, found)
        return
    yield from _milling_notes(request, found, faces)
    if found.cocked:
        # no cut is told from readings that are to be taken again
        detail = (
            f"One face is open at the top, the other at the bottom: a cocked manifold accounts for "
            f"{say(abs(found.gaps.manifold_tilt), 'length')}; level it and re-measure before cutting. If it is "
            "level, sealing_first trues the faces."
        )
        yield note("manifold_cocked", "", detail)
        return
    yield from _seating_notes(found, faces, room)
    if all(face.verdict == "accept" for face in faces):
        return
    heads = [f"the {side} head" for side in _SIDES]
    # a head that is out by less than the readings tell is not to be moved
    drops = np.where(
        told_apart(found.heads.head_drop, found.heads.implied_head_drop_uncertainty), found.heads.head_drop, 0.0
    )
    yield from missing_metal(found.cuts.missing, drops, found.sealing, room, heads, "")
    if np.fmax.reduce([found.sealing.face_cut.reshape(2, 2, 2), found.cuts.face_cut], axis=None) > SAME:
        yield order_of_work("")


def _odd(request: IntakeFitRequest, found: FaceFindings) -> Iterator[tuple[str, str, float | None]]:
    """Every reading that cannot be right: its pointer, which it is, and what was read."""
    thickness = request.intake_gasket_thickness or 0.0
    if found.odd_gaps.any() and thickness > USUAL_FACE_GAP.values[0]:
        # it is taken off every gap, so that none of them can be told from it
        yield "/intake_gasket_thickness", "intake gasket thickness", thickness
        return
    for place, (side, face) in enumerate(zip(_SIDES, (request.left, request.right), strict=True)):
        for row, (end, at) in enumerate((("front", face.front), ("rear", face.rear))):
            for column, (edge, gap) in enumerate((("top", at.top), ("bottom", at.bottom))):
                if found.odd_gaps[place, row, column]:
                    yield f"/{side}/{end}/{edge}", f"gap at the {side} face, {end}, {edge} edge", gap
        if found.odd_holes[place]:
            yield f"/{side}/misalignment", f"bolt holes of the {side} head", face.misalignment


def _odd_notes(request: IntakeFitRequest, found: FaceFindings) -> Iterator[Note]:
    """That a reading or the manifold cannot be right, by the most of every kind."""
    usual = say(USUAL_FACE_GAP.values[0], "length")
    for pointer, which, reading in _odd(request, found):
        detail = (
            f"{which[0].upper()}{which[1:]}: {say(number_of(reading), 'length')}. More than {usual} is no intake's: "
            "this manifold or this reading can't be right. Check the part, the reading and its unit; no cut is told "
            "from it."
        )
        yield note("unusual_reading", pointer, detail)


def _seating_notes(found: FaceFindings, faces: list[FaceAnswer], room: float) -> Iterator[Note]:
    """What keeps the manifold from seating, and what to change."""

    def length(value: float) -> str:
        return say(abs(value), "length")

    seated, missed = found.seated, [_missed(face) for face in faces]
    if seated.held_open < -GRID:
        detail = (
            f"The intake faces stand upright and overlap by {length(seated.held_open)} a side with the gaskets in: the "
            "manifold does not go in. Take that off each face, or fit gaskets thinner by as much."
        )
        yield note("manifold_too_wide", "", detail)
    held = seated.held_open > GRID and any("face_gap_check" in names for names in missed)
    if held:
        ways = f"fit intake gaskets {length(seated.held_open)} thicker"
        if not np.isnan(seated.held_up):
            ways = f"take {length(seated.held_up)} off the end rails, then check the bolt holes, or {ways}"
        detail = f"The manifold rests on its end rails with {length(seated.held_open)} open at both faces: {ways}."
        yield note("faces_open", "/rail_room", detail)
    for place, names in enumerate(missed):
        yield from _true_notes(place, names if not held else names - {"face_gap_check"}, found)
        if names & {"misalignment_check", "bolt_entry_check"}:
            yield _bolt_note(place, names, found, room)
    if shows(max(-seated.seat.drop, 0.0), "length"):
        detail = (
            f"The gaskets lift the manifold {length(seated.seat.drop)} off where it was measured and leave "
            f"{length(seated.rail_gap)} at the end rails: fit end seals that fill it."
        )
        yield note("manifold_lifted", "/intake_gasket_thickness", detail)


_CORNERS = ("front, top edge", "front, bottom edge", "rear, top edge", "rear, bottom edge")


def _missed(face: FaceAnswer) -> set[str]:
    """The checks of a face that are neither good nor waiting for a reading."""
    names = [name for name in face.__struct_fields__ if name.endswith("_check")]
    return {name for name in names if getattr(face, name).verdict in ("borderline", "reject")}


def _true_notes(place: int, names: set[str], found: FaceFindings) -> Iterator[Note]:
    """What is out of true on one face, and the cut that trues it."""

    def length(value: float) -> str:
        return say(abs(value), "length")

    side, gaps = _SIDES[place], found.gaps
    taper, twist, warp = (float(one[place]) for one in (gaps.taper, gaps.twist, gaps.warp))
    out = []
    if "face_taper_check" in names:
        out.append(f"{length(taper)} further open at the {'top' if taper > 0.0 else 'bottom'} edge")
    if "face_twist_check" in names:
        out.append(f"{length(twist)} further open at the {'front' if twist > 0.0 else 'rear'}")
    if "face_warp_check" in names:
        detail = (
            f"{side.capitalize()} face: one corner is {length(warp)} off the plane of the others. Check head and "
            f"manifold with a straightedge and surface the warped one, {length(2.0 * warp)} at least."
        )
        yield note("face_warped", f"/{side}", detail)
    if "face_gap_check" in names and not out and found.seated.held_open > -GRID:
        out.append(f"{length(float(found.seated.gap[place]))} open at its middle once its nearest corner touches")
    cut = found.sealing.face_cut[place]
    if out and shows(float(cut.max()), "length"):
        detail = (
            f"{side.capitalize()} face: {' and '.join(out)}; to true it, cut {length(float(cut.max()))} at the "
            f"{_CORNERS[int(np.argmax(cut))]}, nothing at the {_CORNERS[int(np.argmin(cut))]} (sealing_first)."
        )
        yield note("face_out_of_true", f"/{side}", detail)


def _bolt_note(place: int, names: set[str], found: FaceFindings, room: float) -> Note:
    """Bolt holes out of line: by how much, and the cuts that bring them in."""

    def length(value: float) -> str:
        return say(abs(value), "length")

    side, out, cuts = _SIDES[place], float(found.seated.misalignment[place]), found.cuts
    stay_out = " The bolts don't enter; don't force them." if "bolt_entry_check" in names else ""
    if not np.isnan(cuts.seat.drop):
        faces = [f"the {one} face" for one in _SIDES]
        off = cut_words(cuts.face_cut, rail_cut(cuts.seat.drop, room), faces)
        told = f"To bring them in line, cut {off} (cuts)." if off else "No cut brings them in line."
    elif np.isnan(found.seated.misalignment).any():
        told = f"Measure the {_SIDES[1 - place]} head's bolt holes too; then the cuts follow."
    else:
        apart = length(float(found.seated.misalignment[1] - found.seated.misalignment[0]))
        told = f"With upright faces both heads must sit alike: bring the higher one down {apart}."
    detail = (
        f"{side.capitalize()} head: bolt holes sit {length(out)} {'below' if out >= 0.0 else 'above'} the manifold's "
        f"once it is seated.{stay_out} {told}"
    )
    return note("bolt_holes_off", f"/{side}/misalignment", detail)


def _milling_notes(request: IntakeFitRequest, found: FaceFindings, faces: list[FaceAnswer]) -> Iterator[Note]:
    """Where the readings tell of other heads than the milling that was entered."""
    pair = request.left, request.right
    for side, face in zip(_SIDES, pair, strict=True):
        if cut_at_an_angle(face):
            detail = (
                f"{side.capitalize()} head: an angle cut turns its intake face. Compare the gaps with uncut_in_place "
                f"from /v1/milling, which takes the sizes of the face."
            )
            yield note("wedge_turns_face", f"/{side}/milling/cut", detail)
    for place, side in enumerate(_SIDES):
        against = faces[place].against_milling
        if against is None or against.explained_by_milling is not False:
            continue
        if bool(found.unexplained[place]):
            detail = _drop_disagrees(side, float(found.heads.head_drop[place]), float(found.difference[place]))
        else:
            detail = (
                f"{side.capitalize()} face: not parallel to the manifold's, as a flat cut would leave it. Look for "
                f"an angle cut, an earlier cut on the face, or a bent manifold."
            )
        yield note("milling_disagrees", f"/{side}/milling", detail)


def _drop_disagrees(side: str, implied: float, more: float) -> str:
    """A head that sits lower or higher than what was entered would have left it."""
    stands = f"{say(abs(implied), 'length')} {'lower' if implied >= 0.0 else 'higher'}"
    by = say(abs(more), "length")
    ask = (
        f"{by} lower than entered: milled before? If not, check the dowels."
        if more > 0.0
        else f"{by} higher than entered: thicker head gasket, or a face or the manifold cut before?"
    )
    return f"{side.capitalize()} head: gaps and bolt holes show it {stands} than as made, {ask}"
