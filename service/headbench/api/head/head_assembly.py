"""POST /v1/head-assembly: the main job, all readings of one head or a pair in, the whole sheet out."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final

import numpy as np

from headbench.api.exchange.resource import Resource
from headbench.api.gauges.scale import scale_faults
from headbench.api.head.findings import notes
from headbench.api.head.job import HeadAssemblyRequest, HeadRead, Position, without_speed
from headbench.api.head.job_notes import job_echo, verdict_with_waivers, waived_checks, waiver_faults
from headbench.api.head.open_items import open_items
from headbench.api.head.sheet import AssemblySheet
from headbench.api.head.sheet_checks import checks_of, counted, judged, worst_named
from headbench.api.head.sheet_lines import position_lines
from headbench.api.head.sheet_sets import bank_lines, naming_spreads, spread_checks, spread_notes, spreads_by_kind
from headbench.api.heights.doubts import height_doubts, proven_heights
from headbench.api.heights.readings import corrected_heights, height_faults
from headbench.api.heights.shims import shim_faults, shim_totals, shims_at_hand
from headbench.api.heights.suspects import find_suspects
from headbench.api.masses.drives import drive_faults
from headbench.api.masses.moving_mass import weighed_parts
from headbench.api.masses.valve_mass import mass_totals
from headbench.api.springs.dimensions import DimensionedCurve
from headbench.api.springs.spring import each_spring, spring_faults, spring_table, unknown_springs
from headbench.api.springs.tested import tested_springs
from headbench.api.train.lobes import Lobes, measured_lifts, read_lobes
from headbench.api.train.valvetrain import lift_faults, lifts, per_position
from headbench.api.valve_float.notes import reserve_notes, surge_notes
from headbench.api.vocabulary.checks import VerdictName, worst_of
from headbench.api.vocabulary.findings import cautions_for, merged
from headbench.api.vocabulary.names import KINDS
from headbench.api.vocabulary.positions import raise_if_any
from headbench.api.vocabulary.quantities import Columns, units_used
from headbench.api.vocabulary.targets import aims_by_load, limits_of, load_target, target_faults, targets_of
from headbench.api.vocabulary.unplaced_limits import unplaced_limits
from headbench.calc import FloatArray
from headbench.calc.head import assembly as calc
from headbench.calc.springs.nested import Springs
from headbench.errors import Pointed

_COLUMNS = Columns(Position)


def _takes_long(request: HeadAssemblyRequest) -> bool:
    """Loads from dimensions, heights for loads, lobes to be smoothed and stock to be shared are found step by step."""
    trains = (request.valvetrain.intake, request.valvetrain.exhaust)
    if request.intended_speed is not None or any(train and train.motion for train in trains):
        return True
    if request.shims is not None and request.shims.in_stock is not None:
        return True
    by_dimensions = any(isinstance(one.load_curve, DimensionedCurve) for *_, one in each_spring(request.springs))
    return by_dimensions or any(aims_by_load(request.targets, kind) for kind in KINDS)


def answer(request: HeadAssemblyRequest) -> AssemblySheet:
    """Answer one request; raises Contradiction."""
    stated = lifts(request.valvetrain)
    lobes = read_lobes(request.valvetrain, stated)
    raise_if_any(_faults(request, lobes))
    valves = [position.valve for position in request.positions]
    by_kind = measured_lifts(stated, lobes)
    springs = spring_table(request.springs, request.tester, request.scale)
    rows = springs.rows([position.spring for position in request.positions])
    masses = [position.masses for position in request.positions]
    weighed = weighed_parts(masses, valves, request.valvetrain, springs, rows, request.scale, "third")
    columns = _COLUMNS.of(request.positions)
    heights = corrected_heights(request.positions, request.height_corrections)
    used = {position.spring for position in request.positions if position.spring is not None}
    tested = tested_springs(request.springs, used, request.tester)
    suspects = find_suspects(request.positions, heights, request.units.length)
    doubts = height_doubts(request.positions, heights, suspects, request.units.length)
    head = HeadRead(valves, by_kind, lobes, springs, rows, weighed, columns, heights, suspects, doubts, tested)
    return _fill_in(request, head, _head_readings(request, head))


def _faults(request: HeadAssemblyRequest, lobes: Lobes) -> Iterator[Pointed]:
    ids = [position.id for position in request.positions]
    yield from shim_faults(request.shims)
    yield from lift_faults(request.valvetrain)
    yield from lobes.faults
    yield from target_faults(request.targets)
    valves, masses = [one.valve for one in request.positions], [one.masses for one in request.positions]
    yield from drive_faults(request.valvetrain, valves, masses)
    yield from spring_faults(request.springs, request.tester)
    yield from height_faults(request.positions, request.height_corrections)
    yield from unknown_springs([position.spring for position in request.positions], request.springs)
    yield from waiver_faults(request.waivers, ids)
    yield from scale_faults(request.scale)


def _head_readings(request: HeadAssemblyRequest, head: HeadRead) -> calc.HeadReadings:
    springs, rows, columns = head.springs, head.rows, head.columns
    targets = targets_of(request.targets, head.valves)

    def limit(name: str) -> FloatArray:
        return limits_of(request.limits, name, head.valves)

    own_lift = columns["valve_lift"]
    return calc.HeadReadings(
        bare_height=head.heights.bare_height,
        height_with_shims=head.heights.height_with_shims,
        height_proven=proven_heights(head.doubts, len(head.valves)),
        seat_load_with_shims=columns["seat_load_with_shims"],
        valve_lift=np.where(np.isnan(own_lift), per_position(head.lifts, head.valves), own_lift),
        retainer_to_seal=columns["retainer_to_seal"],
        springs=Springs(
            springs.curves,
            springs.curve[rows],
            springs.seat_rise[rows],
            springs.coil_bind_height[rows],
            springs.bind_doubtful[rows],
        ),
        masses=head.weighed.parts,
        targets=calc.Targets(
            installed_height=targets["installed_height"],
            seat_load=load_target(targets, "seat_load", limit("seat_load_tolerance")),
            open_load=load_target(targets, "open_load", limit("open_load_tolerance")),
        ),
        limits=calc.Limits(
            installed_height_tolerance=limit("installed_height_tolerance"),
            coil_bind_clearance_minimum=limit("coil_bind_clearance_minimum"),
            retainer_to_seal_clearance_minimum=limit("retainer_to_seal_clearance_minimum"),
            off_target_rejects=request.limits.off_target == "reject",
        ),
        shims=shims_at_hand(request.shims),
    )


def _fill_in(request: HeadAssemblyRequest, head: HeadRead, readings: calc.HeadReadings) -> AssemblySheet:
    positions, valves = request.positions, head.valves
    ids = [position.id for position in positions]
    sheet = calc.assemble(readings)
    lines = position_lines(request, head, sheet, readings)
    held_closed = (~sheet.pushes_nothing).tolist()
    checks = {
        line.id: judged(checks_of(line), without_speed(request, line.valve), held_closed=held)
        for line, held in zip(lines, held_closed, strict=True)
    }
    trusted, of_waivers = waived_checks(request.waivers, checks)
    verdicts: list[VerdictName] = [line.verdict for line in lines]
    spreads = spreads_by_kind(sheet, request.limits, valves, ids)
    of_sets: list[VerdictName] = [check.verdict for *_, check in spread_checks(spreads)]
    # a limit that nothing can be held against was named for a reason
    of_sets += ["not_measured" for _ in unplaced_limits(request.limits, valves)]
    on_trust = verdict_with_waivers(dict(zip(ids, verdicts, strict=True)), checks, trusted)
    return AssemblySheet(
        job=job_echo(request.job),
        units=units_used(),
        verdict=worst_of([*verdicts, *of_sets]),
        verdict_counts=counted(verdicts),
        worst_positions=worst_named(lines),
        waived_checks=trusted,
        verdict_with_waivers=worst_of([on_trust, *of_sets]),
        banks=bank_lines([position.bank for position in positions], lines),
        positions=lines,
        shim_totals=shim_totals(sheet.heights, readings.shims),
        shim_choice_proven=sheet.heights.proven,
        spreads=spreads,
        mass_totals=mass_totals(readings.masses, valves),
        open_items=[*naming_spreads(merged(open_items(request, head, sheet, readings)), spreads, positions)],
        notes=[
            *notes(request, head, sheet, readings, lines),
            *reserve_notes(ids, [line.valve_float for line in lines], request.intended_speed),
            *surge_notes(ids, [line.valve_float for line in lines]),
            *of_waivers,
            *spread_notes(spreads),
        ],
        cautions=cautions_for("springs", "tester", "retainer", "engine"),
    )


RESOURCE: Final = Resource(
    kind="head-assembly",
    operation_id="assembleHead",
    summary="The whole assembly sheet of one head or a pair",
    description="Enter whatever was measured; get every number of the sheet it allows, the verdicts, and what is "
    "still open.",
    tag="Bench",
    request=HeadAssemblyRequest,
    answer=AssemblySheet,
    compute=answer,
    example_file=Path(__file__).with_name("head_assembly.json"),
    takes_long=_takes_long,
)
