"""Sheet lines: every position of the sheet, filled in from what was computed of it."""

from __future__ import annotations

from collections.abc import Sequence

from headbench.api.clearances.coil_bind import tightest_spring
from headbench.api.clearances.retainer_clearance import gap_checks
from headbench.api.head.job import HeadAssemblyRequest, HeadRead, Position, without_speed
from headbench.api.head.job_notes import Judged
from headbench.api.head.sheet import OddMassCheck, PositionLine, RunnerUp
from headbench.api.head.sheet_checks import OwnChecks, decide, judged
from headbench.api.heights.readings import HeightRead, kinds_in
from headbench.api.heights.shims import sizes_of
from headbench.api.masses.valve_mass import OddMass, odd_masses
from headbench.api.springs.ratings import against_rating
from headbench.api.valve_float.lines import ValveFloat
from headbench.api.valve_float.on_sheet import sheet_floats
from headbench.api.vocabulary.checks import (
    VERDICTS,
    LengthCheck,
    MassCheck,
    PercentCheck,
    length_check,
    load_check,
    to_spare,
)
from headbench.api.vocabulary.names import ValveKind
from headbench.api.vocabulary.quantities import number_of
from headbench.api.vocabulary.targets import named_limit
from headbench.calc.head.assembly import HeadSheet, ValveSheet
from headbench.calc.heights.installed_height import ShimsAtHand
from headbench.calc.judging.verdicts import Verdict, setting_verdict

Rated = tuple[PercentCheck | None, PercentCheck | None]
"""A spring's loss against its rating, and how far it is off it."""


def position_lines(
    request: HeadAssemblyRequest, head: HeadRead, sheet: HeadSheet, at_hand: ShimsAtHand
) -> tuple[list[PositionLine], list[list[Judged]]]:
    """A line per position, in the order given, and its checks that count."""
    kinds = kinds_in(request.positions)
    unjudged = {kind: without_speed(request, kind) for kind in kinds}
    tolerances = {
        kind: {load: named_limit(request.limits, f"{load}_tolerance", kind) for load in ("seat_load", "open_load")}
        for kind in kinds
    }
    own_lifts = [number_of(position.valve_lift) for position in request.positions]
    rows = zip(
        request.positions,
        sheet.valves,
        head.heights,
        gap_checks(request.positions, request.limits, "retainer_to_rocker"),
        gap_checks(request.positions, request.limits, "seal_to_spring"),
        _ratings(request, head),
        sheet_floats(request.intended_speed, request.limits, head.valves, head.lobes, head.weighed, own_lifts, sheet),
        _odd_masses(request, head),
        strict=True,
    )
    lines: list[PositionLine] = []
    judgments: list[list[Judged]] = []
    for position, valve, height, rocker, spring, rated, floats, odd in rows:
        checks = _checks(valve, tolerances[position.valve]) | {
            "load_loss_check": rated[0],
            "rated_load_check": rated[1],
            "retainer_to_rocker_check": rocker,
            "seal_to_spring_check": spring,
            "odd_mass_check": odd,
            "valve_float": floats,
        }
        own = judged(checks, unjudged[position.valve], held_closed=not valve.pushes_nothing)
        judgments.append(own)
        lines.append(_line(position, valve, height, checks, own, at_hand))
    return lines, judgments


def _checks(
    valve: ValveSheet, tolerances: dict[str, float | None]
) -> dict[str, LengthCheck | PercentCheck | MassCheck | ValveFloat | None]:
    """The checks that the kernel judges."""
    limits, targets, height = valve.readings.limits, valve.readings.targets, valve.height
    return {
        "installed_height_check": length_check(
            height.deviation,
            limits.installed_height_tolerance,
            "within",
            valve.height_verdict,
            "setting",
            counts=valve.height_counts,
        ),
        "seat_load_check": load_check(
            targets.seat_load,
            valve.seat_load,
            valve.seat_load_verdict,
            applies=valve.seat_load_counts,
            tolerance=tolerances["seat_load"],
        ),
        "open_load_check": load_check(
            targets.open_load,
            valve.open_load,
            valve.open_load_verdict,
            applies=valve.open_load_counts,
            tolerance=tolerances["open_load"],
        ),
        "coil_bind_clearance_check": length_check(
            valve.coil_bind.clearance,
            limits.coil_bind_clearance_minimum,
            "at_least",
            valve.coil_bind_verdict,
            "damage",
        ),
        "retainer_to_seal_clearance_check": length_check(
            valve.retainer_to_seal_clearance,
            limits.retainer_to_seal_clearance_minimum,
            "at_least",
            valve.retainer_verdict,
            "damage",
        ),
    }


