"""POST /v1/milling: what comes off, and everything that moves with it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any, Final

import numpy as np
from litestar import post
from litestar.params import JSONBody
from msgspec import Meta

from headbench.api.chambers import (
    MOST_CHAMBERS,
    MilledChamber,
    ShapeField,
    open_chambers,
    open_shape,
    open_thickness,
    shape_faults,
    shape_to_si,
)
from headbench.api.checks import VerdictName, worst_of
from headbench.api.compression_ratio import Compression, QuenchLimits, compression, quench_notes, quench_verdicts
from headbench.api.cylinder import (
    Clearances,
    Cylinder,
    clearances_over_pistons,
    cylinder_faults,
    cylinder_notes,
    gasket_faults,
    open_cylinder,
    room_faults,
)
from headbench.api.findings import CAUTIONS, PLAIN_COMPARISON, Note, OpenItem
from headbench.api.milled import Cut, Moved, Movement, movement_faults, movement_to_si, open_places
from headbench.api.milled_chambers import (
    MilledChamberLine,
    MilledChambers,
    chamber_cut_faults,
    chamber_lines,
    chamber_notes,
    mill_chambers,
    thickness_verdicts,
)
from headbench.api.milling_notes import milling_notes
from headbench.api.positions import raise_if_any
from headbench.api.quantities import (
    AngleOut,
    Answer,
    Length,
    LengthOut,
    Units,
    UnitsUsed,
    units_used,
    written,
)
from headbench.api.springs import repeated_ids
from headbench.api.wanted import as_written
from headbench.errors import Pointed
from headbench.units import Scales


class MillingLimits(QuenchLimits, kw_only=True, frozen=True):
    """What must be left after the cut."""

    head_thickness: Annotated[
        Length | None, Meta(description="Least thickness of the head its maker allows; null: not checked.")
    ] = None


class MillingRequest(Moved, kw_only=True, frozen=True):
    """What comes off one head, and whatever is known of what it moves."""

    cut: Annotated[Cut, Meta(description="What comes off the head's deck; a flat cut of 0 to ask without cutting.")]
    units: Units = Units()
    limits: MillingLimits = MillingLimits()
    chambers: Annotated[list[MilledChamber], Meta(max_length=MOST_CHAMBERS, description="The head's chambers.")] = []
    chamber_shape: ShapeField = None
    cylinder: Annotated[
        Cylinder | None, Meta(description="The cylinders before any cut; null: no ratio is wanted.")
    ] = None


class CompressionChange(Answer, kw_only=True, frozen=True):
    """What the cylinders came to, and what they come to."""

    before: Annotated[Compression, Meta(description="As measured, with the old gasket.")]
    after: Annotated[Compression, Meta(description="With the chambers cut, the block decked and the new gasket.")]


class MillingAnswer(Answer, kw_only=True, frozen=True):
    """Everything that moved."""

    units: UnitsUsed
    verdict: Annotated[VerdictName | None, Meta(description="The worst of all checks; null: nothing has a limit.")]
    net_approach: Annotated[
        LengthOut | None,
        Meta(description="How much nearer the whole head comes to the crank; null for a wedge, place by place then."),
    ]
    tilt: Annotated[AngleOut, Meta(description="Of the new deck; positive with more off towards the intake face.")]
    chambers: list[MilledChamberLine]
    compression: Annotated[CompressionChange | None, Meta(description="Null: no cylinder was given.")]
    open_items: list[OpenItem]
    notes: list[Note]
    cautions: list[str]


EXAMPLE: Final[dict[str, Any]] = {
    "units": {"length": "in", "volume": "cm3"},
    "limits": {"head_thickness": 5.040, "quench": 0.035},
    "cut": {"kind": "flat", "depth": 0.030},
    "block_decked": 0.005,
    "gasket_change": 0.012,
    "chamber_shape": {
        "kind": "pours",
        "pours": [{"depth": 0.0, "volume": 64.0}, {"depth": 0.02, "volume": 61.1}, {"depth": 0.05, "volume": 57.2}],
    },
    "chambers": [
        {"id": "1", "chamber_volume": 64.0, "head_thickness": 5.085},
        {"id": "3", "chamber_volume": 63.4, "head_thickness": 5.083, "deck_clearance": 0.012},
    ],
    "cylinder": {
        "bore": 4.030,
        "stroke": 3.480,
        "deck_clearance": 0.010,
        "dish_volume": 5.0,
        "gasket": {"compressed_thickness": 0.027, "gasket_bore": 4.100},
        "ring_land": {"land_diameter": 3.990, "land_height": 0.250},
        "rod_length": 5.700,
        "pin_offset": 0.060,
        "intake_closing": 62,
    },
}


@post(
    "/v1/milling",
    operation_id="millHead",
    summary="Everything that a cut moves",
    tags=["Milling"],
    status_code=200,
    opt={"example": EXAMPLE},
)
async def milling(data: JSONBody[MillingRequest]) -> MillingAnswer:
    """Say what comes off; get everything that moves with it, and what is still safe."""
    return answer(data)


@dataclass(frozen=True, slots=True)
class _Milled:
    """One head before and after, in SI."""

    movement: Movement
    chambers: MilledChambers
    before: Clearances | None
    after: Clearances | None


def _mill(request: MillingRequest, scales: Scales) -> _Milled:
    """What the cut does; raises Contradiction."""
    cylinder = request.cylinder

    def faults() -> Iterator[Pointed]:
        yield from movement_faults(request, scales)
        yield from repeated_ids([chamber.id for chamber in request.chambers], "/chambers", "chamber")
        yield from shape_faults(request.chamber_shape, scales)
        if cylinder is not None:
            yield from cylinder_faults(cylinder, scales)
            yield from gasket_faults(cylinder, request.gasket_change, scales)

    stated = list(faults())
    # a cut or a shape that contradicts itself cannot be followed any further
    if any(fault.pointer.startswith(("/cut", "/chamber_shape")) for fault in stated):
        raise_if_any(iter(stated))
    movement = movement_to_si(request, scales)
    milled = mill_chambers(
        request.chambers,
        shape_to_si(request.chamber_shape, scales),
        movement,
        np.zeros(len(request.chambers)),
        scales,
    )
    stated += chamber_cut_faults(milled, request.chambers, scales)
    before = after = None
    if cylinder is not None:
        before, after = _clearances(request, cylinder, milled, scales)
        stated += room_faults(before, "/chambers/{}/chamber_volume", "as measured", scales)
        stated += room_faults(after, "/chambers/{}/chamber_volume", "after the cut", scales)
    raise_if_any(iter(stated))
    return _Milled(movement=movement, chambers=milled, before=before, after=after)


def _clearances(
    request: MillingRequest, cylinder: Cylinder, milled: MilledChambers, scales: Scales
) -> tuple[Clearances, Clearances]:
    unit = scales["length"].factor
    before = clearances_over_pistons(cylinder, request.chambers, milled.volume_before, scales)
    after = clearances_over_pistons(
        cylinder,
        request.chambers,
        milled.cut.chamber_volume,
        scales,
        block_decked=request.block_decked * unit,
        gasket_change=request.gasket_change * unit,
    )
    return before, after


def answer(request: MillingRequest) -> MillingAnswer:
    """Answer one request; raises Contradiction."""
    scales = request.units.scales()
    milled = _mill(request, scales)
    movement = milled.movement
    least = request.limits.head_thickness
    lines = chamber_lines(
        milled.chambers, request.chambers, None if least is None else scales["length"].to_si(least), scales
    )
    change = _compression(request, milled, scales)
    verdicts = thickness_verdicts(lines)
    if change is not None:
        verdicts += quench_verdicts(change.after.chambers)
    approach = float(movement.approach_at(np.full(1, np.nan))[0])
    return MillingAnswer(
        units=units_used(scales),
        verdict=worst_of(verdicts) if verdicts else None,
        net_approach=as_written(approach, "length", scales),
        tilt=written(np.array(scales["angle"].from_si(movement.tilt))),
        chambers=lines,
        compression=change,
        open_items=list(_open_items(request, movement)),
        notes=list(_notes(request, milled, scales)),
        cautions=list(CAUTIONS),
    )


def _compression(request: MillingRequest, milled: _Milled, scales: Scales) -> CompressionChange | None:
    cylinder, before, after = request.cylinder, milled.before, milled.after
    if cylinder is None or before is None or after is None:
        return None
    chambers, limits = request.chambers, request.limits
    return CompressionChange(
        before=compression(cylinder, chambers, milled.chambers.volume_before, before, limits, scales),
        after=compression(cylinder, chambers, milled.chambers.cut.chamber_volume, after, limits, scales),
    )


def _open_items(request: MillingRequest, movement: Movement) -> Iterator[OpenItem]:
    yield from open_chambers(request.chambers, "removed_volume")
    yield from open_thickness(request.chambers, request.limits.head_thickness)
    places = [
        (f"/chambers/{place}", f"Chamber {chamber.id}", None, chamber.distance_across)
        for place, chamber in enumerate(request.chambers)
    ]
    yield from open_places(movement, places, ["depth", "net_approach", "chamber_volume", "static_ratio"])
    if request.chambers and not movement.nothing_cut:
        yield from open_shape(request.chamber_shape)
    if request.cylinder is not None:
        yield from open_cylinder(request.cylinder, request.chambers)


def _notes(request: MillingRequest, milled: _Milled, scales: Scales) -> Iterator[Note]:
    yield PLAIN_COMPARISON
    yield from chamber_notes(milled.chambers, request.chambers, scales)
    quench = np.empty(0) if milled.after is None else milled.after.quench
    yield from milling_notes(milled.movement, quench, scales)
    if request.cylinder is not None and milled.after is not None:
        yield from cylinder_notes(request.cylinder, scales)
        yield from quench_notes(quench, [chamber.id for chamber in request.chambers], scales)
