"""Outstanding parts on the sheet of a head: which of its open items wait for a part that is not here."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Final

import msgspec
from msgspec import Meta

from headbench.api.vocabulary.findings import Note, OpenItem, WaitsFor, note
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.waiting.notes import NOTES, ask_parts, part_notes
from headbench.api.waiting.parts import Outstanding, OutstandingPart, PartAwaited, arrivals_of, awaited_fields, day_of
from headbench.api.waiting.words import upper_first
from headbench.calc.waiting.arrivals import Arrival
from headbench.calc.waiting.feeds import PartKind

ABOVE: Final = "/outstanding"

OutstandingAsked = Annotated[
    Outstanding | None,
    Meta(
        description="Parts that are not here yet, so that open items say which of them wait for one; they decide no "
        "verdict. Null = none.",
        examples=[{"as_of": "2026-03-09", "parts": [{"id": "seals", "kind": "seals", "promised_on": "2026-03-16"}]}],
    ),
]
PARTS_OUTSTANDING: Final = Meta(description="Parts that are not here, or not all of them, in the order given.")

_NEEDED_FOR: Final = ("parts_outstanding",)

Place = tuple[ValveKind, str | None]
"""The kind of valve of a position, and the spring that goes there."""


@dataclass(frozen=True, slots=True)
class _Field:
    """Fields of a head that are read with some parts: their pointers, the reading it is, and the kinds of parts."""

    pointers: re.Pattern[str]
    reading: str
    kinds: frozenset[PartKind]


def _field(pointers: str, reading: str, *kinds: PartKind) -> _Field:
    return _Field(re.compile(pointers), reading, frozenset(kinds))


_POSITION: Final = r"/positions/\d+"
_FIELDS: Final = (
    _field(
        rf"{_POSITION}/(measured_height|height_with_shims)", "measured_height", "heads", "valves", "retainers_and_locks"
    ),
    _field(rf"{_POSITION}/retainer_to_seal", "retainer_to_seal", "heads", "valves", "retainers_and_locks", "seals"),
    _field(rf"{_POSITION}/retainer_to_rocker", "rocker_sweep", "heads", "valves", "retainers_and_locks", "rockers"),
    _field(rf"{_POSITION}/seal_to_spring", "retainer_to_seal", "heads", "springs", "seals"),
    _field(rf"{_POSITION}/spring", "spring_matching", "springs"),
    _field(rf"{_POSITION}/masses", "masses", "valves", "retainers_and_locks"),
    _field(rf"{_POSITION}/masses/valve", "masses", "valves"),
    _field(rf"{_POSITION}/masses/(retainer|locks)", "masses", "retainers_and_locks"),
    _field(rf"{_POSITION}/masses/pushrod", "masses", "pushrods"),
    _field(rf"{_POSITION}/masses/lifter", "masses", "lifters"),
    _field(r"/springs/\d+(/nested/\d+)?/load_curve(/.*)?", "spring_load", "springs"),
    _field(r"/springs/\d+(/nested/\d+)?/coil_bind_height", "coil_bind", "springs"),
    _field(r"/springs/\d+(/nested/\d+)?/mass", "masses", "springs"),
    _field(r"/valvetrain/\w+/(valve_lift|lobe_lift)", "valve_lift", "cam_card"),
    _field(r"/valvetrain/\w+/motion(/.*)?", "valve_float", "cam_card"),
    _field(r"/valvetrain/\w+/(rocker|rocker_ratio)(/.*)?", "rocker_sweep", "rockers"),
    _field(r"/valvetrain/\w+/pushrod_mass", "masses", "pushrods"),
    _field(r"/valvetrain/\w+/lifter_mass", "masses", "lifters"),
)


@dataclass(frozen=True, slots=True)
class OnSheet:
    """What outstanding parts add to the sheet of a head."""

    parts: Sequence[PartAwaited]
    open_items: Sequence[OpenItem]
    notes: Sequence[Note]


def on_sheet(
    asked: Outstanding | None, items: Sequence[OpenItem], job: msgspec.Struct, at: Mapping[str, Place]
) -> OnSheet:
    """The open items with what each waits for, what is to be asked of suppliers after them, and what is to be said.

    `at` has the kind of valve and the spring of each position.
    """
    if asked is None:
        return OnSheet([], items, [])
    arrivals = arrivals_of(asked)
    pairs = list(zip(asked.parts, arrivals, strict=True))
    awaited = [(part, arrival) for part, arrival in pairs if not arrival.is_here]
    told = [msgspec.structs.replace(item, waits_for=list(_waits(item, awaited, job, at))) for item in items]
    waited = {one.part for item in told for one in item.waits_for}
    return OnSheet(
        [PartAwaited(**awaited_fields(part, arrival)) for part, arrival in awaited],
        [*told, *ask_parts(asked, arrivals, _NEEDED_FOR, ABOVE)],
        [*part_notes(asked, arrivals, ABOVE), *_for_nothing(pairs, waited)],
    )


def _waits(
    item: OpenItem, awaited: Sequence[tuple[OutstandingPart, Arrival]], job: msgspec.Struct, at: Mapping[str, Place]
) -> Iterator[WaitsFor]:
    """The parts that an open item waits for."""
    if isinstance(_value_at(item.pointer, job), int | float):  # it was read once, and is to be read again
        return
    field = next((one for one in _FIELDS if one.pointers.fullmatch(item.pointer)), None)
    users = {name for name, (_, spring) in at.items() if name == item.position or (spring and spring == item.spring)}
    kinds = {at[name][0] for name in users} | {kind for kind in KINDS if f"/{kind}/" in item.pointer}
    names = {item.position, item.spring, *users}
    for part, arrival in awaited:
        is_of_it = part.valve is None or not kinds or part.valve in kinds
        if is_of_it and _holds(part, item.pointer, field) and names.isdisjoint(part.in_hand_for):
            yield WaitsFor(part=part.id, soonest=day_of(arrival.soonest), latest=day_of(arrival.latest))


def _holds(part: OutstandingPart, pointer: str, field: _Field | None) -> bool:
    """Whether a field is read with a part."""
    if part.feeds is None:
        return field is not None and part.kind in field.kinds
    named = field is not None and field.reading in part.feeds
    return named or any(f"{pointer}/".startswith(f"{fed}/") for fed in part.feeds if fed.startswith("/"))


def _value_at(pointer: str, job: msgspec.Struct) -> Any:
    """What stands at a pointer into the request; None where nothing does."""
    value: Any = job
    for part in pointer.split("/")[1:]:
        if isinstance(value, list):
            value = value[int(part)] if part.isdecimal() and int(part) < len(value) else None
        else:
            value = getattr(value, part, None)
    return value


def _for_nothing(pairs: Sequence[tuple[OutstandingPart, Arrival]], waited: set[str]) -> Iterator[Note]:
    for place, (part, arrival) in enumerate(pairs):
        if not arrival.is_here and part.id not in waited:
            detail = f"{upper_first(part.named)}: nothing that is open on this sheet waits for it."
            yield note("part_feeds_nothing", f"{ABOVE}/parts/{place}", detail, NOTES)
