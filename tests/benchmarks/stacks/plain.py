"""The subset in FastAPI and pydantic with plain floats, converted by a factor on the way in and on the way out.

Written as a team would that knows both well: one position after another, and an answer that pydantic serializes from
its own models.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations_with_replacement
from typing import Final, NamedTuple

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

LENGTHS: Final = {"in": 0.0254, "mm": 1e-3}
FORCES: Final = {"lbf": 4.4482216152605, "N": 1.0}

STACK_MAXIMUM: Final = 0.060 * 0.0254
SHIMS_MAXIMUM: Final = 3
EQUAL_STACKS: Final = 0.002 * 0.0254
NEAR_READINGS: Final = 0.010 * 0.0254
TINY: Final = 1e-9

app = FastAPI()


class Factors(NamedTuple):
    """SI per unit of the caller; masses are only added up, in the caller's."""

    length: float
    force: float


class Stack(NamedTuple):
    """Shims in one pocket, thickest first [m]."""

    total: float
    shims: tuple[float, ...]


class Wanted:
    """What one kind of valve should come to, in SI."""

    def __init__(self, target: Target, limits: Limits, factors: Factors) -> None:
        self.height = target.installed_height * factors.length
        self.tolerance = limits.installed_height_tolerance * factors.length
        self.coil_bind = limits.coil_bind_clearance_minimum * factors.length
        self.to_seal = limits.retainer_to_seal_clearance_minimum * factors.length
        self.seat_load = target.seat_load * factors.force
        self.seat_percent = limits.seat_load_tolerance
        self.open_load = target.open_load * factors.force
        self.open_percent = limits.open_load_tolerance


class Curve:
    """A spring: the straight line through its two readings, and its coil-bind height, in SI."""

    def __init__(self, spring: Spring, factors: Factors) -> None:
        self.bind = None if spring.coil_bind_height is None else spring.coil_bind_height * factors.length
        self.is_known = spring.load_curve is not None
        if spring.load_curve is None:
            return
        one, other = spring.load_curve.readings
        self.height, end = one.height * factors.length, other.height * factors.length
        self.load = one.load * factors.force
        self.slope = (other.load * factors.force - self.load) / (end - self.height)
        near = max(0.1 * abs(end - self.height), NEAR_READINGS) + TINY
        self.least, self.most = min(self.height, end) - near, max(self.height, end) + near

    def load_at(self, height: float | None) -> float | None:
        if height is None or not self.is_known or self.touches(height):
            return None
        return max(self.load + self.slope * (height - self.height), 0.0)

    def is_proven(self, height: float | None) -> bool:
        return self.is_known and height is not None and self.least <= height <= self.most

    def room(self, height: float | None) -> float | None:
        return None if height is None or self.bind is None else height - self.bind

    def touches(self, height: float) -> bool:
        return self.bind is not None and height - self.bind < TINY


@app.post("/v1/head-assembly")
async def head_assembly(job: Job) -> Sheet:
    factors = Factors(LENGTHS[job.units.length], FORCES[job.units.force])
    stacks = stacks_of(tuple(size * factors.length for size in job.shims.thicknesses))
    springs = {spring.id: spring for spring in job.springs}
    wanted = {kind: Wanted(target, job.limits, factors) for kind, target in job.targets.items()}
    lifts = {kind: lift_of(train, factors) for kind, train in job.valvetrain.items()}
    deductions = {kind: one.deduction * factors.length for kind, one in job.height_corrections.items()}
    lines = [
        line_of(
            position,
            springs[position.spring],
            wanted[position.valve],
            lifts[position.valve],
            deductions.get(position.valve, 0.0),
            stacks,
            factors,
        )
        for position in job.positions
    ]
    return sheet_of(job, lines)


@lru_cache
def stacks_of(sizes: tuple[float, ...]) -> list[Stack]:
    thick_first = sorted(sizes, reverse=True)
    return [
        Stack(sum(shims), shims)
        for count in range(SHIMS_MAXIMUM + 1)
        for shims in combinations_with_replacement(thick_first, count)
        if sum(shims) <= STACK_MAXIMUM + TINY
    ]


def lift_of(train: Train, factors: Factors) -> float | None:
    if train.valve_lift is not None:
        return train.valve_lift * factors.length
    if train.lobe_lift is None or train.rocker_ratio is None:
        return None
    return train.lobe_lift * train.rocker_ratio * factors.length


def choose(bare: float, stacks: list[Stack], curve: Curve, wanted: Wanted, lift: float | None) -> Stack:
    """The nearest stack of those that suit; of nearly as near ones that of the fewest shims, then the thicker."""
    needed = bare - wanted.height
    nearest = min(stacks, key=lambda one: (round(abs(one.total - needed), 9), -one.total))
    if suits(bare - nearest.total, curve, wanted, lift) and len(nearest.shims) <= 1:
        return nearest
    least = abs(nearest.total - needed)

    def badness(one: Stack) -> tuple[float, int, float, float]:
        miss = abs(one.total - needed)
        is_equal = abs(one.total - nearest.total) <= EQUAL_STACKS + TINY
        return 0.0 if is_equal else max(miss - least, TINY), len(one.shims), miss, -one.total

    ranked = sorted(stacks, key=badness)
    return next((one for one in ranked if suits(bare - one.total, curve, wanted, lift)), ranked[0])


