"""The subset in FastAPI and pydantic with a pint quantity for every value, from the request to the answer.

Written as a team would that wants its units checked: whatever has a unit is a quantity, computed with and compared as
one, and becomes a number again where the answer is filled. What a good team does for speed is done: units are objects
and not texts, every value becomes a quantity once, stacks of shims are kept.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations_with_replacement
from typing import Any, Final, NamedTuple

import pint
from fastapi import FastAPI
from tests.benchmarks.stacks.models import (
    Check,
    Job,
    Limits,
    Masses,
    Position,
    PositionLine,
    Sheet,
    Spring,
    Target,
    Train,
    VerdictName,
    decide,
    sheet_of,
)

ureg: Final[Any] = pint.UnitRegistry()
# what a quantity is a quantity of is for pint to say, not for the type checker
Q: Final[Any] = ureg.Quantity
UNITS: Final = {"in": ureg.inch, "mm": ureg.millimeter, "lbf": ureg.pound_force, "N": ureg.newton, "g": ureg.gram,
                "oz": ureg.ounce}  # fmt: skip

SHIMS_MAXIMUM: Final = 3
HAIR: Final = 1e-9

app = FastAPI()


class Used:
    """The caller's units, and the lengths that decide in them, so that none is converted with every comparison."""

    def __init__(self, length: Any, force: Any, mass: Any) -> None:
        self.length, self.force, self.mass = length, force, mass
        self.no_length, self.no_force = Q(0.0, length), Q(0.0, force)
        self.tiny = Q(1.0, ureg.nanometer).to(length)
        self.stack_maximum = Q(0.060, ureg.inch).to(length)
        self.equal_stacks = Q(0.002, ureg.inch).to(length)
        self.near_readings = Q(0.010, ureg.inch).to(length)


@lru_cache
def used_units(length: str, force: str, mass: str) -> Used:
    return Used(UNITS[length], UNITS[force], UNITS[mass])


class Stack(NamedTuple):
    """Shims in one pocket, thickest first."""

    total: Any
    shims: tuple[Any, ...]


class Wanted:
    """What one kind of valve should come to."""

    def __init__(self, target: Target, limits: Limits, used: Used) -> None:
        self.used = used
        self.height = Q(target.installed_height, used.length)
        self.tolerance = Q(limits.installed_height_tolerance, used.length)
        self.coil_bind = Q(limits.coil_bind_clearance_minimum, used.length)
        self.to_seal = Q(limits.retainer_to_seal_clearance_minimum, used.length)
        self.seat_load = Q(target.seat_load, used.force)
        self.seat_percent = limits.seat_load_tolerance
        self.open_load = Q(target.open_load, used.force)
        self.open_percent = limits.open_load_tolerance


class Curve:
    """A spring: the straight line through its two readings, and its coil-bind height."""

    def __init__(self, spring: Spring, used: Used) -> None:
        self.used = used
        self.bind = None if spring.coil_bind_height is None else Q(spring.coil_bind_height, used.length)
        self.is_known = spring.load_curve is not None
        if spring.load_curve is None:
            return
        one, other = spring.load_curve.readings
        self.height, end = Q(one.height, used.length), Q(other.height, used.length)
        self.load = Q(one.load, used.force)
        self.slope = (Q(other.load, used.force) - self.load) / (end - self.height)
        near = max(0.1 * abs(end - self.height), used.near_readings) + used.tiny
        self.least, self.most = min(self.height, end) - near, max(self.height, end) + near

    def load_at(self, height: Any) -> Any:
        if height is None or not self.is_known or self.touches(height):
            return None
        return max(self.load + self.slope * (height - self.height), self.used.no_force)

    def is_proven(self, height: Any) -> bool:
        return self.is_known and height is not None and bool(self.least <= height <= self.most)

    def room(self, height: Any) -> Any:
        return None if height is None or self.bind is None else height - self.bind

    def touches(self, height: Any) -> bool:
        return self.bind is not None and bool(height - self.bind < self.used.tiny)


