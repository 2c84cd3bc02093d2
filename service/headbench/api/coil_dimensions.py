"""Coil dimensions: a spring known by its wire and its coils."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Annotated, Final, Literal

import numpy as np
from msgspec import Meta

from headbench.api.quantities import Columns, Model, Name, PositiveLength, PositiveStress, say
from headbench.calc import spring_shapes as shapes
from headbench.calc.spring_coils import DimensionedSpring, dimensioned_spring
from headbench.calc.spring_shapes import CoilProfile, find_coil_faults
from headbench.calc.spring_wire import EndType, active_coils, uniform_pitch
from headbench.calc.spring_wire import Wire as CalcWire
from headbench.calc.wire_materials import WIRE_MATERIALS, WireMaterial
from headbench.errors import Pointed
from headbench.units import Scales

Coils = Annotated[float, Meta(ge=0.1, le=100.0)]
Turn = Annotated[float, Meta(ge=0.0, le=100.0)]
Ends = Literal["plain", "plain_and_ground", "squared", "squared_and_ground"]
Material = Literal[
    "music_wire",
    "oil_tempered_wire",
    "hard_drawn_wire",
    "carbon_valve_spring_wire",
    "chrome_vanadium_wire",
    "chrome_silicon_wire",
    "302_stainless_wire",
]

MATERIALS: Final[Mapping[Material, WireMaterial]] = MappingProxyType(
    {key: WIRE_MATERIALS[name] for key, name in zip(Material.__args__, WIRE_MATERIALS, strict=True)}  # type: ignore[attr-defined] # a Literal's members
)
_ENDS: Final[Mapping[Ends, EndType]] = MappingProxyType(
    {
        "plain": "plain",
        "plain_and_ground": "plain and ground",
        "squared": "squared",
        "squared_and_ground": "squared and ground",
    }
)
_MEAN = "Mean diameter of the coils: the outside one less the wire."


class RoundWire(Model, tag_field="kind", tag="round", kw_only=True, frozen=True):
    """Round wire."""

    diameter: Annotated[PositiveLength, Meta(description="Diameter of the wire.")]


class OvateWire(Model, tag_field="kind", tag="ovate", kw_only=True, frozen=True):
    """Egg-shaped wire, taken as the ellipse with its two sizes."""

    radial: Annotated[PositiveLength, Meta(description="Size across the axis of the spring.")]
    axial: Annotated[PositiveLength, Meta(description="Size along the axis of the spring.")]


class CylinderCoils(Model, tag_field="kind", tag="cylinder", kw_only=True, frozen=True):
    """Coils of one diameter and one pitch."""

    mean_diameter: Annotated[PositiveLength, Meta(description=_MEAN)]


class ConeCoils(Model, tag_field="kind", tag="cone", kw_only=True, frozen=True):
    """Coils whose diameter changes evenly, of one pitch."""

    first_mean_diameter: Annotated[PositiveLength, Meta(description="Mean diameter where the active coils begin.")]
    last_mean_diameter: Annotated[PositiveLength, Meta(description="Mean diameter where they end.")]


class BeehiveCoils(Model, tag_field="kind", tag="beehive", kw_only=True, frozen=True):
    """A cylinder that runs into a cone, of one pitch."""

    mean_diameter: Annotated[PositiveLength, Meta(description="Mean diameter of the cylinder.")]
    small_mean_diameter: Annotated[PositiveLength, Meta(description="Mean diameter where the cone ends.")]
    tapered_coils: Annotated[Coils, Meta(description="Active coils of the cone; the others are the cylinder's.")]


class PitchStretch(Model, kw_only=True, frozen=True):
    """Active coils of one pitch."""

    coils: Annotated[Coils, Meta(description="How many active coils.")]
    pitch: Annotated[PositiveLength, Meta(description="Rise per turn, spring free.")]


class ProgressiveCoils(Model, tag_field="kind", tag="progressive", kw_only=True, frozen=True):
    """Coils of one diameter whose pitch changes from stretch to stretch."""

    mean_diameter: Annotated[PositiveLength, Meta(description=_MEAN)]
    stretches: Annotated[
        list[PitchStretch], Meta(min_length=1, max_length=20, description="From one end of the spring to the other.")
    ]


class CoilPoint(Model, kw_only=True, frozen=True):
    """The coils at one place along the wire."""

    turn: Annotated[Turn, Meta(description="Turns from the first active end.")]
    mean_diameter: Annotated[PositiveLength, Meta(description=_MEAN)]
    pitch: Annotated[PositiveLength, Meta(description="Rise per turn there, spring free.")]


class TableCoils(Model, tag_field="kind", tag="table", kw_only=True, frozen=True):
    """Coils of any shape, straight between the places given."""

    points: Annotated[
        list[CoilPoint],
        Meta(min_length=2, max_length=24, description="From turn 0 on; the same turn twice makes a step."),
    ]


class DimensionedCurve(Model, tag_field="kind", tag="dimensioned", kw_only=True, frozen=True):
    """Load from wire and coils. It is no proof: a check on such a load stays not_measured.

    On real springs a load reckoned from the free height comes out 4 to 12 % low between working heights; where there
    are readings, use them.
    """

    wire: RoundWire | OvateWire
    shape: CylinderCoils | ConeCoils | BeehiveCoils | ProgressiveCoils | TableCoils
    ends: Annotated[Ends, Meta(description="How the ends are finished.")]
    total_coils: Annotated[Coils | None, Meta(description="All coils, dead ones too; null: not counted.")] = None
    active_coils: Annotated[
        Coils | None, Meta(description="Active coils, where they are known; null: total_coils less those dead by ends.")
    ] = None
    free_height: Annotated[
        PositiveLength | None,
        Meta(description="Height without load; null: not measured, or given by the pitches of the shape."),
    ] = None
    shear_modulus: Annotated[PositiveStress, Meta(description="G of the wire; sources differ by several percent.")]
    shear_modulus_source: Annotated[Name, Meta(description="Where that G comes from.")]
    telescoping: Annotated[bool, Meta(description="True: the coils of a taper may slip past each other.")] = False
    material: Annotated[
        Material | None, Meta(description="For strength, mass and surge; null: those are left out.")
    ] = None
    certificate_tensile_strength: Annotated[
        PositiveStress | None, Meta(description="Tensile strength on the wire's certificate; overrides the table.")
    ] = None
    peened: Annotated[bool, Meta(description="True: shot-peened wire, with the endurance limits of such.")] = False


_WIRE = {RoundWire: Columns(RoundWire), OvateWire: Columns(OvateWire)}
_SHAPE = {
    CylinderCoils: Columns(CylinderCoils),
    ConeCoils: Columns(ConeCoils),
    BeehiveCoils: Columns(BeehiveCoils),
    ProgressiveCoils: Columns(ProgressiveCoils),
}
_STRETCH = Columns(PitchStretch)
_POINT = Columns(CoilPoint)
_CURVE = Columns(DimensionedCurve)
CERTIFIED: Final = (700e6, 4000e6)
"""Tensile strengths that spring wire is made with [Pa]; common practice, no source."""


def _numbers(one: Model, columns: Columns[Model], scales: Scales) -> dict[str, float]:
    return {name: float(column[0]) for name, column in columns.to_si([one], scales).items()}


def wire_of(curve: DimensionedCurve, scales: Scales) -> CalcWire:
    """The wire in SI."""
    sizes = _numbers(curve.wire, _WIRE[type(curve.wire)], scales)  # type: ignore[arg-type] # a Columns of that very type
    if isinstance(curve.wire, RoundWire):
        return CalcWire(radial=sizes["diameter"], axial=sizes["diameter"])
    return CalcWire(**sizes)


def coils_of(curve: DimensionedCurve) -> float:
    """Active coils; NaN where they were neither counted nor given."""
    match curve.shape:
        case ProgressiveCoils():
            return sum(stretch.coils for stretch in curve.shape.stretches)
        case TableCoils():
            return curve.shape.points[-1].turn
    if curve.active_coils is not None:
        return curve.active_coils
    return np.nan if curve.total_coils is None else active_coils(curve.total_coils, _ENDS[curve.ends])


def profile_of(curve: DimensionedCurve, scales: Scales) -> CoilProfile:
    """The coils in SI; NaN where a number they need was not taken."""
    shape, wire, coils = curve.shape, wire_of(curve, scales), coils_of(curve)
    if isinstance(shape, TableCoils):
        table = _POINT.to_si(shape.points, scales)
        # a place a billionth of a turn further is the same place
        turns = np.round([point.turn for point in shape.points], 9)
        return shapes.coil_table(turns, table["mean_diameter"], table["pitch"])
    sizes = _numbers(shape, _SHAPE[type(shape)], scales)  # type: ignore[arg-type] # a Columns of that very type
    if isinstance(shape, ProgressiveCoils):
        pitches = _STRETCH.to_si(shape.stretches, scales)["pitch"]
        diameters = [sizes["mean_diameter"]] * len(pitches)
        return shapes.stretches([stretch.coils for stretch in shape.stretches], diameters, diameters, pitches.tolist())
    free_height = _numbers(curve, _CURVE, scales)["free_height"]  # type: ignore[arg-type] # likewise
    pitch = uniform_pitch(free_height, coils, _ENDS[curve.ends], wire)
    match shape:
        case CylinderCoils():
            return shapes.cylinder(sizes["mean_diameter"], coils, pitch)
        case ConeCoils():
            return shapes.cone(sizes["first_mean_diameter"], sizes["last_mean_diameter"], coils, pitch)
        case BeehiveCoils():
            large, small = sizes["mean_diameter"], sizes["small_mean_diameter"]
            return shapes.beehive(large, small, coils - shape.tapered_coils, shape.tapered_coils, pitch)


def missing_dimensions(curve: DimensionedCurve) -> Iterator[tuple[str, str]]:
    """The numbers without which there is no load: field, and what to do about it."""
    if isinstance(curve.shape, ProgressiveCoils | TableCoils):
        return
    if curve.free_height is None:
        yield "free_height", "measure its height without load."
    if curve.total_coils is None and curve.active_coils is None:
        yield "total_coils", "count its coils."


def dimensioned_to_si(curve: DimensionedCurve, scales: Scales) -> DimensionedSpring | None:
    """The spring, or None where a number it needs was not taken; masses are NaN without a material."""
    if any(missing_dimensions(curve)):
        return None
    density = np.nan if curve.material is None else MATERIALS[curve.material].density
    return dimensioned_spring(
        profile_of(curve, scales),
        wire_of(curve, scales),
        _ENDS[curve.ends],
        curve.shear_modulus * scales["stress"].factor,
        density,
        telescoping=curve.telescoping,
    )


def dimension_faults(curve: DimensionedCurve, pointer: str, scales: Scales) -> Iterator[Pointed]:
    """Dimensions that cannot all be true."""
    shape = curve.shape
    if isinstance(shape, ProgressiveCoils | TableCoils):
        for field in ("free_height", "active_coils"):
            if getattr(curve, field) is not None:
                detail = f"the pitches of the shape give the {field.replace('_', ' ')} already; leave it out"
                yield Pointed(f"{pointer}/{field}", detail)
    certificate = curve.certificate_tensile_strength
    if certificate is not None and not CERTIFIED[0] <= certificate * scales["stress"].factor <= CERTIFIED[1]:
        low, high = (say(limit, "stress", scales) for limit in CERTIFIED)
        detail = f"spring wire has {low} to {high}; check the unit of the certificate"
        yield Pointed(f"{pointer}/certificate_tensile_strength", detail)
    if isinstance(shape, TableCoils) and shape.points[0].turn != 0.0:
        yield Pointed(f"{pointer}/shape/points/0/turn", "the first place must be at turn 0")
        return
    if any(missing_dimensions(curve)):
        return
    coils = coils_of(curve)
    if coils <= 0.0:
        yield Pointed(f"{pointer}/total_coils", "with these ends no active coil is left")
        return
    if isinstance(shape, BeehiveCoils) and shape.tapered_coils > coils:
        detail = f"the cone alone has {shape.tapered_coils:g} active coils, the whole spring {coils:g}"
        yield Pointed(f"{pointer}/shape/tapered_coils", detail)
        return
    yield from _coil_faults(curve, pointer, coils, scales)


def _coil_faults(curve: DimensionedCurve, pointer: str, coils: float, scales: Scales) -> Iterator[Pointed]:
    wire, profile = wire_of(curve, scales), profile_of(curve, scales)
    total = np.nan if curve.total_coils is None else curve.total_coils
    found = find_coil_faults(profile, wire, total, telescoping=curve.telescoping)
    kinds = [kind for kind, _ in found]
    table = isinstance(curve.shape, TableCoils)
    for kind, place in found:
        where = f"{pointer}/shape/points/{place}" if table and place >= 0 else f"{pointer}/shape"
        match kind:
            case "no bore":
                size = say(2.0 * float(profile.radius[place]), "length", scales)
                detail = f"the wire is as thick as its coil is wide: {size} mean diameter leaves no bore"
                yield Pointed(where, detail)
            case "no gap" if "no travel" not in kinds:
                yield Pointed(where, "coils touch or overlap in the free spring")
            case "no travel":
                free = f"{pointer}/free_height" if curve.free_height is not None else f"{pointer}/shape"
                yield Pointed(free, "the free height is not above the coil-bind height these coils have")
            case "too many active coils":
                field = "shape" if isinstance(curve.shape, ProgressiveCoils | TableCoils) else "active_coils"
                detail = f"{coils:g} active coils are more than the {total:g} coils there are"
                yield Pointed(f"{pointer}/{field}", detail)
            case "does not telescope" if place < 0:
                yield Pointed(f"{pointer}/telescoping", "coils of one diameter cannot slip past each other")
            case "falls":
                yield Pointed(f"{where}/turn", "the turns run backwards after this place")


def unusual_coils(curve: DimensionedCurve, scales: Scales) -> Iterator[str]:
    """What is odd about the dimensions, in sentences; none of it stops the arithmetic."""
    found = find_coil_faults(profile_of(curve, scales), wire_of(curve, scales), np.nan, telescoping=curve.telescoping)
    kinds = {kind for kind, _ in found}
    if "index" in kinds:
        low, high = shapes.USUAL_INDEX
        yield f"mean diameter over wire is outside {low:g} to {high:g}; such coils are rarely wound"
    if "does not telescope" in kinds:
        yield "the taper per turn is less than the wire, so its coils slip past each other only in part"
