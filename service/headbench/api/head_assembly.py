"""POST /v1/head-assembly: the main job, all readings of one head or a pair in, the whole sheet out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Final

import numpy as np
from litestar import post
from litestar.params import JSONBody
from msgspec import Meta

from headbench.api.assembly_float import float_notes, float_open_items, held_by_float, sheet_floats
from headbench.api.assembly_sheet import (
    AssemblySheet,
    JobEcho,
    PositionLine,
    bank_lines,
    position_checks,
    position_numbers,
    spreads_by_kind,
    verdicts_with_more,
)
from headbench.api.checks import worst_of
from headbench.api.coil_bind import WHICH_SPRING, SpringName, coil_bind_notes, spring_height_notes
from headbench.api.findings import CAUTIONS, PLAIN_COMPARISON, Note, OpenItem, note
from headbench.api.float_lines import IntendedSpeed
from headbench.api.installed_height import WHAT_TO_MEASURE as READ_HEIGHT
from headbench.api.installed_height import HeightReadings, height_faults, height_notes
from headbench.api.lobes import Lobes, measured_lifts, read_lobes
from headbench.api.moving_mass import Masses, Weighed, coverage_notes, open_masses, open_ratios, weighed_to_si
from headbench.api.positions import MOST_POSITIONS, open_readings, raise_if_any, unusual
from headbench.api.quantities import Columns, Model, Name, Units, say, units_used
from headbench.api.retainer_clearance import WHAT_TO_MEASURE as MEASURE_SEAL
from headbench.api.retainer_clearance import RetainerToRocker, RetainerToSeal, SealToSpring, gap_checks
from headbench.api.scale import ScaleUsed, scale_faults
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
from headbench.api.valve_mass import mass_notes, mass_totals
from headbench.api.valvetrain import ValveKind, WholeValvetrain, lift_faults, lifts, open_lifts, per_position
from headbench.calc import FloatArray, IntArray
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
    valvetrain: WholeValvetrain = WholeValvetrain()
    targets: Targets = Targets()
    intended_speed: IntendedSpeed = None
    tester: Annotated[Tester | None, Meta(description="Null: the readings are taken as they are.")] = None
    scale: ScaleUsed = None
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
    stated = lifts(request.valvetrain, scales)
    lobes = read_lobes(request.valvetrain, stated, scales)
    raise_if_any(_faults(request, lobes, scales))
    valves = [position.valve for position in request.positions]
    by_kind = measured_lifts(stated, lobes)
    springs = springs_to_si(request.springs, scales, request.tester, request.scale)
    rows = springs.rows([position.spring for position in request.positions])
    masses = [position.masses for position in request.positions]
    weighed = weighed_to_si(masses, valves, request.valvetrain, springs, rows, request.scale, "third", scales)
    head = _Head(valves, by_kind, lobes, springs, rows, weighed, _LENGTHS.to_si(request.positions, scales))
    return _fill_in(request, head, _readings_to_si(request, head, scales), scales)


@dataclass(frozen=True, slots=True)
class _Head:
    """What the request comes to in SI, beside what the kernel takes."""

    valves: Sequence[ValveKind]
    lifts: Mapping[ValveKind, float]
    lobes: Lobes
    springs: SpringTable
    rows: IntArray
    weighed: Weighed
    lengths: dict[str, FloatArray]


def _faults(request: HeadAssemblyRequest, lobes: Lobes, scales: Scales) -> Iterator[Pointed]:
    yield from shim_faults(request.shims, scales)
    yield from lift_faults(request.valvetrain, scales)
    yield from lobes.faults
    yield from target_faults(request.targets, scales)
    yield from spring_faults(request.springs, scales, request.tester)
    yield from height_faults(request.positions, scales)
    yield from unknown_springs([position.spring for position in request.positions], request.springs)
    weighed = {"/springs": request.springs, "/valvetrain": request.valvetrain, "/positions": request.positions}
    yield from scale_faults(request.scale, weighed, scales)


def _readings_to_si(request: HeadAssemblyRequest, head: _Head, scales: Scales) -> calc.HeadReadings:
    springs, rows, lengths = head.springs, head.rows, head.lengths
    stock = shims_to_si(request.shims, scales)
    return calc.HeadReadings(
        measured_height=lengths["measured_height"],
        deduction=lengths["deduction"],
        valve_lift=per_position(head.lifts, head.valves),
        retainer_to_seal=lengths["retainer_to_seal"],
        springs=calc.Springs(
            springs.curves, springs.curve[rows], springs.seat_step[rows], springs.coil_bind_height[rows]
        ),
        masses=head.weighed.parts,
        targets=calc.Targets(**targets_to_si(request.targets, head.valves, scales)),
        limits=calc.Limits(*(limit_to_si(request.limits, name, scales) for name in calc.Limits.__dataclass_fields__)),
        thicknesses=stock.thicknesses,
        max_stack=stock.max_stack,
        in_stock=stock.in_stock,
    )


def _fill_in(request: HeadAssemblyRequest, head: _Head, readings: calc.HeadReadings, scales: Scales) -> AssemblySheet:
    positions, valves, lengths = request.positions, head.valves, head.lengths
    ids = [position.id for position in positions]
    banks = [position.bank for position in positions]
    stock = shims_to_si(request.shims, scales)
    sheet = calc.assemble(readings)
    to_rocker = gap_checks(lengths["retainer_to_rocker"], request.limits, "retainer_to_rocker", scales)
    to_spring = gap_checks(lengths["seal_to_spring"], request.limits, "seal_to_spring", scales)
    floats = sheet_floats(
        request.intended_speed, request.limits, valves, head.lobes, head.springs, head.rows, head.weighed, sheet, scales
    )
    verdicts = verdicts_with_more(sheet, [to_rocker, to_spring, floats])
    checks = position_checks(sheet, readings, scales)
    columns = zip(
        positions,
        verdicts,
        shims_laid(sheet.heights.shims, stock, scales),
        to_rocker,
        to_spring,
        floats,
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
                valve_float=floating,
                verdict=verdict,
                **numbers,
                **own,
            )
            for position, verdict, shims, rocker, spring, floating, numbers, own in columns
        ],
        shim_totals=shim_totals(sheet.heights.shims, stock, scales),
        spreads=spreads_by_kind(sheet, valves, ids, scales),
        mass_totals=mass_totals(readings.masses, valves, scales),
        open_items=list(_open_items(request, head)),
        notes=list(_notes(request, head, sheet, readings, scales)),
        cautions=list(CAUTIONS),
    )


def _open_items(request: HeadAssemblyRequest, head: _Head) -> Iterator[OpenItem]:
    positions = request.positions
    used = {position.spring for position in positions if position.spring is not None}
    floating = held_by_float(request.intended_speed)
    height_held, mass_held = [*_HEIGHT_HELD, *floating], [*_SPRING_HELD["mass"], *floating]
    spring_held = {field: [*held, *floating] for field, held in _SPRING_HELD.items() if field != "coil_bind_height"}
    spring_held["coil_bind_height"] = _SPRING_HELD["coil_bind_height"]
    if _aims_by_load(request):
        spring_held["load_curve"] = [*spring_held["load_curve"], *_HEIGHT_HELD]
    if floating:
        spring_held["each_alone"] = floating
    yield from open_targets(request.targets, head.valves, height_held)
    yield from open_lifts(request.valvetrain, head.lifts, head.valves, [*_LIFT_HELD, *floating])
    yield from float_open_items(request.intended_speed, request.valvetrain, head.lobes, head.valves)
    yield from open_springs(request.springs, used, spring_held)
    yield from open_readings(positions, "measured_height", height_held, READ_HEIGHT)
    waiting = [name for held in _SPRING_HELD.values() for name in held]
    yield from open_readings(positions, "spring", [*waiting, *floating], WHICH_SPRING)
    yield from open_readings(positions, "retainer_to_seal", ["retainer_to_seal_clearance"], MEASURE_SEAL)
    yield from open_masses(positions, [position.masses for position in positions], mass_held)
    yield from open_ratios(head.weighed.parts, head.valves, mass_held)


def _aims_by_load(request: HeadAssemblyRequest) -> bool:
    targets = (request.targets.intake, request.targets.exhaust)
    return any(target and target.installed_height is None and target.seat_load is not None for target in targets)


def _notes(
    request: HeadAssemblyRequest, head: _Head, sheet: calc.HeadSheet, readings: calc.HeadReadings, scales: Scales
) -> Iterator[Note]:
    positions, lengths = request.positions, head.lengths
    ids = [position.id for position in positions]
    yield PLAIN_COMPARISON
    yield from coverage_notes(readings.masses, head.valves)
    yield from float_notes(request.intended_speed, request.valvetrain, head.lobes, scales)
    yield from assumed_shims(request.shims, scales)
    yield from height_notes(
        sheet.heights, positions, lengths, sheet.height_verdict, shims_to_si(request.shims, scales), scales
    )
    yield from _load_notes(request, sheet, scales)
    yield from coil_bind_notes(sheet.coil_bind, ids, readings.limits.coil_bind_clearance, scales)
    yield from spring_height_notes(head.springs, head.rows, scales)
    yield from unusual("retainer_to_seal", lengths["retainer_to_seal"], "/positions/{}/retainer_to_seal", scales)
    yield from mass_notes(readings.masses, head.valves, ids, scales)


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
