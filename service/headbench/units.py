"""Units: the closed lists a caller may choose from, and their factors to base SI.

The only module that imports pint. Every factor is worked out by pint from names written here; no text of a
caller ever reaches its parser. The factors are kept beside this module in factors.json (`make factors` writes it,
a test compares every one), because pint takes longer to load than all calculations together.

A *quantity* is a dimension as the schema names it in `x-quantity`. Six of them have units to
choose; the others either follow from those (a rate is a force per length) or are fixed.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import product
from pathlib import Path
from types import MappingProxyType
from typing import Final, Literal, get_args

LengthUnit = Literal["in", "mm"]
ForceUnit = Literal["lbf", "N", "kgf"]
MassUnit = Literal["g", "kg", "oz", "lb"]
VolumeUnit = Literal["cm3", "in3"]
StressUnit = Literal["psi", "ksi", "MPa"]
PressureUnit = Literal["psi", "kPa", "bar"]

CHOICES: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "length": get_args(LengthUnit),
        "force": get_args(ForceUnit),
        "mass": get_args(MassUnit),
        "volume": get_args(VolumeUnit),
        "stress": get_args(StressUnit),
        "pressure": get_args(PressureUnit),
    }
)

# quantity -> (name shown, pint expression), both built from the chosen units
DERIVED: Final[Mapping[str, tuple[str, str]]] = MappingProxyType(
    {
        "rate": ("{force}/{length}", "{force}/{length}"),
        "area": ("{length}2", "{length}**2"),
        "volume_per_length": ("{volume}/{length}", "{volume}/{length}"),
        "inertia": ("{mass} {length}2", "{mass}*{length}**2"),
        "lift_area": ("{length} deg", "{length}*degree"),
        "lift_velocity": ("{length}/deg", "{length}/degree"),
        "lift_acceleration": ("{length}/deg2", "{length}/degree**2"),
        "lift_jerk": ("{length}/deg3", "{length}/degree**3"),
    }
)

# quantity -> (name shown, pint expression), the same for every caller
FIXED: Final[Mapping[str, tuple[str, str]]] = MappingProxyType(
    {
        "angle": ("deg", "degree"),
        "speed": ("rpm", "revolution/minute"),
        "frequency": ("Hz", "hertz"),
        "time": ("s", "second"),
    }
)

_SI: Final = {
    "length": "meter",
    "force": "newton",
    "mass": "kilogram",
    "volume": "meter**3",
    "stress": "pascal",
    "pressure": "pascal",
    "rate": "newton/meter",
    "area": "meter**2",
    "volume_per_length": "meter**2",
    "angle": "radian",
    "speed": "radian/second",
    "frequency": "hertz",
    "time": "second",
    "inertia": "kilogram*meter**2",
    "lift_area": "meter*radian",
    "lift_velocity": "meter/radian",
    "lift_acceleration": "meter/radian**2",
    "lift_jerk": "meter/radian**3",
}
_PINT_NAME: Final = {
    "in": "inch",
    "lbf": "pound_force",
    "N": "newton",
    "kgf": "kilogram_force",
    "g": "gram",
    "kg": "kilogram",
    "oz": "ounce",
    "lb": "pound",
    "mm": "millimeter",
    "cm3": "centimeter**3",
    "in3": "inch**3",
    "psi": "psi",
    "ksi": "ksi",
    "MPa": "megapascal",
    "kPa": "kilopascal",
    "bar": "bar",
}


@dataclass(frozen=True, slots=True)
class Scale:
    """How one quantity is written: SI value = written * factor."""

    quantity: str
    unit: str
    factor: float

    def to_si(self, written: float) -> float:
        """The value in base SI."""
        return written * self.factor

    def from_si(self, value: float) -> float:
        """The value as written in this unit, unrounded."""
        return value / self.factor


@dataclass(frozen=True, slots=True)
class Places:
    """Decimals a bench reads in a unit: `most` it can tell, `least` it always writes."""

    most: int
    least: int = 0


_PLACES: Final[Mapping[str, Places]] = MappingProxyType(
    {
        "in": Places(4, 3),
        "mm": Places(3, 2),
        "lbf": Places(1),
        "N": Places(1),
        "kgf": Places(2),
        "g": Places(1),
        "kg": Places(4),
        "oz": Places(3),
        "lb": Places(4),
        "cm3": Places(2),
        "in3": Places(3),
        "psi": Places(0),
        "ksi": Places(2),
        "MPa": Places(1),
        "kPa": Places(0),
        "bar": Places(2),
        "deg": Places(2),
        "rpm": Places(0),
        "Hz": Places(0),
        "percent": Places(1),
        "ratio": Places(2),
        "count": Places(2),
    }
)


def places(unit: str) -> Places | None:
    """The decimals a bench reads in a unit; None where a unit is only ever computed.

    >>> places("in")
    Places(most=4, least=3)
    """
    return _PLACES.get(unit)


Scales = Mapping[str, Scale]
"""Every quantity's scale under one choice of units, keyed by quantity."""


_FACTORS: Final[Mapping[str, Mapping[str, float]]] = json.loads(Path(__file__).with_name("factors.json").read_bytes())
"""quantity -> name shown -> factor, as `worked_out_factors` gives them."""


def _units_of(chosen: Mapping[str, str]) -> Mapping[str, tuple[str, str]]:
    """Every quantity's unit under one choice, as (name shown, pint expression)."""
    pint_names = {quantity: f"({_PINT_NAME[unit]})" for quantity, unit in chosen.items()}
    derived = {
        quantity: (shown.format(**chosen), expression.format(**pint_names))
        for quantity, (shown, expression) in DERIVED.items()
    }
    return {quantity: (unit, pint_names[quantity]) for quantity, unit in chosen.items()} | derived | dict(FIXED)


def worked_out_factors() -> dict[str, dict[str, float]]:
    """Every factor worked out by pint, as quantity -> name shown -> factor; what factors.json holds."""
    import pint  # noqa: PLC0415 - a request does without it, see above

    # Fractions keep exact definitions exact, so a factor is off by the last rounding to float only
    registry: pint.UnitRegistry[Fraction] = pint.UnitRegistry(non_int_type=Fraction)
    factors: dict[str, dict[str, float]] = {}
    for chosen in product(*CHOICES.values()):
        for quantity, (shown, expression) in _units_of(dict(zip(CHOICES, chosen, strict=True))).items():
            known = factors.setdefault(quantity, {})
            if shown not in known:
                exact = registry.Quantity(Fraction(1), expression).to(_SI[quantity])
                known[shown] = float(exact.magnitude)
    return factors


@cache
def _scales(units: tuple[str, ...]) -> Scales:
    known = _units_of(dict(zip(CHOICES, units, strict=True)))
    return MappingProxyType(
        {quantity: Scale(quantity, unit, _FACTORS[quantity][unit]) for quantity, (unit, _) in known.items()}
    )


def scales_for(
    length: LengthUnit = "in",
    force: ForceUnit = "lbf",
    mass: MassUnit = "g",
    volume: VolumeUnit = "cm3",
    stress: StressUnit = "psi",
    pressure: PressureUnit = "psi",
) -> Scales:
    """The scales of every quantity under one choice of units; the defaults are an inch shop's.

    >>> scales_for(length="in")["length"].to_si(2.0)
    0.0508
    >>> scales_for(length="mm", force="N")["rate"].unit
    'N/mm'
    """
    return _scales((length, force, mass, volume, stress, pressure))
