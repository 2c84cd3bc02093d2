"""Job: tables of readings put into a job, with everything that could not be read named.

A cell that cannot be read is named and counts as not measured, so that it stays open on the sheet; a row without
the name of its position, or of its spring, is named and left out. The rest goes on.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import msgspec

from headbench import units
from headbench.api.exchange.decoding import decode
from headbench.api.head.job import HeadAssemblyRequest
from headbench.errors import Pointed, RefusedRequest
from headbench.readings.columns import Column
from headbench.readings.numbers import MARKS, Decimal, decimal_of, is_not_fitted, is_not_measured, number_in
from headbench.readings.tables import Cell, NotATable, Table
from headbench.units import Scales

_KINDS: Final = {
    "intake": "intake", "in": "intake", "int": "intake", "i": "intake",
    "exhaust": "exhaust", "ex": "exhaust", "exh": "exhaust", "e": "exhaust",
}  # fmt: skip
_YES_OR_NO: Final = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}
_SHAPES: Final = {"cylindrical": "cylindrical", "beehive": "beehive"}
_WORDS: Final[Mapping[str, tuple[Mapping[str, Any], str]]] = {
    "kind of valve": (_KINDS, "intake or exhaust"),
    "yes or no": (_YES_OR_NO, "yes or no"),
    "shape": (_SHAPES, "cylindrical or beehive"),
}
"""What cells of words may say, and how that is told."""

_LONGEST: Final = 20.0
"""A length that nothing read at a valve has [in]."""

_DIGITS: Final = 10
"""Significant digits that are kept where a reading is put into the units of the job: more than any bench reads."""


@dataclass(frozen=True, slots=True)
class Unread:
    """A cell that could not be used, or a row; what that comes to."""

    cell: Cell
    why: str


class _Unreadable(Exception):
    """What is wrong with a cell."""


@dataclass
class Filled:
    """The rows of a table as the list of a job, and what could not be read of them.

    items : positions, or springs
    cells : for each of them, the cells that were read, by where they stand in it
    """

    items: list[dict[str, Any]] = field(default_factory=list)
    cells: list[dict[str, Cell]] = field(default_factory=list)
    unread: list[Unread] = field(default_factory=list)


def decimal_in(table: Table, said: Decimal | None) -> Decimal:
    """The decimal mark of a table, as the caller says or as its numbers do; raises NotATable."""
    if said is not None:
        return said
    heights = [Cell(table.top, one, one.height) for one in table.headings if one.height is not None]
    numbers = (cell for row in table.rows for cell in row if cell.heading.column.holds == "number")
    return decimal_of([*heights, *numbers])


def filled(table: Table, scales: Scales, decimal: Decimal) -> Filled:
    """The rows of a table as the positions, or the springs, of a job in these units."""
    result = Filled()
    names: dict[str, int] = {}
    for cell in table.too_long:
        result.unread.append(Unread(cell, "more cells than headings (a decimal comma?); the row is left out"))
    for row in table.rows:
        item: dict[str, Any] = {}
        cells: dict[str, Cell] = {}
        unread: list[Unread] = []
        lost: Cell | None = None
        for cell in row:
            column = cell.heading.column
            try:
                value = _value(cell, scales, decimal)
            except _Unreadable as error:
                unread.append(Unread(cell, f"{error}; {'the row is left out' if column.needed else _OPEN}"))
                lost = cell if column.needed else lost
                continue
            if value is not None and "load_curve" in column.where:
                _put_reading(item, value, cell, scales, decimal)
            elif value is not None:
                _inside(item, column.where[:-1])[column.where[-1]] = value
                cells[_pointer(column.where)] = cell
            elif column.needed:
                unread.append(Unread(cell, f"no {column.name}; the row is left out"))
                lost = cell
        name = item.get("id")
        if lost is None and name in names:
            unread.append(Unread(row[0], f"{name} stands in row {names[name]} already; the row is left out"))
            lost = row[0]
        result.unread += unread
        if lost is None and name is not None:
            names[str(name)] = row[0].row
            alone = list(_made_curves(item, cells))
            result.unread += [Unread(cell, "a load without its height; left out") for cell in alone]
            result.items.append(item)
            result.cells.append(cells)
    return result


_OPEN: Final = "taken as not measured"


def _value(cell: Cell, scales: Scales, decimal: Decimal) -> Any:
    """What a cell says; None where nothing was measured. Raises _Unreadable."""
    column, said = cell.heading.column, cell.said.strip()
    if is_not_measured(said):
        return None
    if column.holds in _WORDS:
        known, what = _WORDS[column.holds]
        if said.casefold() not in known:
            raise _Unreadable(f"not {what}")
        return known[said.casefold()]
    if column.holds == "number":
        return _number(column, said, scales, decimal)
    return [part.strip() for part in said.split(";") if part.strip()] if column.holds == "parts" else said


def _number(column: Column, said: str, scales: Scales, decimal: Decimal) -> float:
    if is_not_fitted(said):
        if column.not_fitted is None:
            raise _Unreadable('"not fitted" says nothing here')
        return column.not_fitted
    number = number_in(said, decimal)
    if number is None:
        raise _Unreadable(f"no number with a decimal {decimal}")
    if column.quantity == "length" and (column.unit or scales["length"].unit) == "in" and _is_thousandths(said, number):
        written = f"{number / 1000:.3f}".replace(".", MARKS[decimal])
        raise _Unreadable(f"{said} in? Write {written}")
    return _in_units(number, column.quantity, column.unit, scales)


def _is_thousandths(said: str, number: float) -> bool:
    """Whether a length in inches was written as thousandths: whole, and longer than anything on a head."""
    return said.isdecimal() and number >= _LONGEST


def _in_units(number: float, quantity: str | None, unit: str | None, scales: Scales) -> float:
    """A number in the units of the job."""
    if quantity is None or unit is None or unit == scales[quantity].unit:
        return number
    chosen: Any = {quantity: unit}
    there = units.scales_for(**chosen)[quantity]
    return float(f"{scales[quantity].from_si(there.to_si(number)):.{_DIGITS}g}")


def _put_reading(item: dict[str, Any], value: float, cell: Cell, scales: Scales, decimal: Decimal) -> None:
    """Put a height or a load of the tester beside its other half, each with its cell."""
    over, where = cell.heading, cell.heading.column.where
    place = where.index("load_curve")
    readings = _inside(item, (*where[:place], "load_curve"))
    what, which = where[place + 1 :]
    if over.height is None:
        readings.setdefault(which, {})[what] = (value, cell)
        return
    height = number_in(over.height, decimal)
    if height is None:
        raise _Unreadable(f"its height has no decimal {decimal}")
    # a height may be read more than once
    reading = {"height": (_in_units(height, "length", over.height_unit, scales), cell), "load": (value, cell)}
    readings[str(len(readings))] = reading


def _inside(item: dict[str, Any], where: Sequence[str | int]) -> Any:
    """What stands there in an item, made where it is not there yet."""
    inside: Any = item
    for part in where:
        if isinstance(part, int):
            inside.extend({} for _ in range(part + 1 - len(inside)))
            inside = inside[part]
        else:
            inside = inside.setdefault(part, [] if part == "nested" else {})
    return inside


def _made_curves(item: dict[str, Any], cells: dict[str, Cell]) -> Iterator[Cell]:
    """Make readings of a tester the curves that they are; gives the loads that have no height."""
    for one, before in [(item, ""), *((inner, "/nested/0") for inner in item.get("nested", []))]:
        halves = one.pop("load_curve", {}).values()
        yield from (read["load"][1] for read in halves if "height" not in read)
        whole = [read for read in halves if len(read) > 1]
        for place, read in enumerate(whole):
            cells |= {f"{before}/load_curve/readings/{place}/{what}": cell for what, (_, cell) in read.items()}
        if whole:
            readings = [{what: read[what][0] for what in ("height", "load")} for read in whole]
            one["load_curve"] = {"kind": "bench", "readings": readings}


def _pointer(where: Sequence[str | int]) -> str:
    return "".join(f"/{part}" for part in where)


def read_job(job: Mapping[str, Any], positions: Filled, springs: Filled | None) -> dict[str, Any]:
    """The job with its positions and springs; what it cannot hold is taken out of them and named there.

    Raises NotATable.
    """
    whole = dict(job) | {"positions": positions.items}
    if springs is not None:
        whole["springs"] = springs.items
    tables = {"positions": positions, "springs": springs}
    # one after the other, because what is taken out may be all that others are about
    while (fault := _first_fault(whole)) is not None:
        _, of, place, *where = (*fault.pointer.split("/"), "", "")
        table = tables.get(of)
        if table is None or not place.isdecimal():
            raise NotATable(f"{fault.pointer or 'the job'}: {fault.detail}")
        table.unread.append(_taken_out(table, int(place), _pointer([part for part in where if part]), fault.detail))
    return whole


def _first_fault(job: Mapping[str, Any]) -> Pointed | None:
    try:
        decode(msgspec.json.encode(job), HeadAssemblyRequest)
    except RefusedRequest as error:
        return error.errors[0] if error.errors else Pointed("", str(error))
    return None


def _taken_out(of: Filled, place: int, pointer: str, why: str) -> Unread:
    """Take what a job cannot hold out of an item, and name the cell that it came from."""
    cells = of.cells[place]
    while pointer:
        found = next((cell for where, cell in cells.items() if _leads(pointer, where) or _leads(where, pointer)), None)
        if found is not None:
            # one reading alone says little of a spring: of a curve nothing is taken
            out = pointer.partition("/readings")[0] if "/load_curve/" in pointer else pointer
            path = [int(part) if part.isdecimal() else part for part in out.split("/")[1:]]
            _inside(of.items[place], path[:-1]).pop(path[-1], None)
            of.cells[place] = {where: cell for where, cell in cells.items() if not _leads(out, where)}
            return Unread(found, f"{_plainly(why)}; {_OPEN}")
        pointer = pointer.rpartition("/")[0]
    raise NotATable(why)


def _plainly(why: str) -> str:
    """A fault for whom sees a table: a cell is never null, and holds no list of repeats."""
    return re.sub(r" or a list of \d+ to \d+ items| or null", "", why)


def _leads(pointer: str, where: str) -> bool:
    """Whether one pointer is another, or leads to it."""
    return f"{where}/".startswith(f"{pointer}/")
