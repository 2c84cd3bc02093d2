"""Rounding: the numbers of an answer to a tenth of the last place that a bench reads in their unit."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from math import floor, log10
from typing import Any, Final, TypeVar

import msgspec
from msgspec import inspect

from headbench import units
from headbench.api.quantities import PURE, Answer, Units, quantity_of

A = TypeVar("A", bound=Answer)
_COMPUTED_DIGITS: Final = 7
"""Significant digits of a quantity that no bench reads, only computes."""

Step = Callable[[Any, Mapping[str, str]], Any]


def rounded(answer: A, chosen: Units) -> A:
    """The answer with every number in bench places, or as it is where the caller asks for every digit.

    A value too small to be read is 0. Structs that stand in the answer are changed in place: it is ours alone.
    """
    if chosen.rounding == "full":
        return answer
    used = {quantity: scale.unit for quantity, scale in chosen.scales().items()}
    step = _step(inspect.type_info(type(answer)))
    if step is not None:
        step(answer, used)
    return answer


def in_bench_places(value: float, unit: str) -> float:
    """A number rounded to a tenth of the last place that a bench reads in its unit.

    >>> in_bench_places(7.4957999e-05, "in"), in_bench_places(116.938912489, "lbf"), in_bench_places(-1e-9, "mm")
    (7e-05, 116.94, 0.0)
    """
    places = units.places(unit)
    if places is None:
        digits = _COMPUTED_DIGITS - 1 - floor(log10(abs(value))) if value else 0
        return round(value, digits) + 0.0
    return round(value, places.most + 1) + 0.0


def _step(info: inspect.Type) -> Step | None:
    """What rounds a value of this type; None if it has no number to round."""
    quantity = quantity_of(info) if not isinstance(info, inspect.StructType | inspect.ListType) else None
    if quantity is not None:
        return _number(quantity)
    match info:
        case inspect.Metadata():
            return _step(info.type)
        case inspect.UnionType():
            steps = [step for step in map(_step, info.types) if step is not None]
            if len(steps) > 1:
                raise TypeError(f"an answer of more than one kind cannot be rounded: {info}")
            return _optional(steps[0]) if steps else None
        case inspect.ListType() | inspect.CollectionType():
            item = _step(info.item_type)
            return None if item is None else _items(item)
        case inspect.StructType():
            return _struct(info.cls)
        case _:
            return None


def _number(quantity: str) -> Step:
    def step(value: Any, used: Mapping[str, str]) -> Any:
        return None if value is None else in_bench_places(value, quantity if quantity in PURE else used[quantity])

    return step


def _optional(inner: Step) -> Step:
    def step(value: Any, used: Mapping[str, str]) -> Any:
        return None if value is None else inner(value, used)

    return step


def _items(inner: Step) -> Step:
    def step(value: Any, used: Mapping[str, str]) -> Any:
        return [inner(item, used) for item in value]

    return step


@cache
def _struct(struct: type[msgspec.Struct]) -> Step | None:
    found = {field.name: _step(inspect.type_info(field.type)) for field in msgspec.structs.fields(struct)}
    steps = {name: inner for name, inner in found.items() if inner is not None}
    if not steps:
        return None

    def step(value: Any, used: Mapping[str, str]) -> Any:
        for name, inner in steps.items():
            msgspec.structs.force_setattr(value, name, inner(getattr(value, name), used))
        return value

    return step
