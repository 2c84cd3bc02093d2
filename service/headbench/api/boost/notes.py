"""Boost notes: what the sentences of pressure on valves say, each ending in what to do."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Final

from headbench.api.boost.lines import (
    Boosted,
    across_of,
    in_cylinder,
    most_in_cylinder,
    sealing_diameter,
    seat_of,
    stem_of,
    wanted_of,
)
from headbench.api.boost.request import BoostLoadRequest
from headbench.api.train.valvetrain import Drive, lift_of
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.quantities import number_of
from headbench.api.vocabulary.saying import say, say_enough
from headbench.calc.boost.boost import pressure_load
from headbench.calc.boost.limits import BACK_PRESSURE_PULSES, USUAL_OPENING_PRESSURE, USUAL_PORT_PRESSURE
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.limits import STACK_MAXIMUM
from headbench.calc.judging.rules import Rule
from headbench.calc.judging.touching import is_closed
from headbench.calc.judging.verdicts import Verdict, at_least
from headbench.calc.springs.loads import differ_by_more_than_a_tester

NOTES: Final = {
    "pushed_off_seat": "Pressure in the port pushes a valve harder than its spring holds it.",
    "load_short_of_pressure": "The seat load does not hold the valve against the pressure in its port as well; what "
    "shim would, and what that leaves.",
    "back_pressure_pulses_above_mean": "Exhaust back pressure pulses above its mean; what that asks of springs.",
    "seat_area_on_safe_side": "The area that pressure works on is taken larger than it is, for want of a diameter.",
    "depression_not_counted": "A pressure that holds valves shut is not taken off the load needed.",
    "opens_against_pressure": "What the exhaust valve train takes as it opens against cylinder pressure.",
}
"""The notes of pressure on valves: code -> meaning."""

_note = partial(note, known=NOTES)

_WHERE: Final[Mapping[Drive | None, tuple[str, str, str]]] = {
    "rocker_and_pushrod": ("lobe and pushrod", "rocker", "pushrods, rockers and studs"),
    "finger": ("the lobe", "finger", "fingers and lobes"),
    "bucket": ("the lobe", "bucket", "buckets and lobes"),
    None: ("the lobe", "rocker", "lobes and what they drive"),
}
"""Where opening loads act, by the drive: at the lobe's side, at which pivot, and what has to take them."""


def boost_notes(request: BoostLoadRequest, found: Sequence[Boosted]) -> Iterator[Note]:
    """What was found, the most dangerous first."""
    for place, one in enumerate(found):
        yield from _held_notes(request, place, one)
    kinds = [kind for kind in KINDS if any(one.position.valve == kind for one in found)]
    if "exhaust" in kinds:
        yield from _pulses(request, found)
        yield from _opening(request, found)
    for kind in kinds:
        yield from _area(request, kind)
    yield from _unusual(request, kinds)


def _held_notes(request: BoostLoadRequest, place: int, one: Boosted) -> Iterator[Note]:
    line, held = one.line, one.held
    pushed, there = say(held.pressure_load, "force"), say(held.seat_load, "force")
    if held.left <= 0.0:
        detail = (
            f"{line.id}: pressure pushes {pushed} against a seat load of {there}: the valve is pushed off its seat. Do "
            f"not run it under boost. {_remedy(request, one)}"
        )
        yield _note("pushed_off_seat", f"/positions/{place}/spring", detail)
    elif at_least(held.seat_load, held.needed) == Verdict.REJECT:
        against = max(held.pressure_load, 0.0)
        wanted, short = say(held.needed - against, "force"), say_enough(held.needed - held.seat_load, "force")
        detail = (
            f"{line.id}: seat load {there}, {say(held.needed, 'force')} needed ({wanted} without pressure, "
            f"{say(against, 'force')} against it): at least {short} short. {_remedy(request, one)}"
        )
        yield _note("load_short_of_pressure", f"/positions/{place}/spring", detail)
    if differ_by_more_than_a_tester(held.seat_load, held.figured_seat_load):
        detail = (
            f"{line.id}: seat load {there} measured on the head, {say(held.figured_seat_load, 'force')} figured from "
            f"its spring's load curve at {say(number_of(line.installed_height), 'length')}; the measured one is used. "
            "Check the height and which spring and shims are in, and test the spring again."
        )
        yield note("read_back_differs", f"/positions/{place}/seat_load", detail)
    if held.pressure_load < 0.0:
        detail = (
            f"{line.id}: the port's pressure holds the valve shut with {say(-held.pressure_load, 'force')}; not taken "
            "off the load needed, because the engine runs without it, too."
        )
        yield _note("depression_not_counted", f"/positions/{place}", detail)


