"""Guide boss notes: what to cut, what does not fit, and what a reading afterward tells."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import partial
from typing import Final

from headbench.api.guide_boss.lines import BossLine, BossWorked
from headbench.api.guide_boss.request import DrawnParts, GuideBossRequest, parts_of
from headbench.api.heights.readings import kinds_in
from headbench.api.vocabulary.checks import LengthCheck
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.names import ValveKind
from headbench.api.vocabulary.saying import say, say_at_most, shows
from headbench.calc.guide_boss.limits import LOCATOR_ROOM

NOTES: Final = {
    "guides_to_cut": "Guide tops are to be cut for the retainer-to-seal clearance wanted; how far.",
    "boss_to_turn": "Diameters that boss and pocket are cut to, by seal and locator.",
    "pockets_to_deepen": "Spring pockets are to be cut deeper for the height wanted; how far.",
    "pocket_floor_thin": "A pocket cut would leave less floor than its minimum; what to do instead.",
    "guide_short_in_seal": "Too little guide stands in the seal once it is cut; what to do instead.",
    "boss_near_spring": "Seal or boss come too near to the innermost spring, by their diameters.",
    "pocket_narrow": "The pocket is no wider than its locator needs.",
    "bare_height_assumed": "No bare height is known, so the guide is figured for a spring at its height on the seat as "
    "it is, and no pocket cut.",
    "not_as_planned": "The cuts figured break something: they are not to be made; what to do instead.",
    "already_cut": "Retainer to seal was read, so the cuts are made, and all is as it should be.",
    "prediction_differs": "Retainer to seal reads otherwise than figured; what to look at.",
    "cut_then_check": "What to do around the cuts.",
}
"""The notes of guide bosses: code -> meaning."""

_MISSED: Final = frozenset({"borderline", "reject"})
_note = partial(note, known=NOTES)


def _length(value: float) -> str:
    return say(value, "length")


def boss_notes(request: GuideBossRequest, worked: Sequence[BossWorked]) -> Iterator[Note]:
    """What was found, in the order of the work."""
    to_do = [one.line for one in worked if one.cuttable and not one.is_cut]
    cut = [line for line in to_do if _there(line.guide_cut)]
    deep = [line for line in to_do if _there(line.pocket_depth)]
    if deep:
        told = "; ".join(f"{line.id} {_length(_number(line.pocket_depth))}" for line in deep)
        detail = (
            f"Cut spring pockets deeper: {told}. Measure the floor by ultrasonic gauge first; pockets before guides."
        )
        yield _note("pockets_to_deepen", "/positions", detail)
    if cut:
        told = "; ".join(
            f"{line.id} {_length(_number(line.guide_cut))}, to stand {_length(_number(line.guide_height_over_pocket))} "
            "over its pocket"
            for line in cut
        )
        yield _note("guides_to_cut", "/positions", f"Cut guide tops: {told}.")
    left = [one.line.id for one in worked if not one.is_cut and not one.cuttable]
    if left:
        yield _note("not_as_planned", "/positions", f"{', '.join(left)}: don't cut as planned, see below.")
    done = [one.line.id for one in worked if one.is_cut and _is_good(one.line)]
    if done:
        yield _note("already_cut", "/positions", f"{', '.join(done)}: cut and assembled; nothing more to cut.")
    for kind in kinds_in(request.positions):
        if any(one.line.valve == kind and not one.is_cut for one in worked):
            yield from _diameters(kind, parts_of(request, kind))
    assumed = [
        position.id
        for position, one in zip(request.positions, worked, strict=True)
        if position.bare_height is None and not one.is_cut
    ]
    if assumed:
        detail = (
            f"{', '.join(assumed)}: no bare height, so guides are figured for the installed height wanted, standing on "
            "locator and shim room on the seat as it is. Measure it with a dummy valve before a pocket is cut."
        )
        yield _note("bare_height_assumed", "/positions", detail)
    for place, one in enumerate(worked):
        yield from _misfits(place, one.line, is_cut=one.is_cut)
    if cut or deep:
        detail = (
            "Plug guides, oil drains and ports before cutting; set the cutter's stop on the first and measure. A "
            "pocket cut too deep breaks into water: pressure-test the head afterward, and wash every chip out."
        )
        yield _note("cut_then_check", "/positions", detail)


def _there(value: float | None) -> bool:
    return value is not None and shows(value, "length") and value > 0.0


def _is_good(line: BossLine) -> bool:
    """Whether nothing that a cut could mend is wrong, or open."""
    return line.retainer_to_seal_clearance_check.verdict == "accept" and line.plan_verdict != "reject"


def _number(value: float | None) -> float:
    return math.nan if value is None else value


def _diameters(kind: ValveKind, parts: DrawnParts) -> Iterator[Note]:
    told = []
    if parts.fit_diameter is not None:
        told.append(f"guide or boss to {_length(parts.fit_diameter)}, the seal's size")
    around = parts.locator_outside_diameter
    if around is not None:
        low, high = (_length(around + room) for room in LOCATOR_ROOM.values)
        told.append(f"the pocket to {low} to {high} for the locator")
    if told:
        yield _note("boss_to_turn", f"/parts/{kind}", f"{kind.capitalize()} valves: cut {', and '.join(told)}.")


def _missed(check: LengthCheck | None) -> float | None:
    """By how much a check is missed; None where it is not."""
    if check is None or check.verdict not in _MISSED or check.to_spare is None:
        return None
    return -check.to_spare


def _misfits(place: int, line: BossLine, *, is_cut: bool) -> Iterator[Note]:
    """What of one valve does not fit, and what a reading afterward tells."""
    floor, standing = line.pocket_floor_check, line.guide_in_seal_check
    if (short := _missed(floor)) is not None and floor is not None:
        left = say_at_most(max(_number(line.pocket_depth) - short, 0.0), "length")
        remedy = (
            "Measure what is left by ultrasonic gauge, and pressure-test the head."
            if is_cut
            else f"Cut {left} at most, and take the rest by locks, a retainer or a longer valve."
        )
        detail = (
            f"{line.id}: the pocket cut leaves {_length(_number(floor.value))} of floor, {_length(floor.limit)} is "
            f"the minimum. {remedy}"
        )
        yield _note("pocket_floor_thin", f"/positions/{place}/pocket_floor", detail)
    if (short := _missed(standing)) is not None:
        detail = (
            f"{line.id}: {_length(_number(standing.value))} of guide would stand in the seal, "
            f"{_length(standing.limit)} is the least. Cut the boss {_length(short)} lower around it, if the casting "
            "is thick enough (measure it), or fit another seal."
        )
        yield _note("guide_short_in_seal", f"/positions/{place}/guide_in_seal", detail)
    if (short := _missed(line.seal_to_spring_check)) is not None:
        detail = (
            f"{line.id}: {_length(_number(line.seal_to_spring_check.value))} a side from seal or boss to the innermost "
            f"spring, {_length(line.seal_to_spring_check.limit)} is the minimum. Fit a narrower seal, or a spring "
            f"{_length(2.0 * short)} wider inside."
        )
        yield _note("boss_near_spring", f"/parts/{line.valve}/spring_inside_diameter", detail)
    if (short := _missed(line.locator_room_check)) is not None:
        detail = f"{line.id}: cut the pocket {_length(short)} wider, or the locator does not seat."
        yield _note("pocket_narrow", f"/parts/{line.valve}/pocket_diameter", detail)
    difference = line.retainer_to_seal_difference_check
    if _missed(difference) is not None and difference.value is not None:
        off = difference.value
        look = (
            "look whether the seal is pushed home, the guide was cut as planned, and locks and retainer are those drawn"
            if off < 0.0
            else "look whether the guide was cut too low, and whether seal, locks and retainer are those drawn"
        )
        detail = (
            f"{line.id}: retainer to seal measures {_length(_number(line.retainer_to_seal))}, "
            f"{_length(abs(off))} {'less' if off < 0.0 else 'more'} than figured: {look}. The reading counts."
        )
        yield _note("prediction_differs", f"/positions/{place}/retainer_to_seal", detail)
    clearance = line.retainer_to_seal_clearance_check
    if clearance.verdict == "reject":
        at_lift = _number(clearance.value)
        detail = f"{line.id}: retainer to seal is under its minimum with the valve still closed. Cut the guide lower."
        if not math.isnan(at_lift):
            detail = (
                f"{line.id}: {_length(at_lift)} from retainer to seal at full lift, {_length(clearance.limit)} is the "
                f"minimum. Do not turn this engine over; cut the guide {_length(clearance.limit - at_lift)} lower."
            )
        yield note("seal_close", f"/positions/{place}/retainer_to_seal", detail)
