"""Findings on a head: what is still open, and what is to be said about the readings."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from headbench.api.assembly_float import float_notes, float_open_items, held_by_float
from headbench.api.calibrated import ratio_notes, scale_notes, tester_notes
from headbench.api.coil_bind import (
    WHICH_SPRING,
    coil_bind_notes,
    solid_by_dimensions,
    solid_notes,
    spring_height_notes,
)
from headbench.api.findings import PLAIN_COMPARISON, Note, OpenItem, note
from headbench.api.float_springs import open_heights
from headbench.api.head_job import HeadAssemblyRequest, HeadInSI
from headbench.api.installed_height import WHAT_TO_MEASURE as READ_HEIGHT
from headbench.api.installed_height import height_notes
from headbench.api.moving_mass import coverage_notes, open_masses, open_parts, open_ratios
from headbench.api.positions import open_readings, unusual
from headbench.api.quantities import say
from headbench.api.ratings import against_ratings, open_ratings
from headbench.api.retainer_clearance import WHAT_TO_MEASURE as MEASURE_SEAL
from headbench.api.retainer_clearance import seal_notes
from headbench.api.shims import assumed_shims, shims_to_si
from headbench.api.springs import (
    coil_bind_repeats,
    known_by_notes,
    open_springs,
)
from headbench.api.targets import Target, open_targets
from headbench.api.valve_mass import mass_notes
from headbench.api.valvetrain import KINDS, ValveKind, open_lifts
from headbench.calc import head_assembly as calc
from headbench.calc.nested_springs import UNKNOWN_CURVE
from headbench.units import Scales

_WORTH_SAYING: Final = 2e-6
"""How far outside the readings is worth a note [m]; nearer rounds to nothing in any unit."""
_SOLID_SPREAD: Final = 0.030 * 0.0254
"""How much solid heights differ within one set [m]; common practice, no source."""
_HEIGHT_HELD: Final = [
    "installed_height",
    "installed_height_check",
    "seat_load",
    "seat_load_check",
    "open_height",
    "open_load",
    "open_load_check",
    "coil_bind_clearance_check",
]
_LIFT_HELD: Final = [
    "open_height",
    "open_load",
    "open_load_check",
    "coil_bind_clearance_check",
    "retainer_to_seal_clearance_check",
]
_WHERE: Final = {"seat_load": "installed", "open_load": "open"}
_SPRING_HELD: Final = {
    "load_curve": ["seat_load", "seat_load_check", "open_load", "open_load_check"],
    "proof": ["seat_load_check", "open_load_check"],
    "coil_bind_height": ["coil_bind_clearance_check"],
    "mass": ["moving_mass"],
}


def open_items(
    request: HeadAssemblyRequest, head: HeadInSI, sheet: calc.HeadSheet, readings: calc.HeadReadings, scales: Scales
) -> Iterator[OpenItem]:
    """What is still to be measured or stated before the sheet is whole."""
    positions, floating = request.positions, held_by_float(request.intended_speed)
    by_load = {kind for kind in KINDS if aims_by_load(request, kind)}
    height_held, mass_held = [*_HEIGHT_HELD, *floating], [*_SPRING_HELD["mass"], *floating]
    spring_held = {field: [*held, *floating] for field, held in _SPRING_HELD.items() if field != "coil_bind_height"}
    spring_held["coil_bind_height"] = _SPRING_HELD["coil_bind_height"]
    if floating:
        spring_held["each_alone"] = floating
    used = {position.spring for position in positions if position.spring is not None}
    aimed = {position.spring for position in positions if position.valve in by_load}
    yield from open_targets(request.targets, head.valves, height_held)
    yield from open_lifts(request.valvetrain, head.lifts, head.valves, [*_LIFT_HELD, *floating])
    yield from float_open_items(request.intended_speed, request.valvetrain, head.lobes, head.valves)
    yield from open_springs(request.springs, used - aimed, spring_held)
    yield from open_springs(request.springs, used & aimed, spring_held | {"load_curve": height_held})
    yield from open_readings(positions, "measured_height", height_held, READ_HEIGHT)
    for kind in KINDS:
        held = {name for names in spring_held.values() for name in names}
        held |= set(height_held) if kind in by_load else set()
        yield from open_readings(positions, "spring", sorted(held), WHICH_SPRING, only=kind)
    yield from open_readings(positions, "retainer_to_seal", ["retainer_to_seal_clearance_check"], MEASURE_SEAL)
    yield from open_masses(positions, [position.masses for position in positions], mass_held)
    yield from open_ratios(head.weighed.parts, head.valves, mass_held)
    if floating:
        ids = [position.id for position in positions]
        yield from open_parts(head.weighed, head.valves, ids, floating)
        named = [position.spring for position in positions]
        height, lift = sheet.heights.installed_height, readings.valve_lift
        yield from open_heights(ids, named, request.springs, head.springs, head.rows, height, lift, scales)
    yield from _open_loads(request, sheet, readings)
    in_use = [spring.id in used for spring in request.springs]
    losses, _ = against_ratings(request.springs, request.limits.load_loss_maximum, head.springs, scales)
    yield from open_ratings(
        request.springs, [loss if known else None for loss, known in zip(losses, in_use, strict=True)]
    )


def aims_by_load(request: HeadAssemblyRequest, kind: ValveKind) -> bool:
    """Whether the shims of one kind of valve aim at a seat load."""
    target: Target | None = getattr(request.targets, kind)
    return target is not None and target.installed_height is None and target.seat_load is not None


def _open_loads(request: HeadAssemblyRequest, sheet: calc.HeadSheet, readings: calc.HeadReadings) -> Iterator[OpenItem]:
    """Loads that are judged far outside the readings, and seat loads no height gives."""
    place_of = {spring.id: place for place, spring in enumerate(request.springs)}
    for name, load, proven, target, beyond in (
        ("seat_load", sheet.seat_load, sheet.seat_proven, readings.targets.seat_load, sheet.seat_load_beyond),
        ("open_load", sheet.open_load, sheet.open_proven, readings.targets.open_load, sheet.open_load_beyond),
    ):
        far = ~proven & (beyond > 0.0) & ~np.isnan(load) & ~np.isnan(target)
        for place in np.flatnonzero(far).tolist():
            position = request.positions[place]
            yield OpenItem(
                pointer=f"/springs/{place_of[position.spring or '']}/load_curve/readings",
                position=position.id,
                spring=position.spring,
                needed_for=[f"{name}_deviation"],
                detail=f"Position {position.id}: read the load of its spring near its {_WHERE[name]} height.",
            )
    springs = readings.springs
    known = (springs.curve[:, 0] >= 0) & (springs.curve != UNKNOWN_CURVE).all(axis=1)
    out_of_reach = known & np.isnan(sheet.target_height) & ~np.isnan(readings.targets.seat_load)
    for place in np.flatnonzero(out_of_reach).tolist():
        position = request.positions[place]
        yield OpenItem(
            pointer=f"/targets/{position.valve}/seat_load",
            position=position.id,
            spring=position.spring,
            needed_for=_HEIGHT_HELD,
            detail=f"Position {position.id}: its springs cannot push the seat load aimed at before their coils touch; "
            "take other springs, or state a height.",
        )


def notes(
    request: HeadAssemblyRequest,
    head: HeadInSI,
    sheet: calc.HeadSheet,
    readings: calc.HeadReadings,
    scales: Scales,
) -> Iterator[Note]:
    """What is to be said about the readings and what came of them."""
    positions, lengths = request.positions, head.lengths
    ids = [position.id for position in positions]
    by_dimensions = solid_by_dimensions(head.springs, head.rows, sheet.open_height)
    yield PLAIN_COMPARISON
    yield from coverage_notes(head.weighed, head.valves, ids)
    masses = [position.masses for position in positions]
    yield from scale_notes(request.scale, [request.springs, request.valvetrain, masses], scales)
    yield from tester_notes(request.tester, request.springs, scales)
    yield from ratio_notes(request.valvetrain, scales)
    yield from float_notes(request.intended_speed, request.valvetrain, head.lobes, scales)
    yield from assumed_shims(request.shims, scales)
    yield from height_notes(
        sheet.heights, positions, lengths, sheet.height_verdict, shims_to_si(request.shims, scales), scales
    )
    yield from _load_notes(request, sheet, scales)
    yield from coil_bind_notes(sheet.coil_bind, ids, readings.limits.coil_bind_clearance_minimum, scales)
    yield from solid_notes(sheet.coils_touch_shut, by_dimensions, ids)
    yield from seal_notes(readings.retainer_to_seal, readings.limits.retainer_to_seal_clearance_minimum, ids, scales)
    yield from spring_height_notes(head.springs, head.rows, scales)
    yield from coil_bind_repeats(request.springs, {one.spring for one in positions if one.spring is not None}, scales)
    yield from unusual("retainer_to_seal", lengths["retainer_to_seal"], ids, "/positions/{}/retainer_to_seal", scales)
    yield from mass_notes(head.weighed, head.valves, ids, scales)


def _load_notes(request: HeadAssemblyRequest, sheet: calc.HeadSheet, scales: Scales) -> Iterator[Note]:
    positions = request.positions
    for where, beyond, load in (
        ("valve shut", sheet.seat_load_beyond, sheet.seat_load),
        ("full lift", sheet.open_load_beyond, sheet.open_load),
    ):
        for place in np.flatnonzero((beyond > _WORTH_SAYING) & ~np.isnan(load)).tolist():
            by = say(float(beyond[place]), "length", scales)
            detail = (
                f"Position {positions[place].id}, {where}: its spring stands {by} outside the heights it was read at; "
                "the load there is extrapolated."
            )
            yield note("beyond_readings", f"/positions/{place}/spring", detail)
    for place in np.flatnonzero(sheet.any_loose).tolist():
        detail = f"Position {positions[place].id}: a spring is taller than free with the valve shut and pushes nothing."
        yield note("spring_loose", f"/positions/{place}/spring", detail)
    yield from unusual(
        "seat_load", sheet.seat_load, [position.id for position in positions], "/positions/{}/spring", scales
    )
    named = [position.spring for position in positions if position.spring is not None]
    yield from known_by_notes(request.springs, set(named))
    for place, spring in enumerate(request.springs):
        count = named.count(spring.id)
        if count == 0:
            yield note("spring_unused", f"/springs/{place}", f"No position uses spring {spring.id}.")
        elif count > 1:
            detail = (
                f"{count} positions use spring {spring.id}; what was read on one spring is taken for all of them. "
                f"Solid heights in one set differ by about {say(_SOLID_SPREAD, 'length', scales)}: read every spring."
            )
            yield note("positions_share_spring", f"/springs/{place}", detail)