def _remedy(request: BoostLoadRequest, one: Boosted) -> str:
    """The shim that makes up what is short, or why there is none."""
    held, check = one.held, one.line.coil_bind_with_shim_check
    if held.is_slip:
        return "Measure its seat load again before anything is changed."
    if held.binds_first:
        return "No shim gives that: its coils touch first. Change the spring."
    if math.isnan(held.shim):
        unknown = held.seat_load < held.needed
        return "Test its spring to know what shim would do, or change it." if unknown else "Fit a stronger spring."
    amount, against = say_enough(held.shim, "length"), _against(request, one)
    if against:
        return f"The {amount} of shim for that would {against}"
    opened = held.open_load_with_shim
    then = "" if math.isnan(opened) else f", open load {say(opened, 'force')}"
    if check is None or check.verdict == "not_measured":
        return f"{amount} more shim gives it{then}; fit it once coil bind is known to allow it."
    left = say(held.bind_with_shim.at_lift.clearance, "length")
    return f"{amount} more shim gives it and leaves {left} before coil bind{then}."


def _against(request: BoostLoadRequest, one: Boosted) -> str:
    """What speaks against the shim that would give the load; nothing where it may be laid."""
    held, check = one.held, one.line.coil_bind_with_shim_check
    clearance = held.bind_with_shim.at_lift.clearance
    most = STACK_MAXIMUM.value if request.limits.stack_maximum is None else request.limits.stack_maximum
    stack = held.shim + (one.position.shim_stack or 0.0)
    if is_closed(clearance):
        return "let its coils touch before full lift. Change the spring."
    if check is not None and check.verdict == "reject":
        return (
            f"leave {say(clearance, 'length')} before coil bind, {say(check.limit, 'length')} is the minimum. Change "
            "the spring."
        )
    if stack > most + GRID:
        in_all = f"make {say(stack, 'length')} in all, " if one.position.shim_stack else "be too much, "
        return (
            f"{in_all}{say(most, 'length')} is the limit per pocket. Change the spring, or take part of it with locks "
            "or a retainer that sit lower."
        )
    return ""


def _pulses(request: BoostLoadRequest, found: Sequence[Boosted]) -> Iterator[Note]:
    """What the pulses of back pressure may ask for, where it is known at all."""
    back, low, high = request.pressures.back_pressure, *BACK_PRESSURE_PULSES.values
    seat = seat_of(request, "exhaust")
    across = across_of(seat)
    if back is None or not back > 0.0 or math.isnan(across):
        return
    lifted = pressure_load(high * back - in_cylinder(request), across, stem_of(seat))
    if not lifted > 0.0:
        return
    wanted = wanted_of(seat)
    needs = "" if math.isnan(wanted) else f": {say(wanted + lifted, 'force')} of seat load"
    loads = [one.held.seat_load for one in found if one.position.valve == "exhaust"]
    least = min((load for load in loads if not math.isnan(load)), default=math.nan)
    there = "" if math.isnan(least) else f"; the weakest here has {say(least, 'force')}"
    detail = (
        f"Back pressure pulses to {low:g} to {high:g} times its mean (from memory). If a mean was entered, a pulse of "
        f"{high:g} times pushes {say(lifted, 'force')} at the exhaust valves{needs}{there}. Measure the pulses, or "
        "leave that much in hand."
    )
    yield _note("back_pressure_pulses_above_mean", "/pressures/back_pressure", detail)


