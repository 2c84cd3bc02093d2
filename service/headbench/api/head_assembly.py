"""POST /v1/head-assembly: the main job, all readings of one head or a pair in, the whole sheet out."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from litestar import post
from litestar.params import JSONBody

from headbench.api.assembly_float import sheet_floats
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
from headbench.api.checks import PercentCheck, worst_of
from headbench.api.coil_dimensions import DimensionedCurve
from headbench.api.findings import cautions_for
from headbench.api.head_findings import aims_by_load, notes, open_items
from headbench.api.head_job import EXAMPLE, HeadAssemblyRequest, HeadInSI, Position
from headbench.api.installed_height import height_faults, with_deduction
from headbench.api.lobes import Lobes, measured_lifts, read_lobes
from headbench.api.moving_mass import weighed_to_si
from headbench.api.off_loop import off_loop
from headbench.api.positions import raise_if_any
from headbench.api.quantities import Columns, units_used
from headbench.api.ratings import against_ratings
from headbench.api.retainer_clearance import gap_checks
from headbench.api.rounding import rounded
from headbench.api.scale import scale_faults
from headbench.api.shims import shim_faults, shim_totals, shims_laid, shims_to_si
from headbench.api.springs import each_spring, spring_faults, springs_to_si, unknown_springs
from headbench.api.targets import limits_to_si, target_faults, targets_to_si
from headbench.api.valve_mass import mass_totals
from headbench.api.valvetrain import KINDS, lift_faults, lifts, per_position
from headbench.calc import head_assembly as calc
from headbench.errors import Pointed
from headbench.units import Scales

_LENGTHS = Columns(Position)
_COLUMN_LIMITS: Final = (
    "installed_height_tolerance",
    "coil_bind_clearance_minimum",
    "retainer_to_seal_clearance_minimum",
    "seat_load_tolerance",
    "open_load_tolerance",
)


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
    return rounded(await off_loop(answer, data) if _takes_long(data) else answer(data), data.units)


def _takes_long(request: HeadAssemblyRequest) -> bool:
    """Loads from dimensions, heights for loads, and lobes to be smoothed are found step by step."""
    trains = (request.valvetrain.intake, request.valvetrain.exhaust)
    if request.intended_speed is not None or any(train and train.motion for train in trains):
        return True
    by_dimensions = any(isinstance(one.load_curve, DimensionedCurve) for *_, one in each_spring(request.springs))
    return by_dimensions or any(aims_by_load(request, kind) for kind in KINDS)


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
    head = HeadInSI(
        valves, by_kind, lobes, springs, rows, weighed, with_deduction(_LENGTHS.to_si(request.positions, scales))
    )
    return _fill_in(request, head, _readings_to_si(request, head, scales), scales)


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


def _readings_to_si(request: HeadAssemblyRequest, head: HeadInSI, scales: Scales) -> calc.HeadReadings:
    springs, rows, lengths = head.springs, head.rows, head.lengths
    stock = shims_to_si(request.shims, scales)
    targets = targets_to_si(request.targets, head.valves, scales)
    return calc.HeadReadings(
        measured_height=lengths["measured_height"],
        deduction=lengths["deduction"],
        valve_lift=per_position(head.lifts, head.valves),
        retainer_to_seal=lengths["retainer_to_seal"],
        springs=calc.Springs(
            springs.curves, springs.curve[rows], springs.seat_step[rows], springs.coil_bind_height[rows]
        ),
        masses=head.weighed.parts,
        targets=calc.Targets(**{name: targets[name] for name in calc.Targets.__dataclass_fields__}),
        limits=calc.Limits(
            **{name: limits_to_si(request.limits, name, head.valves, scales) for name in _COLUMN_LIMITS},
            off_target_rejects=request.limits.off_target == "reject",
        ),
        thicknesses=stock.thicknesses,
        stack_maximum=stock.stack_maximum,
        in_stock=stock.in_stock,
    )


def _fill_in(
    request: HeadAssemblyRequest, head: HeadInSI, readings: calc.HeadReadings, scales: Scales
) -> AssemblySheet:
    positions, valves, lengths = request.positions, head.valves, head.lengths
    ids = [position.id for position in positions]
    banks = [position.bank for position in positions]
    stock = shims_to_si(request.shims, scales)
    sheet = calc.assemble(readings)
    to_rocker = gap_checks(lengths["retainer_to_rocker"], request.limits, "retainer_to_rocker", valves, scales)
    to_spring = gap_checks(lengths["seal_to_spring"], request.limits, "seal_to_spring", valves, scales)
    floats = sheet_floats(
        request.intended_speed, request.limits, valves, head.lobes, head.springs, head.rows, head.weighed, sheet, scales
    )
    losses, deviations = _ratings(request, head, scales)
    verdicts = verdicts_with_more(sheet, [to_rocker, to_spring, losses, deviations, floats])
    checks = position_checks(sheet, readings, scales)
    columns = zip(
        positions,
        verdicts,
        shims_laid(sheet.heights.shims, stock, scales),
        to_rocker,
        to_spring,
        losses,
        deviations,
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
                retainer_to_rocker_check=rocker,
                seal_to_spring_check=spring,
                load_loss=loss,
                rating_check=deviation,
                valve_float=floating,
                verdict=verdict,
                **numbers,
                **own,
            )
            for position, verdict, shims, rocker, spring, loss, deviation, floating, numbers, own in columns
        ],
        shim_totals=shim_totals(sheet.heights.shims, stock, scales),
        spreads=spreads_by_kind(sheet, valves, ids, scales),
        mass_totals=mass_totals(readings.masses, valves, scales),
        open_items=list(open_items(request, head, sheet, readings, scales)),
        notes=list(notes(request, head, sheet, readings, scales)),
        cautions=cautions_for("springs", "tester", "engine"),
    )


def _ratings(
    request: HeadAssemblyRequest, head: HeadInSI, scales: Scales
) -> tuple[list[PercentCheck | None], list[PercentCheck | None]]:
    """What the spring of every position lost, and how far it is off its rating."""
    by_spring = against_ratings(request.springs, request.limits.load_loss_maximum, head.springs, scales)
    # the last row stands for no spring named
    losses, deviations = ([*checks, None] for checks in by_spring)
    rows = head.rows.tolist()
    return [losses[row] for row in rows], [deviations[row] for row in rows]
