"""Quantities: numbers with a dimension, as the schema states them and as the kernels take them.

A field's dimension stands once, in the `x-quantity` of its alias; the schema publishes it and
`Columns` converts by it, so what is published and what is computed cannot differ.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from math import isnan
from operator import attrgetter
from statistics import fmean
from typing import Annotated, Any, Final, Generic, Literal, TypeVar

import msgspec
import numpy as np
from msgspec import Meta, inspect

from headbench import units
from headbench.calc import FloatArray
from headbench.errors import NotFinite
from headbench.units import Scales


class Model(msgspec.Struct, kw_only=True, frozen=True, forbid_unknown_fields=True):
    """Base of everything a caller sends: an unknown field is refused, never dropped."""


class Answer(msgspec.Struct, kw_only=True, frozen=True):
    """Base of everything the service answers: every field is always there, null if it has no value."""


def _quantity(name: str, low: float | None = None, high: float | None = None) -> Meta:
    return Meta(ge=low, le=high, extra_json_schema={"x-quantity": name})


# What a caller may send. The bounds hold in whatever unit is chosen and only keep out what no bench
# can show; the odd but possible is computed and noted.
Length = Annotated[float, _quantity("length", 0.0, 1000.0)]
PositiveLength = Annotated[float, _quantity("length", 0.0001, 1000.0)]
SignedLength = Annotated[float, _quantity("length", -1000.0, 1000.0)]
Force = Annotated[float, _quantity("force", 0.0, 100000.0)]
PositiveForce = Annotated[float, _quantity("force", 0.001, 100000.0)]
PositiveRate = Annotated[float, _quantity("rate", 0.001, 100000.0)]
Mass = Annotated[float, _quantity("mass", 0.0, 100000.0)]
PositiveMass = Annotated[float, _quantity("mass", 0.00001, 100000.0)]
Volume = Annotated[float, _quantity("volume", 0.0, 100000.0)]
PositiveVolume = Annotated[float, _quantity("volume", 0.001, 100000.0)]
PositiveArea = Annotated[float, _quantity("area", 0.001, 1000000.0)]
PositiveVolumePerLength = Annotated[float, _quantity("volume_per_length", 0.001, 100000.0)]
PositiveStress = Annotated[float, _quantity("stress", 0.001, 1e9)]
Angle = Annotated[float, _quantity("angle", 0.0, 90.0)]
SignedAngle = Annotated[float, _quantity("angle", -90.0, 90.0)]
IncludedAngle = Annotated[float, _quantity("angle", 0.0, 180.0)]
ClosingAngle = Annotated[float, _quantity("angle", -90.0, 360.0)]
CrankAngle = Annotated[float, _quantity("angle", -720.0, 720.0)]
PositiveInertia = Annotated[float, _quantity("inertia", 0.000001, 1e9)]
PositiveTime = Annotated[float, _quantity("time", 0.001, 100.0)]
PositiveSpeed = Annotated[float, _quantity("speed", 1.0, 100000.0)]
ReadingError = Annotated[float, _quantity("length", 0.000001, 1.0)]
FlankAngle = Annotated[float, _quantity("angle", 1.0, 360.0)]
Ratio = Annotated[float, _quantity("ratio", 0.1, 10.0)]
SurgeRatio = Annotated[float, _quantity("ratio", 0.0, 1000.0)]
CompressionRatio = Annotated[float, _quantity("ratio", 0.0, 1000.0)]
Percent = Annotated[float, _quantity("percent", 0.0, 100.0)]

# What the service answers: computed, so without bounds.
LengthOut = Annotated[float, _quantity("length")]
RatioOut = Annotated[float, _quantity("ratio")]
PercentOut = Annotated[float, _quantity("percent")]
CountOut = Annotated[float, _quantity("count")]
ForceOut = Annotated[float, _quantity("force")]
RateOut = Annotated[float, _quantity("rate")]
MassOut = Annotated[float, _quantity("mass")]
StressOut = Annotated[float, _quantity("stress")]
FrequencyOut = Annotated[float, _quantity("frequency")]
VolumeOut = Annotated[float, _quantity("volume")]
AngleOut = Annotated[float, _quantity("angle")]
SpeedOut = Annotated[float, _quantity("speed")]
LiftAreaOut = Annotated[float, _quantity("lift_area")]
LiftVelocityOut = Annotated[float, _quantity("lift_velocity")]
LiftAccelerationOut = Annotated[float, _quantity("lift_acceleration")]
LiftJerkOut = Annotated[float, _quantity("lift_jerk")]

# One line of plain text; `$` alone would let a trailing newline pass.
Name = Annotated[str, Meta(min_length=1, max_length=60, pattern=r"^[^\u0000-\u001f\u007f-\u009f\u2028\u2029]+$(?!\n)")]


class Units(Model, kw_only=True, frozen=True):
    """The units of every number in the request and in the answer. A rate is force per length."""

    length: Annotated[
        units.LengthUnit, Meta(description="Heights, lifts, thicknesses, clearances.", examples=["in"])
    ] = "in"
    force: Annotated[units.ForceUnit, Meta(description="Spring loads.", examples=["lbf"])] = "lbf"
    mass: Annotated[units.MassUnit, Meta(description="What the scale shows.", examples=["g"])] = "g"
    volume: Annotated[units.VolumeUnit, Meta(description="What the burette shows.", examples=["cm3"])] = "cm3"
    stress: Annotated[units.StressUnit, Meta(description="Stresses and moduli.", examples=["psi"])] = "psi"
    rounding: Annotated[
        Literal["bench", "full"],
        Meta(
            description="bench: numbers of the answer are rounded to a tenth of the last place a bench reads. full: "
            "every digit there is.",
            examples=["bench"],
        ),
    ] = "bench"

    def scales(self) -> Scales:
        """The scale of every quantity under this choice."""
        return units.scales_for(self.length, self.force, self.mass, self.volume, self.stress)


class UnitsUsed(Answer, kw_only=True, frozen=True):
    """The unit of every number in the answer, by its `x-quantity`; derived ones too."""

    length: Annotated[str, Meta(description="Heights, lifts, thicknesses, clearances.")]
    force: Annotated[str, Meta(description="Loads.")]
    mass: Annotated[str, Meta(description="Masses.")]
    volume: Annotated[str, Meta(description="Volumes.")]
    stress: Annotated[str, Meta(description="Stresses and moduli.")]
    rate: Annotated[str, Meta(description="Spring rates.")]
    area: Annotated[str, Meta(description="Areas.")]
    volume_per_length: Annotated[str, Meta(description="Volume that comes off per depth of cut.")]
    angle: Annotated[str, Meta(description="Angles.")]
    speed: Annotated[str, Meta(description="Speeds of the crank.")]
    frequency: Annotated[str, Meta(description="Frequencies.")]
    time: Annotated[str, Meta(description="Times.")]
    inertia: Annotated[str, Meta(description="Moments of inertia.")]
    lift_area: Annotated[str, Meta(description="Areas under a lift curve.")]
    lift_velocity: Annotated[str, Meta(description="Velocity of a valve or lifter, per degree of the cam.")]
    lift_acceleration: Annotated[
        str, Meta(description="Acceleration of a valve or lifter, per degree of the cam squared.")
    ]
    lift_jerk: Annotated[str, Meta(description="Jerk of a valve or lifter, per degree of the cam cubed.")]


def units_used(scales: Scales) -> UnitsUsed:
    """What the answer echoes."""
    return UnitsUsed(**{quantity: scale.unit for quantity, scale in scales.items()})


@cache
def quantity_fields(struct: type[msgspec.Struct]) -> Mapping[str, str]:
    """A struct's number fields that have a unit to convert, as field -> quantity."""
    fields = msgspec.structs.fields(struct)
    found = {field.name: quantity_of(inspect.type_info(field.type)) for field in fields}
    return {name: quantity for name, quantity in found.items() if quantity is not None and quantity not in PURE}


