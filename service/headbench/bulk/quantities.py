"""Quantities of an answer: what each of its numbers is, and by how much two of them may differ.

Two answers are told apart by what a bench can read: where it reads a tenth of a pound, two loads that differ by
less are the same load. What is only computed, and never read, is the same within a ten-thousandth.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Final

import msgspec
from msgspec import inspect

from headbench import units
from headbench.api.vocabulary.quantities import quantity_of

_COMPUTED: Final = 1e-4
"""What numbers that no bench reads may differ by, as a part of the larger [-]."""

_NOISE: Final = 1e-9
"""What is lost where decimals are subtracted, as a part of the tolerance [-]."""


@dataclass(frozen=True, slots=True)
class Shape:
    """Where numbers stand in a part of an answer.

    quantity : what it is itself, if it is a number
    fields : of an object, by the field
    item : of each in a list
    """

    quantity: str | None = None
    fields: Mapping[str, Shape] = field(default_factory=dict)
    item: Shape | None = None


NO_SHAPE: Final = Shape()


@cache
def shape_of(struct: type[msgspec.Struct]) -> Shape:
    """Where numbers stand in an answer of this type."""
    fields = {one.name: _shape(inspect.type_info(one.type)) for one in msgspec.structs.fields(struct)}
    return Shape(fields=fields)


def _shape(info: inspect.Type) -> Shape:
    match info:
        case inspect.Metadata():
            quantity = None if isinstance(info.type, inspect.ListType) else quantity_of(info)
            return _shape(info.type) if quantity is None else Shape(quantity=quantity)
        case inspect.UnionType():
            return next((one for one in map(_shape, info.types) if one != NO_SHAPE), NO_SHAPE)
        case inspect.ListType() | inspect.CollectionType():
            return Shape(item=_shape(info.item_type))
        case inspect.StructType():
            return shape_of(info.cls)
        case _:
            return NO_SHAPE


@dataclass(frozen=True, slots=True)
class Tolerances:
    """By how much two numbers may differ and still be the same: as the caller says, else what a bench reads."""

    said: Mapping[str, float] = field(default_factory=dict)

    def apart(self, quantity: str | None, used: Mapping[str, Any], was: float, now: float) -> float:
        """How many times the tolerance two numbers differ; 1 at most where they are the same.

        `used` are the units of the answer, by quantity.

        >>> Tolerances().apart("force", {"force": "lbf"}, 117.0, 117.4)
        4.0
        >>> Tolerances({"force": 2.0}).apart("force", {"force": "lbf"}, 117.0, 117.4)
        0.2
        """
        tolerance = self._tolerance(quantity, used, max(abs(was), abs(now)))
        off = abs(now - was)
        if tolerance == 0.0:
            return math.inf if off else 0.0
        times = round(off / tolerance, 6)
        return times if abs(times - 1.0) > _NOISE else 1.0

    def _tolerance(self, quantity: str | None, used: Mapping[str, Any], size: float) -> float:
        if quantity is None:
            return 0.0
        if quantity in self.said:
            return self.said[quantity]
        places = units.places(str(used.get(quantity, quantity)))
        return _COMPUTED * size if places is None else 10.0**-places.most
