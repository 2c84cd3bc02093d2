"""Findings on a head: what is to be said about its readings, and what came of them."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Final

from headbench.api.clearances.coil_bind import (
    coil_bind_notes,
    early_bind_notes,
    spring_height_notes,
)
from headbench.api.clearances.retainer_clearance import (
    Gap,
    gap_notes,
    seal_notes,
    unmeasured_gap_notes,
)
from headbench.api.gauges.calibrated import scale_notes, tester_notes
from headbench.api.gauges.scale import on_scale
from headbench.api.head.job import HeadAssemblyRequest, HeadRead
from headbench.api.head.load_remedies import off_target_loads
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
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, note
from headbench.api.vocabulary.positions import unusual
from headbench.api.vocabulary.saying import say
from headbench.calc.clearances.coil_bind import binds_by_dimensions
from headbench.calc.head.assembly import HeadSheet, ValveSheet
from headbench.calc.heights.installed_height import ShimsAtHand
from headbench.calc.judging.rules import READ_BACK_LOAD


def notes(
    request: HeadAssemblyRequest,
    head: HeadRead,
    sheet: HeadSheet,
    lines: Sequence[PositionLine],
    at_hand: ShimsAtHand,
) -> Iterator[Note]:
    """What is to be said about the readings and what came of them."""
    positions, ids, used, valves = request.positions, head.ids, head.used, sheet.valves
    heights, masses = [valve.height for valve in valves], [position.masses for position in positions]
    to_seal = [line.retainer_to_seal_clearance_check for line in lines]
    gaps: dict[Gap, list[LengthCheck | None]] = {
        "retainer_to_rocker": [line.retainer_to_rocker_check for line in lines],
        "seal_to_spring": [line.seal_to_spring_check for line in lines],
    }
    yield PLAIN_COMPARISON
    yield from lift_notes(request.valvetrain, head.lifts, positions)
    yield from coverage_notes(head.weighed, head.valves, ids)
    yield from share_notes(request.springs, used)
    yield from scale_notes(on_scale(request.scale, request.springs, request.valvetrain, positions))
    yield from tester_notes(request.tester, request.springs)
    yield from ratio_notes(request.valvetrain)
    yield from float_notes(request.intended_speed, request.valvetrain, head.lobes)
    yield from assumed_shims(request.shims)
    yield from reading_notes(positions, head.heights)
    yield from slip_notes(positions, head.heights, head.suspects, request.units.length)
    yield from height_notes(
        heights,
        ids,
        [line.installed_height_check for line in lines],
        [valve.readings.height_proven and not valve.heights_contradict for valve in valves],
        [own.deduction for own in head.heights],
        at_hand,
        [line.shims for line in lines],
        shared_best=sheet.shim_choice_proven,
    )
    yield from _carried_by_load(valves, lines)
    yield from _contradicted_loads(valves, ids)
    yield from _load_notes(request, head, valves)
    for place, (valve, line) in enumerate(zip(valves, lines, strict=True)):
        if valve.trusted:
            yield from off_target_loads(place, valve, line, at_hand.stack_maximum)
    yield from coil_bind_notes(
        [valve.coil_bind for valve in valves],
        [valve.coil_bind_verdict for valve in valves],
        ids,
        [valve.readings.limits.coil_bind_clearance_minimum for valve in valves],
    )
    yield from early_bind_notes(
        [valve.coils_touch_closed for valve in valves],
        [binds_by_dimensions(valve.readings.springs, valve.open_height) for valve in valves],
        ids,
    )
    distances = [valve.readings.retainer_to_seal for valve in valves]
    yield from seal_notes(to_seal, distances, [valve.retainer_to_seal_clearance for valve in valves], ids)
    yield from gap_notes(gaps, ids)
    yield from unmeasured_gap_notes(gaps, ids)
    yield from spring_height_notes(request.springs, used)
    yield from coil_bind_repeats(request.springs, used)
    yield from unusual("retainer_to_seal", distances, ids, "/positions/{}/retainer_to_seal")
    yield from mass_notes(head.weighed, masses, head.valves, ids)


def _carried_by_load(valves: Sequence[ValveSheet], lines: Sequence[PositionLine]) -> Iterator[Note]:
    """Heights off their target whose seat load, read and inside, decides instead."""
    for place, (valve, line) in enumerate(zip(valves, lines, strict=True)):
        check = line.installed_height_check
        if not check.counts_toward_verdict and check.verdict in _MISSED:
            by = valve.height.deviation
            where = "tall" if by > 0.0 else "short"
            detail = (
                f"{line.id}: {say(abs(by), 'length')} {where}, but its seat load {say(valve.seat_load, 'force')} is in "
                "tolerance; the load decides."
            )
            yield note("height_carried_by_load", f"/positions/{place}/measured_height", detail)


_MISSED: Final = {"borderline", "reject"}


def last_pass(lines: Sequence[PositionLine], open_items: Sequence[OpenItem]) -> Iterator[Note]:
    """The last pass, for who makes it: told once all else is measured, or somebody has begun with it.

    A note, not an open item: a height that was figured from its shims is good, one that was read back is better.
    """
    figured = [one.id for one in lines if _known(one.installed_height) and not _known(one.height_with_shims)]
    begun = any(_known(one.height_with_shims) for one in lines)
    if figured and (begun or not open_items):
        which = ", ".join(figured) if len(figured) < len(lines) else "every height" if len(lines) > 1 else figured[0]
        detail = (
            f"Last pass: measure {which} again with the shims in, and the seat load on the head; until then these are "
            "figured."
        )
        yield note("read_back_left", "/positions", detail)


def _known(value: float | None) -> bool:
    return value is not None and not math.isnan(value)


def _contradicted_loads(valves: Sequence[ValveSheet], ids: Sequence[str]) -> Iterator[Note]:
    """Seat loads read on the head that are not those of the springs' readings."""
    for place, (valve, which) in enumerate(zip(valves, ids, strict=True)):
        if valve.contradicted:
            off = abs(valve.seat_load - valve.figured_seat_load)
            todo = (
                "Check the height and which spring and shims are in, and test the spring again."
                if off > 0.01 * READ_BACK_LOAD.values[0] * valve.figured_seat_load
                else "Read the lever again; if it stays, check the height and test the spring again."
            )
            detail = (
                f"{which}: seat load {say(valve.seat_load, 'force')} measured after assembly, "
                f"{say(valve.figured_seat_load, 'force')} figured from its spring's load curve at "
                f"{say(valve.height.installed_height, 'length')}; the measured one is used. {todo}"
            )
            yield note("read_back_differs", f"/positions/{place}/seat_load_with_shims", detail)


