"""Findings on a head: what is to be said about its readings, and what came of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from headbench.api.clearances.coil_bind import (
    coil_bind_by_dimensions,
    coil_bind_notes,
    early_bind_notes,
    spring_height_notes,
)
from headbench.api.clearances.retainer_clearance import GAPS, gap_notes, seal_notes, unmeasured_gap_notes
from headbench.api.gauges.calibrated import scale_notes, tester_notes
from headbench.api.gauges.scale import on_scale
from headbench.api.head.job import HeadAssemblyRequest, HeadRead
from headbench.api.head.sheet import PositionLine
from headbench.api.heights.notes import height_notes, slip_notes
from headbench.api.heights.readings import reading_notes
from headbench.api.heights.shims import assumed_shims
from headbench.api.masses.moving_mass import coverage_notes
from headbench.api.masses.valve_mass import mass_notes
from headbench.api.springs.notes import coil_bind_repeats, known_by_notes, share_notes
from headbench.api.springs.tested import outside_notes, tested_notes
from headbench.api.train.lift_notes import lift_notes
from headbench.api.train.ratios import ratio_notes
from headbench.api.valve_float.on_sheet import float_notes
from headbench.api.vocabulary.checks import LengthCheck
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, note
from headbench.api.vocabulary.positions import unusual
from headbench.api.vocabulary.saying import say
from headbench.calc.head import assembly as calc


def notes(
    request: HeadAssemblyRequest,
    head: HeadRead,
    sheet: calc.HeadSheet,
    readings: calc.HeadReadings,
    lines: Sequence[PositionLine],
) -> Iterator[Note]:
    """What is to be said about the readings and what came of them."""
    positions, columns = request.positions, head.columns
    ids = [position.id for position in positions]
    by_dimensions = coil_bind_by_dimensions(head.springs, head.rows, sheet.open_height)
    counting = [line.installed_height_check for line in lines]
    yield PLAIN_COMPARISON
    yield from lift_notes(request.valvetrain, head.lifts, positions, columns["valve_lift"])
    yield from coverage_notes(head.weighed, head.valves, ids)
    yield from share_notes(request.springs, {one.spring for one in positions if one.spring is not None})
    yield from scale_notes(request.scale, on_scale(request.springs, request.valvetrain, positions))
    yield from tester_notes(request.tester, request.springs)
    yield from ratio_notes(request.valvetrain)
    yield from float_notes(request.intended_speed, request.valvetrain, head.lobes)
    yield from assumed_shims(request.shims)
    yield from reading_notes(positions, head.heights)
    yield from slip_notes(positions, head.heights, head.suspects, request.units.length)
    yield from height_notes(sheet.heights, positions, counting, readings.height_proven, readings.shims)
    yield from _carried_by_load(sheet, counting, ids)
    yield from _contradicted_loads(sheet, ids)
    yield from _load_notes(request, head, sheet)
    yield from _off_target_loads(lines, sheet, readings.targets)
    limits = readings.limits
    yield from coil_bind_notes(sheet.coil_bind, sheet.coil_bind_verdict, ids, limits.coil_bind_clearance_minimum)
    yield from early_bind_notes(sheet.coils_touch_closed, by_dimensions, ids)
    to_seal = [line.retainer_to_seal_clearance_check for line in lines]
    yield from seal_notes(to_seal, readings.retainer_to_seal, readings.valve_lift, ids)
    gaps = {name: [getattr(line, f"{name}_check") for line in lines] for name in GAPS}
    yield from gap_notes(gaps, ids)
    yield from unmeasured_gap_notes(gaps, ids)
    yield from spring_height_notes(head.springs, head.rows)
    yield from coil_bind_repeats(request.springs, {one.spring for one in positions if one.spring is not None})
    yield from unusual("retainer_to_seal", columns["retainer_to_seal"], ids, "/positions/{}/retainer_to_seal")
    yield from mass_notes(head.weighed, head.valves, ids)


def _carried_by_load(sheet: calc.HeadSheet, checks: Sequence[LengthCheck], ids: Sequence[str]) -> Iterator[Note]:
    """Heights off their target whose seat load, read and inside, decides instead."""
    for place, check in enumerate(checks):
        if not check.counts_toward_verdict and check.verdict in {"borderline", "reject"}:
            by = float(sheet.heights.deviation[place])
            where = "tall" if by > 0.0 else "short"
            detail = (
                f"{ids[place]}: {say(abs(by), 'length')} {where}, but its seat load "
                f"{say(float(sheet.seat_load[place]), 'force')} is in tolerance; the load decides."
            )
            yield note("height_carried_by_load", f"/positions/{place}/measured_height", detail)


def _contradicted_loads(sheet: calc.HeadSheet, ids: Sequence[str]) -> Iterator[Note]:
    """Seat loads read on the head that are not those of the springs' readings."""
    for place in np.flatnonzero(sheet.contradicted).tolist():
        read, figured, height = (
            say(float(column[place]), quantity)
            for column, quantity in (
                (sheet.seat_load, "force"),
                (sheet.figured_seat_load, "force"),
                (sheet.heights.installed_height, "length"),
            )
        )
        detail = (
            f"{ids[place]}: seat load {read} measured after assembly, {figured} figured from its spring's load curve "
            f"at {height}; the measured one is used. Check the height and which spring and shims are in, and test the "
            "spring again."
        )
        yield note("read_back_differs", f"/positions/{place}/seat_load_with_shims", detail)


