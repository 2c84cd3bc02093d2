"""POST /v1/pushrod-length: the pushrods a head needs after the work, and what the present ones do to preload."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.exchange.resource import Resource
from headbench.api.movement.moved import Moved, MovedPosition, movement_faults, movement_of, seat_faults
from headbench.api.pushrods.findings import open_pushrods, pushrod_notes
from headbench.api.pushrods.lifters import Lifters, lifter_faults, lifters_of
from headbench.api.pushrods.lines import PushrodSection, pushrod_section
from headbench.api.pushrods.pushrods import (
    AdjusterField,
    Placed,
    Pushrod,
    PushrodLimits,
    RockerRatio,
    adjuster_of,
    pushrod_faults,
    pushrods_of,
)
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for
from headbench.api.vocabulary.positions import MOST_POSITIONS, raise_if_any, repeated_ids
from headbench.api.vocabulary.quantities import Units, UnitsUsed, units_used
from headbench.calc.pushrods.pushrods import pushrods_after
from headbench.errors import Pointed


class PushrodPosition(MovedPosition, kw_only=True, frozen=True):
    """One valve and its pushrod."""

    rocker_ratio: RockerRatio = None
    pushrod: Annotated[
        Pushrod,
        Meta(
            description="What is known of its pushrod.",
            examples=[{"geometry": {"kind": "length_and_angle", "length": 8.15, "angle": 8}, "preload": 0.034}],
        ),
    ] = Pushrod()


class PushrodLengthRequest(Moved, kw_only=True, frozen=True):
    """What comes off, and the pushrods as they are. A flat cut of 0 where nothing does."""

    units: Units = Units()
    limits: Annotated[
        PushrodLimits, Meta(description="What preload out of range is judged.", examples=[{"off_target": "borderline"}])
    ] = PushrodLimits()
    lifters: Annotated[
        Lifters,
        Meta(description="Preload range of the lifters, and pushrod stock.", examples=[{"plunger_travel": 0.150}]),
    ] = Lifters()
    adjuster: AdjusterField = None
    positions: Annotated[
        list[PushrodPosition],
        Meta(
            min_length=1,
            max_length=MOST_POSITIONS,
            description="The valves and their pushrods.",
            examples=[
                [
                    {
                        "id": "1I",
                        "valve": "intake",
                        "pushrod": {
                            "geometry": {"kind": "length_and_angle", "length": 8.15, "angle": 8},
                            "preload": 0.034,
                        },
                    }
                ]
            ],
        ),
    ]


class PushrodLengthAnswer(PushrodSection, kw_only=True, frozen=True):
    """Every pushrod after the work."""

    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


def answer(request: PushrodLengthRequest) -> PushrodLengthAnswer:
    """Answer one request; raises Contradiction."""
    positions = request.positions

    def faults() -> Iterator[Pointed]:
        yield from movement_faults(request)
        yield from repeated_ids([position.id for position in positions], "/positions", "position")
        yield from seat_faults(positions)
        yield from lifter_faults(request.lifters, "/lifters")

    raise_if_any(faults())
    movement = movement_of(request)
    placed = [Placed(place, one, one.pushrod, one.rocker_ratio) for place, one in enumerate(positions)]
    pushrods = pushrods_of(placed)
    raise_if_any(pushrod_faults(placed, pushrods, movement))
    after = pushrods_after(
        pushrods,
        lifters_of(request.lifters),
        movement,
        adjuster_of(request.adjuster),
        misses_reject=request.limits.off_target == "reject",
    )
    section = pushrod_section(placed, pushrods, after)
    return PushrodLengthAnswer(
        units=units_used(),
        verdict=section.verdict,
        preload_minimum=section.preload_minimum,
        preload_maximum=section.preload_maximum,
        positions=section.positions,
        common_steps_shorter=section.common_steps_shorter,
        common_in_range=section.common_in_range,
        open_items=list(open_pushrods(placed, section, request.lifters, request.adjuster, movement)),
        notes=[
            PLAIN_COMPARISON,
            *pushrod_notes(section, placed, after, request.lifters, request.adjuster, movement),
        ],
        cautions=cautions_for("springs", "engine"),
    )


RESOURCE: Final = Resource(
    kind="pushrod-length",
    operation_id="findPushrodLength",
    summary="Pushrod length and lifter preload after a cut",
    description="Give every valve's pushrod length and preload, and whether a stock length or the adjuster will do.",
    tag="Milling",
    request=PushrodLengthRequest,
    answer=PushrodLengthAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("pushrod_length.json"),
)
