"""POST /v1/head-assembly: the main job, all readings of one head or a pair in, the whole sheet out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain
from pathlib import Path
from typing import Final

from headbench.api.exchange.resource import Resource
from headbench.api.gauges.scale import scale_faults
from headbench.api.gauges.tester_readings import RunRead
from headbench.api.head.findings import notes
from headbench.api.head.job import HeadAssemblyRequest, HeadRead, fitted_faults, fitted_stack
from headbench.api.head.job_notes import verdict_with_waivers, waived_checks, waiver_faults
from headbench.api.head.left_out import not_fitted_faults
from headbench.api.head.open_items import open_items
from headbench.api.head.sheet import AssemblySheet
from headbench.api.head.sheet_checks import counted, worst_named
from headbench.api.head.sheet_lines import position_lines
from headbench.api.head.sheet_sets import bank_lines, naming_spreads, spread_checks, spread_notes, spreads_by_kind
from headbench.api.heights.doubts import height_doubts, proven_heights
from headbench.api.heights.readings import HeightRead, corrected_heights, height_faults
from headbench.api.heights.shims import shim_faults, shim_totals, shims_at_hand
from headbench.api.heights.suspects import find_suspects
from headbench.api.masses.drives import drive_faults
from headbench.api.masses.moving_mass import weigh
from headbench.api.masses.valve_mass import mass_totals
from headbench.api.springs.spring import (
    SpringsRead,
    read_runs,
    read_springs,
    spring_faults,
    unknown_springs,
)
from headbench.api.springs.tested import tested_springs
from headbench.api.train.lift_notes import valve_lifts
from headbench.api.train.lobes import Lobes, measured_lifts, read_lobes
from headbench.api.train.valvetrain import lift_faults, lifts
from headbench.api.valve_float.notes import reserve_notes, surge_notes
from headbench.api.vocabulary.checks import VerdictName, worst_of
from headbench.api.vocabulary.findings import cautions_for, merged
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.positions import raise_if_any
from headbench.api.vocabulary.quantities import number_of, units_used
from headbench.api.vocabulary.targets import Target, limit_of, load_target, target_faults
from headbench.api.vocabulary.unplaced_limits import unplaced_limits
from headbench.calc.head import assembly as calc
from headbench.calc.heights.installed_height import ShimsAtHand
from headbench.calc.masses.valve_masses import totals_by_kind
from headbench.errors import Pointed


def answer(request: HeadAssemblyRequest) -> AssemblySheet:
    """Answer one request; raises Contradiction."""
    head, at_hand = read_head(request), shims_at_hand(request.shims)
    return fill_in(request, head, calc.assemble(valve_readings(request, head), at_hand), at_hand)


def read_head(request: HeadAssemblyRequest, more_faults: Iterable[Pointed] = ()) -> HeadRead:
    """What a request comes to; raises Contradiction, with those that somebody else found in it."""
    positions = request.positions
    stated = lifts(request.valvetrain)
    lobes = read_lobes(request.valvetrain, stated)
    runs = read_runs(request.springs, request.tester)
    heights = corrected_heights(positions, request.height_corrections)
    raise_if_any(chain(_faults(request, lobes, runs, heights), more_faults))
    return _read(request, stated, lobes, read_springs(request.springs, runs, request.scale), heights)


def _faults(
    request: HeadAssemblyRequest, lobes: Lobes, runs: Mapping[str, RunRead], heights: Sequence[HeightRead]
) -> Iterator[Pointed]:
    positions = request.positions
    yield from shim_faults(request.shims)
    yield from lift_faults(request.valvetrain)
    yield from lobes.faults
    yield from target_faults(request.targets)
    yield from drive_faults(request.valvetrain, [one.valve for one in positions], [one.masses for one in positions])
    yield from spring_faults(request.springs, runs, request.tester)
    yield from height_faults(positions, heights)
    yield from fitted_faults(positions, heights)
    yield from unknown_springs([position.spring for position in positions], request.springs)
    yield from waiver_faults(request.waivers, [position.id for position in positions])
    yield from not_fitted_faults(request.not_fitted, [position.id for position in positions])
    yield from scale_faults(request.scale)


def _read(
    request: HeadAssemblyRequest,
    stated: Mapping[ValveKind, float],
    lobes: Lobes,
    springs: SpringsRead,
    heights: Sequence[HeightRead],
) -> HeadRead:
    positions = request.positions
    valves = [position.valve for position in positions]
    used = {position.spring for position in positions if position.spring is not None}
    masses, sets = [position.masses for position in positions], [springs.at(position.spring) for position in positions]
    suspects = find_suspects(positions, heights, request.units.length)
    return HeadRead(
        ids=[position.id for position in positions],
        valves=valves,
        lifts=measured_lifts(stated, lobes),
        lobes=lobes,
        springs=springs,
        used=used,
        weighed=weigh(masses, valves, request.valvetrain, sets, request.scale, "third"),
        heights=heights,
        suspects=suspects,
        doubts=height_doubts(positions, heights, suspects, request.units.length),
        tested=tested_springs(request.springs, used, springs),
    )


def valve_readings(request: HeadAssemblyRequest, head: HeadRead) -> list[calc.ValveReadings]:
    """Every valve as the kernel takes it."""
    limits = {kind: _limits(request, kind) for kind in KINDS}
    targets = {kind: _targets(request, kind) for kind in KINDS}
    rows = zip(
        request.positions,
        head.heights,
        proven_heights(head.doubts, len(head.ids)),
        valve_lifts(head.lifts, request.positions),
        head.weighed,
        strict=True,
    )
    return [
        calc.ValveReadings(
            bare_height=height.bare_height,
            height_with_shims=height.height_with_shims,
            fitted_stack=fitted_stack(position),
            height_proven=proven,
            seat_load_with_shims=number_of(position.seat_load_with_shims),
            valve_lift=lift,
            retainer_to_seal=number_of(position.retainer_to_seal),
            springs=head.springs.at(position.spring),
            masses=weighed.parts,
            targets=targets[position.valve],
            limits=limits[position.valve],
        )
        for position, height, proven, lift, weighed in rows
    ]


def _limits(request: HeadAssemblyRequest, kind: ValveKind) -> calc.Limits:
    return calc.Limits(
        installed_height_tolerance=limit_of(request.limits, "installed_height_tolerance", kind),
        coil_bind_clearance_minimum=limit_of(request.limits, "coil_bind_clearance_minimum", kind),
        retainer_to_seal_clearance_minimum=limit_of(request.limits, "retainer_to_seal_clearance_minimum", kind),
        off_target_rejects=request.limits.off_target == "reject",
    )


def _targets(request: HeadAssemblyRequest, kind: ValveKind) -> calc.Targets:
    target: Target | None = getattr(request.targets, kind)
    return calc.Targets(
        installed_height=math.nan if target is None else number_of(target.installed_height),
        seat_load=load_target(target, "seat_load", limit_of(request.limits, "seat_load_tolerance", kind)),
        open_load=load_target(target, "open_load", limit_of(request.limits, "open_load_tolerance", kind)),
    )


def fill_in(request: HeadAssemblyRequest, head: HeadRead, sheet: calc.HeadSheet, at_hand: ShimsAtHand) -> AssemblySheet:
    """The answer, of what was computed."""
    ids, valves, positions = head.ids, head.valves, request.positions
    lines, judgments = position_lines(request, head, sheet, at_hand)
    checks = dict(zip(ids, judgments, strict=True))
    trusted, of_waivers = waived_checks(request.waivers, checks)
    verdicts: list[VerdictName] = [line.verdict for line in lines]
    spreads = spreads_by_kind(sheet.valves, request.limits, valves, ids)
    of_sets: list[VerdictName] = [check.verdict for *_, check in spread_checks(spreads)]
    # a limit that nothing can be held against was named for a reason
    of_sets += ["not_measured" for _ in unplaced_limits(request.limits, valves)]
    on_trust = worst_of(verdicts)
    if trusted:
        on_trust = verdict_with_waivers(dict(zip(ids, verdicts, strict=True)), checks, trusted)
    return AssemblySheet(
        units=units_used(),
        verdict=worst_of([*verdicts, *of_sets]),
        verdict_counts=counted(verdicts),
        not_fitted=[one.id for one in request.not_fitted],
        worst_positions=worst_named(lines),
        waived_checks=trusted,
        verdict_with_waivers=worst_of([on_trust, *of_sets]),
        banks=bank_lines([position.bank for position in positions], lines),
        positions=lines,
        shim_totals=shim_totals(sheet.shims_used, at_hand),
        shim_choice_proven=sheet.shim_choice_proven,
        spreads=spreads,
        mass_totals=mass_totals(totals_by_kind([one.parts for one in head.weighed], valves)),
        open_items=[*naming_spreads(merged(open_items(request, head, sheet.valves)), spreads, positions)],
        notes=[
            *notes(request, head, sheet, lines, at_hand),
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
    sheets=("bench", "customer", "labels"),
)
