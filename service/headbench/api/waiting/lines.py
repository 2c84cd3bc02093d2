"""Waiting lines: each part, reading and step, what it waits for and when it can be had."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Final, Literal, NamedTuple

from msgspec import Meta

from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.quantities import Answer
from headbench.api.waiting.parts import OutstandingPart, PartAwaited, awaited_fields, day_of
from headbench.api.waiting.request import OutstandingPartsRequest
from headbench.calc.waiting.feeds import OF_EACH_VALVE
from headbench.calc.waiting.waiting import ReadingDays, StepTerms, Waiting, work_waiting

Readiness = Literal["ready", "stand_in", "waits"]

_NO_DATE: Final = "null = a part before it has no date."
_READINESS: Final = Meta(
    description="ready: it can be done today. stand_in: only with what stands in for a part, as a trial. waits: for "
    "what waits_for names."
)


class PartLine(PartAwaited, kw_only=True, frozen=True):
    """A part, what waits for it, and by when it is to be ordered."""

    told_on: Annotated[date | None, Meta(description="Day the supplier last said so, as entered; null = not noted.")]
    readings: Annotated[list[str], Meta(description="Readings that wait for it; none where it is here.")]
    steps: Annotated[list[str], Meta(description="Steps that wait for it, directly or behind others.")]
    needed_by: Annotated[
        date | None,
        Meta(
            description="Last day on which it may come for wanted_by with the bench taken as planned; null = none "
            "wanted, or not needed."
        ),
    ]
    order_by: Annotated[
        date | None,
        Meta(
            description="Last day to order it that leaves its whole lead time until needed_by; null = it is ordered or "
            "here, or its lead time is not known."
        ),
    ]
    order_by_at_best: Annotated[date | None, Meta(description="The same with its shortest lead time; null = likewise.")]
    slack_days: Annotated[
        int | None,
        Meta(
            description="Days it may come later than latest without moving plan_finish; null = it is here, or a part "
            "has no date."
        ),
    ]


class ReadingLine(Answer, kw_only=True, frozen=True):
    """A reading, and when it can be taken."""

    reading: Annotated[str, Meta(description="What is read or worked out, or a pointer to its field.")]
    valve: Annotated[
        ValveKind | None,
        Meta(description="The kind of valve it is read at, where parts are for one kind; null = any."),
    ]
    readiness: Annotated[Readiness, _READINESS]
    waits_for: Annotated[list[str], Meta(description="The parts not here that it waits for.")]
    soonest: Annotated[date | None, Meta(description=f"Soonest day it can be taken; {_NO_DATE}")]
    latest: Annotated[date | None, Meta(description=f"Latest day; {_NO_DATE}")]


class StepLine(Answer, kw_only=True, frozen=True):
    """A step, and when it can be done."""

    id: Annotated[str, Meta(description="The step.")]
    readiness: Annotated[Readiness, _READINESS]
    waits_for: Annotated[list[str], Meta(description="The parts not here and the steps not done that it needs itself.")]
    parts_missing: Annotated[list[str], Meta(description="All parts not here that hold it up, behind others too.")]
    start_soonest: Annotated[
        date | None, Meta(description=f"Soonest day it can begin, with no wait for the bench; {_NO_DATE}")
    ]
    start_latest: Annotated[
        date | None,
        Meta(description=f"The same when every part comes at its latest; plan has the wait for the bench; {_NO_DATE}"),
    ]
    finish_soonest: Annotated[
        date | None, Meta(description=f"Soonest day on which it is done, so that what follows can begin; {_NO_DATE}")
    ]
    finish_latest: Annotated[date | None, Meta(description=f"The same when every part comes at its latest; {_NO_DATE}")]
    slack_days: Annotated[
        int | None, Meta(description=f"Days it may be later than planned without moving plan_finish; {_NO_DATE}")
    ]
    slack_days_soonest: Annotated[
        int | None,
        Meta(
            description="Days it may be later than soonest without moving finish_soonest, if no step waits for the "
            f"bench; {_NO_DATE}"
        ),
    ]


class TodayLine(Answer, kw_only=True, frozen=True):
    """Something that can be done today."""

    what: Annotated[str, Meta(description="A step, or a reading.")]
    unlocks: Annotated[list[str], Meta(description="Steps that wait for it and for nothing else.")]
    brings_nearer: Annotated[list[str], Meta(description="Steps that wait for it and for something else, too.")]


class PlanLine(Answer, kw_only=True, frozen=True):
    """A step in the plan."""

    step: Annotated[str, Meta(description="The step.")]
    start: Annotated[date, Meta(description="Day it begins.")]
    finish: Annotated[date, Meta(description="Day on which it is done, so that what follows can begin.")]
    on_bench: Annotated[bool, Meta(description="Whether it takes the bench.")]


class Reading(NamedTuple):
    """A reading that parts feed, at one kind of valve or at any."""

    name: str
    valve: ValveKind | None = None

    @property
    def named(self) -> str:
        """What chains and lists call it."""
        return self.name if self.valve is None else f"{self.name} ({self.valve})"


@dataclass(frozen=True, slots=True)
class Worked:
    """A request worked.

    names : parts, then readings, then steps, as chains count them
    readings : every reading that a part named feeds
    """

    waiting: Waiting
    names: Sequence[str]
    readings: Sequence[Reading]
    parts: Sequence[PartLine]


def work(request: OutstandingPartsRequest) -> Worked:
    """Everything that hangs on the parts and steps of a request."""
    parts, steps = request.parts, request.steps
    place_of = {part.id: place for place, part in enumerate(parts)}
    step_of = {step.id: place for place, step in enumerate(steps)}
    # a name of the table is a reading, whatever steps are called; what a part is said to feed may be a step
    fed_by = [[fed for fed in part.fed if part.feeds is None or fed not in step_of] for part in parts]
    readings = _readings(parts, fed_by)
    taken = [
        [
            place
            for place, (part, own) in enumerate(zip(parts, fed_by, strict=True))
            if reading.name in own and (reading.valve is None or part.valve in {None, reading.valve})
        ]
        for reading in readings
    ]
    terms = [
        StepTerms(
            step.days,
            tuple(place for place, part in enumerate(parts) if part.id in step.needs or step.id in (part.feeds or ())),
            tuple(dict.fromkeys(step_of[need] for need in step.needs if need not in place_of)),
            step.bench,
        )
        for step in steps
    ]
    wanted = None if request.wanted_by is None else request.wanted_by.toordinal()
    waiting = work_waiting(request.as_of.toordinal(), [part.terms() for part in parts], taken, terms, wanted)
    names = [*(part.id for part in parts), *(one.named for one in readings), *(step.id for step in steps)]
    lines = [_part_line(part, place, waiting, names) for place, part in enumerate(parts)]
    return Worked(waiting, names, readings, lines)


def _readings(parts: Sequence[OutstandingPart], fed_by: Sequence[Sequence[str]]) -> list[Reading]:
    """Every reading that a part feeds, of each kind of valve by itself where a part is for one kind."""
    found: list[Reading] = []
    for name in dict.fromkeys(fed for own in fed_by for fed in own):
        kinds = {part.valve for part, own in zip(parts, fed_by, strict=True) if name in own}
        if name in OF_EACH_VALVE and kinds != {None}:
            found.extend(Reading(name, kind) for kind in KINDS if not kinds.isdisjoint({None, kind}))
        else:
            found.append(Reading(name))
    return found


def _part_line(part: OutstandingPart, place: int, waiting: Waiting, names: Sequence[str]) -> PartLine:
    own = waiting.parts[place]
    first_reading, first_step = len(waiting.parts), len(names) - len(waiting.steps)
    is_to_order = own.arrival.basis == "lead_time_from_today"
    least, most = part.lead_time.in_days() if part.lead_time is not None and is_to_order else (None, None)
    return PartLine(
        **awaited_fields(part, own.arrival),
        told_on=part.told_on,
        readings=[names[first_reading + at] for at in own.readings],
        steps=[names[first_step + at] for at in own.steps],
        needed_by=None if own.arrival.is_here else day_of(own.needed_by),
        order_by=day_of(_before(own.needed_by, most)),
        order_by_at_best=day_of(_before(own.needed_by, least)),
        slack_days=None if own.arrival.is_here else own.slack.latest,
    )


def _before(day: int | None, days: int | None) -> int | None:
    return None if day is None or days is None else day - days


def reading_lines(request: OutstandingPartsRequest, worked: Worked) -> list[ReadingLine]:
    """Each reading that a part feeds."""
    return [
        ReadingLine(
            reading=reading.name,
            valve=reading.valve,
            readiness=_readiness(request, own),
            waits_for=[request.parts[place].id for place in own.missing],
            soonest=day_of(own.day.soonest),
            latest=day_of(own.day.latest),
        )
        for reading, own in zip(worked.readings, worked.waiting.readings, strict=True)
    ]


def _readiness(request: OutstandingPartsRequest, own: ReadingDays) -> Readiness:
    if not own.missing:
        return "ready"
    return "stand_in" if all(request.parts[place].stand_in for place in own.missing) else "waits"


def step_lines(request: OutstandingPartsRequest, worked: Worked) -> list[StepLine]:
    """Each step."""
    return [
        StepLine(
            id=step.id,
            readiness="ready" if not (needs := waits_for(request, worked, place)) else "waits",
            waits_for=needs,
            parts_missing=[request.parts[at].id for at in own.missing],
            start_soonest=day_of(own.start.soonest),
            start_latest=day_of(own.start.latest),
            finish_soonest=day_of(own.finish.soonest),
            finish_latest=day_of(own.finish.latest),
            slack_days=own.slack.latest,
            slack_days_soonest=own.slack.soonest,
        )
        for place, (step, own) in enumerate(zip(request.steps, worked.waiting.steps, strict=True))
    ]


def waits_for(request: OutstandingPartsRequest, worked: Worked, place: int) -> list[str]:
    """The parts not here and the steps that one step needs itself."""
    step = request.steps[place]
    parts = [
        part.id
        for part, own in zip(request.parts, worked.waiting.parts, strict=True)
        if (part.id in step.needs or step.id in (part.feeds or ())) and not own.arrival.is_here
    ]
    here = {part.id for part in request.parts}
    return [*parts, *(need for need in dict.fromkeys(step.needs) if need not in here)]


def today_lines(steps: Sequence[StepLine], readings: Sequence[ReadingLine]) -> list[TodayLine]:
    """What can be done today, steps first: those that unlock most before the others."""
    lines = [
        TodayLine(
            what=step.id,
            unlocks=[other.id for other in steps if other.waits_for == [step.id]],
            brings_nearer=[other.id for other in steps if step.id in other.waits_for and len(other.waits_for) > 1],
        )
        for step in steps
        if step.readiness == "ready"
    ]
    lines.sort(key=lambda line: (-len(line.unlocks), -len(line.brings_nearer)))
    ready = [Reading(one.reading, one.valve).named for one in readings if one.readiness == "ready"]
    return [*lines, *(TodayLine(what=reading, unlocks=[], brings_nearer=[]) for reading in ready)]


def plan_lines(request: OutstandingPartsRequest, worked: Worked) -> list[PlanLine]:
    """The steps in the order in which the plan begins them; those behind a part without a date have none."""
    starts = [(own.planned, place) for place, own in enumerate(worked.waiting.steps) if own.planned is not None]
    return [
        PlanLine(
            step=request.steps[place].id,
            start=date.fromordinal(start),
            finish=date.fromordinal(start + request.steps[place].days),
            on_bench=request.steps[place].bench,
        )
        for start, place in sorted(starts)
    ]
