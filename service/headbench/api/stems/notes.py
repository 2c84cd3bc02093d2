"""Stem notes: what the sentences of stem heights say, each ending in what to do."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from functools import partial
from typing import Final

from headbench.api.stems.lines import KindOfStems, StemLine
from headbench.api.stems.request import LashAdjustment, StemPosition
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.saying import say, shows

NOTES: Final = {
    "stem_heights_unequal": "Stem heights of one kind of valve can't be brought within the spread allowed, or around "
    "the height wanted; which positions stand out and what would help.",
    "stem_height_misread": "Stem height less installed height is not that of the other valves; one of the two readings "
    "is wrong.",
    "tip_ground_through": "More has come off a tip than may; the hard case may be gone.",
    "groove_to_tip_low": "The lock groove is nearer to the tip than its minimum.",
    "groove_to_tip_not_measured": "Lock groove to tip was not measured at any valve of a kind, so it is not judged.",
    "tips_to_grind": "Tips are to be ground; what to check afterward.",
    "seats_to_sink": "Seats are to be cut because tips alone can't equalize; what grows with it.",
    "lash_to_set": "Lash or preload changes with the stem heights; how to set it again.",
}
"""The notes of stem heights: code -> meaning."""

_MISSED: Final = {"borderline", "reject"}
_note = partial(note, known=NOTES)

_SET_AGAIN: Final[dict[LashAdjustment, str]] = {
    "solid": "Lash at the valve changes by up to {}: set it again.",
    "hydraulic_adjustable": "Preload changes by up to {}: set it again with the nut.",
    "hydraulic_fixed": "Preload changes by up to {}: check it, and fit pushrods of another length where it leaves its "
    "range.",
}


def _length(value: float) -> str:
    return say(value, "length")


def stem_notes(
    positions: Sequence[StemPosition],
    lines: Sequence[StemLine],
    kinds: Sequence[KindOfStems],
    adjustment: LashAdjustment | None,
) -> Iterator[Note]:
    """What was found of the stems, in the order of the work."""
    for kind in kinds:
        yield from _misread_notes(kind, positions)
        yield from _unequal_notes(kind, positions)
    for place, line in enumerate(lines):
        yield from _tip_notes(place, line)
    unread = [str(kind.valve) for kind in kinds if not kind.groove_asked]
    if unread:
        detail = f"Lock groove to tip was not measured at the {' and '.join(unread)} valves, so it is not judged."
        yield _note("groove_to_tip_not_measured", "/positions", detail)
    yield from _work_notes(lines, adjustment)


def _misread_notes(kind: KindOfStems, positions: Sequence[StemPosition]) -> Iterator[Note]:
    for place in kind.misread:
        detail = (
            f"{positions[place].id}: the tip stands otherwise over the retainer than on the other {kind.valve} valves. "
            "Measure its stem height and its installed height again before grinding anything."
        )
        yield _note("stem_height_misread", f"/positions/{place}/stem_height", detail)


def _unequal_notes(kind: KindOfStems, positions: Sequence[StemPosition]) -> Iterator[Note]:
    """What of one kind of valve can't be met, and by which positions."""
    if not kind.missed:
        return
    told, ways = [], []
    for sign, way, what in ((1.0, "tall", "a shorter valve"), (-1.0, "short", "a longer valve or a lash cap")):
        some = {positions[place].id: sign * off for place, off in kind.missed if sign * off > 0.0}
        if some:
            told.append(
                f"{', '.join(some)} {'is' if len(some) == 1 else 'are'} up to {_length(max(some.values()))} too {way}"
            )
            ways.append(f"{what} at {', '.join(some)}")
    wanted = kind.spread_wanted
    meant = f"{_length(0.5 * wanted)} of the height wanted" if kind.aimed else f"{_length(wanted)} of each other"
    detail = (
        f"The {kind.valve} valves can't all come within {meant} with what may be cut. Cut as far as may be, "
        f"{'; '.join(told)}. Try valves in other pockets, the longest stem in the least sunk seat; else fit "
        f"{', or '.join(ways)}."
    )
    yield _note("stem_heights_unequal", f"/positions/{kind.missed[0][0]}/stem_height", detail)


def _tip_notes(place: int, line: StemLine) -> Iterator[Note]:
    ground, groove = line.tip_grind_check, line.groove_to_tip_check
    if ground is not None and ground.verdict in _MISSED and ground.value is not None:
        detail = (
            f"{line.id}: {_length(ground.value)} is off the tip, {_length(ground.limit)} may be: the hard case may be "
            "ground through. Check it with a file, and fit another valve or a lash cap."
        )
        yield _note("tip_ground_through", f"/positions/{place}/tip_ground", detail)
    if groove is not None and groove.verdict == "reject" and groove.value is not None:
        detail = (
            f"{line.id}: {_length(groove.value)} from lock groove to tip, {_length(groove.limit)} is the minimum: the "
            "rocker can meet lock or retainer. Do not run it; fit another valve or a lash cap."
        )
        yield _note("groove_to_tip_low", f"/positions/{place}/groove_to_tip", detail)


def _work_notes(lines: Sequence[StemLine], adjustment: LashAdjustment | None) -> Iterator[Note]:
    """What the cuts ask for afterward."""
    grind, sink = (_most(values) for values in zip(*((line.tip_grind, line.sink) for line in lines), strict=True))
    if shows(grind, "length"):
        detail = (
            f"Grind tips square to the stem, {_length(grind)} at most, and break the edge. Check squareness and "
            "rocker sweep again afterward."
        )
        yield _note("tips_to_grind", "/positions", detail)
    if shows(sink, "length"):
        detail = (
            f"Tips alone can't equalize these: valves come to sit up to {_length(sink)} deeper. Installed height, "
            "retainer to seal and piston to valve grow by as much, and the chambers grow too. Cut seats before tips, "
            "measure every stem again, then grind; shim the springs."
        )
        yield _note("seats_to_sink", "/positions", detail)
    most = _most(change for line in lines for change in (line.preload_change, line.lash_change))
    if adjustment is not None and shows(most, "length"):
        yield _note("lash_to_set", "/lash_adjustment", _SET_AGAIN[adjustment].format(_length(most)))


def _most(values: Iterable[float | None]) -> float:
    """The largest of some amounts, either way; 0 where none is known."""
    return max((abs(one) for one in values if one is not None and not math.isnan(one)), default=0.0)
