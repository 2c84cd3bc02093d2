"""POST /v1/ways-out: which other parts, or deeper pockets, put short, tall or tight valves right."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, JobAnswered, Release
from headbench.api.exchange.resource import Resource
from headbench.api.head.head_assembly import fill_in, read_head, valve_readings
from headbench.api.head.job import HeadRead
from headbench.api.heights.shims import shim_totals, shims_at_hand
from headbench.api.vocabulary.checks import VerdictName, worst_of
from headbench.api.vocabulary.findings import Note, OpenItem, Work, cautions_for, merged
from headbench.api.vocabulary.names import ValveKind
from headbench.api.vocabulary.quantities import Answer, UnitsUsed, number_of, units_used
from headbench.api.vocabulary.targets import limit_of, named_limit
from headbench.api.ways_out.groups import KindFound, kind_found
from headbench.api.ways_out.judging import HeadBench
from headbench.api.ways_out.lines import Together, WaysGroup
from headbench.api.ways_out.notes import NOTES, OWN_REMEDIES, ways_notes
from headbench.api.ways_out.open_items import ways_open
from headbench.api.ways_out.request import WaysOutRequest, kept_by_kind, locators_fitted, ways_faults
from headbench.calc.head.assembly import HeadSheet, ValveReadings, assemble
from headbench.calc.heights.installed_height import ShimsAtHand
from headbench.calc.heights.shims import stacks_of
from headbench.calc.judging.limits import POCKET_FLOOR_MINIMUM
from headbench.calc.judging.possible import if_possible
from headbench.calc.judging.rules import POSSIBLE_POCKET_FLOOR
from headbench.calc.ways_out import limits
from headbench.calc.ways_out.changed import Changed, GroupLimits, ValveThere, change_valve
from headbench.calc.ways_out.parts import NO_CHANGE

_MOST_SHARED: Final = 700
"""Pairs of valve and stack up to which a stock is shared in the best way for each choice of parts; of more it is dealt
out in turn, since no clock may decide which way comes first."""


class WaysOutAnswer(Answer, kw_only=True, frozen=True):
    """A head as it is, and the ways to put each kind of valve right."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[
        VerdictName,
        Meta(description="The head as it is, before anything is changed: as its own sheet has it, and the tips."),
    ]
    groups: Annotated[list[WaysGroup], Meta(description="Each kind of valve there is, intake first.")]
    together: Annotated[
        Together | None,
        Meta(
            description="The whole head with the first way of each kind, where that puts no more valves off their "
            "target; null = no kind has one."
        ),
    ]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


def answer(request: WaysOutRequest) -> WaysOutAnswer:
    """Answer one request; raises Contradiction."""
    head = read_head(request, ways_faults(request))
    at_hand = shims_at_hand(request.shims)
    readings = valve_readings(request, head)
    as_it_is = assemble(readings, at_hand)
    # with shims without end, as choices of parts are tried
    endless = as_it_is if at_hand.in_stock is None else assemble(readings, dataclasses.replace(at_hand, in_stock=None))
    bench = _bench(request, head, readings, _at_hand_for_each(at_hand, len(readings)))
    valves = _valves(request, head, readings, endless)
    sizes = range(len(at_hand.thicknesses))
    found: list[KindFound] = []
    for kind, places in bench.places.items():
        elsewhere = [
            sum(one.sheet.height.shims.count(size) for at, one in enumerate(valves) if at not in set(places))
            for size in sizes
        ]
        found.append(kind_found(bench, kind, as_it_is, [valves[at] for at in places], elsewhere))
    sheet = fill_in(request, head, as_it_is, at_hand)
    milling: tuple[Work, ...] = ("milling",) if request.catalogue.pocket_cuts else ()
    return WaysOutAnswer(
        units=units_used(),
        verdict=worst_of([sheet.verdict, *(one.line.as_it_is.verdict for one in found)]),
        groups=[one.line for one in found],
        together=_together(dataclasses.replace(bench, at_hand=at_hand), valves, found),
        open_items=merged([*ways_open(bench, found, [one.read_back_off for one in valves]), *sheet.open_items]),
        notes=[
            *ways_notes(found, request.catalogue, asks_masses=request.intended_speed is not None),
            *(note for note in sheet.notes if note.code not in OWN_REMEDIES),
        ],
        cautions=cautions_for("springs", "tester", "retainer", *milling, "engine"),
    )


