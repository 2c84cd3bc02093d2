"""Converting: the numbers of a request to SI, once, by the `x-quantity` of each field."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from typing import Any, Final, Protocol, TypeVar

import msgspec
from msgspec import inspect

from headbench.api.vocabulary.quantities import PURE, Units, quantity_of


class HasUnits(Protocol):
    """A request: it names the units of its numbers and of the answer's."""

    @property
    def units(self) -> Units:
        """The units it names."""
        ...


R = TypeVar("R", bound=HasUnits)

Factors = Mapping[str, float]
Step = Callable[[Any, Factors], Any]

NOTHING: Final = 1e-18
"""Smaller than anything a bench can show, and small enough to overflow once divided by: taken as 0."""


def in_si(request: R) -> R:
    """A copy of a request with every number that has a unit in base SI; the rest is as it was.

    >>> from headbench.api.vocabulary.quantities import Length, Model
    >>> Read = msgspec.defstruct("Read", [("height", Length), ("units", Units)])
    >>> in_si(Read(2.0, Units(length="in"))).height
    0.0508
    """
    step = _struct(type(request))
    converted: R = request if step is None else step(request, _factors(request.units))
    return converted


@cache
def _factors(chosen: Units) -> Factors:
    return {quantity: scale.factor for quantity, scale in chosen.scales().items()}


@cache
def _struct(struct: type[msgspec.Struct]) -> Callable[[Any, Factors], Any] | None:
    numbers: list[tuple[str, str]] = []
    steps: list[tuple[str, Step]] = []
    for field in msgspec.structs.fields(struct):
        info = inspect.type_info(field.type)
        quantity = _only_number(info)
        inner = _step(info) if quantity is None else None
        if quantity is not None and quantity not in PURE:
            numbers.append((field.name, quantity))
        elif inner is not None:
            steps.append((field.name, inner))
    if not numbers and not steps:
        return None
    change = msgspec.structs.force_setattr

    def step(value: Any, factors: Factors) -> Any:
        own = value.__copy__()
        for name, quantity in numbers:
            there = getattr(value, name)
            if there is not None:
                converted = there * factors[quantity]
                change(own, name, 0.0 if -NOTHING < converted < NOTHING else converted)
        for name, inner in steps:
            there = getattr(value, name)
            if there:
                change(own, name, inner(there, factors))
        return own

    return step


def _only_number(info: inspect.Type) -> str | None:
    """The quantity of a field that holds one number, or null, and nothing else."""
    if isinstance(info, inspect.Metadata) and isinstance(info.type, inspect.FloatType | inspect.IntType):
        return quantity_of(info)
    if isinstance(info, inspect.Metadata):
        return _only_number(info.type)
    if isinstance(info, inspect.UnionType):
        kinds = [kind for kind in info.types if not isinstance(kind, inspect.NoneType)]
        return _only_number(kinds[0]) if len(kinds) == 1 else None
    return None


def _step(info: inspect.Type) -> Step | None:
    """What converts a value of this type, which is there; None if it has no number with a unit."""
    match info:
        case inspect.Metadata():
            quantity = quantity_of(info)
            number = isinstance(info.type, inspect.FloatType | inspect.IntType)
            return _step(info.type) if not number else None if quantity in {None, *PURE} else _number(str(quantity))
        case inspect.UnionType():
            kinds = [kind for kind in info.types if not isinstance(kind, inspect.NoneType)]
            return _one_of(kinds) if len(kinds) > 1 else _step(kinds[0])
        case inspect.ListType() | inspect.CollectionType():
            item = _step(info.item_type)
            return None if item is None else _items(item)
        case inspect.StructType():
            return _struct(info.cls)
        case _:
            return None


def _number(quantity: str) -> Step:
    def step(value: float, factors: Factors) -> float:
        converted = value * factors[quantity]
        return 0.0 if -NOTHING < converted < NOTHING else converted

    return step


def _items(inner: Step) -> Step:
    def step(value: Any, factors: Factors) -> Any:
        return [None if item is None else inner(item, factors) for item in value]

    return step


def _one_of(kinds: list[inspect.Type]) -> Step | None:
    """A value of one of some kinds, told apart by what it is: structs by their class, a number from a list of them."""
    by_type = {_python_type(kind): _step(kind) for kind in kinds}
    by_type |= {int: by_type[float]} if float in by_type else {}
    if not any(by_type.values()):
        return None

    def step(value: Any, factors: Factors) -> Any:
        inner = by_type[type(value)]
        return value if inner is None else inner(value, factors)

    return step


_PYTHON_TYPES: Final = {
    inspect.ListType: list,
    inspect.FloatType: float,
    inspect.IntType: int,
    inspect.LiteralType: str,
    inspect.StrType: str,
    inspect.BoolType: bool,
}


def _python_type(kind: inspect.Type) -> Any:
    if isinstance(kind, inspect.Metadata):
        return _python_type(kind.type)
    return kind.cls if isinstance(kind, inspect.StructType) else _PYTHON_TYPES[type(kind)]
