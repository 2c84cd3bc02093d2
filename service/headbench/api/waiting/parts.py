"""Outstanding parts: what is ordered and not here, as entered, and when it can be here."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Annotated, Any, Final, Literal

from msgspec import Meta

from headbench.api.exchange.faults import echoed
from headbench.api.vocabulary.names import ValveKind
from headbench.api.vocabulary.positions import MOST_POSITIONS, repeated_ids
from headbench.api.vocabulary.quantities import Answer, Model, Name
from headbench.api.waiting.words import say_day
from headbench.calc.waiting.arrivals import Arrival, PartTerms, arrival_of
from headbench.calc.waiting.feeds import FEEDS, PartKind
from headbench.errors import Pointed

MOST_PARTS: Final = 64
_MOST_FEEDS: Final = 20
_MOST_PROMISES: Final = 12
_FIRST, _LAST = date(2000, 1, 1), date(2099, 12, 31)
"""Dates outside these are slips of the pen."""

_WEEK: Final = 7
_KINDS: Final = "; ".join(f"{kind}: {', '.join(fed)}" for kind, fed in FEEDS.items())

Pieces = Annotated[int, Meta(ge=0, le=1000)]
LeadUnit = Literal["days", "weeks"]


class LeadTime(Model, kw_only=True, frozen=True):
    """How long a part takes from order to arrival."""

    unit: Annotated[LeadUnit, Meta(description="What it is counted in; a week is 7 days.", examples=["weeks"])]
    least: Annotated[Annotated[int, Meta(ge=0, le=520)], Meta(description="Least.", examples=[5])]
    most: Annotated[
        Annotated[int, Meta(ge=0, le=520)], Meta(description="Most; the same again if it is one number.", examples=[6])
    ]

    def in_days(self) -> tuple[int, int]:
        """Least and most in days."""
        each = _WEEK if self.unit == "weeks" else 1
        return self.least * each, self.most * each


class OutstandingPart(Model, kw_only=True, frozen=True):
    """A part, or some pieces of one, that may not be here yet."""

    id: Annotated[Name, Meta(description="Its name, as steps name it.", examples=["exhaust valves"])]
    kind: Annotated[
        PartKind | None,
        Meta(
            description=f"What it is, which says what waits for it (common practice, no source): {_KINDS}. Null = "
            "something else.",
            examples=["valves"],
        ),
    ] = None
    what: Annotated[
        Name | None,
        Meta(description="What it is, in the shop's own words; null = its id says it.", examples=["valves"]),
    ] = None
    valve: Annotated[
        ValveKind | None,
        Meta(description="Which kind of valve it is for; null = either, or no valve's.", examples=["exhaust"]),
    ] = None
    feeds: Annotated[
        Annotated[list[Name], Meta(max_length=_MOST_FEEDS)] | None,
        Meta(
            description="What waits for it, in place of what its kind says: readings by their names above, steps by "
            "their ids, or JSON pointers to fields of a job. Null = by its kind.",
            examples=[["coil_bind", "/springs/3"]],
        ),
    ] = None
    needed: Annotated[Annotated[int, Meta(ge=1, le=1000)], Meta(description="How many are needed.", examples=[8])] = 1
    in_hand: Annotated[Pieces, Meta(description="How many of them are here.", examples=[0])] = 0
    in_hand_for: Annotated[
        list[Name],
        Meta(
            max_length=MOST_POSITIONS,
            description="The positions, or springs by their ids, that those in hand are for. Empty = not said.",
            examples=[["1E", "2E"]],
        ),
    ] = []
    ordered_on: Annotated[
        date | None, Meta(description="Day it was ordered; null = not ordered, or not known.", examples=["2026-02-02"])
    ] = None
    lead_time: Annotated[
        LeadTime | None,
        Meta(
            description="How long it takes from order to arrival; null = not known.",
            examples=[{"unit": "weeks", "least": 5, "most": 6}],
        ),
    ] = None
    promised_on: Annotated[
        date | None,
        Meta(
            description="Day it was last promised for, or the first of some days; it counts before the lead time. "
            "Null = none.",
            examples=["2026-03-16"],
        ),
    ] = None
    promised_latest: Annotated[
        date | None,
        Meta(description="The last of the days it was promised for; null = promised_on.", examples=["2026-03-20"]),
    ] = None
    told_on: Annotated[
        date | None, Meta(description="Day the supplier last said so; null = not noted.", examples=["2026-03-02"])
    ] = None
    earlier_promises: Annotated[
        list[date],
        Meta(
            max_length=_MOST_PROMISES,
            description="Days it was promised for before, first to last.",
            examples=[["2026-03-02"]],
        ),
    ] = []
    arrives_on: Annotated[
        date | None,
        Meta(
            description="Day it is known to arrive, as when it is on its way; it counts before any promise. Null = not "
            "known.",
            examples=["2026-03-12"],
        ),
    ] = None
    stand_in: Annotated[
        Name | None,
        Meta(
            description="What readings may be taken with meanwhile; they count as a trial only. Null = nothing.",
            examples=["checking springs"],
        ),
    ] = None

    @property
    def named(self) -> str:
        """What sentences call it."""
        return self.what or self.id

    @property
    def fed(self) -> Sequence[str]:
        """What waits for it."""
        if self.feeds is not None:
            return self.feeds
        return FEEDS[self.kind] if self.kind is not None else ()

    def terms(self) -> PartTerms:
        """It, as the kernels take it."""
        promised = None
        if self.promised_on is not None:
            promised = (self.promised_on.toordinal(), (self.promised_latest or self.promised_on).toordinal())
        return PartTerms(
            needed=self.needed,
            in_hand=self.in_hand,
            ordered=None if self.ordered_on is None else self.ordered_on.toordinal(),
            promised=promised,
            lead=None if self.lead_time is None else self.lead_time.in_days(),
            known=None if self.arrives_on is None else self.arrives_on.toordinal(),
        )


AsOf = Annotated[
    date,
    Meta(
        description="Today, by the caller's calendar: the service has no clock. Dates run from 2000 to 2099.",
        examples=["2026-03-09"],
    ),
]
PartList = Annotated[
    list[OutstandingPart],
    Meta(
        max_length=MOST_PARTS,
        description="Parts that were ordered or are to be, here or not.",
        examples=[[{"id": "exhaust valves", "kind": "valves", "needed": 8, "promised_on": "2026-03-16"}]],
    ),
]


class Outstanding(Model, kw_only=True, frozen=True):
    """Parts that are not here yet, and today's date."""

    as_of: AsOf
    parts: PartList


