"""POST /v1/head-assembly: the main job, all readings of one head or a pair in, the whole sheet out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from litestar import post
from litestar.params import JSONBody

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
from headbench.api.findings import CAUTIONS
from headbench.api.head_findings import notes, open_items
from headbench.api.head_job import EXAMPLE, HeadAssemblyRequest, Position
from headbench.api.installed_height import height_faults
from headbench.api.positions import raise_if_any
from headbench.api.quantities import Columns, units_used
from headbench.api.retainer_clearance import gap_checks
from headbench.api.shims import shim_faults, shim_totals, shims_laid, shims_to_si
from headbench.api.springs import (
    SpringTable,
    spring_faults,
    springs_to_si,
    unknown_springs,
)
from headbench.api.targets import limit_to_si, target_faults, targets_to_si
from headbench.api.valve_mass import mass_totals, masses_to_si
from headbench.api.valvetrain import ValveKind, lift_faults, lifts, per_position
from headbench.calc import FloatArray
from headbench.calc import head_assembly as calc
from headbench.errors import Pointed
from headbench.units import Scales

_LENGTHS = Columns(Position)


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
        open_items=list(open_items(request, valves, by_kind, sheet, readings)),
        notes=list(notes(request, sheet, readings, springs, lengths, scales)),
        cautions=list(CAUTIONS),
    )
