"""Coils of a dimensioned spring: where they close and bind, the stress in the wire, its surge."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final, Literal

import numpy as np
from msgspec import Meta

from headbench.api.springs.dimensions import (
    MATERIALS,
    CylinderCoils,
    DimensionedCurve,
    missing_dimensions,
    unusual_coils,
    wire_of,
)
from headbench.api.springs.spring import NestedSpring, Spring, each_spring
from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.names import SPRING_PLACES, WHICH_OF_NESTED, SpringPlace, named
from headbench.api.vocabulary.quantities import (
    Answer,
    Columns,
    CountOut,
    ForceOut,
    FrequencyOut,
    LengthOut,
    MassOut,
    RatioOut,
    StressOut,
    written,
)
from headbench.calc import FloatArray
from headbench.calc.coils.coils import DimensionedSpring
from headbench.calc.coils.materials import moduli, tensile_strength
from headbench.calc.coils.motion import surge_factor
from headbench.calc.coils.stability import critical_deflection, stable_free_height
from headbench.calc.coils.stress import (
    TORSIONAL_ULTIMATE,
    ZIMMERLI,
    Criterion,
    bergstraesser_factor,
    endurance_limit,
    fatigue_reserve,
    greatest_stress,
    static_reserve,
    wahl_factor,
)
from headbench.calc.valve_float.surge import surge_frequency

StressFactor = Literal["bergstraesser", "wahl"]
_FACTORS: Final[dict[StressFactor, Callable[[FloatArray], FloatArray]]] = {
    "bergstraesser": bergstraesser_factor,
    "wahl": wahl_factor,
}


class CoilClosing(Answer, kw_only=True, frozen=True):
    """Where the rate changes because coils close."""

    height: Annotated[LengthOut, Meta(description="Height at which the coils close.")]
    load: Annotated[ForceOut, Meta(description="Load there.")]


class CoilNumbers(Answer, kw_only=True, frozen=True):
    """What wire and coils give."""

    free_height: Annotated[LengthOut | None, Meta(description="Free height.")]
    coil_bind_height: Annotated[LengthOut | None, Meta(description="Coil-bind height by the dimensions.")]
    load_at_coil_bind: Annotated[ForceOut | None, Meta(description="Load at coil bind.")]
    active_mass: Annotated[MassOut | None, Meta(description="Mass of the active coils; null = no material given.")]
    total_mass: Annotated[MassOut | None, Meta(description="Mass of the spring; null = no material given.")]
    stress_at_seat: Annotated[StressOut | None, Meta(description="Highest shear stress at installed height.")]
    stress_at_open: Annotated[StressOut | None, Meta(description="Highest shear stress at full lift.")]
    stress_at_coil_bind: Annotated[StressOut | None, Meta(description="Highest shear stress at coil bind.")]
    tensile_strength: Annotated[
        StressOut | None, Meta(description="Tensile strength of the wire, from its certificate or the table.")
    ]
    torsional_yield_strength: Annotated[
        StressOut | None, Meta(description="Torsional yield strength of the wire before presetting.")
    ]
    stress_amplitude: Annotated[
        StressOut | None, Meta(description="Half the difference of the stresses at full lift and at the seat.")
    ]
    stress_mean: Annotated[StressOut | None, Meta(description="Mean of the stresses at full lift and at the seat.")]
    stable_free_height: Annotated[
        LengthOut | None,
        Meta(description="Free height below which it never buckles, ends held flat; null = not a cylinder."),
    ]
    buckling_height: Annotated[
        LengthOut | None, Meta(description="Height at which a cylinder buckles, ends held flat; null = never.")
    ]
    surge_frequency: Annotated[
        FrequencyOut | None,
        Meta(description="Lowest surge frequency at the installed height, both ends held, closed coils left out."),
    ]


class CoilLine(CoilNumbers, kw_only=True, frozen=True):
    """One spring known by its dimensions."""

    which_spring: Annotated[SpringPlace, WHICH_OF_NESTED]
    active_coils: Annotated[CountOut | None, Meta(description="Active coils.")]
    coil_closings: Annotated[
        list[CoilClosing], Meta(description="Where coils close, from tall to short, before coil bind.")
    ]
    yield_factor_at_coil_bind: Annotated[
        RatioOut | None,
        Meta(
            description="Torsional yield strength over stress at coil bind; 1.2 is usual (Shigley, 9th ed., "
            "2011, section 10-4)."
        ),
    ]
    fatigue_data: Annotated[
        Literal["zimmerli_unpeened", "zimmerli_peened"], Meta(description="Endurance limits used (Zimmerli, 1957).")
    ]
    fatigue_factor_goodman: Annotated[RatioOut | None, Meta(description="Fatigue safety factor (Goodman).")]
    fatigue_factor_gerber: Annotated[RatioOut | None, Meta(description="Fatigue safety factor (Gerber).")]


@dataclass(frozen=True, slots=True)
class Working:
    """The heights a spring works between, its own [m]; NaN where they are not known."""

    installed_height: float
    open_height: float


_NUMBERS = Columns(CoilNumbers)


def coil_line(
    place: int,
    curve: DimensionedCurve,
    spring: DimensionedSpring,
    working: Working,
    factor: StressFactor,
) -> CoilLine:
    """Everything the dimensions of one spring give, at the heights it works between."""
    wire = wire_of(curve)
    heights = np.array([working.installed_height, working.open_height, spring.coil_bind_height])
    seat, opened, bound = greatest_stress(spring, heights, wire, _FACTORS[factor]).tolist()
    amplitude, mean = 0.5 * (opened - seat), 0.5 * (opened + seat)
    ultimate, elastic, yields = np.nan, np.nan, np.nan
    # the thinner size of ovate wire stands for the diameter a table goes by
    diameter = np.array([min(wire.radial, wire.axial)])
    certificate = curve.certificate_tensile_strength
    if certificate is not None:
        ultimate = certificate
    if curve.material is not None:
        material = MATERIALS[curve.material]
        found = tensile_strength(material, diameter, np.array([ultimate]))
        ultimate, elastic = float(found.strength[0]), float(moduli(material, diameter).elastic[0])
        yields = ultimate * material.torsional_yield_share / 100.0
    stable, buckling = np.nan, np.nan
    if isinstance(curve.shape, CylinderCoils):
        mean_diameter = curve.shape.mean_diameter
        shear = curve.shear_modulus
        stable, buckling = _buckling(spring.free_height, mean_diameter, elastic, shear)
    rate = spring.rate_at(heights[:1])
    surge = surge_factor(spring, heights[:1]) * surge_frequency(rate, np.array([spring.active_mass]))
    numbers = {
        "free_height": spring.free_height,
        "coil_bind_height": spring.coil_bind_height,
        "load_at_coil_bind": spring.load_at_coil_bind,
        "active_mass": spring.active_mass,
        "total_mass": spring.total_mass,
        "stress_at_seat": seat,
        "stress_at_open": opened,
        "stress_at_coil_bind": bound,
        "tensile_strength": ultimate,
        "torsional_yield_strength": yields,
        "stress_amplitude": amplitude,
        "stress_mean": mean,
        "stable_free_height": stable,
        "buckling_height": buckling,
        "surge_frequency": float(surge[0]),
    }
    return CoilLine(
        which_spring=SPRING_PLACES[place],
        active_coils=spring.active_coils,
        coil_closings=_coil_closings(spring),
        yield_factor_at_coil_bind=written(static_reserve(np.array([yields]), np.array([bound])))[0],
        fatigue_data="zimmerli_peened" if curve.peened else "zimmerli_unpeened",
        fatigue_factor_goodman=_fatigue(amplitude, mean, ultimate, "goodman", peened=curve.peened),
        fatigue_factor_gerber=_fatigue(amplitude, mean, ultimate, "gerber", peened=curve.peened),
        **_NUMBERS.rows({name: np.array([value]) for name, value in numbers.items()})[0],
    )


def _buckling(free_height: float, mean_diameter: float, elastic: float, shear: float) -> tuple[float, float]:
    """Greatest stable free height, and the height at which this spring buckles [m]."""
    # a G above E belongs to no steel; such a spring has no stable height to give
    if np.isnan(elastic) or elastic <= shear:
        return np.nan, np.nan
    known = np.array([mean_diameter]), np.array([elastic]), np.array([shear])
    deflection = critical_deflection(np.array([free_height]), *known, "both ends fixed")
    height = np.where(np.isinf(deflection), np.nan, free_height - deflection)
    return float(stable_free_height(*known, "both ends fixed")[0]), float(height[0])


def _fatigue(amplitude: float, mean: float, ultimate: float, criterion: Criterion, *, peened: bool) -> float | None:
    limits = ZIMMERLI["peened" if peened else "unpeened"]
    torsional = np.array([TORSIONAL_ULTIMATE * ultimate])
    if not amplitude > 0.0 or np.isnan(ultimate):
        return None
    endurance = endurance_limit(limits, torsional, criterion)
    reserve = fatigue_reserve(np.array([amplitude]), np.array([mean]), endurance, torsional, criterion)
    answered: float | None = written(reserve)[0]
    return answered


def _coil_closings(spring: DimensionedSpring) -> list[CoilClosing]:
    heights = written(spring.coil_closing_height)
    loads = written(spring.coil_closing_load)
    return [CoilClosing(height=height, load=load) for height, load in zip(heights, loads, strict=True)]


def open_materials(springs: Sequence[Spring]) -> Iterator[OpenItem]:
    """What waits for the material of a wire."""
    for spring, pointer, one in each_spring(springs):
        if isinstance(one.load_curve, DimensionedCurve) and one.load_curve.material is None:
            yield OpenItem(
                pointer=f"{pointer}/load_curve/material",
                position=None,
                spring=spring.id,
                needed_for=[
                    "total_mass",
                    "active_mass",
                    "surge_frequency",
                    "tensile_strength",
                    "torsional_yield_strength",
                    "yield_factor_at_coil_bind",
                    "fatigue_factor_goodman",
                    "fatigue_factor_gerber",
                ],
                detail=f"{named(spring.id, pointer)}: enter the material of its wire.",
            )


def coil_notes(pointer: str, spring: Spring, curve: DimensionedCurve) -> Iterator[Note]:
    """What is odd about dimensions, and about the table used for them."""
    if any(missing_dimensions(curve)):
        return
    for sentence in unusual_coils(curve):
        yield note("unusual_coils", f"{pointer}/load_curve/shape", f"{named(spring.id, pointer)}: {sentence}.")
    if curve.material is None or curve.certificate_tensile_strength is not None:
        return
    wire = wire_of(curve)
    found = tensile_strength(MATERIALS[curve.material], np.array([min(wire.radial, wire.axial)]))
    if not found.inside_limits[0]:
        detail = (
            f"{named(spring.id, pointer)}: the wire is outside the diameters the table of "
            f"{MATERIALS[curve.material].name} covers; enter the tensile strength of its certificate."
        )
        yield note("outside_table", f"{pointer}/load_curve/material", detail)


def dimensioned(spring: Spring) -> Sequence[tuple[int, Spring | NestedSpring, DimensionedCurve]]:
    """The springs of one valve that are known by their dimensions, with their places."""
    every: tuple[Spring | NestedSpring, ...] = (spring, *spring.nested)
    return [
        (place, one, one.load_curve) for place, one in enumerate(every) if isinstance(one.load_curve, DimensionedCurve)
    ]
