"""POST /v1/outstanding-parts: what waits for which part, what can be done today, and when the rest can be."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, JobAnswered, Release
from headbench.api.exchange.resource import Resource
from headbench.api.vocabulary.findings import Note, OpenItem, cautions_for
from headbench.api.vocabulary.positions import raise_if_any
from headbench.api.vocabulary.quantities import Answer, UnitsUsed, units_used
from headbench.api.waiting.lines import (
    PartLine,
    PlanLine,
    ReadingLine,
    StepLine,
    TodayLine,
    plan_lines,
    reading_lines,
    step_lines,
    today_lines,
    work,
)
from headbench.api.waiting.notes import NOTES, ask_parts, part_notes, work_notes
from headbench.api.waiting.parts import arrivals_of, day_of
from headbench.api.waiting.request import OutstandingPartsRequest, outstanding_faults

_CHAIN: Final = (
    "Parts, readings and steps one after another that decide the finish when every part comes at its {} and no step "
    "waits for the bench: a day more on any of them is a day more at the end. Empty = a part has no date."
)


class OutstandingPartsAnswer(Answer, kw_only=True, frozen=True):
    """What waits for which part, and when it can be had."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    as_of: Annotated[date, Meta(description="Today, as entered.")]
    do_today: Annotated[list[TodayLine], Meta(description="What can be done today, and what each unlocks.")]
    parts: Annotated[list[PartLine], Meta(description="A line per part, in the order given.")]
    readings: Annotated[list[ReadingLine], Meta(description="A line per reading that a part feeds.")]
    steps: Annotated[list[StepLine], Meta(description="A line per step, in the order given.")]
    plan_finish: Annotated[date | None, Meta(description="Day on which the plan is done; null = not known.")]
    plan_chain: Annotated[
        list[str],
        Meta(
            description="What decides plan_finish, one after another, each waiting for what it needs or for the bench. "
            "Empty = a part has no date."
        ),
    ]
    wanted_by: Annotated[date | None, Meta(description="Day on which all is to be done, as entered; null = none.")]
    days_to_spare: Annotated[
        int | None,
        Meta(description="From plan_finish to wanted_by; negative = too late, null = not known, or none wanted."),
    ]
    finish_soonest: Annotated[
        date | None,
        Meta(description="Soonest day on which all is done if no step waits for the bench; null = not known."),
    ]
    finish_latest: Annotated[
        date | None, Meta(description="The same when every part comes at its latest; null = not known.")
    ]
    chain_soonest: Annotated[list[str], Meta(description=_CHAIN.format("soonest"))]
    chain_latest: Annotated[list[str], Meta(description=_CHAIN.format("latest"))]
    plan: Annotated[
        list[PlanLine],
        Meta(
            description="One order of the steps with the bench taken by one at a time and every part at its latest. A "
            "plan, not a promise; steps behind a part without a date are not in it."
        ),
    ]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be asked or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


_WAITING: Final = ("soonest", "latest", "finish_soonest", "finish_latest", "chain_latest", "plan")


def answer(request: OutstandingPartsRequest) -> OutstandingPartsAnswer:
    """Answer one request; raises Contradiction."""
    raise_if_any(outstanding_faults(request))
    worked = work(request)
    waiting = worked.waiting
    asked = request.outstanding()
    arrivals = arrivals_of(asked)
    readings, steps = reading_lines(request, worked), step_lines(request, worked)
    planned, wanted = waiting.plan_finish, request.wanted_by
    return OutstandingPartsAnswer(
        units=units_used(),
        as_of=request.as_of,
        do_today=today_lines(steps, readings),
        parts=list(worked.parts),
        readings=readings,
        steps=steps,
        finish_soonest=day_of(waiting.finish.soonest),
        finish_latest=day_of(waiting.finish.latest),
        chain_soonest=[worked.names[place] for place in waiting.chains[0]],
        chain_latest=[worked.names[place] for place in waiting.chains[1]],
        wanted_by=wanted,
        days_to_spare=None if planned is None or wanted is None else wanted.toordinal() - planned,
        plan=plan_lines(request, worked),
        plan_finish=day_of(planned),
        plan_chain=[worked.names[place] for place in waiting.plan_chain],
        open_items=list(ask_parts(asked, arrivals, _WAITING)),
        notes=[*part_notes(asked, arrivals), *work_notes(request, worked, steps)],
        cautions=cautions_for(),
    )


RESOURCE: Final = Resource(
    kind="outstanding-parts",
    operation_id="planOutstandingParts",
    summary="What waits for which part, and when it can be done",
    description="Enter parts that are not here with what is known of their dates, and the work; get what can be done "
    "today, what waits for what, and between which days each step can be done.",
    tag="Bench",
    request=OutstandingPartsRequest,
    answer=OutstandingPartsAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("outstanding_parts.json"),
    notes=NOTES,
)
