"""Models of both stacks: the request as far as the subset needs it, and its answer, as pydantic has them.

They take the job that the service takes and pass over the fields they have no use for: customers, stocks, corrections
of gauges, nested springs. What they answer has the names it has in the service.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field

VerdictName = Literal["accept", "borderline", "not_measured", "reject"]
VERDICTS: tuple[VerdictName, ...] = ("accept", "borderline", "not_measured", "reject")
"""From best to worst."""

ValveKind = Literal["intake", "exhaust"]
Positive = Annotated[float, Field(gt=0.0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]


class Units(BaseModel):
    length: Literal["in", "mm"] = "in"
    force: Literal["lbf", "N"] = "lbf"
    mass: Literal["g", "oz"] = "g"


class Limits(BaseModel):
    installed_height_tolerance: NotNegative
    coil_bind_clearance_minimum: NotNegative
    retainer_to_seal_clearance_minimum: NotNegative
    seat_load_tolerance: NotNegative = 5.0
    open_load_tolerance: NotNegative = 5.0


class Shims(BaseModel):
    thicknesses: Annotated[list[Positive], Field(min_length=1)]


class Correction(BaseModel):
    deduction: float = 0.0


class Train(BaseModel):
    valve_lift: Positive | None = None
    lobe_lift: Positive | None = None
    rocker_ratio: Positive | None = None


class Target(BaseModel):
    installed_height: Positive
    seat_load: Positive
    open_load: Positive


class Reading(BaseModel):
    height: Positive
    load: Positive


class LoadCurve(BaseModel):
    readings: Annotated[list[Reading], Field(min_length=2, max_length=2)]


class Spring(BaseModel):
    id: str
    load_curve: LoadCurve | None = None
    coil_bind_height: Positive | None = None
    mass: NotNegative | None = None


class Masses(BaseModel):
    valve: NotNegative | None = None
    retainer: NotNegative | None = None
    locks: NotNegative | None = None


class Position(BaseModel):
    id: str
    valve: ValveKind
    spring: str
    measured_height: Positive | None = None
    retainer_to_seal: Positive | None = None
    masses: Masses = Masses()


class Job(BaseModel):
    units: Units = Units()
    limits: Limits
    shims: Shims
    height_corrections: dict[ValveKind, Correction] = {}
    valvetrain: dict[ValveKind, Train]
    targets: dict[ValveKind, Target]
    springs: list[Spring]
    positions: Annotated[list[Position], Field(min_length=1)]


class Check(BaseModel):
    value: float | None
    limit: float
    rule: Literal["at_least", "within"]
    to_spare: float | None
    check_class: Literal["damage", "setting"]
    counts_toward_verdict: bool = True
    verdict: VerdictName


class PositionLine(BaseModel):
    id: str
    valve: ValveKind
    spring: str
    measured_height: float | None
    bare_height: float | None
    target_height: float
    shim_needed: float | None
    shims: list[float]
    shim_stack: float | None
    installed_height: float | None
    seat_load: float | None
    valve_lift: float | None
    open_height: float | None
    open_load: float | None
    retainer_to_seal: float | None
    moving_mass: float | None
    installed_height_check: Check
    seat_load_check: Check | None
    open_load_check: Check | None
    coil_bind_clearance_check: Check
    retainer_to_seal_clearance_check: Check
    verdict: VerdictName
    decided_by: list[str]


class Sheet(BaseModel):
    units: Units
    verdict: VerdictName
    verdict_counts: dict[VerdictName, int]
    positions: list[PositionLine]


def worst(verdicts: list[VerdictName]) -> VerdictName:
    """The worst of some verdicts."""
    return max(verdicts, key=VERDICTS.index)


def decide(checks: dict[str, Check | None], *, held_closed: bool) -> tuple[VerdictName, list[str]]:
    """A position's verdict, and the checks that bring it there."""
    counting = {name: one.verdict for name, one in checks.items() if one is not None and one.counts_toward_verdict}
    if not held_closed:
        counting["seat_load"] = "reject"
    verdict = worst(list(counting.values()))
    return verdict, [] if verdict == "accept" else [name for name, one in counting.items() if one == verdict]


def sheet_of(job: Job, lines: list[PositionLine]) -> Sheet:
    """The lines of all positions with the verdict on the whole."""
    verdicts = [line.verdict for line in lines]
    counts = {name: verdicts.count(name) for name in VERDICTS}
    return Sheet(units=job.units, verdict=worst(verdicts), verdict_counts=counts, positions=lines)