@app.post("/v1/head-assembly")
async def head_assembly(job: Job) -> Sheet:
    used = used_units(job.units.length, job.units.force, job.units.mass)
    stacks = stacks_of(tuple(job.shims.thicknesses), used)
    springs = {spring.id: spring for spring in job.springs}
    wanted = {kind: Wanted(target, job.limits, used) for kind, target in job.targets.items()}
    lifts = {kind: lift_of(train, used) for kind, train in job.valvetrain.items()}
    deductions = {kind: Q(one.deduction, used.length) for kind, one in job.height_corrections.items()}
    lines = [
        line_of(
            position,
            springs[position.spring],
            wanted[position.valve],
            lifts[position.valve],
            deductions.get(position.valve, used.no_length),
            stacks,
            used,
        )
        for position in job.positions
    ]
    return sheet_of(job, lines)


@lru_cache
def stacks_of(sizes: tuple[float, ...], used: Used) -> list[Stack]:
    thick_first = [Q(size, used.length) for size in sorted(sizes, reverse=True)]
    return [
        Stack(total, shims)
        for count in range(SHIMS_MAXIMUM + 1)
        for shims in combinations_with_replacement(thick_first, count)
        if (total := sum(shims, start=used.no_length)) <= used.stack_maximum + used.tiny
    ]


def lift_of(train: Train, used: Used) -> Any:
    if train.valve_lift is not None:
        return Q(train.valve_lift, used.length)
    if train.lobe_lift is None or train.rocker_ratio is None:
        return None
    return train.rocker_ratio * Q(train.lobe_lift, used.length)


def choose(bare: Any, stacks: list[Stack], curve: Curve, wanted: Wanted, lift: Any) -> Stack:
    """The nearest stack of those that suit; of nearly as near ones that of the fewest shims, then the thicker."""
    used, needed = wanted.used, bare - wanted.height
    misses = [abs(one.total - needed) for one in stacks]
    least = min(misses)
    # of totals that miss by as much on either side the thicker
    as_near = [one for one, miss in zip(stacks, misses, strict=True) if miss - least < used.tiny]
    nearest = as_near[0] if len(as_near) == 1 else max(as_near, key=lambda one: (one.total, -len(one.shims)))
    if len(nearest.shims) <= 1 and suits(bare - nearest.total, curve, wanted, lift):
        return nearest
    about_equal = used.equal_stacks + used.tiny

    def badness(seen: tuple[Stack, Any]) -> tuple[Any, int, Any, Any]:
        one, miss = seen
        is_equal = abs(one.total - nearest.total) <= about_equal
        return used.no_length if is_equal else max(miss - least, used.tiny), len(one.shims), miss, -one.total

    ranked = [one for one, _ in sorted(zip(stacks, misses, strict=True), key=badness)]
    return next((one for one in ranked if suits(bare - one.total, curve, wanted, lift)), ranked[0])


def suits(height: Any, curve: Curve, wanted: Wanted, lift: Any) -> bool:
    room = None if lift is None else curve.room(height - lift)
    if room is not None and room < max(wanted.coil_bind - wanted.used.tiny, wanted.used.tiny):
        return False
    if abs(height - wanted.height) <= wanted.tolerance + wanted.used.tiny:
        return True
    load = curve.load_at(height)
    if load is None or not curve.is_proven(height):
        return False
    return bool(abs((load / wanted.seat_load).m_as("") - 1.0) <= 0.01 * wanted.seat_percent + HAIR)


