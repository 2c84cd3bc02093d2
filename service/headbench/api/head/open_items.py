"""Open items of a head: what is still to be measured or entered before the sheet is whole."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from headbench.api.clearances.retainer_clearance import MEASURE_SEAL, open_gaps
from headbench.api.gauges.scale import on_scale, open_weighings
from headbench.api.head.job import HeadAssemblyRequest, HeadRead, Position, without_speed
from headbench.api.heights.doubts import open_doubts
from headbench.api.heights.readings import MEASURE_HEIGHT, STACK_HELD, kinds_in
from headbench.api.masses.drives import open_parts
from headbench.api.masses.moving_mass import open_masses, open_ratios
from headbench.api.springs.notes import open_bind_repeats
from headbench.api.springs.ratings import against_ratings, open_ratings
from headbench.api.springs.spring import open_springs
from headbench.api.springs.tested import open_tests
from headbench.api.train.lift_notes import open_lift_slips
from headbench.api.train.valvetrain import open_lifts
from headbench.api.valve_float.on_sheet import float_open_items, held_by_float
from headbench.api.valve_float.setting import SURGE_HELD
from headbench.api.valve_float.springs import Worked, float_worked, open_heights
from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.names import KINDS, WHICH_SPRING
from headbench.api.vocabulary.positions import open_readings
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import aims_by_load, has_load, named_limit, open_targets
from headbench.api.vocabulary.unplaced_limits import unplaced_limits
from headbench.calc import BoolArray
from headbench.calc.head import assembly as calc
from headbench.calc.springs.nested import UNKNOWN_CURVE

_LOADS_HELD: Final = [
    "figured_seat_load",
    "seat_load",
    "seat_load_beyond_readings",
    "seat_load_check",
    "open_load",
    "open_load_beyond_readings",
    "open_load_check",
    "runner_up",
]
_BIND_HELD: Final = ["coil_bind_clearance_check", "tightest_spring", "runner_up"]
_STACK_HELD: Final = [
    *STACK_HELD,
    "open_height",
    *_LOADS_HELD,
    *_BIND_HELD,
]
_HEIGHT_HELD: Final = ["bare_height", *_STACK_HELD]
_TARGET_HELD: Final = ["target_height", *_STACK_HELD]
_LIFT_HELD: Final = [
    "valve_lift",
    "open_height",
    "open_load",
    "open_load_beyond_readings",
    "open_load_check",
    *_BIND_HELD,
    "retainer_to_seal_clearance_check",
]
_SPRING_HELD: Final = {
    "load_curve": _LOADS_HELD,
    "proof": ["seat_load_check", "open_load_check"],
    "coil_bind_height": _BIND_HELD,
    "mass": ["moving_mass"],
}


def open_items(
    request: HeadAssemblyRequest, head: HeadRead, sheet: calc.HeadSheet, readings: calc.HeadReadings
) -> Iterator[OpenItem]:
    """What is still to be measured or stated before the sheet is whole."""
    positions, floating = request.positions, held_by_float(request.intended_speed)
    by_load = {kind for kind in KINDS if aims_by_load(request.targets, kind)}
    height_held, mass_held = [*_HEIGHT_HELD, *floating], [*_SPRING_HELD["mass"], *floating]
    spring_held = {field: [*held, *floating] for field, held in _SPRING_HELD.items()}
    if floating:
        spring_held["each_alone"] = SURGE_HELD
    used = {position.spring for position in positions if position.spring is not None}
    aimed = {position.spring for position in positions if position.valve in by_load}
    no_own_lift = [position.valve for position in positions if position.valve_lift is None]
    yield from open_targets(request.targets, head.valves, [*_TARGET_HELD, *floating])
    yield from open_lifts(request.valvetrain, head.lifts, no_own_lift, [*_LIFT_HELD, *floating])
    bind_held = ["coil_bind_clearance_check", "retainer_to_seal_clearance_check", *floating]
    own_lift = head.columns["valve_lift"]
    yield from open_lift_slips(request.valvetrain, head.lifts, positions, own_lift, bind_held)
    yield from float_open_items(request.intended_speed, request.valvetrain, head.lobes, head.valves)
    yield from open_springs(request.springs, used - aimed, spring_held)
    by_load_held = spring_held | {"load_curve": [*_TARGET_HELD, *floating]}
    yield from open_springs(request.springs, used & aimed, by_load_held)
    yield from open_bind_repeats(request.springs, used, spring_held["coil_bind_height"])
    tests = [*open_tests(head.tested, used - aimed, spring_held), *open_tests(head.tested, used & aimed, by_load_held)]
    yield from tests
    for item in open_readings(positions, "measured_height", height_held, MEASURE_HEIGHT):
        # what was read after assembly needs no figuring
        if head.heights.was_read_back(item.position, positions):
            continue
        yield item
    yield from open_doubts(head.doubts, _resting_on_heights(sheet, readings, floating))
    for kind in kinds_in(positions):
        held = {name for names in spring_held.values() for name in names}
        held |= {*_TARGET_HELD, *floating} if kind in by_load else set()
        yield from open_readings(positions, "spring", sorted(held), WHICH_SPRING, only=kind)
    yield from open_readings(positions, "retainer_to_seal", ["retainer_to_seal_clearance_check"], MEASURE_SEAL)
    yield from open_gaps(positions, request.limits)
    yield from open_masses(positions, [position.masses for position in positions], mass_held)
    on_bench = on_scale(request.springs, request.valvetrain, positions)
    yield from open_weighings(request.scale, on_bench, mass_held)
    yield from open_ratios(head.weighed.parts, head.valves, mass_held)
    if floating:
        ids = [position.id for position in positions]
        yield from open_parts(head.weighed.not_given, request.valvetrain, head.valves, ids, floating)
    yield from _contradicted(request, sheet, floating)
    yield from _open_loads(request, head, sheet, readings, {item.spring for item in tests})
    yield from _named_limits(request)
    yield from unplaced_limits(request.limits, head.valves)
    in_use = [spring.id in used for spring in request.springs]
    losses, _ = against_ratings(request.springs, None, head.springs, misses_reject=False)
    yield from open_ratings(
        request.springs, [loss if known else None for loss, known in zip(losses, in_use, strict=True)], head.tested
    )


def _resting_on_heights(sheet: calc.HeadSheet, readings: calc.HeadReadings, floating: Sequence[str]) -> list[list[str]]:
    """The checks of every position that rest on its installed height."""
    by_height = sheet.seat_load_counts & np.isnan(readings.seat_load_with_shims)
    return [
        [
            "installed_height_check",
            *(["seat_load_check"] if seat else []),
            *(["open_load_check"] if opened else []),
            "coil_bind_clearance_check",
            *floating,
        ]
        for seat, opened in zip(by_height.tolist(), sheet.open_load_counts.tolist(), strict=True)
    ]


def _named_limits(request: HeadAssemblyRequest) -> Iterator[OpenItem]:
    """What is to be entered so that limits which the job names have something to judge."""
    for kind in kinds_in(request.positions):
        for load in ("seat_load", "open_load"):
            wanted = has_load(getattr(request.targets, kind), load)
            if named_limit(request.limits, f"{load}_tolerance", kind) is not None and not wanted:
                yield OpenItem(
                    pointer=f"/targets/{kind}/{load}",
                    position=None,
                    spring=None,
                    needed_for=[f"{load}_check"],
                    detail=f"Enter the {load.replace('_', ' ')} wanted for the {kind} valves, or leave its "
                    "tolerance out.",
                )
    unjudged = [check for kind in kinds_in(request.positions) for check in without_speed(request, kind)]
    if unjudged:
        yield OpenItem(
            pointer="/intended_speed",
            position=None,
            spring=None,
            needed_for=list(dict.fromkeys(unjudged)),
            detail="Enter the highest intended engine speed, or leave the limits on float and surge out.",
        )
    rated = {spring.id for spring in request.springs if spring.rating is not None}
    used = {position.spring for position in request.positions if _names_loss(request, position)}
    for place, spring in enumerate(request.springs):
        if spring.id in used - rated:
            yield OpenItem(
                pointer=f"/springs/{place}/rating",
                position=None,
                spring=spring.id,
                needed_for=["load_loss_check"],
                detail=f"Spring {spring.id}: enter its rating, or leave the limit on load loss out.",
            )


def _names_loss(request: HeadAssemblyRequest, position: Position) -> bool:
    return position.spring is not None and named_limit(request.limits, "load_loss_maximum", position.valve) is not None


def _contradicted(request: HeadAssemblyRequest, sheet: calc.HeadSheet, floating: Sequence[str]) -> Iterator[OpenItem]:
    """Springs to be tested again because they push something else on the head."""
    place_of = {spring.id: place for place, spring in enumerate(request.springs)}
    for place in np.flatnonzero(sheet.contradicted).tolist():
        position = request.positions[place]
        needed_for = [*(["open_load_check"] if sheet.open_load_counts[place] else []), *floating]
        if not needed_for:
            continue
        height = say(float(sheet.heights.installed_height[place]), "length")
        yield OpenItem(
            pointer=f"/springs/{place_of[position.spring or '']}/load_curve",
            position=position.id,
            spring=position.spring,
            needed_for=needed_for,
            detail=f"{position.id}: test its spring again at {height}; its load curve and the seat load measured on "
            "the head do not agree.",
        )


def _open_loads(
    request: HeadAssemblyRequest,
    head: HeadRead,
    sheet: calc.HeadSheet,
    readings: calc.HeadReadings,
    asked: set[str | None],
) -> Iterator[OpenItem]:
    """Loads that are judged far outside the readings, and seat loads no height gives.

    `asked` has the springs that are to be tested again anyway.
    """
    names = [position.spring for position in request.positions]
    elsewhere = np.array([name not in asked for name in names], dtype=np.bool_)
    worked = [
        Worked(where, height, elsewhere & counts & ~np.isnan(load), [f"{name}_check"])
        for name, where, height, load, counts in (
            ("seat_load", "installed", sheet.heights.installed_height, sheet.figured_seat_load, _figured(sheet)),
            ("open_load", "open", sheet.open_height, sheet.open_load, sheet.open_load_counts),
        )
    ]
    if held_by_float(request.intended_speed):
        worked += float_worked(head.springs, head.rows, sheet.heights.installed_height, readings.valve_lift)
    ids = [position.id for position in request.positions]
    yield from open_heights(ids, names, request.springs, head.springs, head.rows, worked)
    springs = readings.springs
    known = (springs.curve[:, 0] >= 0) & (springs.curve != UNKNOWN_CURVE).all(axis=1)
    out_of_reach = known & np.isnan(sheet.target_height) & ~np.isnan(readings.targets.seat_load.aim)
    for place in np.flatnonzero(out_of_reach).tolist():
        position = request.positions[place]
        yield OpenItem(
            pointer=f"/targets/{position.valve}/seat_load",
            position=position.id,
            spring=position.spring,
            needed_for=_TARGET_HELD,
            detail=f"{position.id}: these springs coil-bind before they reach the target seat load; change springs "
            "or set a height.",
        )


def _figured(sheet: calc.HeadSheet) -> BoolArray:
    """Where a seat load is judged that follows from the spring's readings, not one read after assembly."""
    return sheet.seat_load_counts & ~sheet.seat_proven
