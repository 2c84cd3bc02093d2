"""POST /v1/piston-to-valve: what is left between valves and pistons once the head has moved."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Final

from litestar import post
from litestar.params import JSONBody
from msgspec import Meta

from headbench.api.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for
from headbench.api.milled import (
    Moved,
    MovedPosition,
    movement_faults,
    movement_to_si,
    position_run_out_faults,
    seat_faults,
)
from headbench.api.positions import MOST_POSITIONS, raise_if_any
from headbench.api.quantities import Units, UnitsUsed, units_used
from headbench.api.rounding import rounded
from headbench.api.springs import repeated_ids
from headbench.api.valve_clearances import (
    Clearance,
    ClearanceSection,
    PlacedClearance,
    ValveClearanceLimits,
    clearance_faults,
    clearance_notes,
    clearance_section,
    fit_clearances,
    open_clearances,
)
from headbench.errors import Pointed


class ClearancePosition(MovedPosition, kw_only=True, frozen=True):
    """One valve and the piston below it."""

    piston_to_valve: Clearance


class PistonToValveRequest(Moved, kw_only=True, frozen=True):
    """What comes off, and the clearances as they were read before. A flat cut of 0 where nothing does."""

    units: Units = Units()
    limits: ValveClearanceLimits = ValveClearanceLimits()
    positions: Annotated[list[ClearancePosition], Meta(min_length=1, max_length=MOST_POSITIONS)]


class PistonToValveAnswer(ClearanceSection, kw_only=True, frozen=True):
    """Every valve's clearance after the work."""

    units: UnitsUsed
    open_items: list[OpenItem]
    notes: list[Note]
    cautions: list[str]


EXAMPLE: Final[dict[str, Any]] = {
    "units": {"length": "in"},
    "limits": {"piston_to_intake_valve_minimum": 0.080, "piston_to_exhaust_valve_minimum": 0.100},
    "cut": {"kind": "flat", "depth": 0.030},
    "gasket_change": 0.006,
    "positions": [
        {
            "id": "1I",
            "valve": "intake",
            "seat_ground": 0.005,
            "seat_angle": 45,
            "piston_to_valve": {
                "valve_angle": 18,
                "crown": "flat",
                "read": {
                    "kind": "dial",
                    "readings": [
                        {"crank_angle": 5, "clearance": 0.152},
                        {"crank_angle": 10, "clearance": 0.139},
                        {"crank_angle": 15, "clearance": 0.146},
                    ],
                },
            },
        },
        {
            "id": "1E",
            "valve": "exhaust",
            "piston_to_valve": {"valve_angle": 18, "crown": "pocket", "read": {"kind": "clay", "thinnest": 0.131}},
        },
    ],
}


@post(
    "/v1/piston-to-valve",
    operation_id="checkPistonToValve",
    summary="Clearance between piston and valve after a cut",
    tags=["Milling"],
    status_code=200,
    opt={"example": EXAMPLE},
)
async def piston_to_valve(data: JSONBody[PistonToValveRequest]) -> PistonToValveAnswer:
    """Find the smallest clearance of every valve in what was read, and say what the cut leaves of it."""
    return rounded(answer(data), data.units)


def answer(request: PistonToValveRequest) -> PistonToValveAnswer:
    """Answer one request; raises Contradiction."""
    scales = request.units.scales()
    positions = request.positions
    placed = [PlacedClearance(place, one, one.piston_to_valve) for place, one in enumerate(positions)]

    def faults() -> Iterator[Pointed]:
        yield from movement_faults(request, scales)
        yield from repeated_ids([position.id for position in positions], "/positions", "position")
        yield from seat_faults(positions, scales)
        yield from clearance_faults(placed, scales)

    raise_if_any(faults())
    movement = movement_to_si(request, scales)
    raise_if_any(position_run_out_faults(movement, list(enumerate(positions))))
    fit = fit_clearances(placed, request.limits, movement, scales)
    section = clearance_section(placed, fit, scales)
    return PistonToValveAnswer(
        units=units_used(scales),
        verdict=section.verdict,
        positions=section.positions,
        open_items=list(open_clearances(placed, fit, movement)),
        notes=[PLAIN_COMPARISON, *clearance_notes(placed, fit, scales)],
        cautions=cautions_for("engine"),
    )