def _opening(request: BoostLoadRequest, found: Sequence[Boosted]) -> Iterator[Note]:
    lines = [one.line.opening for one in found if one.line.opening is not None]
    known = [line for line in lines if line.valve_load is not None and not math.isnan(line.valve_load)]
    if not known:
        return
    most = max(known, key=lambda line: line.valve_load or 0.0)
    told = [f"{_of(most.valve_load)} at the valve"]
    drive = lift_of("exhaust", request.valvetrain).drive
    lobe, pivot, parts = _WHERE.get(drive, _WHERE[None])
    told += [f"{_of(most.lobe_load)} at {lobe}"] if _is(most.lobe_load) else []
    told += [f"{_of(most.pivot_load)} at the {pivot}'s pivot"] if _is(most.pivot_load) else []
    detail = (
        f"Exhaust valves open against {_of(most.pressure_load)} of cylinder pressure; with their springs up to "
        f"{', '.join(told)}, before anything that moves. Check that {parts} are made for it."
    )
    yield _note("opens_against_pressure", "/pressures/cylinder_at_exhaust_opening", detail)


def _is(value: float | None) -> bool:
    return value is not None and not math.isnan(value)


def _of(value: float | None) -> str:
    return say(math.nan if value is None else value, "force")


def _area(request: BoostLoadRequest, kind: ValveKind) -> Iterator[Note]:
    seat = seat_of(request, kind)
    if math.isnan(across_of(seat)):
        return
    by_head = math.isnan(sealing_diameter(seat))
    missing = [
        *(["the head's diameter stands in for the seat's"] if by_head else []),
        *(["nothing is taken off for the stem"] if math.isnan(stem_of(seat)) else []),
    ]
    if missing:
        detail = (
            f"{kind.capitalize()}: {' and '.join(missing)}, so the pressure's load is on the safe side. Measure "
            f"{'seat and stem' if len(missing) > 1 else 'the seat' if by_head else 'the stem'} "
            "for the exact one."
        )
        yield _note("seat_area_on_safe_side", f"/seats/{kind}", detail)


def _unusual(request: BoostLoadRequest, kinds: Sequence[ValveKind]) -> Iterator[Note]:
    """Pressures that a slip of the unit, or an absolute gauge, would explain."""
    pressures = request.pressures
    readings: list[tuple[str, float | None, Rule]] = [
        *([("boost", pressures.boost, USUAL_PORT_PRESSURE)] if "intake" in kinds else []),
        *([("back_pressure", pressures.back_pressure, USUAL_PORT_PRESSURE)] if "exhaust" in kinds else []),
        *([("cylinder_on_intake_stroke", in_cylinder(request), USUAL_PORT_PRESSURE)] if "exhaust" in kinds else []),
        ("cylinder_at_exhaust_opening", pressures.cylinder_at_exhaust_opening, USUAL_OPENING_PRESSURE),
    ]
    for field, value, rule in readings:
        low, high = rule.values
        if value is not None and not low <= value <= high:
            usual = f"{say(low, 'pressure')} to {say(high, 'pressure')}"
            detail = (
                f"{field.replace('_', ' ').capitalize()} {say(value, 'pressure')} is outside the usual {usual}. Check "
                "its unit, and that it is a gauge pressure, not an absolute one."
            )
            yield note("unusual_reading", f"/pressures/{field}", detail)
    entered = pressures.cylinder_on_intake_stroke
    if "exhaust" in kinds and entered != in_cylinder(request):
        detail = (
            f"Cylinder on intake stroke: {say(entered, 'pressure')} is {above(request)}, which it never is. Nothing is "
            "taken off the back pressure for it, the safe side."
        )
        yield note("unusual_reading", "/pressures/cylinder_on_intake_stroke", detail)


def above(request: BoostLoadRequest) -> str:
    """What a pressure in the cylinder on its intake stroke is above."""
    most = say(most_in_cylinder(request), "pressure")
    return f"above the usual {most}" if request.pressures.boost is None else f"above the boost of {most}"
