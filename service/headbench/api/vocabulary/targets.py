"""Targets and limits: what the springs of each kind of valve should come to, and how near is good."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Final, Literal

import numpy as np
from msgspec import Meta

from headbench import units
from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.quantities import (
    Force,
    Length,
    Mass,
    Model,
    Percent,
    PositiveForce,
    PositiveLength,
    SurgeRatio,
    number_of,
)
from headbench.api.vocabulary.saying import in_places, say
from headbench.calc import FloatArray
from headbench.calc.judging import limits as known
from headbench.calc.judging.limits import Limit
from headbench.calc.judging.load_target import LoadTarget
from headbench.errors import Pointed


def in_both_units(length: float) -> str:
    """A length [m] in inches and in millimeters, as a description has it."""
    inches, millimeters = (units.scales_for(length=unit)["length"].from_si(length) for unit in ("in", "mm"))
    return f"{in_places(inches, 'in')} in ({in_places(millimeters, 'mm')} mm)"


def by_default(limit: Limit, text: str) -> Meta:
    """The description of a limit's field: what it is, its default in both units of length, and what that rests on."""
    match limit.quantity:
        case "length":
            value = in_both_units(limit.value)
            example = round(units.scales_for(length="in")["length"].from_si(limit.value), 4)
        case "percent":
            value, example = f"{limit.value:g} percent", limit.value
        case "count":
            value, example = f"{limit.value:g}", int(limit.value)
        case _:
            value, example = f"{limit.value:g}", limit.value
    return Meta(description=f"{text} Default: {value}; {limit.basis}.", examples=[example])


class HeightTarget(Model, kw_only=True, frozen=True):
    """Installed height wanted of one kind of valve."""

    installed_height: Annotated[
        PositiveLength | None,
        Meta(description="Installed height wanted, valve closed; null = not given.", examples=[1.75]),
    ] = None


class HeightTargets(Model, kw_only=True, frozen=True):
    """Targets of the intake and of the exhaust valves."""

    intake: Annotated[
        HeightTarget | None, Meta(description="Intake valves; null = not given.", examples=[{"installed_height": 1.75}])
    ] = None
    exhaust: Annotated[
        HeightTarget | None,
        Meta(description="Exhaust valves; null = not given.", examples=[{"installed_height": 1.75}]),
    ] = None


class Target(HeightTarget, kw_only=True, frozen=True):
    """Height and loads wanted of one kind of valve. A load is one number with a tolerance, a range, or both."""

    seat_load: Annotated[
        PositiveForce | None,
        Meta(
            description="Load wanted with the valve closed; without a height the shims aim at it. Null = not given.",
            examples=[118],
        ),
    ] = None
    seat_load_minimum: Annotated[
        PositiveForce | None, Meta(description="Minimum seat load; null = not given.", examples=[112])
    ] = None
    seat_load_maximum: Annotated[
        PositiveForce | None, Meta(description="Maximum seat load; null = not given.", examples=[125])
    ] = None
    open_load: Annotated[
        PositiveForce | None, Meta(description="Load wanted at full lift; null = not given.", examples=[262])
    ] = None
    open_load_minimum: Annotated[
        PositiveForce | None, Meta(description="Minimum load at full lift; null = not given.", examples=[250])
    ] = None
    open_load_maximum: Annotated[
        PositiveForce | None, Meta(description="Maximum load at full lift; null = not given.", examples=[280])
    ] = None


class Targets(Model, kw_only=True, frozen=True):
    """Targets of the intake and of the exhaust valves."""

    intake: Annotated[
        Target | None,
        Meta(description="Intake valves; null = not given.", examples=[{"installed_height": 1.75, "seat_load": 118}]),
    ] = None
    exhaust: Annotated[
        Target | None,
        Meta(description="Exhaust valves; null = not given.", examples=[{"installed_height": 1.75, "seat_load": 118}]),
    ] = None