def _load_notes(request: HeadAssemblyRequest, head: HeadRead, valves: Sequence[ValveSheet]) -> Iterator[Note]:
    closed = [math.nan if math.isnan(one.seat_load) else one.height.installed_height for one in valves]
    opened = [math.nan if math.isnan(one.open_load) else one.open_height for one in valves]
    sets = [one.readings.springs for one in valves]
    yield from outside_notes(head.ids, sets, (("seat load", closed), ("open load", opened)))
    yield from tested_notes(head.tested)
    for place, (valve, which) in enumerate(zip(valves, head.ids, strict=True)):
        if valve.any_loose:
            detail = (
                f"{which}: installed height is past free height: no seat load. Shim it shorter, or change the spring."
            )
            yield note("spring_loose", f"/positions/{place}/spring", detail)
    yield from unusual("seat_load", [one.seat_load for one in valves], head.ids, "/positions/{}/spring")
    yield from known_by_notes(request.springs, head.used)
    named = Counter(position.spring for position in request.positions)
    for place, spring in enumerate(request.springs):
        count = named[spring.id]
        if count == 0:
            yield note("spring_unused", f"/springs/{place}", f"Spring {spring.id}: no position uses it; check the ids.")
        elif count > 1:
            detail = (
                f"Spring {spring.id}: {count} positions use it, so one spring's test figures are used for all of them. "
                "Coil-bind heights and loads differ within a set: test each one."
            )
            yield note("positions_share_spring", f"/springs/{place}", detail)
