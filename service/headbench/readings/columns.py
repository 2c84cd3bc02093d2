"""Columns: what a table of readings may hold, by the words over it, and where that stands in a job."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from headbench import units

Holds = Literal["number", "text", "kind of valve", "yes or no", "parts", "shape"]
Where = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    names : the words it may have over it; the first is the one that is told
    where : the fields that lead to it in a position or a spring
    holds : what its cells hold
    quantity : of a number, what it measures
    not_fitted : what "not fitted" stands for; None where there is no such thing
    needed : whether a row says nothing without it
    unit : the unit that is written over it; None = as the job has it
    """

    names: tuple[str, ...]
    where: Where
    holds: Holds = "number"
    quantity: str | None = None
    not_fitted: float | None = None
    needed: bool = False
    unit: str | None = None

    @property
    def name(self) -> str:
        """What it is called when it is told."""
        return self.names[0]


def _length(*names: str, where: Where, not_fitted: float | None = None) -> Column:
    return Column(names, where, quantity="length", not_fitted=not_fitted)


def _load(*names: str, where: Where) -> Column:
    return Column(names, where, quantity="force")


def _weight(*names: str, where: Where, not_fitted: float | None = None) -> Column:
    return Column(names, where, quantity="mass", not_fitted=not_fitted)


POSITIONS: Final = (
    Column(("position", "position id", "valve no", "no", "id"), ("id",), "text", needed=True),
    Column(("valve", "kind of valve", "valve kind", "intake or exhaust"), ("valve",), "kind of valve", needed=True),
    Column(("bank", "head"), ("bank",), "text"),
    Column(("spring", "spring id", "spring no"), ("spring",), "text"),
    _length("measured height", "height", "spring height", "spring space", where=("measured_height",)),
    _length("deduction", "gauge deduction", where=("deduction",)),
    _length("locator thickness", "locator", where=("locator_thickness",), not_fitted=0.0),
    Column(("locator in place",), ("locator_in_place",), "yes or no"),
    _length("height with shims", "height after assembly", where=("height_with_shims",)),
    _load("seat load with shims", "seat load after assembly", where=("seat_load_with_shims",)),
    _length("valve lift", "lift", where=("valve_lift",)),
    _length("retainer to seal", where=("retainer_to_seal",)),
    _length("retainer to rocker", where=("retainer_to_rocker",)),
    _length("seal to spring", where=("seal_to_spring",)),
    _weight("valve weight", "valve mass", where=("masses", "valve")),
    _weight("retainer weight", "retainer mass", where=("masses", "retainer")),
    _weight("locks weight", "lock weight", "locks mass", "pair of locks", where=("masses", "locks")),
    _weight("lash cap weight", "lash cap", "lash cap mass", where=("masses", "lash_cap"), not_fitted=0.0),
    _weight("pushrod weight", "pushrod mass", where=("masses", "pushrod"), not_fitted=0.0),
    _weight("lifter weight", "bucket weight", "lifter mass", where=("masses", "lifter"), not_fitted=0.0),
    Column(("parts", "parts fitted"), ("parts",), "parts"),
    Column(("remarks", "remark"), ("remarks",), "text"),
)
"""What a row of a position may hold."""

_OF_ONE_SPRING: Final = (
    _length("coil bind height", "coil bind", "solid height", where=("coil_bind_height",)),
    _weight("spring weight", "weight", "spring mass", "mass", where=("mass",)),
    Column(("shape", "spring shape"), ("spring_shape",), "shape"),
)


def _inner(column: Column) -> Column:
    return replace(column, names=tuple(f"inner {name}" for name in column.names), where=("nested", 0, *column.where))


SPRINGS: Final = (
    Column(("spring", "spring id", "spring no", "no", "id"), ("id",), "text", needed=True),
    *_OF_ONE_SPRING,
    _weight("damper weight", "damper", "damper mass", where=("damper_mass",), not_fitted=0.0),
    _length("rated height", where=("rating", "height")),
    _load("rated load", where=("rating", "load")),
    Column(("rated rate",), ("rating", "rate"), quantity="rate"),
    *map(_inner, _OF_ONE_SPRING),
    _length("inner seat rise", "seat rise", where=("nested", 0, "seat_rise")),
)
"""What a row of a spring may hold, beside its readings on the tester."""