HeightTolerance = Annotated[
    Length | None,
    by_default(known.INSTALLED_HEIGHT_TOLERANCE, "Largest deviation of the installed height, either way."),
]
CoilBindMinimum = Annotated[
    Length | None, by_default(known.COIL_BIND_CLEARANCE_MINIMUM, "Minimum coil-bind clearance at full lift.")
]
LossLimit = Annotated[
    Percent | None, by_default(known.LOAD_LOSS_MAXIMUM, "Largest loss of load against the spring's rating.")
]
SeatLoadTolerance = Annotated[
    Percent | None, by_default(known.SEAT_LOAD_TOLERANCE, "Largest deviation of the seat load, either way.")
]
OpenLoadTolerance = Annotated[
    Percent | None, by_default(known.OPEN_LOAD_TOLERANCE, "Largest deviation of the open load, either way.")
]
FloatReserveMinimum = Annotated[
    Percent | None,
    by_default(known.FLOAT_RESERVE_MINIMUM, "Minimum float reserve: float speed over the intended speed."),
]
SurgeRatioMinimum = Annotated[
    SurgeRatio | None,
    Meta(
        description="Minimum ratio of a spring's surge frequency to the cam's turning frequency; valve springs run 6 "
        "to "
        "10 (from memory); null = not checked.",
        examples=[7],
    ),
]
OffTarget = Annotated[
    Literal["borderline", "reject"],
    Meta(
        description="What a setting off its target is judged: borderline (for a person to decide) or reject. What "
        "breaks parts is always rejected.",
        examples=["borderline"],
    ),
]


def _kind(limit: str, example: float) -> Meta:
    """The description of the limits of one kind of valve; the example names one of them."""
    told = "Limits of these valves alone, in place of the job's; null = not given."
    return Meta(description=told, examples=[{limit: example}])


_KIND_HEIGHT: Final = _kind("installed_height_tolerance", 0.01)
_KIND_COIL_BIND: Final = _kind("coil_bind_clearance_minimum", 0.06)
_KIND_RETAINER: Final = _kind("retainer_to_seal_clearance_minimum", 0.05)


class KindHeightLimits(Model, kw_only=True, frozen=True):
    """Tolerance of the installed height of one kind of valve."""

    installed_height_tolerance: HeightTolerance = None


class HeightLimits(KindHeightLimits, kw_only=True, frozen=True):
    """Tolerance of the installed height."""

    off_target: OffTarget = "borderline"
    intake: Annotated[KindHeightLimits | None, _KIND_HEIGHT] = None
    exhaust: Annotated[KindHeightLimits | None, _KIND_HEIGHT] = None


class KindCoilBindLimits(Model, kw_only=True, frozen=True):
    """Minimum coil-bind clearance of one kind of valve."""

    coil_bind_clearance_minimum: CoilBindMinimum = None


class CoilBindLimits(KindCoilBindLimits, kw_only=True, frozen=True):
    """Minimum coil-bind clearance."""

    intake: Annotated[KindCoilBindLimits | None, _KIND_COIL_BIND] = None
    exhaust: Annotated[KindCoilBindLimits | None, _KIND_COIL_BIND] = None


class KindRetainerLimits(Model, kw_only=True, frozen=True):
    """Minimum gaps around retainer and seal of one kind of valve."""

    retainer_to_seal_clearance_minimum: Annotated[
        Length | None,
        by_default(known.RETAINER_TO_SEAL_CLEARANCE_MINIMUM, "Minimum retainer-to-seal clearance at full lift."),
    ] = None
    retainer_to_rocker_minimum: Annotated[
        Length | None, by_default(known.RETAINER_TO_ROCKER_MINIMUM, "Minimum gap, retainer to rocker.")
    ] = None
    seal_to_spring_minimum: Annotated[
        Length | None, by_default(known.SEAL_TO_SPRING_MINIMUM, "Minimum gap, seal to spring.")
    ] = None


class RetainerLimits(KindRetainerLimits, kw_only=True, frozen=True):
    """Minimum gaps around retainer and seal."""

    intake: Annotated[KindRetainerLimits | None, _KIND_RETAINER] = None
    exhaust: Annotated[KindRetainerLimits | None, _KIND_RETAINER] = None


class FloatLimits(Model, kw_only=True, frozen=True):
    """Minimum float reserve and surge ratio."""

    float_reserve_minimum: FloatReserveMinimum = None
    surge_ratio_minimum: SurgeRatioMinimum = None


class KindLimits(KindRetainerLimits, kw_only=True, frozen=True):
    """Limits of the checks of one kind of valve."""

    installed_height_tolerance: HeightTolerance = None
    coil_bind_clearance_minimum: CoilBindMinimum = None
    load_loss_maximum: LossLimit = None
    seat_load_tolerance: SeatLoadTolerance = None
    open_load_tolerance: OpenLoadTolerance = None
    float_reserve_minimum: FloatReserveMinimum = None
    surge_ratio_minimum: SurgeRatioMinimum = None
    installed_height_spread_maximum: Annotated[
        Length | None,
        Meta(description="Maximum spread of installed heights within a set; null = not checked.", examples=[0.010]),
    ] = None
    seat_load_spread_maximum: Annotated[
        Force | None,
        Meta(description="Maximum spread of seat loads within a set; null = not checked.", examples=[8]),
    ] = None
    open_load_spread_maximum: Annotated[
        Force | None,
        Meta(description="Maximum spread of open loads within a set; null = not checked.", examples=[15]),
    ] = None
    moving_mass_spread_maximum: Annotated[
        Mass | None,
        Meta(description="Maximum spread of moving masses within a set; null = not checked.", examples=[1.5]),
    ] = None


