"""Coil dimensions: a spring known by its wire and its coils."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Annotated, Final, Literal

import numpy as np
from msgspec import Meta

from headbench.api.vocabulary.quantities import Columns, Model, Name, PositiveLength, PositiveStress
from headbench.api.vocabulary.saying import say
from headbench.calc.coils import shapes
from headbench.calc.coils.coils import DimensionedSpring, dimensioned_spring
from headbench.calc.coils.materials import WIRE_MATERIALS, WireMaterial
from headbench.calc.coils.shapes import CoilProfile, find_coil_faults
from headbench.calc.coils.wire import EndType, active_coils, round_wire, uniform_pitch
from headbench.calc.coils.wire import Wire as CalcWire
from headbench.errors import Pointed

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
    "stainless_302_wire",
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
_MEAN = Meta(description="Mean coil diameter: outside diameter less the wire.", examples=[1.1])


class RoundWire(Model, tag_field="kind", tag="round", kw_only=True, frozen=True):
    """Round wire."""

    diameter: Annotated[PositiveLength, Meta(description="Wire diameter.", examples=[0.177])]


class OvateWire(Model, tag_field="kind", tag="ovate", kw_only=True, frozen=True):
    """Ovate (egg-shaped) wire, taken as an ellipse of the two sizes."""

    radial: Annotated[PositiveLength, Meta(description="Size across the spring axis.", examples=[0.19])]
    axial: Annotated[PositiveLength, Meta(description="Size along the spring axis.", examples=[0.16])]


class CylinderCoils(Model, tag_field="kind", tag="cylinder", kw_only=True, frozen=True):
    """Coils of one diameter and one pitch."""

    mean_diameter: Annotated[PositiveLength, _MEAN]


class ConeCoils(Model, tag_field="kind", tag="cone", kw_only=True, frozen=True):
    """A conical spring of one pitch: the diameter changes evenly."""

    seat_mean_diameter: Annotated[
        PositiveLength, Meta(description="Mean coil diameter at the spring seat.", examples=[1.2])
    ]
    retainer_mean_diameter: Annotated[
        PositiveLength, Meta(description="Mean coil diameter at the retainer.", examples=[0.8])
    ]


class BeehiveCoils(Model, tag_field="kind", tag="beehive", kw_only=True, frozen=True):
    """A beehive of one pitch: a cylinder that tapers toward the retainer."""

    mean_diameter: Annotated[PositiveLength, Meta(description="Mean coil diameter of the cylinder.", examples=[1.1])]
    small_mean_diameter: Annotated[
        PositiveLength, Meta(description="Mean coil diameter at the retainer.", examples=[0.85])
    ]
    tapered_coils: Annotated[
        Coils, Meta(description="Active coils that taper; the rest are cylindrical.", examples=[1.5])
    ]


class PitchStretch(Model, kw_only=True, frozen=True):
    """Active coils of one pitch."""

    coils: Annotated[Coils, Meta(description="How many active coils.", examples=[2.0])]
    pitch: Annotated[PositiveLength, Meta(description="Pitch of the free spring.", examples=[0.24])]


class ProgressiveCoils(Model, tag_field="kind", tag="progressive", kw_only=True, frozen=True):
    """A progressive spring: coils of one diameter, the pitch changes from stretch to stretch."""

    mean_diameter: Annotated[PositiveLength, _MEAN]
    stretches: Annotated[
        list[PitchStretch],
        Meta(
            min_length=1,
            max_length=20,
            description="Stretches from the spring seat to the retainer.",
            examples=[[{"coils": 2, "pitch": 0.24}, {"coils": 3, "pitch": 0.32}]],
        ),
    ]


class CoilPoint(Model, kw_only=True, frozen=True):
    """The coils at one place along the wire."""

    turn: Annotated[Turn, Meta(description="Active turns up from the spring seat.", examples=[0.0])]
    mean_diameter: Annotated[PositiveLength, _MEAN]
    pitch: Annotated[PositiveLength, Meta(description="Pitch of the free spring there.", examples=[0.3])]


class TableCoils(Model, tag_field="kind", tag="table", kw_only=True, frozen=True):
    """Coils of any shape, straight between the places given."""

    points: Annotated[
        list[CoilPoint],
        Meta(
            min_length=2,
            max_length=24,
            description="Points from turn 0 at the spring seat to the retainer; the same turn twice makes a step.",
            examples=[
                [
                    {"turn": 0, "mean_diameter": 1.1, "pitch": 0.3},
                    {"turn": 4.5, "mean_diameter": 0.85, "pitch": 0.3},
                ]
            ],
        ),
    ]


class DimensionedCurve(Model, tag_field="kind", tag="dimensioned", kw_only=True, frozen=True):
    """Load calculated from wire and coils. A check on such a load is never accepted: it was not tested.

    On the few valve springs compared (from memory) a load figured from the free height came out 4 to 12 % low between
    working heights; yours may differ. Test it.
    """

    wire: Annotated[RoundWire | OvateWire, Meta(description="Wire.", examples=[{"kind": "round", "diameter": 0.177}])]
    shape: Annotated[
        CylinderCoils | ConeCoils | BeehiveCoils | ProgressiveCoils | TableCoils,
        Meta(description="Shape of the active coils.", examples=[{"kind": "cylinder", "mean_diameter": 1.1}]),
    ]
    ends: Annotated[Ends, Meta(description="How the ends are finished.", examples=["squared_and_ground"])]
    total_coils: Annotated[
        Coils | None, Meta(description="Total coils, dead ones too; null = not measured.", examples=[6.5])
    ] = None
    active_coils: Annotated[
        Coils | None,
        Meta(
            description="Active coils; null = not given (total_coils less the dead ones of the ends).", examples=[4.5]
        ),
    ] = None
    free_height: Annotated[
        PositiveLength | None,
        Meta(description="Free height; null = not measured, or given by the pitches of the shape.", examples=[2.1]),
    ] = None
    shear_modulus: Annotated[
        PositiveStress,
        Meta(description="Shear modulus G of the wire; sources differ by several percent.", examples=[11.5e6]),
    ]
    shear_modulus_source: Annotated[
        Name, Meta(description="Where that G comes from.", examples=["handbook value for chrome-silicon wire"])
    ]
    telescoping: Annotated[bool, Meta(description="True: coils may nest.", examples=[False])] = False
    material: Annotated[
        Material | None,
        Meta(
            description="Wire material, for strength, mass and surge; null = not given.",
            examples=["chrome_silicon_wire"],
        ),
    ] = None
    certificate_tensile_strength: Annotated[
        PositiveStress | None,
        Meta(
            description="Tensile strength on the wire's certificate, used instead of the table; null = not given.",
            examples=[280e3],
        ),
    ] = None
    peened: Annotated[bool, Meta(description="True: shot-peened.", examples=[True])] = False


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
_KSI: Final = 6.894757293168361e6
CERTIFIED: Final = (100.0 * _KSI, 580.0 * _KSI)
"""Tensile strengths that spring wire is made with [Pa]; common practice, no source."""


def _numbers(one: Model, columns: Columns[Model]) -> dict[str, float]:
    return {name: float(column[0]) for name, column in columns.of([one]).items()}


def wire_of(curve: DimensionedCurve) -> CalcWire:
    """The wire."""
    sizes = _numbers(curve.wire, _WIRE[type(curve.wire)])  # type: ignore[arg-type] # a Columns of that very type
    if isinstance(curve.wire, RoundWire):
        return round_wire(**sizes)
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


def profile_of(curve: DimensionedCurve) -> CoilProfile:
    """The coils; NaN where a number they need was not taken."""
    shape, wire, coils = curve.shape, wire_of(curve), coils_of(curve)
    if isinstance(shape, TableCoils):
        table = _POINT.of(shape.points)
        # a place a billionth of a turn further is the same place
        turns = np.round([point.turn for point in shape.points], 9)
        return shapes.coil_table(turns, table["mean_diameter"], table["pitch"])
    sizes = _numbers(shape, _SHAPE[type(shape)])  # type: ignore[arg-type] # a Columns of that very type
    if isinstance(shape, ProgressiveCoils):
        pitches = _STRETCH.of(shape.stretches)["pitch"]
        diameters = [sizes["mean_diameter"]] * len(pitches)
        return shapes.stretches([stretch.coils for stretch in shape.stretches], diameters, diameters, pitches.tolist())
    free_height = _numbers(curve, _CURVE)["free_height"]  # type: ignore[arg-type] # likewise
    pitch = uniform_pitch(free_height, coils, _ENDS[curve.ends], wire)
    match shape:
        case CylinderCoils():
            return shapes.cylinder(sizes["mean_diameter"], coils, pitch)
        case ConeCoils():
            return shapes.cone(sizes["seat_mean_diameter"], sizes["retainer_mean_diameter"], coils, pitch)
        case BeehiveCoils():
            large, small = sizes["mean_diameter"], sizes["small_mean_diameter"]
            return shapes.beehive(large, small, coils - shape.tapered_coils, shape.tapered_coils, pitch)


def missing_dimensions(curve: DimensionedCurve) -> Iterator[tuple[str, str]]:
    """The numbers without which there is no load: field, and what to do about it."""
    if isinstance(curve.shape, ProgressiveCoils | TableCoils):
        return
    if curve.free_height is None:
        yield "free_height", "measure its free height."
    if curve.total_coils is None and curve.active_coils is None:
        yield "total_coils", "count its coils, dead ones too."


def spring_of(curve: DimensionedCurve) -> DimensionedSpring | None:
    """The spring, or None where a number it needs was not taken; masses are NaN without a material."""
    if any(missing_dimensions(curve)):
        return None
    density = np.nan if curve.material is None else MATERIALS[curve.material].density
    return dimensioned_spring(
        profile_of(curve),
        wire_of(curve),
        _ENDS[curve.ends],
        curve.shear_modulus,
        density,
        telescoping=curve.telescoping,
    )


def dimension_faults(curve: DimensionedCurve, pointer: str) -> Iterator[Pointed]:
    """Dimensions that cannot all be true."""
    shape = curve.shape
    if isinstance(shape, ProgressiveCoils | TableCoils):
        for field in ("free_height", "active_coils"):
            if getattr(curve, field) is not None:
                detail = f"the pitches of the shape already give the {field.replace('_', ' ')}; leave it out"
                yield Pointed(f"{pointer}/{field}", detail)
    certificate = curve.certificate_tensile_strength
    if certificate is not None and not CERTIFIED[0] <= certificate <= CERTIFIED[1]:
        low, high = (say(limit, "stress") for limit in CERTIFIED)
        detail = f"spring wire runs {low.split()[0]} to {high}; check the unit of the certificate"
        yield Pointed(f"{pointer}/certificate_tensile_strength", detail)
    if isinstance(shape, TableCoils) and shape.points[0].turn != 0.0:
        yield Pointed(f"{pointer}/shape/points/0/turn", "the first point must be at turn 0")
        return
    if any(missing_dimensions(curve)):
        return
    coils = coils_of(curve)
    if coils <= 0.0:
        yield Pointed(f"{pointer}/total_coils", "these ends leave no active coil; check the count and the ends")
        return
    if isinstance(shape, BeehiveCoils) and shape.tapered_coils > coils:
        detail = (
            f"{turns(shape.tapered_coils)} tapered coils are more than the {turns(coils)} active coils of the spring; "
            "check both"
        )
        yield Pointed(f"{pointer}/shape/tapered_coils", detail)
        return
    # both ends of a stretch can have one fault
    yield from dict.fromkeys(_coil_faults(curve, pointer, coils))


def _coil_faults(curve: DimensionedCurve, pointer: str, coils: float) -> Iterator[Pointed]:
    wire, profile = wire_of(curve), profile_of(curve)
    total = np.nan if curve.total_coils is None else curve.total_coils
    found = find_coil_faults(profile, wire, total, telescoping=curve.telescoping)
    kinds = [kind for kind, _ in found]
    table = isinstance(curve.shape, TableCoils)
    for kind, place in found:
        where = f"{pointer}/shape/points/{place}" if table and place >= 0 else f"{pointer}/shape"
        match kind:
            case "no bore":
                size = say(2.0 * float(profile.radius[place]), "length")
                detail = f"mean diameter {size} must be more than the wire"
                yield Pointed(where, detail)
            case "no gap" if "no travel" not in kinds:
                yield Pointed(where, "coils touch or overlap in the free spring; check pitch and wire")
            case "no travel":
                pitched = isinstance(curve.shape, ProgressiveCoils | TableCoils)
                free = f"{pointer}/shape" if pitched else f"{pointer}/free_height"
                yield Pointed(free, "free height must be more than coil-bind height, wire times coils")
            case "too many active coils":
                field = "shape" if isinstance(curve.shape, ProgressiveCoils | TableCoils) else "active_coils"
                detail = f"{turns(coils)} active coils are more than the {turns(total)} total coils; check both"
                yield Pointed(f"{pointer}/{field}", detail)
            case "does not telescope" if place < 0:
                yield Pointed(f"{pointer}/telescoping", "coils of one diameter can't nest; set telescoping to false")
            case "falls":
                yield Pointed(f"{where}/turn", "turns must increase from point to point")


def turns(count: float) -> str:
    """A count of coils as a sentence has it, to a hundredth.

    >>> turns(0.220251), turns(4.5)
    ('0.22', '4.5')
    """
    return f"{round(count, 2):g}"


def unusual_coils(curve: DimensionedCurve) -> Iterator[str]:
    """What is odd about the dimensions, in sentences; none of it stops the arithmetic."""
    found = find_coil_faults(profile_of(curve), wire_of(curve), np.nan, telescoping=curve.telescoping)
    kinds = {kind for kind, _ in found}
    if "index" in kinds:
        low, high = shapes.USUAL_INDEX
        yield f"spring index (mean diameter over wire) is outside the usual {low:g} to {high:g}; check both"
    if "does not telescope" in kinds:
        yield "the taper per turn is less than the wire, so the coils nest only in part"
