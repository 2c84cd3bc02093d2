"""Fields: any answer as lines that can be read, made of its structs, their units and their descriptions.

The sheet of a resource that brings none of its own, and the rows of every CSV, come from here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

import msgspec
from msgspec import inspect

from headbench.api.vocabulary.checks import ForceCheck, LengthCheck, MassCheck, PercentCheck, RatioCheck
from headbench.api.vocabulary.quantities import UnitsUsed, quantity_of
from headbench.sheet.numbers import unit_of

CHECKS: Final = (LengthCheck, PercentCheck, ForceCheck, MassCheck, RatioCheck)
ENVELOPE: Final = frozenset({"job", "version", "units", "open_items", "notes", "cautions"})
"""Fields of every answer that a sheet has places of its own for."""

_HYPHENS: Final = {
    "coil bind clearance": "coil-bind clearance",
    "retainer to seal clearance": "retainer-to-seal clearance",
    "piston to valve": "piston-to-valve",
}


_OF_TARGETS: Final = frozenset({"installed_height_check", "seat_load_check", "open_load_check"})
_ENDS: Final = ("minimum_check", "maximum_check")
"""Checks that are called by their limit: what is held against it stands beside them."""
_OFF_TARGET, _JUDGED = " vs target", ", judged"
"""What tells a check from the number of the same name that stands beside it."""


@dataclass(frozen=True, slots=True)
class Field:
    """A field of an answer: its name in words, its unit ("" if it has none), and what the schema says of it."""

    name: str
    words: str
    quantity: str | None
    description: str
    struct: type[msgspec.Struct] | None


@cache
def fields_of(struct: type[msgspec.Struct]) -> tuple[Field, ...]:
    """The fields of a struct, in the order of the answer, what names it first."""
    plain = {one.name for one in msgspec.structs.fields(struct)}
    found = [_field(one.name, inspect.type_info(one.type), plain) for one in msgspec.structs.fields(struct)]
    return tuple(sorted(found, key=lambda one: ("id", "valve").index(one.name) if one.name in {"id", "valve"} else 2))


def _field(name: str, info: inspect.Type, others: set[str]) -> Field:
    words = in_words(name)
    if name.endswith("_check") and name.removesuffix("_check") in others:
        words += _OFF_TARGET if name in _OF_TARGETS else _JUDGED
    struct = _struct(info)
    quantity = _quantity_of_check(struct) if struct in CHECKS else _quantity(info)
    return Field(name, words, quantity, _description(info), struct)


def _struct(info: inspect.Type) -> type[msgspec.Struct] | None:
    """The struct that a field holds, itself and not in a list."""
    match info:
        case inspect.Metadata():
            return _struct(info.type)
        case inspect.UnionType():
            return next((one for one in map(_struct, info.types) if one is not None), None)
        case inspect.StructType():
            return info.cls
        case _:
            return None


def _quantity(info: inspect.Type) -> str | None:
    """The quantity of a number, or of the numbers in a list."""
    found = quantity_of(info)
    if found is not None:
        return found
    match info:
        case inspect.Metadata():
            return _quantity(info.type)
        case inspect.ListType():
            return _quantity(info.item_type)
        case inspect.UnionType():
            return next((one for one in map(_quantity, info.types) if one is not None), None)
        case _:
            return None


def _description(info: inspect.Type) -> str:
    if isinstance(info, inspect.Metadata):
        return str((info.extra_json_schema or {}).get("description", ""))
    return ""


def in_words(name: str) -> str:
    """A field's name as a person says it.

    >>> in_words("coil_bind_clearance_check"), in_words("id")
    ('coil-bind clearance', 'name')
    """
    words = {"id": "name"}.get(name, name.removesuffix("_check").replace("_", " "))
    for plain, hyphened in _HYPHENS.items():
        words = words.replace(plain, hyphened)
    return words


@dataclass(frozen=True, slots=True)
class Value:
    """One value of a line: what it is, its unit, and the check or plain value that stands there.

    `is_end` where the check is called by its limit, so that in a column the limit is what stands under the name.
    """

    words: str
    unit: str
    value: Any
    description: str
    is_check: bool = False
    is_end: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """A struct of an answer as a line: where it stands, and its values; `is_row` where it is one of a list."""

    where: str
    values: Sequence[Value]
    is_row: bool


def lines(answer: msgspec.Struct, used: UnitsUsed, *, left_out: frozenset[str] = ENVELOPE) -> list[Line]:
    """Every struct of an answer as a line, depth first: the answer itself, and each row of each list."""
    return list(_Walk(used).lines(answer, "", left_out, is_row=False))


@dataclass(frozen=True, slots=True)
class _Walk:
    """A way through an answer."""

    used: UnitsUsed

    def lines(self, struct: msgspec.Struct, where: str, left_out: frozenset[str], *, is_row: bool) -> Iterator[Line]:
        """A struct and what is below it: the rows of its lists, and other structs where it is no row itself."""
        own: list[Value] = []
        below: list[tuple[str, msgspec.Struct, bool]] = []
        self._take(struct, "", own, below, left_out, is_row=is_row)
        if own:
            yield Line(where, own, is_row)
        for words, child, of_list in below:
            yield from self.lines(child, f"{where}, {words}" if where else words, frozenset(), is_row=of_list)

    def _take(
        self,
        struct: msgspec.Struct,
        before: str,
        own: list[Value],
        below: list[tuple[str, msgspec.Struct, bool]],
        left_out: frozenset[str] = frozenset(),
        *,
        row: str = "",
        is_row: bool,
    ) -> None:
        """Put the values of a struct among a line's own, and what is a line of its own among those below."""
        row = str(getattr(struct, "id", "") or row)
        for field in fields_of(type(struct)):
            value = getattr(struct, field.name)
            words = f"{before}{field.words}"
            if field.name in left_out:
                continue
            if isinstance(value, list) and value and isinstance(value[0], msgspec.Struct):
                below.extend((f"{row}: {words}" if row else words, item, True) for item in value)
            elif field.struct is None or field.struct in CHECKS:
                unit = _unit(field, self.used)
                is_end = field.name.endswith(_ENDS)
                own.append(Value(words, unit, value, field.description, field.struct is not None, is_end))
            elif value is not None and is_row:
                self._take(value, f"{words}, ", own, below, row=row, is_row=True)
            elif value is not None:
                below.append((words, value, False))


def _unit(field: Field, used: UnitsUsed) -> str:
    return "" if field.quantity in {None, "ratio", "count"} else unit_of(str(field.quantity), used)


@cache
def _quantity_of_check(check: type[msgspec.Struct]) -> str:
    return next(one.quantity for one in fields_of(check) if one.name == "limit" and one.quantity)
