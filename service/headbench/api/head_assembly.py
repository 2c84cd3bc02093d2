"""POST /v1/head-assembly: the main job, all readings of one head or a pair in, the whole sheet out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any, Final

import numpy as np
from litestar import post
from litestar.params import JSONBody
from msgspec import Meta

from headbench.api.assembly_sheet import (
    AssemblySheet,
    JobEcho,
    PositionLine,
    bank_lines,
    position_checks,
    position_numbers,
    spreads_by_kind,
    verdicts_with_gaps,
)
from headbench.api.checks import worst_of
from headbench.api.coil_bind import WHICH_SPRING, SpringName, coil_bind_notes, spring_height_notes
from headbench.api.findings import CAUTIONS, NOTE_CODES, PLAIN_COMPARISON, Note, OpenItem, note
from headbench.api.installed_height import WHAT_TO_MEASURE as READ_HEIGHT
from headbench.api.installed_height import HeightReadings, height_faults, height_notes
from headbench.api.positions import MOST_POSITIONS, open_readings, raise_if_any, unusual
from headbench.api.quantities import Columns, Model, Name, Units, say, units_used
from headbench.api.retainer_clearance import WHAT_TO_MEASURE as MEASURE_SEAL
from headbench.api.retainer_clearance import RetainerToRocker, RetainerToSeal, SealToSpring, gap_checks
from headbench.api.shims import Shims, assumed_shims, shim_faults, shim_totals, shims_laid, shims_to_si
from headbench.api.springs import (
    SpringList,
    SpringTable,
    open_springs,
    spring_faults,
    springs_to_si,
    unknown_springs,
)
from headbench.api.targets import Limits, Targets, limit_to_si, open_targets, target_faults, targets_to_si
from headbench.api.tester import Tester
from headbench.api.valve_mass import Masses, mass_notes, mass_totals, masses_to_si, open_masses
from headbench.api.valvetrain import ValveKind, Valvetrain, lift_faults, lifts, open_lifts, per_position
from headbench.calc import FloatArray
from headbench.calc import head_assembly as calc
from headbench.errors import Pointed
from headbench.units import Scales


class Job(Model, kw_only=True, frozen=True):
    """What the sheet is about."""

    reference: Annotated[Name | None, Meta(description="The shop's name for the job.")] = None
    head: Annotated[Name | None, Meta(description="Which head, if it is one.")] = None


class Position(HeightReadings, kw_only=True, frozen=True):
    """Everything read at one valve so far."""

    retainer_to_seal: RetainerToSeal = None
    retainer_to_rocker: RetainerToRocker = None
    seal_to_spring: SealToSpring = None
    bank: Annotated[Name | None, Meta(description="Its bank, where a pair of heads is one job.")] = None
    spring: SpringName = None
    masses: Masses = Masses()


class HeadAssemblyRequest(Model, kw_only=True, frozen=True):
    """All readings of one head, or of a pair, as far as they were taken."""

    units: Units = Units()
    job: Job = Job()
    limits: Limits = Limits()
    shims: Annotated[Shims | None, Meta(description="The shims at hand; null: the usual sizes, noted.")] = None
    valvetrain: Valvetrain = Valvetrain()
    targets: Targets = Targets()
    tester: Annotated[Tester | None, Meta(description="Null: the readings are taken as they are.")] = None
    springs: SpringList = []
    positions: Annotated[
        list[Position], Meta(min_length=1, max_length=MOST_POSITIONS, description="Every valve, in the order of work.")
    ]


_LENGTHS = Columns(Position)
_SOLID_SPREAD: Final = 0.030 * 0.0254
"""How much solid heights differ within one set [m]; common practice, no source."""
_HEIGHT_HELD: Final = [
    "installed_height",
    "installed_height_deviation",
    "seat_load",
    "open_height",
    "open_load",
    "coil_bind_clearance",
]
_LIFT_HELD: Final = ["open_height", "open_load", "coil_bind_clearance", "retainer_to_seal_clearance"]
_SPRING_HELD: Final = {
    "load_curve": ["seat_load", "open_load"],
    "proof": ["seat_load_deviation", "open_load_deviation"],
    "coil_bind_height": ["coil_bind_clearance"],
    "mass": ["moving_mass"],
}

EXAMPLE: Final[dict[str, Any]] = {
    "units": {"length": "in", "force": "lbf", "mass": "g"},
    "job": {"reference": "KW-0317", "head": "port side"},
    "limits": {
        "installed_height": 0.005,
        "coil_bind_clearance": 0.060,
        "retainer_to_seal_clearance": 0.050,
        "seat_load_percent": 5,
    },
    "shims": {"thicknesses": [0.015, 0.030, 0.060]},
    "valvetrain": {
        "intake": {"lobe_lift": 0.325, "rocker_ratio": 1.5, "lash": 0.0},
        "exhaust": {"valve_lift": 0.490},
    },
    "targets": {
        "intake": {"installed_height": 1.750, "seat_load": 118, "open_load": 262},
        "exhaust": {"installed_height": 1.750},
    },
    "springs": [
        {
            "id": "S1",
            "load_curve": {"kind": "bench", "readings": [{"height": 1.75, "load": 117}, {"height": 1.25, "load": 264}]},
            "coil_bind_height": 1.12,
        }
    ],
    "positions": [
        {
            "id": "1I",
            "valve": "intake",
            "measured_height": 1.871,
            "deduction": 0.090,
            "spring": "S1",
            "retainer_to_seal": 0.602,
            "masses": {"valve": 104.5, "retainer": 19.8, "locks": 5.1},
        }
    ],
}


@post(
    "/v1/head-assembly",
    operation_id="assembleHead",
    summary="The whole assembly sheet of one head or a pair",
    tags=["Bench"],
    status_code=200,
    opt={"example": EXAMPLE},
)
async def head_assembly(data: JSONBody[HeadAssemblyRequest]) -> AssemblySheet:
    """Work out every number of the sheet that the readings allow, judge it, and list what is still open."""
    return answer(data)


def answer(request: HeadAssemblyRequest) -> AssemblySheet:
    """Answer one request; raises Contradiction."""
    scales = request.units.scales()
    raise_if_any(_faults(request, scales))
    valves = [position.valve for position in request.positions]
    by_kind = lifts(request.valvetrain, scales)
    springs = springs_to_si(request.springs, scales, request.tester)
    readings, lengths = _readings_to_si(request, valves, by_kind, springs, scales)
    return _fill_in(request, valves, by_kind, springs, readings, lengths, scales)


def _faults(request: HeadAssemblyRequest, scales: Scales) -> Iterator[Pointed]:
    yield from shim_faults(request.shims, scales)
    yield from lift_faults(request.valvetrain, scales)
    yield from target_faults(request.targets, scales)
    yield from spring_faults(request.springs, scales, request.tester)
    yield from height_faults(request.positions, scales)
    yield from unknown_springs([position.spring for position in request.positions], request.springs)


def _readings_to_si(
    request: HeadAssemblyRequest,
    valves: Sequence[ValveKind],
    by_kind: Mapping[ValveKind, float],
    springs: SpringTable,
    scales: Scales,
) -> tuple[calc.HeadReadings, dict[str, FloatArray]]:
    rows = springs.rows([position.spring for position in request.positions])
    lengths = _LENGTHS.to_si(request.positions, scales)
    stock = shims_to_si(request.shims, scales)
    readings = calc.HeadReadings(
        measured_height=lengths["measured_height"],
        deduction=lengths["deduction"],
        valve_lift=per_position(by_kind, valves),
        retainer_to_seal=lengths["retainer_to_seal"],
        springs=calc.Springs(
            springs.curves, springs.curve[rows], springs.seat_step[rows], springs.coil_bind_height[rows]
        ),
        masses=calc.Masses(
            **masses_to_si([position.masses for position in request.positions], scales), springs=springs.mass[rows]
        ),
        targets=calc.Targets(**targets_to_si(request.targets, valves, scales)),
        limits=calc.Limits(*(limit_to_si(request.limits, name, scales) for name in calc.Limits.__dataclass_fields__)),
        thicknesses=stock.thicknesses,
        max_stack=stock.max_stack,
        in_stock=stock.in_stock,
    )
    return readings, lengths


def _fill_in(
    request: HeadAssemblyRequest,
    valves: Sequence[ValveKind],
    by_kind: Mapping[ValveKind, float],
    springs: SpringTable,
    readings: calc.HeadReadings,
    lengths: dict[str, FloatArray],
    scales: Scales,
) -> AssemblySheet:
    positions = request.positions
    ids = [position.id for position in positions]
    banks = [position.bank for position in positions]
    stock = shims_to_si(request.shims, scales)
    sheet = calc.assemble(readings)
    to_rocker = gap_checks(lengths["retainer_to_rocker"], request.limits, "retainer_to_rocker", scales)
    to_spring = gap_checks(lengths["seal_to_spring"], request.limits, "seal_to_spring", scales)
    verdicts = verdicts_with_gaps(sheet, [to_rocker, to_spring])
    checks = position_checks(sheet, readings, scales)
    columns = zip(
        positions,
        verdicts,
        shims_laid(sheet.heights.shims, stock, scales),
        to_rocker,
        to_spring,
        position_numbers(sheet, readings, scales),
        (dict(zip(checks, own, strict=True)) for own in zip(*checks.values(), strict=True)),
        strict=True,
    )
    return AssemblySheet(
        job=JobEcho(reference=request.job.reference, head=request.job.head),
        units=units_used(scales),
        verdict=worst_of(verdicts),
        banks=bank_lines(banks, ids, verdicts),
        positions=[
            PositionLine(
                id=position.id,
                bank=position.bank,
                valve=position.valve,
                spring=position.spring,
                shims=shims,
                retainer_to_rocker=rocker,
                seal_to_spring=spring,
                verdict=verdict,
                **numbers,
                **own,
            )
            for position, verdict, shims, rocker, spring, numbers, own in columns
        ],
        shim_totals=shim_totals(sheet.heights.shims, stock, scales),
        spreads=spreads_by_kind(sheet, valves, ids, scales),
        mass_totals=mass_totals(masses_to_si([position.masses for position in positions], scales), valves, scales),
        open_items=list(_open_items(request, valves, by_kind)),
        notes=list(_notes(request, sheet, readings, springs, lengths, scales)),
        cautions=list(CAUTIONS),
    )


def _open_items(
    request: HeadAssemblyRequest, valves: Sequence[ValveKind], by_kind: Mapping[ValveKind, float]
) -> Iterator[OpenItem]:
    positions = request.positions
    used = {position.spring for position in positions if position.spring is not None}
    yield from open_targets(request.targets, valves, _HEIGHT_HELD)
    yield from open_lifts(request.valvetrain, by_kind, valves, _LIFT_HELD)
    held = _SPRING_HELD | {
        "load_curve": [*_SPRING_HELD["load_curve"], *(_HEIGHT_HELD if _aims_by_load(request) else [])]
    }
    yield from open_springs(request.springs, used, held)
    yield from open_readings(positions, "measured_height", _HEIGHT_HELD, READ_HEIGHT)
    yield from open_readings(
        positions, "spring", [name for held in _SPRING_HELD.values() for name in held], WHICH_SPRING
    )
    yield from open_readings(positions, "retainer_to_seal", ["retainer_to_seal_clearance"], MEASURE_SEAL)
    yield from open_masses(positions, [position.masses for position in positions])


def _aims_by_load(request: HeadAssemblyRequest) -> bool:
    targets = (request.targets.intake, request.targets.exhaust)
    return any(target and target.installed_height is None and target.seat_load is not None for target in targets)


def _notes(
    request: HeadAssemblyRequest,
    sheet: calc.HeadSheet,
    readings: calc.HeadReadings,
    springs: SpringTable,
    lengths: dict[str, FloatArray],
    scales: Scales,
) -> Iterator[Note]:
    positions = request.positions
    ids = [position.id for position in positions]
    valves = [position.valve for position in positions]
    rows = springs.rows([position.spring for position in positions])
    masses = masses_to_si([position.masses for position in positions], scales)
    yield PLAIN_COMPARISON
    yield note("valve_side_only", "", NOTE_CODES["valve_side_only"])
    yield from assumed_shims(request.shims, scales)
    yield from height_notes(
        sheet.heights, positions, lengths, sheet.height_verdict, shims_to_si(request.shims, scales), scales
    )
    yield from _load_notes(request, sheet, scales)
    yield from coil_bind_notes(sheet.coil_bind, ids, readings.limits.coil_bind_clearance, scales)
    yield from spring_height_notes(springs, rows, scales)
    yield from unusual("retainer_to_seal", lengths["retainer_to_seal"], "/positions/{}/retainer_to_seal", scales)
    yield from mass_notes(masses, valves, ids, scales)


def _load_notes(request: HeadAssemblyRequest, sheet: calc.HeadSheet, scales: Scales) -> Iterator[Note]:
    positions = request.positions
    for where, beyond, load in (
        ("valve shut", sheet.seat_load_beyond, sheet.seat_load),
        ("full lift", sheet.open_load_beyond, sheet.open_load),
    ):
        for place in np.flatnonzero((beyond > 0.0) & ~np.isnan(load)).tolist():
            by = say(float(beyond[place]), "length", scales)
            detail = (
                f"Position {positions[place].id}, {where}: its spring stands {by} outside the heights it was read at; "
                "the load there is extrapolated."
            )
            yield note("beyond_readings", f"/positions/{place}/spring", detail)
        for place in np.flatnonzero(load == 0.0).tolist():
            detail = f"Position {positions[place].id}, {where}: its spring is taller than free and pushes nothing."
            yield note("spring_loose", f"/positions/{place}/spring", detail)
    yield from unusual("seat_load", sheet.seat_load, "/positions/{}/spring", scales)
    named = [position.spring for position in positions if position.spring is not None]
    for place, spring in enumerate(request.springs):
        count = named.count(spring.id)
        if count == 0:
            yield note("spring_unused", f"/springs/{place}", f"No position uses spring {spring.id}.")
        elif count > 1:
            detail = (
                f"{count} positions use spring {spring.id}; what was read on one spring is taken for all of them. "
                f"Solid heights in one set differ by about {say(_SOLID_SPREAD, 'length', scales)}: read every spring."
            )
            yield note("positions_share_spring", f"/springs/{place}", detail)