def suits(height: float, curve: Curve, wanted: Wanted, lift: float | None) -> bool:
    room = None if lift is None else curve.room(height - lift)
    if room is not None and room < max(wanted.coil_bind - TINY, TINY):
        return False
    if abs(height - wanted.height) <= wanted.tolerance + TINY:
        return True
    load = curve.load_at(height)
    if load is None or not curve.is_proven(height):
        return False
    return abs(load / wanted.seat_load - 1.0) <= 0.01 * wanted.seat_percent + TINY


def line_of(
    position: Position,
    spring: Spring,
    wanted: Wanted,
    lift: float | None,
    deduction: float,
    stacks: list[Stack],
    factors: Factors,
) -> PositionLine:
    length, force = factors
    curve = Curve(spring, factors)
    bare = needed = stack = installed = at_lift = None
    if position.measured_height is not None:
        bare = position.measured_height * length - deduction
        needed = bare - wanted.height
        stack = choose(bare, stacks, curve, wanted, lift)
        installed = bare - stack.total
        at_lift = None if lift is None else installed - lift
    seat_load, open_load = curve.load_at(installed), curve.load_at(at_lift)
    to_seal = None if position.retainer_to_seal is None else position.retainer_to_seal * length
    gap = None if to_seal is None or lift is None else to_seal - lift
    closed, room = curve.room(installed), curve.room(at_lift)

    seat = open_ = None
    if installed is None or not curve.touches(installed):
        seat = load_check(seat_load, wanted.seat_load, wanted.seat_percent, is_proven=curve.is_proven(installed))
    if at_lift is None or not curve.touches(at_lift):
        open_ = load_check(open_load, wanted.open_load, wanted.open_percent, is_proven=curve.is_proven(at_lift))
    height = height_check(installed, wanted, length, counts=seat is None or seat.verdict != "accept")
    coil_bind = clearance_check(room, closed, wanted.coil_bind, length)
    retainer = clearance_check(gap, to_seal, wanted.to_seal, length)
    verdict, decided_by = decide(
        {
            "installed_height_check": height,
            "seat_load_check": seat,
            "open_load_check": open_,
            "coil_bind_clearance_check": coil_bind,
            "retainer_to_seal_clearance_check": retainer,
        },
        held_closed=seat_load is None or seat_load > 0.0,
    )
    return PositionLine(
        id=position.id,
        valve=position.valve,
        spring=position.spring,
        measured_height=position.measured_height,
        bare_height=None if bare is None else bare / length,
        target_height=wanted.height / length,
        shim_needed=None if needed is None else needed / length,
        shims=[] if stack is None else [size / length for size in stack.shims],
        shim_stack=None if stack is None else stack.total / length,
        installed_height=None if installed is None else installed / length,
        seat_load=None if seat_load is None else seat_load / force,
        valve_lift=None if lift is None else lift / length,
        open_height=None if at_lift is None else at_lift / length,
        open_load=None if open_load is None else open_load / force,
        retainer_to_seal=position.retainer_to_seal,
        moving_mass=moving_mass(position.masses, spring.mass),
        installed_height_check=height,
        seat_load_check=seat,
        open_load_check=open_,
        coil_bind_clearance_check=coil_bind,
        retainer_to_seal_clearance_check=retainer,
        verdict=verdict,
        decided_by=decided_by,
    )


def moving_mass(masses: Masses, spring: float | None) -> float | None:
    """Everything that moves, a third of the spring with it."""
    if masses.valve is None or masses.retainer is None or masses.locks is None or spring is None:
        return None
    return masses.valve + masses.retainer + masses.locks + spring / 3.0


def height_check(height: float | None, wanted: Wanted, length: float, *, counts: bool) -> Check:
    tolerance = wanted.tolerance / length
    if height is None:
        return setting(None, tolerance, None, "not_measured")
    deviation = height - wanted.height
    verdict: VerdictName = "accept" if abs(deviation) <= wanted.tolerance + TINY else "borderline"
    return setting(deviation / length, tolerance, (wanted.tolerance - abs(deviation)) / length, verdict, counts=counts)


def load_check(load: float | None, aim: float, percent: float, *, is_proven: bool) -> Check:
    if load is None:
        return setting(None, percent, None, "not_measured")
    deviation = 100.0 * (load / aim - 1.0)
    verdict: VerdictName = "accept" if abs(deviation) <= percent + TINY else "borderline"
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


def clearance_check(gap: float | None, closed: float | None, minimum: float, length: float) -> Check:
    """A clearance at full lift; with the valve closed it is the most it can ever be."""
    least = max(minimum - TINY, TINY)
    if any(one is not None and one < least for one in (gap, closed)):
        verdict: VerdictName = "reject"
    else:
        verdict = "not_measured" if gap is None else "accept"
    return Check(
        value=None if gap is None else gap / length,
        limit=minimum / length,
        rule="at_least",
        to_spare=None if gap is None else (gap - minimum) / length,
        check_class="damage",
        verdict=verdict,
    )