def _off_target_loads(lines: Sequence[PositionLine], sheet: calc.HeadSheet, targets: calc.Targets) -> Iterator[Note]:
    """Loads off their target, by how much, and which way the height would have to go; not while that is in doubt."""
    for place in np.flatnonzero(sheet.trusted).tolist():
        line = lines[place]
        missed = [
            (what, check.value < 0.0, load, target)
            for what, check, load, target in (
                ("seat load", line.seat_load_check, line.seat_load, targets.seat_load),
                ("open load", line.open_load_check, line.open_load, targets.open_load),
            )
            if check is not None and check.verdict in {"borderline", "reject"}
            if check.value is not None and load is not None
        ]
        both_ways = len({is_under for _, is_under, *_ in missed}) > 1
        for what, is_under, load, target in missed:
            low, high = float(target.low[place]), float(target.high[place])
            by = low - load if is_under else load - high
            remedy = (
                "No shim stack gives both loads: change the spring."
                if both_ways
                else f"Fit a {'thicker' if is_under else 'thinner'} shim stack, or change the spring."
            )
            detail = (
                f"{line.id}: {what} {say(load, 'force')}, {_wanted(low, high)} wanted: "
                f"{say(by, 'force')} {'under' if is_under else 'over'}. {remedy}"
            )
            yield note("load_off_target", f"/positions/{place}/spring", detail)


def _wanted(low: float, high: float) -> str:
    """The loads that are good [N], one end NaN where only the other counts."""
    least, most = (say(end, "force") for end in (low, high))
    if np.isnan(high):
        return f"{least} or more"
    if np.isnan(low):
        return f"{most} or less"
    return f"{least.split()[0]} to {most}"


def _load_notes(request: HeadAssemblyRequest, head: HeadRead, sheet: calc.HeadSheet) -> Iterator[Note]:
    positions = request.positions
    ids = [position.id for position in positions]
    worked = (
        ("seat load", sheet.heights.installed_height, ~np.isnan(sheet.seat_load)),
        ("open load", sheet.open_height, ~np.isnan(sheet.open_load)),
    )
    yield from outside_notes(ids, head.springs, head.rows, worked)
    yield from tested_notes(head.tested)
    for place in np.flatnonzero(sheet.any_loose).tolist():
        detail = (
            f"{positions[place].id}: installed height is past free height: no seat load. Shim it shorter, or change "
            f"the spring."
        )
        yield note("spring_loose", f"/positions/{place}/spring", detail)
    yield from unusual("seat_load", sheet.seat_load, [position.id for position in positions], "/positions/{}/spring")
    named = [position.spring for position in positions if position.spring is not None]
    yield from known_by_notes(request.springs, set(named))
    for place, spring in enumerate(request.springs):
        count = named.count(spring.id)
        if count == 0:
            yield note("spring_unused", f"/springs/{place}", f"Spring {spring.id}: no position uses it; check the ids.")
        elif count > 1:
            detail = (
                f"Spring {spring.id}: {count} positions use it, so one spring's test figures are used for all of them. "
                "Coil-bind heights and loads differ within a set: test each one."
            )
            yield note("positions_share_spring", f"/springs/{place}", detail)
