"""Quantities: numbers with a dimension, as the schema states them and as the kernels take them.

A field's dimension stands once, in the `x-quantity` of its alias; the schema publishes it and requests and answers
are converted by it, so what is published and what is computed cannot differ.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from functools import cache, cached_property
from operator import attrgetter
from statistics import fmean
from typing import Annotated, Any, Final, Generic, Literal, TypeVar

import msgspec
import numpy as np
from msgspec import Meta, inspect

from headbench import units
from headbench.api.vocabulary.saying import scales_said
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
Pressure = Annotated[float, _quantity("pressure", 0.0, 100000.0)]
SignedPressure = Annotated[float, _quantity("pressure", -100000.0, 100000.0)]
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
    pressure: Annotated[
        units.PressureUnit, Meta(description="Gauge pressures: boost, back pressure.", examples=["psi"])
    ] = "psi"
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
        return units.scales_for(self.length, self.force, self.mass, self.volume, self.stress, self.pressure)


class UnitsUsed(Answer, kw_only=True, frozen=True):
    """The unit of every number in the answer, by its `x-quantity`; derived ones too."""

    length: Annotated[str, Meta(description="Heights, lifts, thicknesses, clearances.")]
    force: Annotated[str, Meta(description="Loads.")]
    mass: Annotated[str, Meta(description="Masses.")]
    volume: Annotated[str, Meta(description="Volumes.")]
    stress: Annotated[str, Meta(description="Stresses and moduli.")]
    pressure: Annotated[str, Meta(description="Gauge pressures.")]
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


def units_used() -> UnitsUsed:
    """What the answer echoes: the units that its sentences are written in, too."""
    return UnitsUsed(**{quantity: scale.unit for quantity, scale in scales_said().items()})


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


def number_of(reading: float | list[float] | None) -> float:
    """The one number of a reading that may be missing, NaN, or a list of repeats, their mean.

    >>> number_of([1.0, 2.0]), number_of(None)
    (1.5, nan)
    """
    if reading is None:
        return math.nan
    return fmean(reading) if isinstance(reading, list) else reading


def mean_of(reading: float | list[float] | None) -> float | None:
    """The one number of a reading that may be a list of repeats: their mean."""
    return fmean(reading) if isinstance(reading, list) else reading


S = TypeVar("S", bound=msgspec.Struct)


class Columns(Generic[S]):
    """The number fields of one struct type as columns, a row per struct, and back."""

    def __init__(self, struct: type[S]) -> None:
        self._struct = struct

    # found when first used: a start that looks through every struct there is takes half as long again
    @cached_property
    def names(self) -> tuple[str, ...]:
        """The fields, in the order of the columns."""
        return tuple(quantity_fields(self._struct))

    @cached_property
    def _row(self) -> Callable[[S], Any]:
        getter: Callable[[S], Any] = attrgetter(*self.names)
        row: Callable[[S], Any] = getter if len(self.names) > 1 else lambda one: (getter(one),)
        fields = msgspec.structs.fields(self._struct)
        repeats = any(_may_repeat(inspect.type_info(field.type)) for field in fields)
        return (lambda one: tuple(map(mean_of, row(one)))) if repeats else row

    def of(self, rows: Sequence[S]) -> dict[str, FloatArray]:
        """Columns, NaN where a field is null; of repeats their mean."""
        table = np.array([self._row(row) for row in rows], dtype=np.float64).reshape(len(rows), len(self.names)).T
        return dict(zip(self.names, table, strict=True))

    def of_where(self, rows: Sequence[S | None]) -> dict[str, FloatArray]:
        """Columns, NaN in a row where there is no struct, too."""
        where = [place for place, row in enumerate(rows) if row is not None]
        there = self.of([row for row in rows if row is not None])
        columns = {name: np.full(len(rows), np.nan) for name in self.names}
        for name, column in columns.items():
            column[where] = there[name]
        return columns

    def rows(self, columns: Mapping[str, FloatArray]) -> list[dict[str, Any]]:
        """Rows of keyword arguments for the struct, null where a column is NaN; takes every field there is."""
        table = np.stack([columns[name] for name in self.names])
        return [dict(zip(self.names, row, strict=True)) for row in written(table.T)]


def written(values: FloatArray) -> Any:
    """Numbers as an answer holds them: null for NaN, nested lists as the array's shape."""
    if np.isinf(values).any():
        raise NotFinite("a result is too large to be a number")
    missing = np.isnan(values)
    if missing.any():
        answered = values.astype(object)
        answered[missing] = None
        return answered.tolist()
    return values.tolist()


def as_written(value: float) -> float | None:
    """One number as an answer holds it."""
    shown: float | None = written(np.array([value]))[0]
    return shown
