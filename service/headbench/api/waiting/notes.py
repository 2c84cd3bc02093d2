"""Waiting notes: what the sentences on parts say, each ending in what to do, and what is to be asked of suppliers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from functools import partial
from typing import Final

from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.waiting.lines import PartLine, StepLine, Worked
from headbench.api.waiting.parts import Outstanding, OutstandingPart, day_of
from headbench.api.waiting.request import OutstandingPartsRequest
from headbench.api.waiting.words import say_day, say_days, say_how_long, say_names, upper_first
from headbench.calc.waiting.arrivals import Arrival

NOTES: Final = {
    "part_late": "A part is not here and the last day it was due has passed; ask for a new date.",
    "promise_moved": "A part was promised for other days before; how far the promise has moved.",
    "part_partly_here": "Some of the pieces needed are in hand; what they are for can be done meanwhile.",
    "part_feeds_nothing": "Nothing waits for a part.",
    "part_not_ordered": "A part is not ordered; its days hold if it is ordered today.",
    "order_by_passed": "By its lead time a part should have been ordered before today for the finish wanted.",
    "order_by": "The last day to order a part for the finish wanted.",
    "part_too_late": "A part that is ordered comes too late for the finish wanted.",
    "finish_by_chain": "The parts and steps one after another that decide the finish.",
    "no_finish": "Parts without a date leave the finish without one.",
    "stand_in_only": "Readings can be tried with what stands in for a part; they are not measured until it is here.",
    "days_run_on": "Days of work run on over weekends and holidays.",
    "plan_not_promise": "One order of the work with one bench; a plan, not a promise.",
}
"""The notes of outstanding parts: code -> meaning."""

_note = partial(note, known=NOTES)
_FROM_DATE: Final = ("soonest", "latest")


def missing_words(part: OutstandingPart) -> str:
    """A part as a sentence begins, with how many are missing where there are several."""
    name = upper_first(part.named)
    return f"{name}: {part.needed - part.in_hand} of {part.needed} missing" if part.needed > 1 else f"{name}: not here"


def ask_parts(
    asked: Outstanding, arrivals: Sequence[Arrival], needed_for: Sequence[str], above: str = ""
) -> Iterator[OpenItem]:
    """What is to be asked of whoever sends parts, those that are late first, and which pieces are in hand."""

    def item(place: int, field: str, detail: str) -> OpenItem:
        pointer = f"{above}/parts/{place}/{field}"
        return OpenItem(pointer=pointer, position=None, spring=None, needed_for=list(needed_for), detail=detail)

    pairs = list(enumerate(zip(asked.parts, arrivals, strict=True)))
    for place, (part, arrival) in pairs:
        if arrival.late_by is not None:
            field = "arrives_on" if arrival.basis == "arrival_known" else "promised_on"
            yield item(place, field, f"{upper_first(part.named)}: ask for a new date.")
    for place, (part, arrival) in pairs:
        if arrival.basis == "nothing":
            todo = "ask when it comes" if part.needed == 1 else "ask when they come"
            todo += "" if part.ordered_on is not None else ", or order and enter the lead time"
            yield item(place, "promised_on", f"{upper_first(part.named)}: {todo}; no date is known.")
    for place, (part, arrival) in pairs:
        if 0 < part.in_hand < part.needed and not part.in_hand_for and not arrival.is_here:
            detail = f"enter which positions or springs the {part.in_hand} in hand are for."
            yield item(place, "in_hand_for", f"{upper_first(part.named)}: {detail}")


def part_notes(asked: Outstanding, arrivals: Sequence[Arrival], above: str = "") -> Iterator[Note]:
    """What is to be said of the parts themselves, those that are late first."""
    pairs = list(enumerate(zip(asked.parts, arrivals, strict=True)))
    for place, (part, arrival) in pairs:
        if arrival.late_by is not None:
            yield _note("part_late", f"{above}/parts/{place}", late_words(part, arrival, asked))
    for place, (part, arrival) in pairs:
        where = f"{above}/parts/{place}"
        if arrival.is_here:
            continue
        if part.earlier_promises and part.promised_on is not None:
            yield _note("promise_moved", where, _moved(part, part.promised_on))
        if part.in_hand:
            which = f" ({say_names(part.in_hand_for)})" if part.in_hand_for else ""
            detail = (
                f"{upper_first(part.named)}: {part.in_hand} of {part.needed} in hand{which}; do what they are for "
                "meanwhile."
            )
            yield _note("part_partly_here", where, detail)
        if arrival.basis == "lead_time_from_today":
            days = say_days(day_of(arrival.soonest), day_of(arrival.latest))
            detail = f"{upper_first(part.named)}: not ordered. Ordered today, here {days}."
            yield _note("part_not_ordered", where, detail)


def late_words(part: OutstandingPart, arrival: Arrival, asked: Outstanding) -> str:
    """A late part in a sentence: how many are missing, since when, and what to do."""
    ago = arrival.late_by or 0
    due = say_day(asked.as_of - timedelta(days=ago))
    how = {"arrival_known": "was to arrive", "promised": "promised for"}.get(arrival.basis, "due by lead time")
    return f"{missing_words(part)}, {how} {due}, {say_how_long(ago)} ago: ask."


def _moved(part: OutstandingPart, now: date) -> str:
    """How far a promise has moved."""
    before = say_names([say_day(day) for day in part.earlier_promises], most=len(part.earlier_promises))
    moved = (now - part.earlier_promises[0]).days
    by = f", {say_how_long(abs(moved))} {'later' if moved > 0 else 'sooner'} than at first" if moved else ""
    return f"{upper_first(part.named)}: promised for {before}, now for {say_day(now)}{by}. Don't plan closely on it."


def work_notes(request: OutstandingPartsRequest, worked: Worked, steps: Sequence[StepLine]) -> Iterator[Note]:
    """What is to be said of the work: what to order first, what decides the finish, and how to read the plan."""
    yield from _order_notes(request, worked.parts)
    for place, (part, own) in enumerate(zip(request.parts, worked.waiting.parts, strict=True)):
        if not own.feeds:
            detail = (
                f"{upper_first(part.named)}: nothing waits for it. Enter its kind, or what it feeds, if something does."
            )
            yield _note("part_feeds_nothing", f"/parts/{place}", detail)
    yield from _finish_notes(request, worked)
    for place, part in enumerate(request.parts):
        tried = worked.parts[place].readings
        if part.stand_in is not None and tried:
            detail = (
                f"{upper_first(part.named)}: {part.stand_in} can stand in for {say_names(_as_words(tried))}, as a "
                "trial; not measured until the part is here."
            )
            yield _note("stand_in_only", f"/parts/{place}/stand_in", detail)
    if any(step.days for step in request.steps):
        detail = (
            "Every day counts, Saturdays, Sundays and holidays too. Where the shop is shut then, add those days to a "
            "step."
        )
        yield _note("days_run_on", "/steps", detail)
    if sum(step.bench for step in request.steps) > 1:
        without = [step.id for step in steps if step.start_latest is None]
        left_out = f" {upper_first(say_names(without))} can't be planned: a part has no date." if without else ""
        detail = (
            "The plan takes the bench one step at a time, the longest chain after a step first, with every part at its "
            f"latest date. It is a plan, not a promise.{left_out}"
        )
        yield _note("plan_not_promise", "/steps", detail)


def _as_words(readings: Sequence[str]) -> list[str]:
    return [one if one.startswith("/") else one.replace("_", " ") for one in readings]


def _order_notes(request: OutstandingPartsRequest, lines: Sequence[PartLine]) -> Iterator[Note]:
    """When parts are to be ordered for the finish wanted, those that are too late already first."""
    wanted, today = request.wanted_by, request.as_of
    if wanted is None:
        return
    late: list[Note] = []
    later: list[Note] = []
    for place, (part, line) in enumerate(zip(request.parts, lines, strict=True)):
        where, name = f"/parts/{place}", upper_first(part.named)
        if line.order_by is not None and line.order_by < today:
            best = line.order_by_at_best
            hope = "; only the shortest lead time still makes it" if best is not None and best >= today else ""
            detail = (
                f"{name}: to be done by {say_day(wanted)} the last day to order was {say_day(line.order_by)}{hope}. "
                "Order now."
            )
            late.append(_note("order_by_passed", where, detail))
        elif line.order_by is not None:
            detail = f"{name}: order by {say_day(line.order_by)} to be done by {say_day(wanted)}."
            later.append(_note("order_by", where, detail))
        elif line.needed_by is not None and line.latest is not None and line.missing and line.latest > line.needed_by:
            is_sure = line.soonest is not None and line.soonest > line.needed_by
            if line.needed_by < today:
                days = (wanted - line.needed_by).days
                follow = "day of work follows" if days == 1 else "days of work follow"
                detail = (
                    f"{name}: {days} {follow} in the plan; for {say_day(wanted)} the last day was "
                    f"{say_day(line.needed_by)}. Choose a later day, or take work off."
                )
            else:
                detail = (
                    f"{name}: {'' if is_sure else 'may be '}too late to be done by {say_day(wanted)}; needed by "
                    f"{say_day(line.needed_by)}. Ask for an earlier date."
                )
            late.append(_note("part_too_late", where, detail))
    yield from (*late, *later)


def _finish_notes(request: OutstandingPartsRequest, worked: Worked) -> Iterator[Note]:
    """What decides the finish."""
    waiting = worked.waiting
    undated = [
        part.named
        for part, own in zip(request.parts, waiting.parts, strict=True)
        if own.feeds and own.arrival.latest is None
    ]
    if undated:
        detail = f"No finish can be given: no date is known for {say_names(undated)}. Ask first for these."
        yield _note("no_finish", "/parts", detail)
    if waiting.finish.latest is None:
        return
    planned = waiting.plan_finish
    waits = planned is not None and planned > waiting.finish.latest
    places, last = (waiting.plan_chain, planned) if waits else (waiting.chains[1], waiting.finish.latest)
    chain = [_as_words([worked.names[place]])[0] for place in places]
    finish = say_days(day_of(waiting.finish.soonest), day_of(waiting.finish.latest))
    start = (
        f"With the one bench all can be done {say_days(day_of(last), day_of(last))}"
        if waits
        else (f"All can be done {finish}")
    )
    detail = f"{start}. What decides is {', then '.join(chain)}; a day lost there is lost at the end."
    if request.wanted_by is not None and last is not None:
        spare, wanted = request.wanted_by.toordinal() - last, say_day(request.wanted_by)
        word = "to spare for" if spare >= 0 else "too late for"
        detail += f" {upper_first(say_how_long(abs(spare)))} {word} {wanted}."
    if waits:
        detail += f" With no wait for the bench it could be {finish}."
    yield _note("finish_by_chain", "/steps" if request.steps else "/parts", detail)