_LOAD_AT: Final = re.compile(r"(?P<inner>inner )?load at (?P<height>[0-9][0-9., ]*?) ?(?P<unit>[a-z]+)?")
_ONE_OF_A_PAIR: Final = re.compile(r"(?P<inner>inner )?(?P<what>height|load) (?P<place>[1-8])")
_UNIT: Final = re.compile(r"[(\[]\s*(?P<unit>[^()\[\]]*?)\s*[)\]]\s*$")

_UNIT_WORDS: Final[Mapping[str, Mapping[str, str]]] = {
    "length": {"inch": "in", "inches": "in", '"': "in"},
    "force": {"lb": "lbf", "lbs": "lbf", "pounds": "lbf", "newton": "N", "n": "N", "kg": "kgf"},
    "mass": {"gram": "g", "grams": "g", "gr": "g", "ounces": "oz"},
}


class UnknownUnit(Exception):
    """A unit over a column that its numbers cannot have; says which it may be."""


@dataclass(frozen=True, slots=True)
class Heading:
    """A column of a table, as it stands over it; `height` is that of "load at 1.75", as it is written."""

    column: Column
    height: str | None = None
    height_unit: str | None = None


def heading(said: str, columns: Sequence[Column]) -> Heading | None:
    """The column that a heading names, None where it is none of these; raises UnknownUnit.

    >>> heading("Measured_Height (mm)", POSITIONS).column.unit
    'mm'
    >>> heading("load at 1,75", SPRINGS).height
    '1,75'
    """
    unit = _UNIT.search(said)
    words = _words(said[: unit.start()] if unit else said)
    found = next((Heading(column) for column in columns if words in column.names), None)
    if found is None and columns is SPRINGS:
        found = _reading(words)
    if found is None:
        return None
    return replace(found, column=replace(found.column, unit=_unit(unit["unit"], found.column) if unit else None))


def _words(said: str) -> str:
    """Words as they are compared: small, one space between them."""
    return " ".join(re.sub(r"[_\-]+", " ", said).casefold().rstrip(":").split())


def _reading(words: str) -> Heading | None:
    """A reading of the tester: "load at 1.75", or "height 1" and "load 1"."""
    if (found := _ONE_OF_A_PAIR.fullmatch(words)) is not None:
        where = (*_nested(found["inner"]), "load_curve", found["what"], int(found["place"]))
        return Heading(Column((words,), where, quantity="length" if found["what"] == "height" else "force"))
    if (found := _LOAD_AT.fullmatch(words)) is not None:
        where = (*_nested(found["inner"]), "load_curve", "load at", found["height"])
        column = Column((words,), where, quantity="force")
        height = Column((words,), (), quantity="length")
        return Heading(column, found["height"], _unit(found["unit"], height) if found["unit"] else None)
    return None


def _nested(inner: str | None) -> Where:
    return ("nested", 0) if inner else ()


def _unit(said: str, column: Column) -> str:
    quantity = column.quantity
    if quantity is None or quantity not in units.CHOICES:
        raise UnknownUnit(f'"{column.name}" takes no unit over it; leave ({said}) out.')
    there = units.CHOICES[quantity]
    known = {one.casefold(): one for one in there} | dict(_UNIT_WORDS.get(quantity, {}))
    if said.casefold() not in known:
        raise UnknownUnit(f'"{column.name}" is measured in {" or ".join(there)}, not in "{said}".')
    return known[said.casefold()]


def described(columns: Iterable[Column]) -> str:
    """The columns as a table for people (Markdown)."""
    rows = [("heading", "also", "holds", "not fitted")]
    for one in columns:
        holds = {"length": "a length", "force": "a load", "mass": "a weight", "rate": "a load per length"}
        what = holds[one.quantity] if one.quantity else _HOLDS[one.holds]
        also = ", ".join(one.names[1:])
        rows.append((one.name + (" (needed)" if one.needed else ""), also, what, _NOT_FITTED[one.not_fitted]))
    lines = [f"| {' | '.join(row)} |" for row in rows]
    return "\n".join([lines[0], "|---|---|---|---|", *lines[1:]]) + "\n"


_NOT_FITTED: Final[Mapping[Any, str]] = {None: "", 0.0: "understood"}
_HOLDS: Final[Mapping[str, str]] = {
    "text": "a text",
    "kind of valve": "intake or exhaust (in, ex, I, E)",
    "yes or no": "yes or no",
    "parts": "texts with semicolons between them",
    "shape": "cylindrical or beehive",
}
