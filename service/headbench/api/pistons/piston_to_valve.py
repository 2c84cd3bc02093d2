"""POST /v1/piston-to-valve: the clearance left between valves and pistons after the work."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.cylinders.cylinder import RodMaterial
from headbench.api.exchange.resource import Resource
from headbench.api.movement.moved import (
    Moved,
    MovedPosition,
    movement_faults,
    movement_of,
    position_run_out_faults,
    seat_faults,
)
from headbench.api.pistons.clearances import (
    Clearance,
    HeadDiameter,
    PlacedClearance,
    ValveClearanceLimits,
    clearance_faults,
    lean_faults,
    unread_minimums,
    valves_over_pistons,
)
from headbench.api.pistons.lines import ClearanceSection, clearance_notes, clearance_section, open_clearances
from headbench.api.vocabulary.checks import worst_of
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for
from headbench.api.vocabulary.positions import MOST_POSITIONS, raise_if_any, repeated_ids
from headbench.api.vocabulary.quantities import Units, UnitsUsed, units_used
from headbench.calc.pistons.clearances import clearances_left
from headbench.errors import Pointed


class ClearancePosition(MovedPosition, kw_only=True, frozen=True):
    """One valve and the piston below it."""

    head_diameter: HeadDiameter = None
    piston_to_valve: Annotated[
        Clearance,
        Meta(
            description="What was read between this valve and its piston.",
            examples=[{"crown": "flat", "valve_angle": 18, "read": {"kind": "clay", "thinnest_clay": 0.131}}],
        ),
    ]


class PistonToValveRequest(Moved, kw_only=True, frozen=True):
    """What comes off, and the clearances as they were read before. A flat cut of 0 where nothing does."""

    units: Units = Units()
    limits: Annotated[
        ValveClearanceLimits,
        Meta(description="Limits for what is left.", examples=[{"piston_to_intake_valve_minimum": 0.080}]),
    ] = ValveClearanceLimits()
    rod_material: Annotated[
        RodMaterial | None,
        Meta(
            description="What the rods are made of: with aluminum ones the default minimum is larger. Null = not "
            "given, taken as steel.",
            examples=["steel"],
        ),
    ] = None
    positions: Annotated[
        list[ClearancePosition],
        Meta(
            min_length=1,
            max_length=MOST_POSITIONS,
            description="The valves to check.",
            examples=[
                [
                    {
                        "id": "1I",
                        "valve": "intake",
                        "piston_to_valve": {"crown": "pocket", "read": {"kind": "clay", "thinnest_clay": 0.131}},
                    }
                ]
            ],
        ),
    ]


class PistonToValveAnswer(ClearanceSection, kw_only=True, frozen=True):
    """Every valve's clearance after the work."""

    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


def answer(request: PistonToValveRequest) -> PistonToValveAnswer:
    """Answer one request; raises Contradiction."""
    positions = request.positions
    placed = [
        PlacedClearance(place, one, one.piston_to_valve, one.head_diameter) for place, one in enumerate(positions)
    ]

    def faults() -> Iterator[Pointed]:
        yield from movement_faults(request)
        yield from repeated_ids([position.id for position in positions], "/positions", "position")
        yield from seat_faults(positions)
        yield from clearance_faults(placed)

    raise_if_any(faults())
    movement = movement_of(request)
    run_out = position_run_out_faults(movement, list(enumerate(positions)))
    raise_if_any(chain(run_out, lean_faults(placed, movement)))
    left = clearances_left(valves_over_pistons(placed, request.limits, request.rod_material), movement)
    section = clearance_section(placed, left, movement)
    unread = list(unread_minimums(request.limits, positions, placed))
    return PistonToValveAnswer(
        units=units_used(),
        verdict=worst_of([section.verdict, "not_measured"]) if unread else section.verdict,
        positions=section.positions,
        open_items=[*unread, *open_clearances(placed, left, movement)],
        notes=[PLAIN_COMPARISON, *clearance_notes(placed, left, movement)],
        cautions=cautions_for("engine", "milling", "lifting"),
    )


RESOURCE: Final = Resource(
    kind="piston-to-valve",
    operation_id="checkPistonToValve",
    summary="Piston-to-valve clearance after a cut",
    description="Find every valve's smallest clearance and what the work leaves of it, valve lean after an angle cut "
    "included.",
    tag="Milling",
    request=PistonToValveRequest,
    answer=PistonToValveAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("piston_to_valve.json"),
)