class PartAwaited(Answer, kw_only=True, frozen=True):
    """A part that is not here, or not all of it, and between which days it can be."""

    id: Annotated[str, Meta(description="The part.")]
    what: Annotated[str | None, Meta(description="What it is, as entered; null = its id says it.")]
    kind: Annotated[str | None, Meta(description="Its kind, as entered; null = not given.")]
    needed: Annotated[int, Meta(description="How many are needed.")]
    in_hand: Annotated[int, Meta(description="How many of them are here.")]
    missing: Annotated[int, Meta(description="How many are missing.")]
    basis: Annotated[
        str,
        Meta(
            description="What its days rest on: in_hand, arrival_known, promised, lead_time, lead_time_from_today (it "
            "is not ordered; its days hold if it is ordered today), or nothing."
        ),
    ]
    soonest: Annotated[date | None, Meta(description="Soonest day all of it is here; null = no date is known.")]
    latest: Annotated[date | None, Meta(description="Latest day; null = no date is known.")]
    late_days: Annotated[int | None, Meta(description="How many days ago it was due; null = it is not late.")]
    stand_in: Annotated[str | None, Meta(description="What stands in for it meanwhile, as entered; null = nothing.")]


def arrivals_of(asked: Outstanding) -> list[Arrival]:
    """When each part can be here."""
    return [arrival_of(part.terms(), asked.as_of.toordinal()) for part in asked.parts]


