"""Spring fit readings: diameters of springs, dampers, locator, retainer, pocket and seal."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Annotated, Final, Literal

from msgspec import Meta

from headbench.api.exchange.envelope import Job, JobAsked
from headbench.api.vocabulary.positions import repeated_ids
from headbench.api.vocabulary.quantities import Length, Model, Name, PositiveLength, SignedLength, Units, number_of
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import CoilBindMinimum, OffTarget, by_default
from headbench.calc.judging.limits import SEAL_TO_SPRING_MINIMUM
from headbench.calc.judging.possible import if_possible
from headbench.calc.judging.rules import POSSIBLE_COIL_BIND_HEIGHT
from headbench.calc.spring_fit.fit import Coil
from headbench.calc.spring_fit.limits import (
    CENTERING_GAP_MAXIMUM,
    CENTERING_GAP_MINIMUM,
    COIL_IN_POCKET_MINIMUM,
    COIL_TO_COIL_MINIMUM,
    DIAMETERS_AGREE,
    POSSIBLE_DIAMETER,
    POSSIBLE_WIRE,
    SQUARENESS_MAXIMUM,
)
from headbench.errors import Pointed

MOST_NESTS: Final = 32

_OUTSIDE = Meta(description="Outside diameter, spring free; null = not measured.", examples=[1.437])
_INSIDE = Meta(
    description="Inside diameter, spring free; null = outside diameter less twice the wire.", examples=[1.061]
)
_WIRE = Meta(description="Wire, across the coil's radius; null = not measured.", examples=[0.187])
_RISE = Meta(description="How much higher its seat is than the outer spring's; negative = lower.", examples=[0.06])
_BIND = Meta(description="Height at which it bottoms; a damper needs it; null = not measured.", examples=[1.02])
_ENDS = Meta(
    description="Whether its ends are kept from turning as it closes; free ends let it grow more, the safe side.",
    examples=[False],
)
_KIND = Meta(description="A spring, or a flat-wire damper.", examples=["damper"])


class FitLimits(Model, kw_only=True, frozen=True):
    """How near and how far apart parts may be. Every gap is radial: half of what two diameters differ by."""

    off_target: OffTarget = "borderline"
    centering_gap_minimum: Annotated[
        SignedLength | None, by_default(CENTERING_GAP_MINIMUM, "Minimum gap of a spring on locator or retainer step.")
    ] = None
    centering_gap_maximum: Annotated[
        Length | None, by_default(CENTERING_GAP_MAXIMUM, "Maximum gap of a spring on locator or retainer step.")
    ] = None
    coil_to_coil_minimum: Annotated[
        Length | None, by_default(COIL_TO_COIL_MINIMUM, "Minimum gap of nested springs that are not to press.")
    ] = None
    coil_in_pocket_minimum: Annotated[
        Length | None, by_default(COIL_IN_POCKET_MINIMUM, "Minimum gap of the outer spring in its pocket.")
    ] = None
    seal_to_spring_minimum: Annotated[
        Length | None, by_default(SEAL_TO_SPRING_MINIMUM, "Minimum gap, seal or guide boss to the spring around it.")
    ] = None
    squareness_maximum: Annotated[
        Length | None, by_default(SQUARENESS_MAXIMUM, "Most that a spring may stand out of square.")
    ] = None
    coil_bind_clearance_minimum: CoilBindMinimum = None


class NestedCoil(Model, kw_only=True, frozen=True):
    """A spring or a damper inside the outer spring."""

    kind: Annotated[Literal["spring", "damper"], _KIND] = "spring"
    outside_diameter: Annotated[PositiveLength | None, _OUTSIDE] = None
    inside_diameter: Annotated[PositiveLength | None, _INSIDE] = None
    wire: Annotated[PositiveLength | None, _WIRE] = None
    pitch: Annotated[
        PositiveLength | None,
        Meta(description="Wire to wire of its working coils, free; a damper needs none; null = not measured."),
    ] = None
    ends_held: Annotated[bool, _ENDS] = False
    gap_minimum: Annotated[
        SignedLength | None,
        Meta(
            description="Least radial gap to what is around it, as its maker states; negative = interference wanted. "
            "Null = the usual clearance; none where gap_maximum or a damper says that it presses.",
            examples=[-0.008],
        ),
    ] = None
    gap_maximum: Annotated[
        SignedLength | None,
        Meta(
            description="Greatest radial gap to what is around it, negative where interference is wanted; null = no "
            "limit, for a damper 0: it presses.",
            examples=[-0.002],
        ),
    ] = None
    centered_by_retainer: Annotated[
        bool,
        Meta(
            description="Whether a step of the retainer centers it; a damper is centered by the spring around it.",
            examples=[True],
        ),
    ] = True
    centered_by_locator: Annotated[
        bool, Meta(description="Whether a register of the locator centers it; a damper has none.", examples=[False])
    ] = False
    locator_diameter: Annotated[
        PositiveLength | None, Meta(description="Register of the locator for it; null = not measured.", examples=[0.72])
    ] = None
    retainer_diameter: Annotated[
        PositiveLength | None, Meta(description="Step of the retainer for it; null = not measured.", examples=[0.72])
    ] = None
    seat_rise: Annotated[SignedLength, _RISE] = 0.0
    bind_height: Annotated[PositiveLength | None, _BIND] = None
    out_of_square: Annotated[
        Length | None,
        Meta(description="How far its top leans off a square, turned once around; null = not measured."),
    ] = None
    free_height: Annotated[PositiveLength | None, Meta(description="Height free; null = not measured.")] = None


class OuterCoil(Model, kw_only=True, frozen=True):
    """The outer spring."""

    outside_diameter: Annotated[PositiveLength | None, _OUTSIDE] = None
    inside_diameter: Annotated[PositiveLength | None, _INSIDE] = None
    wire: Annotated[PositiveLength | None, _WIRE] = None
    pitch: Annotated[
        PositiveLength | None,
        Meta(description="Wire to wire of its working coils, free; null = not measured.", examples=[0.36]),
    ] = None
    ends_held: Annotated[bool, _ENDS] = False
    located_by: Annotated[
        Literal["inside", "outside", "pocket"],
        Meta(
            description="What centers it below: a locator inside it, a cup around it, or the pocket alone.",
            examples=["inside"],
        ),
    ] = "inside"
    locator_diameter: Annotated[
        PositiveLength | None,
        Meta(description="Register of locator or cup that it sits on or in; null = not measured.", examples=[1.055]),
    ] = None
    retainer_diameter: Annotated[
        PositiveLength | None, Meta(description="Step of the retainer inside it; null = not measured.", examples=[1.05])
    ] = None
    bind_height: Annotated[PositiveLength | None, _BIND] = None
    out_of_square: Annotated[
        Length | None,
        Meta(description="How far its top leans off a square, turned once around; null = not measured."),
    ] = None
    free_height: Annotated[PositiveLength | None, Meta(description="Height free; null = not measured.")] = None


class Nest(Model, kw_only=True, frozen=True):
    """The springs of one valve, or of valves that have the same, and what is around and inside them."""

    id: Annotated[Name, Meta(description="Its name.", examples=["intake"])]
    outer: Annotated[OuterCoil, Meta(description="The outer spring.", examples=[{"outside_diameter": 1.437}])]
    nested: Annotated[
        list[NestedCoil],
        Meta(
            max_length=3, description="Springs and dampers in it, from the outside in.", examples=[[{"kind": "damper"}]]
        ),
    ] = []
    pocket: Annotated[
        Literal["machined", "none"],
        Meta(description="Whether the head has a machined pocket around locator or spring.", examples=["machined"]),
    ] = "machined"
    pocket_diameter: Annotated[
        PositiveLength | None, Meta(description="Diameter of the pocket; null = not measured.", examples=[1.57])
    ] = None
    locator_outside_diameter: Annotated[
        PositiveLength | None,
        Meta(description="Outside of locator or cup, that sits in the pocket; null = not measured.", examples=[1.56]),
    ] = None
    seal_diameter: Annotated[
        PositiveLength | None,
        Meta(
            description="Seal or guide boss, whichever is larger, within the travel of the innermost spring; null = "
            "not measured.",
            examples=[0.53],
        ),
    ] = None
    open_height: Annotated[
        PositiveLength | None,
        Meta(description="Height of the outer spring at full lift, for dampers; null = not measured.", examples=[1.25]),
    ] = None


class SpringFitRequest(Model, kw_only=True, frozen=True):
    """Nests of springs, and what is around them."""

    units: Units = Units()
    job: JobAsked = Job()
    limits: Annotated[FitLimits, Meta(description="Limits.", examples=[{"seal_to_spring_minimum": 0.050}])] = (
        FitLimits()
    )
    nests: Annotated[
        list[Nest],
        Meta(
            min_length=1,
            max_length=MOST_NESTS,
            description="The springs of each kind of valve, or of each valve.",
            examples=[[{"id": "intake", "outer": {"outside_diameter": 1.437}}]],
        ),
    ]


def diameter_of(reading: float | None) -> float:
    """A diameter as it counts; NaN where none was read, or one that cannot be right."""
    return if_possible(number_of(reading), POSSIBLE_DIAMETER)


def binds_at(one: OuterCoil | NestedCoil) -> float:
    """Height at which a spring or damper bottoms, as it counts."""
    return if_possible(number_of(one.bind_height), POSSIBLE_COIL_BIND_HEIGHT)


def coil_of(one: OuterCoil | NestedCoil) -> Coil:
    """A spring or damper as the kernels take it."""
    return Coil(
        diameter_of(one.outside_diameter),
        diameter_of(one.inside_diameter),
        if_possible(number_of(one.wire), POSSIBLE_WIRE),
        number_of(one.pitch),
        is_damper=is_damper(one),
        ends_held=one.ends_held,
    )


def is_damper(one: OuterCoil | NestedCoil) -> bool:
    """Whether it is a damper."""
    return isinstance(one, NestedCoil) and one.kind == "damper"


def each_coil(nest: Nest) -> Iterator[tuple[str, str, OuterCoil | NestedCoil]]:
    """Springs and dampers from the outside in: where each stands below its nest, what it is called, and itself."""
    names = {"spring": ["inner spring", "innermost spring", "fourth spring"], "damper": ["damper", "second damper"]}
    yield "outer", "outer spring", nest.outer
    counted = {"spring": 0, "damper": 0}
    for place, one in enumerate(nest.nested):
        called = names[one.kind]
        yield f"nested/{place}", called[min(counted[one.kind], len(called) - 1)], one
        counted[one.kind] += 1


def fit_faults(request: SpringFitRequest) -> Iterator[Pointed]:
    """What of a request contradicts itself."""
    yield from repeated_ids([nest.id for nest in request.nests], "/nests", "nest")
    for place, nest in enumerate(request.nests):
        for where, name, one in each_coil(nest):
            yield from _coil_faults(one, f"/nests/{place}/{where}", name)


def _coil_faults(one: OuterCoil | NestedCoil, pointer: str, name: str) -> Iterator[Pointed]:
    outside, inside, wire = (number_of(value) for value in (one.outside_diameter, one.inside_diameter, one.wire))
    if inside >= outside:
        detail = f"{name}: inside diameter {_say(inside)} must be below its outside diameter {_say(outside)}"
        yield Pointed(f"{pointer}/inside_diameter", detail)
    elif abs(outside - inside - 2.0 * wire) > DIAMETERS_AGREE.values[0]:
        detail = (
            f"{name}: diameters {_say(outside)} and {_say(inside)} leave {_say(0.5 * (outside - inside))} for the "
            f"wire, not {_say(wire)}; measure again"
        )
        yield Pointed(f"{pointer}/wire", detail)
    elif math.isnan(inside) and 2.0 * wire >= outside:
        yield Pointed(f"{pointer}/wire", f"{name}: twice its wire {_say(wire)} leaves no inside of {_say(outside)}")
    if number_of(one.pitch) < wire:
        detail = f"{name}: pitch {_say(number_of(one.pitch))} is below its wire {_say(wire)}; check both"
        yield Pointed(f"{pointer}/pitch", detail)
    coil = coil_of(one)
    if number_of(one.pitch) > 0.5 * (coil.outer_diameter + coil.inner_diameter):
        detail = f"{name}: pitch {_say(number_of(one.pitch))} is above its mean diameter; check both"
        yield Pointed(f"{pointer}/pitch", detail)
    if isinstance(one, NestedCoil) and number_of(one.gap_minimum) > number_of(one.gap_maximum):
        detail = f"{name}: the least gap must not be above the greatest; negative is interference"
        yield Pointed(f"{pointer}/gap_minimum", detail)


def _say(value: float) -> str:
    return say(value, "length")