PURE: Final = frozenset({"percent", "ratio", "count"})
"""Quantities that are plain numbers, the same in every choice of units."""


def quantity_of(info: inspect.Type) -> str | None:
    """The `x-quantity` of a field's type, under null and bounds; None if it has none."""
    if isinstance(info, inspect.Metadata):
        if info.extra_json_schema and "x-quantity" in info.extra_json_schema:
            return str(info.extra_json_schema["x-quantity"])
        return quantity_of(info.type)
    if isinstance(info, inspect.UnionType):
        return next((name for name in map(quantity_of, info.types) if name is not None), None)
    return None


def _may_repeat(info: inspect.Type) -> bool:
    """Whether a field takes a reading or a list of repeats: see `headbench.api.gauges.repeats`."""
    if isinstance(info, inspect.Metadata):
        return _may_repeat(info.type)
    kinds = info.types if isinstance(info, inspect.UnionType) else ()
    return any(isinstance(kind, inspect.ListType) and quantity_of(kind.item_type) is not None for kind in kinds)


def mean_of(reading: float | list[float] | None) -> float | None:
    """The one number of a reading that may be a list of repeats: their mean."""
    return fmean(reading) if isinstance(reading, list) else reading


_NOTHING: Final = 1e-18

S = TypeVar("S", bound=msgspec.Struct)


