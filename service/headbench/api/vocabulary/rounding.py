"""Rounding: the numbers of an answer out of SI, once, to a tenth of the last place that a bench reads in their unit."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from math import floor, log10
from typing import Any, Final, TypeVar

import msgspec
from msgspec import inspect

from headbench import units
from headbench.api.vocabulary.quantities import PURE, Answer, Units, quantity_of
from headbench.errors import NotFinite

A = TypeVar("A", bound=Answer)
_COMPUTED_DIGITS: Final = 7
"""Significant digits of a quantity that no bench reads, only computes."""

_NOISE: Final = 12
"""Significant digits, and decimals, that are left of a number where every digit is asked for: far inside what any bench
reads, far outside what the arithmetic loses, so that 0.045 is 0.045 and a difference of nothing 0."""

Rounding = Callable[[float], float | None]
ByQuantity = Mapping[str, Rounding]
Step = Callable[[Any, ByQuantity], Any]


def from_si(answer: A, chosen: Units) -> A:
    """An answer in the caller's units and rounded: to the places of a bench, or of noise alone; null for NaN.

    A value too small to be read is 0. Structs that stand in the answer are changed in place: it is ours alone.
    Raises NotFinite.
    """
    step = _struct(type(answer))
    if step is not None:
        try:
            step(answer, _by_quantity(chosen))
        except OverflowError:
            raise NotFinite("a result is too large to be a number") from None
    return answer


@cache
def _by_quantity(chosen: Units) -> ByQuantity:
    used = {quantity: (scale.unit, scale.factor) for quantity, scale in chosen.scales().items()}
    used |= {pure: (pure, 1.0) for pure in PURE}
    if chosen.rounding == "full":
        return {quantity: _full(factor) for quantity, (_, factor) in used.items()}
    return {quantity: _of_unit(unit, factor) for quantity, (unit, factor) in used.items()}


def _full(factor: float) -> Rounding:
    return lambda value: None if value != value else in_full(value / factor)  # noqa: PLR0124 - NaN is not itself


def _of_unit(unit: str, factor: float) -> Rounding:
    places = units.places(unit)
    if places is None:
        return lambda value: None if value != value else _significant(value / factor, _COMPUTED_DIGITS)  # noqa: PLR0124
    power = 10.0 ** (places.most + 1)
    steps = power / factor
    # to a whole number of the last place: much faster than rounding to decimals, and never -0
    return lambda value: None if value != value else round(value * steps) / power  # noqa: PLR0124 - NaN is not itself


def in_full(value: float) -> float:
    """A number with rounding noise taken off and nothing else.

    >>> in_full(0.3 - 0.1 - 0.2), in_full(1.7814999999999999), in_full(-0.0)
    (0.0, 1.7815, 0.0)
    """
    return _significant(round(value, _NOISE), _NOISE)


def _significant(value: float, digits: int) -> float:
    return round(value, digits - 1 - floor(log10(abs(value)))) + 0.0 if value else 0.0


def in_bench_places(value: float, unit: str) -> float:
    """A number rounded to a tenth of the last place that a bench reads in its unit.

    >>> in_bench_places(7.4957999e-05, "in"), in_bench_places(116.938912489, "lbf"), in_bench_places(-1e-9, "mm")
    (7e-05, 116.94, 0.0)
    """
    rounded = _of_unit(unit, 1.0)(value)
    return math.nan if rounded is None else rounded


@cache
def _struct(struct: type[msgspec.Struct]) -> Step | None:
    numbers: list[tuple[str, str]] = []
    steps: list[tuple[str, Step]] = []
    for field in msgspec.structs.fields(struct):
        info = inspect.type_info(field.type)
        quantity = _quantity(info)
        if quantity is not None:
            numbers.append((field.name, quantity))
        elif (inner := _step(info)) is not None:
            steps.append((field.name, inner))
    return _changing(numbers, steps) if numbers or steps else None


def _changing(numbers: Sequence[tuple[str, str]], steps: Sequence[tuple[str, Step]]) -> Step:
    """What rounds the numbers of a struct, each by its quantity, and what else it has."""
    change = msgspec.structs.force_setattr

    def step(value: Any, by_quantity: ByQuantity) -> Any:
        for name, quantity in numbers:
            there = getattr(value, name)
            if there is not None:
                change(value, name, by_quantity[quantity](there))
        for name, inner in steps:
            there = getattr(value, name)
            if there is not None:
                new = inner(there, by_quantity)
                if new is not there:
                    change(value, name, new)
        return value

    return step


def _step(info: inspect.Type) -> Step | None:
    """What rounds a value of this type, which is there; None if it has no number to round."""
    quantity = _quantity(info)
    if quantity is not None:
        return _number(quantity)
    match info:
        case inspect.Metadata():
            return _step(info.type)
        case inspect.UnionType():
            steps = [step for step in map(_step, info.types) if step is not None]
            if len(steps) > 1:
                raise TypeError(f"an answer of more than one kind cannot be rounded: {info}")
            return steps[0] if steps else None
        case inspect.ListType() | inspect.CollectionType():
            item = _step(info.item_type)
            return None if item is None else _items(item, in_place=isinstance(info.item_type, inspect.StructType))
        case inspect.StructType():
            return _struct(info.cls)
        case _:
            return None


def _quantity(info: inspect.Type) -> str | None:
    """The quantity of a field that holds one number."""
    return None if isinstance(info, inspect.StructType | inspect.ListType) else quantity_of(info)


def _number(quantity: str) -> Step:
    def step(value: Any, by_quantity: ByQuantity) -> Any:
        return by_quantity[quantity](value)

    return step


def _items(inner: Step, *, in_place: bool) -> Step:
    def step(value: Any, by_quantity: ByQuantity) -> Any:
        for item in value:
            inner(item, by_quantity)
        return value

    def numbers(value: Any, by_quantity: ByQuantity) -> Any:
        return [None if item is None else inner(item, by_quantity) for item in value]

    return step if in_place else numbers
