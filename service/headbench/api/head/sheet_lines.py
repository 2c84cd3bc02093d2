"""Sheet lines: every position of the sheet, filled in from the computed arrays."""

from __future__ import annotations

from typing import Any, cast

from headbench.api.clearances.coil_bind import tightest_springs
from headbench.api.clearances.retainer_clearance import gap_checks
from headbench.api.head.job import HeadAssemblyRequest, HeadRead, without_speed
from headbench.api.head.sheet import PositionLine, PositionNumbers, RunnerUp
from headbench.api.head.sheet_checks import LINE_FIELDS, OwnChecks, decide, judged, sheet_checks
from headbench.api.heights.installed_height import height_columns
from headbench.api.heights.readings import kinds_in
from headbench.api.heights.shims import sizes_of
from headbench.api.springs.ratings import against_ratings
from headbench.api.valve_float.on_sheet import sheet_floats
from headbench.api.vocabulary.checks import PercentCheck
from headbench.api.vocabulary.quantities import Columns
from headbench.api.vocabulary.targets import named_limit
from headbench.calc.head.assembly import HeadReadings, HeadSheet

_NUMBERS = Columns(PositionNumbers)
_RUNNER_UP = Columns(RunnerUp)


def position_lines(
    request: HeadAssemblyRequest, head: HeadRead, sheet: HeadSheet, readings: HeadReadings
) -> list[PositionLine]:
    """A line per position, in the order given."""
    losses, deviations = _ratings(request, head)
    columns, valves = head.columns, head.valves
    checks = sheet_checks(request.limits, valves, sheet, readings) | {
        "retainer_to_rocker_check": gap_checks(
            columns["retainer_to_rocker"], request.limits, "retainer_to_rocker", valves
        ),
        "seal_to_spring_check": gap_checks(columns["seal_to_spring"], request.limits, "seal_to_spring", valves),
        "load_loss_check": losses,
        "rated_load_check": deviations,
        "valve_float": sheet_floats(
            request.intended_speed,
            request.limits,
            valves,
            head.lobes,
            head.springs,
            head.rows,
            head.weighed,
            readings.valve_lift,
            columns["valve_lift"],
            sheet,
        ),
    }
    rows = zip(
        request.positions,
        _NUMBERS.rows(_columns(sheet, readings, head)),
        sizes_of(sheet.heights.shims, readings.shims),
        _runners_up(sheet, readings),
        tightest_springs(sheet.coil_bind),
        zip(*(checks[name] for name in LINE_FIELDS), strict=True),
        (~sheet.pushes_nothing).tolist(),
        strict=True,
    )
    lines: list[PositionLine] = []
    for position, numbers, shims, runner_up, tightest, own, held_closed in rows:
        named = cast(OwnChecks, dict(zip(LINE_FIELDS, own, strict=True)))
        without = without_speed(request, position.valve)
        verdict, decided_by = decide(judged(named, without, held_closed=held_closed))
        given: dict[str, Any] = numbers | dict(named)
        lines.append(
            PositionLine(
                id=position.id,
                valve=position.valve,
                bank=position.bank,
                spring=position.spring,
                remarks=position.remarks,
                parts=list(position.parts),
                shims=shims,
                runner_up=runner_up,
                tightest_spring=tightest,
                verdict=verdict,
                decided_by=decided_by,
                **given,
            )
        )
    return lines


def _columns(sheet: HeadSheet, readings: HeadReadings, head: HeadRead) -> dict[str, Any]:
    return height_columns(sheet.heights, head.heights, sheet.target_height) | {
        "figured_seat_load": sheet.figured_seat_load,
        "seat_load": sheet.seat_load,
        "seat_load_beyond_readings": sheet.seat_load_beyond,
        "valve_lift": readings.valve_lift,
        "open_height": sheet.open_height,
        "open_load": sheet.open_load,
        "open_load_beyond_readings": sheet.open_load_beyond,
        "retainer_to_seal": readings.retainer_to_seal,
        "moving_mass": sheet.moving_mass.total,
    }


def _runners_up(sheet: HeadSheet, readings: HeadReadings) -> list[RunnerUp | None]:
    rows = _RUNNER_UP.rows(
        {
            "installed_height": sheet.heights.runner_up_height,
            "seat_load": sheet.runner_up_load,
            "coil_bind_clearance": sheet.runner_up_clearance,
        },
    )
    stacks = sheet.heights.runner_up
    return [
        None if places is None else RunnerUp(shims=shims, **row)
        for places, shims, row in zip(stacks, sizes_of(stacks, readings.shims), rows, strict=True)
    ]


def _ratings(
    request: HeadAssemblyRequest, head: HeadRead
) -> tuple[list[PercentCheck | None], list[PercentCheck | None]]:
    """What the spring of every position lost, and how far it is off its rating."""
    rejects = request.limits.off_target == "reject"
    by_kind = {
        kind: against_ratings(
            request.springs,
            named_limit(request.limits, "load_loss_maximum", kind),
            head.springs,
            misses_reject=rejects,
        )
        for kind in kinds_in(request.positions)
    }
    losses: list[PercentCheck | None] = []
    deviations: list[PercentCheck | None] = []
    for row, position in zip(head.rows.tolist(), request.positions, strict=True):
        if position.spring is None:
            losses.append(None)
            deviations.append(None)
            continue
        lost, off = (checks[row] for checks in by_kind[position.valve])
        losses.append(lost)
        deviations.append(off)
    return losses, deviations