class Columns(Generic[S]):
    """The number fields of one struct type as columns in base SI, a row per struct, and back."""

    def __init__(self, struct: type[S]) -> None:
        fields = quantity_fields(struct)
        self.names = tuple(fields)
        self._quantities = tuple(fields.values())
        getter: Callable[[S], Any] = attrgetter(*self.names)
        row: Callable[[S], Any] = getter if len(self.names) > 1 else lambda one: (getter(one),)
        repeats = any(_may_repeat(inspect.type_info(field.type)) for field in msgspec.structs.fields(struct))
        self._row: Callable[[S], Any] = (lambda one: tuple(map(mean_of, row(one)))) if repeats else row

    def to_si(self, rows: Sequence[S], scales: Scales) -> dict[str, FloatArray]:
        """Columns in base SI, NaN where a field is null; of repeats their mean."""
        table = np.array([self._row(row) for row in rows], dtype=np.float64).reshape(len(rows), len(self.names)).T
        used = [scales[quantity] for quantity in self._quantities]
        table *= np.array([scale.factor for scale in used])[:, np.newaxis]
        # smaller than anything a bench can show, and small enough to overflow once divided by
        table[np.abs(table) < _NOTHING] = 0.0
        return dict(zip(self.names, table, strict=True))

    def to_si_where(self, rows: Sequence[S | None], scales: Scales) -> dict[str, FloatArray]:
        """Columns in base SI, NaN in a row where there is no struct, too."""
        where = [place for place, row in enumerate(rows) if row is not None]
        there = self.to_si([row for row in rows if row is not None], scales)
        columns = {name: np.full(len(rows), np.nan) for name in self.names}
        for name, column in columns.items():
            column[where] = there[name]
        return columns

    def from_si(self, columns: Mapping[str, FloatArray], scales: Scales) -> list[dict[str, Any]]:
        """Rows of keyword arguments for the struct, null where a column is NaN; takes every field there is."""
        used = [scales[quantity] for quantity in self._quantities]
        table = np.stack([columns[name] for name in self.names])
        table /= np.array([scale.factor for scale in used])[:, np.newaxis]
        return [dict(zip(self.names, row, strict=True)) for row in written(table.T)]


def written(values: FloatArray) -> Any:
    """Numbers as they are answered, before they are rounded: null for NaN, nested lists as the array's shape."""
    if np.isinf(values).any():
        raise NotFinite("a result is too large to be a number")
    missing = np.isnan(values)
    if missing.any():
        answered = values.astype(object)
        answered[missing] = None
        return answered.tolist()
    return values.tolist()