def day_of(ordinal: int | None) -> date | None:
    """A day counted on as a date."""
    return None if ordinal is None else date.fromordinal(ordinal)


def awaited_fields(part: OutstandingPart, arrival: Arrival) -> dict[str, Any]:
    """The fields of a part that every answer has."""
    return {
        "id": part.id,
        "what": part.what,
        "kind": part.kind,
        "needed": part.needed,
        "in_hand": part.in_hand,
        "missing": max(part.needed - part.in_hand, 0),
        "basis": arrival.basis,
        "soonest": day_of(arrival.soonest),
        "latest": day_of(arrival.latest),
        "late_days": arrival.late_by,
        "stand_in": part.stand_in,
    }


def part_faults(asked: Outstanding, above: str = "") -> Iterator[Pointed]:
    """What of the parts contradicts itself; `above` is where they stand in the request."""
    yield from date_fault(asked.as_of, f"{above}/as_of")
    yield from repeated_ids([part.id for part in asked.parts], f"{above}/parts", "part")
    for place, part in enumerate(asked.parts):
        where = f"{above}/parts/{place}"
        for name in ("ordered_on", "promised_on", "promised_latest", "told_on", "arrives_on"):
            if (day := getattr(part, name)) is not None:
                yield from date_fault(day, f"{where}/{name}")
        for at, day in enumerate(part.earlier_promises):
            yield from date_fault(day, f"{where}/earlier_promises/{at}")
        yield from _order_faults(part, asked.as_of, where)
        first, last = part.promised_on, part.promised_latest
        if last is not None and first is None:
            yield Pointed(f"{where}/promised_on", f"part {part.id}: enter the first day promised too, or the one day")
        elif last is not None and first is not None and last < first:
            detail = f"part {part.id}: {say_day(last)} is before {say_day(first)}; swap them"
            yield Pointed(f"{where}/promised_latest", detail)
        if part.lead_time is not None and part.lead_time.most < part.lead_time.least:
            yield Pointed(f"{where}/lead_time/most", f"part {part.id}: most is below least; swap them")
        yield from _in_hand_faults(part, where)


def _in_hand_faults(part: OutstandingPart, where: str) -> Iterator[Pointed]:
    """What of the pieces in hand and the places they are for contradicts itself."""
    for at, name in enumerate(part.in_hand_for):
        if name in part.in_hand_for[:at]:
            yield Pointed(f"{where}/in_hand_for/{at}", f"part {part.id}: {echoed(name)} is listed twice; keep one")
    if len(set(part.in_hand_for)) > part.in_hand:
        detail = f"part {part.id}: {part.in_hand} in hand can't be for {len(set(part.in_hand_for))} places"
        yield Pointed(f"{where}/in_hand_for", detail)


def date_fault(day: date, pointer: str) -> Iterator[Pointed]:
    """A date that cannot be meant."""
    if not _FIRST <= day <= _LAST:
        yield Pointed(pointer, f"{day.isoformat()} can't be right; dates run from 2000 to 2099")


def _order_faults(part: OutstandingPart, as_of: date, where: str) -> Iterator[Pointed]:
    """Days of a part that stand in an order they cannot have."""
    for name, word in (("ordered_on", "ordered"), ("told_on", "told")):
        day = getattr(part, name)
        if day is not None and day > as_of:
            detail = f"part {part.id}: {word} on {say_day(day)}, which is after today, {say_day(as_of)}"
            yield Pointed(f"{where}/{name}", detail)
    if part.ordered_on is None:
        return
    days: list[tuple[str, str, date | None]] = [
        *((f"earlier_promises/{at}", "promised for", day) for at, day in enumerate(part.earlier_promises)),
        ("promised_on", "promised for", part.promised_on),
        ("arrives_on", "arrives on", part.arrives_on),
    ]
    for name, word, day in days:
        if day is not None and day < part.ordered_on:
            detail = f"part {part.id}: {word} {say_day(day)}, before it was ordered on {say_day(part.ordered_on)}"
            yield Pointed(f"{where}/{name}", detail)