def line_of(
    position: Position, spring: Spring, wanted: Wanted, lift: Any, deduction: Any, stacks: list[Stack], used: Used
) -> PositionLine:
    length, force, mass = used.length, used.force, used.mass
    curve = Curve(spring, used)
    bare = needed = stack = installed = at_lift = None
    if position.measured_height is not None:
        bare = Q(position.measured_height, length) - deduction
        needed = bare - wanted.height
        stack = choose(bare, stacks, curve, wanted, lift)
        installed = bare - stack.total
        at_lift = None if lift is None else installed - lift
    seat_load, open_load = curve.load_at(installed), curve.load_at(at_lift)
    to_seal = None if position.retainer_to_seal is None else Q(position.retainer_to_seal, length)
    gap = None if to_seal is None or lift is None else to_seal - lift
    closed, room = curve.room(installed), curve.room(at_lift)

    seat = open_ = None
    if installed is None or not curve.touches(installed):
        seat = load_check(seat_load, wanted.seat_load, wanted.seat_percent, is_proven=curve.is_proven(installed))
    if at_lift is None or not curve.touches(at_lift):
        open_ = load_check(open_load, wanted.open_load, wanted.open_percent, is_proven=curve.is_proven(at_lift))
    height = height_check(installed, wanted, length, counts=seat is None or seat.verdict != "accept")
    coil_bind = clearance_check(room, closed, wanted.coil_bind, used)
    retainer = clearance_check(gap, to_seal, wanted.to_seal, used)
    verdict, decided_by = decide(
        {
            "installed_height_check": height,
            "seat_load_check": seat,
            "open_load_check": open_,
            "coil_bind_clearance_check": coil_bind,
            "retainer_to_seal_clearance_check": retainer,
        },
        held_closed=seat_load is None or bool(seat_load > used.no_force),
    )
    return PositionLine(
        id=position.id,
        valve=position.valve,
        spring=position.spring,
        measured_height=position.measured_height,
        bare_height=shown(bare, length),
        target_height=wanted.height.m_as(length),
        shim_needed=shown(needed, length),
        shims=[] if stack is None else [size.m_as(length) for size in stack.shims],
        shim_stack=None if stack is None else shown(stack.total, length),
        installed_height=shown(installed, length),
        seat_load=shown(seat_load, force),
        valve_lift=shown(lift, length),
        open_height=shown(at_lift, length),
        open_load=shown(open_load, force),
        retainer_to_seal=shown(to_seal, length),
        moving_mass=shown(moving_mass(position.masses, spring.mass, mass), mass),
        installed_height_check=height,
        seat_load_check=seat,
        open_load_check=open_,
        coil_bind_clearance_check=coil_bind,
        retainer_to_seal_clearance_check=retainer,
        verdict=verdict,
        decided_by=decided_by,
    )


def shown(quantity: Any, unit: Any) -> float | None:
    return None if quantity is None else float(quantity.m_as(unit))


def moving_mass(masses: Masses, spring: float | None, unit: Any) -> Any:
    """Everything that moves, a third of the spring with it."""
    if masses.valve is None or masses.retainer is None or masses.locks is None or spring is None:
        return None
    return Q(masses.valve, unit) + Q(masses.retainer, unit) + Q(masses.locks, unit) + Q(spring, unit) / 3.0


def height_check(height: Any, wanted: Wanted, length: Any, *, counts: bool) -> Check:
    tolerance = wanted.tolerance.m_as(length)
    if height is None:
        return setting(None, tolerance, None, "not_measured")
    deviation = height - wanted.height
    verdict: VerdictName = "accept" if abs(deviation) <= wanted.tolerance + wanted.used.tiny else "borderline"
    spare = shown(wanted.tolerance - abs(deviation), length)
    return setting(shown(deviation, length), tolerance, spare, verdict, counts=counts)


def load_check(load: Any, aim: Any, percent: float, *, is_proven: bool) -> Check:
    if load is None:
        return setting(None, percent, None, "not_measured")
    deviation = 100.0 * ((load / aim).m_as("") - 1.0)
    verdict: VerdictName = "accept" if abs(deviation) <= percent + HAIR else "borderline"
    return setting(deviation, percent, percent - abs(deviation), verdict if is_proven else "not_measured")


def setting(
    value: float | None, limit: float, spare: float | None, verdict: VerdictName, *, counts: bool = True
) -> Check:
    return Check(
        value=value,
        limit=limit,
        rule="within",
        to_spare=spare,
        check_class="setting",
        counts_toward_verdict=counts,
        verdict=verdict,
    )


def clearance_check(gap: Any, closed: Any, minimum: Any, used: Used) -> Check:
    """A clearance at full lift; with the valve closed it is the most it can ever be."""
    length, least = used.length, max(minimum - used.tiny, used.tiny)
    if any(one is not None and one < least for one in (gap, closed)):
        verdict: VerdictName = "reject"
    else:
        verdict = "not_measured" if gap is None else "accept"
    return Check(
        value=shown(gap, length),
        limit=minimum.m_as(length),
        rule="at_least",
        to_spare=None if gap is None else shown(gap - minimum, length),
        check_class="damage",
        verdict=verdict,
    )
