"""Targets and limits: what the springs of each kind of valve should come to, and how near is good."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated

from msgspec import Meta

from headbench.api.findings import OpenItem
from headbench.api.quantities import Columns, Length, Model, Percent, PositiveForce, PositiveLength
from headbench.api.valvetrain import KINDS, ValveKind
from headbench.calc import FloatArray
from headbench.calc.limits import (
    COIL_BIND_CLEARANCE,
    FLOAT_RESERVE_PERCENT,
    INSTALLED_HEIGHT,
    OPEN_LOAD_PERCENT,
    RETAINER_TO_ROCKER,
    RETAINER_TO_SEAL_CLEARANCE,
    SEAL_TO_SPRING,
    SEAT_LOAD_PERCENT,
    SURGE_RATIO,
    Limit,
)
from headbench.errors import Pointed
from headbench.units import Scales


class HeightTarget(Model, kw_only=True, frozen=True):
    """What one kind of valve's springs should stand at."""

    installed_height: Annotated[
        PositiveLength | None, Meta(description="Height wanted, valve shut; null: not known, or not what is aimed at.")
    ] = None


class HeightTargets(Model, kw_only=True, frozen=True):
    """Targets of the intake and of the exhaust valves."""

    intake: Annotated[HeightTarget | None, Meta(description="Null: not known yet.")] = None
    exhaust: Annotated[HeightTarget | None, Meta(description="Null: not known yet.")] = None


class Target(HeightTarget, kw_only=True, frozen=True):
    """What one kind of valve's springs should come to."""

    seat_load: Annotated[
        PositiveForce | None,
        Meta(description="Load wanted, valve shut; null: not checked. Without a height the shims aim at this load."),
    ] = None
    open_load: Annotated[PositiveForce | None, Meta(description="Load wanted at full lift; null: not checked.")] = None


class Targets(Model, kw_only=True, frozen=True):
    """Targets of the intake and of the exhaust valves."""

    intake: Annotated[Target | None, Meta(description="Null: not known yet.")] = None
    exhaust: Annotated[Target | None, Meta(description="Null: not known yet.")] = None


HeightLimit = Annotated[
    Length | None, Meta(description="Largest deviation of the installed height, either way; null: 0.005 in (0.127 mm).")
]
CoilBindLimit = Annotated[
    Length | None, Meta(description="Least room between the coils at full lift; null: 0.060 in (1.524 mm).")
]


class HeightLimits(Model, kw_only=True, frozen=True):
    """How near to its height is good."""

    installed_height: HeightLimit = None


class CoilBindLimits(Model, kw_only=True, frozen=True):
    """How much room between the coils is good."""

    coil_bind_clearance: CoilBindLimit = None


class RetainerLimits(Model, kw_only=True, frozen=True):
    """How much room around the retainer and the seal is good."""

    retainer_to_seal_clearance: Annotated[
        Length | None, Meta(description="Least room at full lift; null: 0.050 in (1.27 mm).")
    ] = None
    retainer_to_rocker: Annotated[Length | None, Meta(description="Least room; null: 0.050 in (1.27 mm).")] = None
    seal_to_spring: Annotated[Length | None, Meta(description="Least room; null: 0.050 in (1.27 mm).")] = None


FloatReserveLimit = Annotated[
    Percent | None, Meta(description="Least reserve of the float speed over the intended speed; null: 10.")
]
SurgeRatioLimit = Annotated[
    Annotated[float, Meta(ge=0.0, le=1000.0)] | None,
    Meta(description="Least ratio of the surge frequency to the cam's turning frequency; null: 13."),
]


class FloatLimits(Model, kw_only=True, frozen=True):
    """How far from float and surge is good."""

    float_reserve_percent: FloatReserveLimit = None
    surge_ratio: SurgeRatioLimit = None


class Limits(RetainerLimits, kw_only=True, frozen=True):
    """What the checks compare with. GET /v1/reference/limits says what each default rests on."""

    installed_height: HeightLimit = None
    coil_bind_clearance: CoilBindLimit = None
    load_loss_percent: Annotated[
        Percent | None, Meta(description="Largest loss of load against a rating; null: 10, a published service limit.")
    ] = None
    seat_load_percent: Annotated[
        Percent | None, Meta(description="Largest deviation of the seat load, either way; null: 5.")
    ] = None
    open_load_percent: Annotated[
        Percent | None, Meta(description="Largest deviation of the open load, either way; null: 5.")
    ] = None
    float_reserve_percent: FloatReserveLimit = None
    surge_ratio: SurgeRatioLimit = None


_DEFAULTS: Mapping[str, Limit] = {
    limit.name: limit
    for limit in (
        INSTALLED_HEIGHT,
        COIL_BIND_CLEARANCE,
        RETAINER_TO_SEAL_CLEARANCE,
        RETAINER_TO_ROCKER,
        SEAL_TO_SPRING,
        SEAT_LOAD_PERCENT,
        OPEN_LOAD_PERCENT,
        FLOAT_RESERVE_PERCENT,
        SURGE_RATIO,
    )
}


def limit_to_si(limits: Model, name: str, scales: Scales) -> float:
    """A limit of the job, or its default; lengths in metres, percentages as they are."""
    given: float | None = getattr(limits, name)
    default = _DEFAULTS[name]
    if given is None:
        return default.value
    return given * scales[default.quantity].factor if default.quantity in scales else given


_TARGET = Columns(Target)
_HEIGHT_TARGET = Columns(HeightTarget)
_NO_TARGET = Target()
_NO_HEIGHT = HeightTarget()


def targets_to_si(
    targets: Targets | HeightTargets, valves: Sequence[ValveKind], scales: Scales
) -> dict[str, FloatArray]:
    """Targets as columns over the positions, NaN where nothing is wanted."""
    if isinstance(targets, Targets):
        by_kind = _TARGET.to_si([getattr(targets, kind) or _NO_TARGET for kind in KINDS], scales)
    else:
        by_kind = _HEIGHT_TARGET.to_si([getattr(targets, kind) or _NO_HEIGHT for kind in KINDS], scales)
    place = [KINDS.index(kind) for kind in valves]
    return {name: column[place] for name, column in by_kind.items()}


def open_targets(
    targets: Targets | HeightTargets, valves: Sequence[ValveKind], holds_back: list[str]
) -> Iterator[OpenItem]:
    """The heights that positions need and nobody gave."""
    for kind in KINDS:
        target = getattr(targets, kind)
        by_load = isinstance(target, Target) and target.seat_load is not None
        if kind in valves and not by_load and (target is None or target.installed_height is None):
            yield OpenItem(
                pointer=f"/targets/{kind}/installed_height",
                position=None,
                spring=None,
                holds_back=holds_back,
                detail=f"State the installed height wanted for the {kind} valves.",
            )


def target_faults(targets: Targets, scales: Scales) -> Iterator[Pointed]:
    """Targets that cannot both be met."""
    for kind in KINDS:
        target: Target | None = getattr(targets, kind)
        if target is None or target.seat_load is None or target.open_load is None:
            continue
        if target.open_load <= target.seat_load:
            unit = scales["force"].unit
            yield Pointed(
                f"/targets/{kind}/open_load",
                f"the open load wanted, {target.open_load:g} {unit}, is not above the seat load wanted, "
                f"{target.seat_load:g} {unit}",
            )