class Limits(KindLimits, kw_only=True, frozen=True):
    """Limits of the checks. GET /v1/reference/limits says what each default rests on."""

    off_target: OffTarget = "borderline"
    intake: Annotated[KindLimits | None, _KIND_COIL_BIND] = None
    exhaust: Annotated[KindLimits | None, _KIND_COIL_BIND] = None


_DEFAULTS: Final[Mapping[str, Limit]] = {limit.name: limit for limit in known.ALL}


def named_limit(limits: Model, name: str, kind: ValveKind) -> float | None:
    """What the job names for one kind of valve: the kind's own limit, else the one for all; None if neither."""
    own: Model | None = getattr(limits, kind, None)
    given: float | None = getattr(own, name, None)
    if given is None:
        given = getattr(limits, name)
    return given


def limit_of(limits: Model, name: str, kind: ValveKind) -> float:
    """A limit of one kind of valve, or its default; NaN where there is neither."""
    given, default = named_limit(limits, name, kind), _DEFAULTS.get(name)
    if given is None:
        return math.nan if default is None else default.value
    return given


def limits_of(limits: Model, name: str, valves: Sequence[ValveKind]) -> FloatArray:
    """A limit as a column over the positions."""
    by_kind = {kind: limit_of(limits, name, kind) for kind in KINDS}
    return np.array([by_kind[kind] for kind in valves])


def load_target(target: Target | None, load: Literal["seat_load", "open_load"], tolerance: float) -> LoadTarget:
    """What a load is held against: its range, or the number wanted with a tolerance [percent] on a side without end."""
    if target is None:
        return _NO_LOAD
    wanted, low, high = (number_of(getattr(target, f"{load}{end}")) for end in ("", "_minimum", "_maximum"))
    aim = wanted
    if math.isnan(aim):
        aim = high if math.isnan(low) else low if math.isnan(high) else 0.5 * (low + high)
    return LoadTarget(
        aim=aim,
        low=wanted * (1.0 - 0.01 * tolerance) if math.isnan(low) else low,
        high=wanted * (1.0 + 0.01 * tolerance) if math.isnan(high) else high,
    )


_NO_LOAD: Final = LoadTarget()


def aims_by_load(targets: Targets, kind: ValveKind) -> bool:
    """Whether the shims of one kind of valve aim at a seat load."""
    target: Target | None = getattr(targets, kind)
    return target is not None and target.installed_height is None and has_load(target, "seat_load")


def has_load(target: Target | None, load: str) -> bool:
    """Whether anything is wanted of a load."""
    return target is not None and any(
        getattr(target, f"{load}{end}") is not None for end in ("", "_minimum", "_maximum")
    )


def open_targets(
    targets: Targets | HeightTargets, valves: Sequence[ValveKind], needed_for: list[str]
) -> Iterator[OpenItem]:
    """The heights that positions need and nobody gave."""
    for kind in KINDS:
        target = getattr(targets, kind)
        by_load = isinstance(target, Target) and has_load(target, "seat_load")
        if kind in valves and not by_load and (target is None or target.installed_height is None):
            yield OpenItem(
                pointer=f"/targets/{kind}/installed_height",
                position=None,
                spring=None,
                needed_for=needed_for,
                detail=f"Enter the installed height wanted for the {kind} valves.",
            )


def target_faults(targets: Targets) -> Iterator[Pointed]:
    """Targets that cannot all be met."""

    def shown(value: float) -> str:
        return say(value, "force")

    for kind in KINDS:
        target: Target | None = getattr(targets, kind)
        if target is None:
            continue
        for load in ("seat_load", "open_load"):
            name, ends = (
                load.replace("_", " "),
                [getattr(target, f"{load}{end}") for end in ("_minimum", "", "_maximum")],
            )
            given = [value for value in ends if value is not None]
            if given != sorted(given):
                detail = f"{kind} {name}: minimum, target and maximum must rise: {', '.join(map(shown, given))}"
                yield Pointed(f"/targets/{kind}/{load}", detail)
        if target.seat_load is not None and target.open_load is not None and target.open_load <= target.seat_load:
            detail = f"{kind} open load {shown(target.open_load)} must be above the seat load {shown(target.seat_load)}"
            yield Pointed(f"/targets/{kind}/open_load", detail)