def say(value: float, quantity: str, scales: Scales) -> str:
    """An SI value in the caller's unit, as a sentence has it: in the places a bench reads.

    >>> say(0.00127, "length", units.scales_for())
    '0.050 in'
    """
    scale = scales[quantity]
    return f"{in_places(scale.from_si(value), scale.unit)} {scale.unit}"


def say_enough(value: float, quantity: str, scales: Scales) -> str:
    """An SI amount that a remedy needs at least, above 0: rounded up, so that doing what is said is enough.

    >>> say_enough(0.00127001, "length", units.scales_for()), say_enough(1e-9, "length", units.scales_for())
    ('0.0501 in', '0.0001 in')
    """
    step = least_shown(quantity, scales)
    return say(max(math.ceil(value / step - _HAIR), 1) * step, quantity, scales)


def say_at_most(value: float, quantity: str, scales: Scales) -> str:
    """An SI amount that must not be passed, 0 or more: rounded down.

    >>> say_at_most(0.00127999, "length", units.scales_for())
    '0.0503 in'
    """
    step = least_shown(quantity, scales)
    return say(math.floor(value / step + _HAIR) * step, quantity, scales)


# A part of the last place that only rounding of floats makes.
_HAIR: Final = 1e-7


def least_shown(quantity: str, scales: Scales) -> float:
    """One in the last place that a bench reads of a quantity, in SI.

    >>> round(least_shown("length", units.scales_for("mm")) * 1e6, 9)
    1.0
    """
    places = units.places(scales[quantity].unit)
    return scales[quantity].to_si(10.0 ** -(places.most if places is not None else 0))


def say_angle(degrees: float) -> str:
    """An angle as the caller wrote it, in the places a bench reads.

    >>> say_angle(7.25), say_angle(-5e-05)
    ('7.25 deg', '0 deg')
    """
    return f"{in_places(degrees, 'deg')} deg"


def say_ratios(*ratios: float) -> list[str]:
    """Compression ratios as one sentence has them: to two decimals, to three where that tells them apart.

    >>> say_ratios(6.95286, 6.78), say_ratios(9.996, 9.999)
    (['6.95:1', '6.78:1'], ['9.996:1', '9.999:1'])
    """
    alike = len({f"{ratio:.2f}" for ratio in ratios}) < len(set(ratios))
    return [f"{ratio:.{3 if alike else 2}f}:1" for ratio in ratios]


def shows(value: float, quantity: str, scales: Scales) -> bool:
    """Whether an SI number is there, and more than nothing in the places a bench reads."""
    scale = scales[quantity]
    return not isnan(value) and float(in_places(scale.from_si(value), scale.unit)) != 0.0


def room_to_make(minimum: float, usual: float, scales: Scales) -> float:
    """The clearance [m] to set parts to that touch: its minimum, the usual one where a job asks for none at all."""
    return minimum if shows(minimum, "length", scales) else usual


def in_places(value: float, unit: str) -> str:
    """A number in the places that a bench reads in its unit, trailing zeros beyond the usual ones left out.

    >>> in_places(0.0805, "in"), in_places(1.9, "in"), in_places(-1e-9, "mm"), in_places(104.5, "g")
    ('0.0805', '1.900', '0.00', '104.5')
    """
    places = units.places(unit)
    if places is None or isnan(value):
        text = f"{value:.4g}"
        return f"{value:.0f}" if "e+" in text else text
    text = f"{value:.{places.most}f}"
    whole, point, fraction = text.partition(".")
    fraction = fraction.rstrip("0").ljust(places.least, "0")
    text = f"{whole}{point}{fraction}" if fraction else whole
    return text.lstrip("-") if not float(text) else text


def as_written(value: float, quantity: str | None, scales: Scales) -> float | None:
    """An SI number as it is answered, null for NaN; a plain ratio has no quantity."""
    shown: float | None = written(np.array([value if quantity is None else scales[quantity].from_si(value)]))[0]
    return shown