def _at_hand_for_each(at_hand: ShimsAtHand, valves: int) -> ShimsAtHand:
    """The shims at hand as they are shared for each choice of parts."""
    stacks = stacks_of(at_hand.thicknesses, at_hand.stack_maximum, at_hand.shim_count_maximum)
    return at_hand if valves * len(stacks.totals) <= _MOST_SHARED else dataclasses.replace(at_hand, seconds=0.0)


def _bench(
    request: WaysOutRequest, head: HeadRead, readings: Sequence[ValveReadings], at_hand: ShimsAtHand
) -> HeadBench:
    kept = kept_by_kind(request)
    places = {kind: [at for at, valve in enumerate(head.valves) if valve == kind] for kind in kept}
    own = {kind: _limits(request, kind) for kind in kept}
    return HeadBench(request, head, readings, at_hand, places, own, kept)


def _limits(request: WaysOutRequest, kind: ValveKind) -> GroupLimits:
    """What one kind of valve is held against, beside what its sheet has."""
    asked, own = request.limits, [position for position in request.positions if position.valve == kind]
    rocker = named_limit(asked, "retainer_to_rocker_minimum", kind) is not None or any(
        position.retainer_to_rocker is not None for position in own
    )
    lift = getattr(request.valvetrain, kind)
    # no rocker stands over a retainer under a bucket
    over = rocker or lift is None or lift.drive != "bucket"
    tip, floor = asked.tip_above_retainer_minimum, asked.pocket_floor_minimum
    return GroupLimits(
        tip_minimum=limits.TIP_ABOVE_RETAINER_MINIMUM.value if tip is None else tip,
        rocker_minimum=limit_of(asked, "retainer_to_rocker_minimum", kind) if over else math.nan,
        floor_minimum=POCKET_FLOOR_MINIMUM.value if floor is None else floor,
        tip_asked=tip is not None or any(position.tip_above_retainer is not None for position in own),
        rocker_asked=rocker,
    )


def _valves(
    request: WaysOutRequest, head: HeadRead, readings: Sequence[ValveReadings], sheet: HeadSheet
) -> list[ValveThere]:
    return [
        ValveThere(
            readings=own,
            sheet=valve,
            locator=locator,
            tip_above_retainer=if_possible(number_of(position.tip_above_retainer), limits.POSSIBLE_TIP),
            retainer_to_rocker=number_of(position.retainer_to_rocker),
            pocket_floor=if_possible(number_of(position.pocket_floor), POSSIBLE_POCKET_FLOOR),
        )
        for position, own, valve, locator in zip(
            request.positions, readings, sheet.valves, locators_fitted(request, head), strict=True
        )
    ]


def _together(bench: HeadBench, valves: Sequence[ValveThere], found: Sequence[KindFound]) -> Together | None:
    """The whole head with the first way of each kind of valve."""
    if all(one.best is None for one in found):
        return None
    changed: dict[int, Changed] = {}
    for one in found:
        places = bench.places[one.kind]
        parts = [change_valve(valves[at], 0.0, 0.0) for at in places] if one.best is None else one.best.valves
        changed.update(zip(places, parts, strict=True))
    sheet = bench.assembled(changed)
    verdicts: list[VerdictName] = []
    for one in found:
        choice = NO_CHANGE if one.best is None else one.best.choice
        judged = bench.judge(one.kind, choice, [changed[at] for at in bench.places[one.kind]], sheet)
        verdicts += [judged.verdict, *(valve.line.verdict for valve in judged.valves)]
    return Together(
        ways=[one.line.ways[0].id for one in found if one.best is not None],
        verdict=worst_of(verdicts),
        shim_totals=shim_totals(sheet.shims_used, bench.at_hand),
        shim_choice_proven=sheet.shim_choice_proven,
    )


RESOURCE: Final = Resource(
    kind="ways-out",
    operation_id="findWaysOut",
    summary="Other parts that put short, tall or tight valves right",
    description="Try every choice of other locks, retainers, locators, valves and deeper pockets; get the best ways.",
    tag="Bench",
    request=WaysOutRequest,
    answer=WaysOutAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("ways_out.json"),
    limits=limits.LIMITS,
    rules=limits.RULES,
    notes=NOTES,
)
