"""Outstanding parts asked for: the parts, the steps that need them, and what of both contradicts itself."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.exchange.envelope import Job, JobAsked
from headbench.api.exchange.faults import echoed
from headbench.api.vocabulary.positions import repeated_ids
from headbench.api.vocabulary.quantities import Model, Name, Units
from headbench.api.waiting.parts import MOST_PARTS, AsOf, Outstanding, PartList, date_fault, part_faults
from headbench.api.waiting.words import say_day
from headbench.calc.waiting.feeds import READINGS
from headbench.calc.waiting.network import find_loops
from headbench.errors import Pointed

MOST_STEPS: Final = 64


class Step(Model, kw_only=True, frozen=True):
    """Some work, what it needs, and how many days it takes."""

    id: Annotated[Name, Meta(description="Its name.", examples=["set up exhaust springs"])]
    needs: Annotated[
        list[Name],
        Meta(
            max_length=MOST_PARTS + MOST_STEPS,
            description="The parts and the steps, by their ids, that come before it.",
            examples=[["exhaust valves", "cut seats"]],
        ),
    ] = []
    days: Annotated[
        Annotated[int, Meta(ge=0, le=365)],
        Meta(
            description="Whole days it takes, every day of the week counted; 0 = done the day it can be begun.",
            examples=[1],
        ),
    ] = 1
    bench: Annotated[
        bool, Meta(description="Whether it takes the bench, where one step at a time can be worked.", examples=[True])
    ] = False


class OutstandingPartsRequest(Model, kw_only=True, frozen=True):
    """Parts that are not here yet, and the work that waits for them."""

    units: Units = Units()
    job: JobAsked = Job()
    as_of: AsOf
    parts: PartList
    steps: Annotated[
        list[Step],
        Meta(
            max_length=MOST_STEPS,
            description="The work, in the order of work.",
            examples=[[{"id": "lap valves", "needs": ["exhaust valves"], "days": 1}]],
        ),
    ] = []
    wanted_by: Annotated[
        date | None,
        Meta(
            description="Day on which all is to be done, for the days by which parts must be ordered; null = none "
            "wanted.",
            examples=["2026-04-30"],
        ),
    ] = None

    def outstanding(self) -> Outstanding:
        """The parts and today's date."""
        return Outstanding(as_of=self.as_of, parts=self.parts)


def outstanding_faults(request: OutstandingPartsRequest) -> Iterator[Pointed]:
    """What of a request contradicts itself."""
    yield from part_faults(request.outstanding())
    if request.wanted_by is not None:
        yield from date_fault(request.wanted_by, "/wanted_by")
        if request.wanted_by < request.as_of:
            detail = f"{say_day(request.wanted_by)} is before today, {say_day(request.as_of)}; choose a later day"
            yield Pointed("/wanted_by", detail)
    parts, steps = [part.id for part in request.parts], [step.id for step in request.steps]
    yield from repeated_ids(steps, "/steps", "step")
    for place, step in enumerate(steps):
        if step in parts:
            yield Pointed(f"/steps/{place}/id", f"step {step}: a part has the same id; rename one")
    known = {*parts, *steps}
    for place, one in enumerate(request.steps):
        for at, need in enumerate(one.needs):
            if need not in known:
                detail = f"step {one.id}: no part or step is called {echoed(need)}; check its id"
                yield Pointed(f"/steps/{place}/needs/{at}", detail)
    yield from _feeds_faults(request, {*steps, *READINGS})
    yield from _loop_faults(request, {step: place for place, step in enumerate(steps)})


def _feeds_faults(request: OutstandingPartsRequest, known: set[str]) -> Iterator[Pointed]:
    """What parts are said to feed that is neither a step nor a reading nor a field."""
    for place, part in enumerate(request.parts):
        for at, fed in enumerate(part.feeds or ()):
            if not fed.startswith("/") and fed not in known:
                detail = (
                    f"part {part.id}: {echoed(fed)} is no step and no reading; enter a step's id, a JSON pointer, or "
                    "one of the names that the description of kind has"
                )
                yield Pointed(f"/parts/{place}/feeds/{at}", detail)


def _loop_faults(request: OutstandingPartsRequest, places: Mapping[str, int]) -> Iterator[Pointed]:
    """Steps that wait for each other in a loop, spelled out."""
    steps = request.steps
    for loop in find_loops([[places[need] for need in step.needs if need in places] for step in steps]):
        first, following = steps[loop[0]], [*loop[1:], loop[0]]
        told = ", ".join(f"{steps[one].id} needs {steps[other].id}" for one, other in zip(loop, following, strict=True))
        at = first.needs.index(steps[following[0]].id)
        yield Pointed(f"/steps/{loop[0]}/needs/{at}", f"{told}: none of them can ever begin; take one need out")
