"""Open items of a head: what is still to be measured or entered before the sheet is whole."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from headbench.api.clearances.retainer_clearance import MEASURE_SEAL, open_gaps, open_seal_slips
from headbench.api.gauges.scale import on_scale, open_weighings
from headbench.api.head.job import HeadAssemblyRequest, HeadRead, Position, without_speed
from headbench.api.heights.doubts import open_doubts, read_back_doubts
from headbench.api.heights.readings import MEASURE_HEIGHT, STACK_HELD, kinds_in
from headbench.api.masses.drives import open_parts
from headbench.api.masses.moving_mass import open_masses, open_ratios
from headbench.api.springs.notes import open_binds_again
from headbench.api.springs.ratings import against_rating
from headbench.api.springs.ratings import open_ratings as open_losses
from headbench.api.springs.spring import open_springs
from headbench.api.springs.tested import open_tests
from headbench.api.springs.worked import Worked, open_heights
from headbench.api.train.lift_notes import open_lift_slips
from headbench.api.train.valvetrain import open_lifts
from headbench.api.valve_float.on_sheet import float_open_items, held_by_float
from headbench.api.valve_float.setting import SURGE_HELD
from headbench.api.valve_float.springs import float_worked
from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.names import KINDS, WHICH_SPRING
from headbench.api.vocabulary.positions import open_readings
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import aims_by_load, has_load, named_limit, open_targets
from headbench.api.vocabulary.unplaced_limits import unplaced_limits
from headbench.calc.head.assembly import ValveSheet

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


def open_items(request: HeadAssemblyRequest, head: HeadRead, valves: Sequence[ValveSheet]) -> Iterator[OpenItem]:
    """What is still to be measured or stated before the sheet is whole."""
    positions, floating = request.positions, held_by_float(request.intended_speed)
    by_load = {kind for kind in KINDS if aims_by_load(request.targets, kind)}
    height_held, mass_held = [*_HEIGHT_HELD, *floating], [*_SPRING_HELD["mass"], *floating]
    spring_held = {field: [*held, *floating] for field, held in _SPRING_HELD.items()}
    if floating:
        spring_held["each_alone"] = SURGE_HELD
    used = head.used
    aimed = {position.spring for position in positions if position.spring and position.valve in by_load}
    no_own_lift = [position.valve for position in positions if position.valve_lift is None]
    yield from open_targets(request.targets, head.valves, [*_TARGET_HELD, *floating])
    yield from open_lifts(request.valvetrain, head.lifts, no_own_lift, [*_LIFT_HELD, *floating])
    yield from open_lift_slips(request.valvetrain, head.lifts, positions, [*_LIFT_HELD, *floating])
    yield from float_open_items(request.intended_speed, request.valvetrain, head.lobes, head.valves)
    yield from open_springs(request.springs, used - aimed, spring_held)
    by_load_held = spring_held | {"load_curve": [*_TARGET_HELD, *floating]}
    yield from open_springs(request.springs, used & aimed, by_load_held)
    yield from open_binds_again(request.springs, used, spring_held["coil_bind_height"])
    tests = [*open_tests(head.tested, used - aimed, spring_held), *open_tests(head.tested, used & aimed, by_load_held)]
    yield from tests
    # what was read after assembly needs no figuring
    read_back = {name for name, height in zip(head.ids, head.heights, strict=True) if height.is_read_back}
    for item in open_readings(positions, "measured_height", height_held, MEASURE_HEIGHT):
        if item.position not in read_back:
            yield item
    # a height that cannot be right counts as not taken: all waits that waits for a height
    not_taken = [math.isnan(valve.height.installed_height) for valve in valves]
    resting = [
        height_held if none else _resting_on_height(valve, floating)
        for valve, none in zip(valves, not_taken, strict=True)
    ]
    contradict = [valve.heights_contradict for valve in valves]
    read_backs = read_back_doubts(head.ids, [valve.height for valve in valves], contradict)
    yield from open_doubts([*head.doubts, *read_backs], resting)
    for kind in kinds_in(positions):
        held = {name for names in spring_held.values() for name in names}
        held |= {*_TARGET_HELD, *floating} if kind in by_load else set()
        yield from open_readings(positions, "spring", sorted(held), WHICH_SPRING, only=kind)
    yield from open_readings(positions, "retainer_to_seal", ["retainer_to_seal_clearance_check"], MEASURE_SEAL)
    yield from open_seal_slips(positions, ["retainer_to_seal_clearance_check"])
    yield from open_gaps(positions, request.limits)
    yield from open_masses(positions, [position.masses for position in positions], mass_held)
    on_bench = on_scale(request.scale, request.springs, request.valvetrain, positions)
    yield from open_weighings(on_bench, mass_held)
    yield from open_ratios(head.weighed, head.valves, mass_held)
    if floating:
        not_given = [one.not_given for one in head.weighed]
        yield from open_parts(not_given, request.valvetrain, head.valves, head.ids, floating)
    yield from _contradicted(request, valves, floating)
    yield from _open_loads(request, head, valves, {item.spring for item in tests})
    yield from _named_limits(request)
    yield from unplaced_limits(request.limits, head.valves)
    yield from open_losses(
        request.springs,
        [
            against_rating(spring, head.springs.at(spring.id), None, misses_reject=False)[0]
            if spring.rating is not None and spring.id in used
            else None
            for spring in request.springs
        ],
        head.tested,
    )


def _resting_on_height(valve: ValveSheet, floating: Sequence[str]) -> list[str]:
    """The checks of a position that rest on its installed height."""
    by_height = valve.seat_load_counts and not valve.seat_load_read
    return [
        "installed_height_check",
        *(["seat_load_check"] if by_height else []),
        *(["open_load_check"] if valve.open_load_counts else []),
        "coil_bind_clearance_check",
        *floating,
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


def _contradicted(
    request: HeadAssemblyRequest, valves: Sequence[ValveSheet], floating: Sequence[str]
) -> Iterator[OpenItem]:
    """Springs to be tested again because they push something else on the head."""
    place_of = {spring.id: place for place, spring in enumerate(request.springs)}
    for valve, position in zip(valves, request.positions, strict=True):
        needed_for = [*(["open_load_check"] if valve.open_load_counts else []), *floating]
        if not valve.contradicted or not needed_for:
            continue
        yield OpenItem(
            pointer=f"/springs/{place_of[position.spring or '']}/load_curve",
            position=position.id,
            spring=position.spring,
            needed_for=needed_for,
            detail=f"{position.id}: test its spring again at {say(valve.height.installed_height, 'length')}; its load "
            "curve and the seat load measured on the head do not agree.",
        )


def _open_loads(
    request: HeadAssemblyRequest, head: HeadRead, valves: Sequence[ValveSheet], asked: set[str | None]
) -> Iterator[OpenItem]:
    """Loads that are judged far outside the readings, and seat loads no height gives.

    `asked` has the springs that are to be tested again anyway.
    """
    names = [position.spring for position in request.positions]
    sets = [valve.readings.springs for valve in valves]
    seat = [
        valve.height.installed_height
        if valve.seat_load_counts and not valve.seat_load_read and not math.isnan(valve.figured_seat_load)
        else math.nan
        for valve in valves
    ]
    opened = [
        valve.open_height if valve.open_load_counts and not math.isnan(valve.open_load) else math.nan
        for valve in valves
    ]
    worked = [
        Worked(
            where,
            [math.nan if name in asked else height for name, height in zip(names, heights, strict=True)],
            [check],
        )
        for where, heights, check in (("installed", seat, "seat_load_check"), ("open", opened, "open_load_check"))
    ]
    if held_by_float(request.intended_speed):
        heights, lifts = (
            [valve.height.installed_height for valve in valves],
            [one.readings.valve_lift for one in valves],
        )
        worked += float_worked(sets, heights, lifts)
    yield from open_heights(head.ids, names, request.springs, sets, worked)
    for valve, position in zip(valves, request.positions, strict=True):
        aims = valve.readings.targets.seat_load.is_set and math.isnan(valve.target_height)
        if aims and valve.readings.springs.is_known:
            yield OpenItem(
                pointer=f"/targets/{position.valve}/seat_load",
                position=position.id,
                spring=position.spring,
                needed_for=_TARGET_HELD,
                detail=f"{position.id}: these springs coil-bind before they reach the target seat load; change springs "
                "or set a height.",
            )