def _line(
    position: Position,
    valve: ValveSheet,
    read: HeightRead,
    checks: OwnChecks,
    own: Sequence[Judged],
    at_hand: ShimsAtHand,
) -> PositionLine:
    height = valve.height
    verdict, decided_by = decide(own)
    return PositionLine(
        id=position.id,
        valve=position.valve,
        bank=position.bank,
        spring=position.spring,
        remarks=position.remarks,
        parts=list(position.parts),
        measured_height=read.measured_height,
        deduction=read.deduction,
        locator_thickness=read.locator_thickness,
        bare_height=height.bare_height,
        target_height=valve.target_height,
        shim_needed=height.needed,
        shim_stack=height.shim_stack,
        figured_height=height.figured_height,
        height_with_shims=read.height_with_shims,
        installed_height=height.installed_height,
        short_by=height.short_by,
        figured_seat_load=valve.figured_seat_load,
        seat_load=valve.seat_load,
        seat_load_beyond_readings=valve.seat_load_beyond,
        valve_lift=valve.readings.valve_lift,
        open_height=valve.open_height,
        open_load=valve.open_load,
        open_load_beyond_readings=valve.open_load_beyond,
        retainer_to_seal=valve.readings.retainer_to_seal,
        moving_mass=valve.moving_mass.total,
        shims=sizes_of(height.shims, at_hand) if position.shims_fitted is None else position.shims_fitted,
        runner_up=_runner_up(valve, at_hand),
        tightest_spring=tightest_spring(valve.coil_bind),
        verdict=verdict,
        decided_by=decided_by,
        **checks,  # type: ignore[arg-type] # each field's own kind of check, by its name
    )


def _runner_up(valve: ValveSheet, at_hand: ShimsAtHand) -> RunnerUp | None:
    if valve.height.runner_up is None:
        return None
    return RunnerUp(
        shims=sizes_of(valve.height.runner_up, at_hand),
        installed_height=valve.height.runner_up_height,
        seat_load=valve.runner_up_load,
        coil_bind_clearance=valve.runner_up_clearance,
    )


def _odd_masses(request: HeadAssemblyRequest, head: HeadRead) -> list[OddMassCheck | None]:
    """Of every position the part that is farthest off its set, for a person to decide; None where none is odd."""
    masses = [position.masses for position in request.positions]
    rejects = request.limits.off_target == "reject"
    verdict = VERDICTS[setting_verdict(Verdict.REJECT, misses_reject=rejects)]
    farthest: dict[int, OddMass] = {}
    for odd in odd_masses(head.weighed, masses, head.valves):
        farthest[odd.place] = max(farthest.get(odd.place, odd), odd, key=lambda one: abs(one.mass - one.others))
    return [
        None
        if (odd_one := farthest.get(place)) is None
        else OddMassCheck(
            value=odd_one.mass - odd_one.others,
            limit=odd_one.beyond,
            rule="within",
            to_spare=to_spare(odd_one.mass - odd_one.others, odd_one.beyond, "within"),
            check_class="setting",
            verdict=verdict,
            part=odd_one.part,
            mass=odd_one.mass,
            others=odd_one.others,
        )
        for place in range(len(masses))
    ]


def _ratings(request: HeadAssemblyRequest, head: HeadRead) -> list[Rated]:
    """What the spring of every position lost, and how far it is off its rating."""
    rejects = request.limits.off_target == "reject"
    most = {kind: named_limit(request.limits, "load_loss_maximum", kind) for kind in kinds_in(request.positions)}
    springs = {spring.id: spring for spring in request.springs}
    found: dict[tuple[str, ValveKind], Rated] = {}
    rated: list[Rated] = []
    for position in request.positions:
        name = position.spring
        if name is None:
            rated.append((None, None))
            continue
        key = name, position.valve
        if key not in found:
            limit = most[position.valve]
            found[key] = against_rating(springs[name], head.springs.at(name), limit, misses_reject=rejects)
        rated.append(found[key])
    return rated
