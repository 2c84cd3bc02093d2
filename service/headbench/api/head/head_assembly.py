"""POST /v1/head-assembly: the main job, all readings of one head or a pair in, the whole sheet out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain
from pathlib import Path
from typing import Final

from msgspec.structs import replace

from headbench.api.exchange.resource import Resource
from headbench.api.gauges.scale import scale_faults
from headbench.api.gauges.tester_readings import RunRead
from headbench.api.head.findings import last_pass, notes
from headbench.api.head.job import HeadAssemblyRequest, HeadRead, fitted_faults, fitted_stack
from headbench.api.head.job_notes import verdict_with_waivers, waived_checks, waiver_faults
from headbench.api.head.left_out import not_fitted_faults
from headbench.api.head.open_items import open_items
from headbench.api.head.sheet import AssemblySheet
from headbench.api.head.sheet_checks import counted, worst_named
from headbench.api.head.sheet_lines import position_lines
from headbench.api.head.sheet_sets import bank_lines, naming_spreads, spread_checks, spread_notes, spreads_by_kind
from headbench.api.heights.doubts import height_doubts, proven_heights, sure_bare
from headbench.api.heights.readings import HeightRead, corrected_heights, height_faults
from headbench.api.heights.shims import shim_faults, shim_totals, shims_at_hand
from headbench.api.heights.suspects import find_suspects
from headbench.api.masses.drives import drive_faults
from headbench.api.masses.moving_mass import weigh
from headbench.api.masses.valve_mass import mass_totals
from headbench.api.matching.matching import Solved, matched, solve
from headbench.api.matching.notes import match_notes, open_matches
from headbench.api.matching.on_sheet import shims_laid, with_springs
from headbench.api.matching.problem import PositionsRead, find_problem
from headbench.api.matching.wish import wish_faults
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
from headbench.api.vocabulary.findings import OpenItem, cautions_for, merged
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.positions import raise_if_any
from headbench.api.vocabulary.quantities import number_of, units_used
from headbench.api.vocabulary.targets import Target, limit_of, load_target, target_faults
from headbench.api.vocabulary.unplaced_limits import unplaced_limits
from headbench.api.waiting.on_sheet import ABOVE, on_sheet
from headbench.api.waiting.parts import part_faults
from headbench.calc.head import assembly as calc
from headbench.calc.heights.installed_height import ShimsAtHand, bare_by_check
from headbench.calc.masses.valve_masses import totals_by_kind
from headbench.errors import Pointed

_MATCH: Final = "/match_springs"
_MATCHED: Final = "spring_matching"


def answer(request: HeadAssemblyRequest) -> AssemblySheet:
    """Answer one request; raises Contradiction."""
    head, at_hand = read_head(request), shims_at_hand(request.shims)
    solved = _match(request, head, at_hand)
    laid = None
    if solved is not None:
        request = replace(request, positions=with_springs(request.positions, solved))
        head, laid = read_head(request), shims_laid(solved)
    sheet = calc.assemble(valve_readings(request, head), at_hand, laid)
    return fill_in(request, head, sheet, at_hand, solved)


def read_head(request: HeadAssemblyRequest, more_faults: Iterable[Pointed] = ()) -> HeadRead:
    """What a request comes to; raises Contradiction, with those that somebody else found in it."""
    positions = request.positions
    stated = lifts(request.valvetrain)
    lobes = read_lobes(request.valvetrain, stated)
    runs = read_runs(request.springs, request.tester)
    heights = corrected_heights(positions, request.height_corrections)
    raise_if_any(chain(_faults(request, lobes, runs, heights), more_faults))
    return _read(request, stated, lobes, read_springs(request.springs, runs, request.scale), heights)


def _match(request: HeadAssemblyRequest, head: HeadRead, at_hand: ShimsAtHand) -> Solved | None:
    """The best place for every spring, where that is asked for."""
    if request.match_springs is None:
        return None
    proven = proven_heights(head.doubts, len(head.ids))
    read = PositionsRead(
        positions=request.positions,
        bare_height=[one.bare_height if sure else math.nan for one, sure in zip(head.heights, proven, strict=True)],
        valve_lift=valve_lifts(head.lifts, request.positions),
        assembled=[
            one.shims_fitted is not None or height.is_read_back
            for one, height in zip(request.positions, head.heights, strict=True)
        ],
    )
    return solve(
        find_problem(
            request.match_springs, read, request.springs, head.springs, request.targets, request.limits, at_hand
        )
    )


def _open_matches(solved: Solved | None) -> Iterator[OpenItem]:
    """What is asked for a match, beside what the sheet asks for its springs."""
    return iter(()) if solved is None else open_matches(solved, [_MATCHED], [_MATCHED])


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
    if request.match_springs is not None:
        known = {spring.id for spring in request.springs}
        lying = [one.spring if one.spring in known else None for one in positions]
        yield from wish_faults(request.match_springs, positions, request.springs, lying, request.targets, _MATCH)
    if request.outstanding is not None:
        yield from part_faults(request.outstanding, ABOVE)


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
        sure_bare(request.positions, head.heights, head.suspects, request.units.length),
        valve_lifts(head.lifts, request.positions),
        head.weighed,
        strict=True,
    )
    return [
        calc.ValveReadings(
            bare_height=(
                height.bare_height
                if position.measured_height is not None
                else bare_by_check(height.height_with_shims, fitted_stack(position))
            ),
            height_with_shims=height.height_with_shims,
            fitted_stack=fitted_stack(position),
            height_proven=proven,
            bare_proven=sure,
            seat_load_with_shims=number_of(position.seat_load_with_shims),
            valve_lift=lift,
            retainer_to_seal=number_of(position.retainer_to_seal),
            springs=head.springs.at(position.spring),
            masses=weighed.parts,
            targets=targets[position.valve],
            limits=limits[position.valve],
        )
        for position, height, proven, sure, lift, weighed in rows
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


def fill_in(
    request: HeadAssemblyRequest,
    head: HeadRead,
    sheet: calc.HeadSheet,
    at_hand: ShimsAtHand,
    solved: Solved | None = None,
) -> AssemblySheet:
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
    items = chain(open_items(request, head, sheet.valves), _open_matches(solved))
    still_open = [*naming_spreads(merged(items), spreads, positions)]
    waiting = on_sheet(request.outstanding, still_open, request, {one.id: (one.valve, one.spring) for one in positions})
    on_trust = worst_of(verdicts)
    if trusted:
        on_trust = verdict_with_waivers(dict(zip(ids, verdicts, strict=True)), checks, trusted)
    # a spring that a match leaves on the bench is no slip of its id
    silenced = set() if solved is None else {"spring_unused"}
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
        spring_matching=None if solved is None else matched(solved),
        spreads=spreads,
        mass_totals=mass_totals(totals_by_kind([one.parts for one in head.weighed], valves)),
        parts_outstanding=list(waiting.parts),
        open_items=list(waiting.open_items),
        notes=[
            *(one for one in notes(request, head, sheet, lines, at_hand) if one.code not in silenced),
            *reserve_notes(ids, [line.valve_float for line in lines], request.intended_speed),
            *surge_notes(ids, [line.valve_float for line in lines]),
            *of_waivers,
            *spread_notes(spreads),
            *(() if solved is None else match_notes(solved, _MATCH)),
            *waiting.notes,
            *last_pass(lines, still_open),
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
