"""Tables: a CSV file of whatever dialect as rows under headings that are known."""

from __future__ import annotations

import codecs
import csv
import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path
from typing import Final

from headbench.readings.columns import Column, Heading, UnknownUnit, heading

MOST_BYTES: Final = 2_000_000
"""Longest file read; a row for every valve there can be takes a hundredth of it."""

_DELIMITERS: Final = {";": "semicolons", "\t": "tabs", ",": "commas", "|": "bars"}
_MOST_TOLD: Final = 20
"""Headings that are told of a file without the ones that are needed."""


class NotATable(Exception):
    """A file that cannot be read as such a table; says why and what to do."""


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands in one place of a table: its row, counted from 1 as a spreadsheet does, and its heading."""

    row: int
    heading: Heading
    said: str

    def __str__(self) -> str:
        """How it is told."""
        return f'row {self.row}, {self.heading.column.name}: "{self.said[:40]}"'


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under known headings.

    rows : every row that is not blank
    too_long : the first cell of every row that has more cells than there are headings
    top : the row of the headings
    headings : those that are known
    unknown : headings that are not, so that nothing under them is used
    delimiter, encoding : how the file was read
    """

    rows: Sequence[Sequence[Cell]]
    too_long: Sequence[Cell]
    top: int
    headings: Sequence[Heading]
    unknown: Sequence[str]
    delimiter: str
    encoding: str


def read_table(path: Path, columns: Sequence[Column]) -> Table:
    """A file as a table of these columns; raises NotATable."""
    text, encoding = _text(path)
    lines = text.splitlines(keepends=True)
    if lines and lines[0].strip().casefold().startswith("sep="):
        # what a spreadsheet writes for another; it is seen anyway
        lines[0] = "\n"
    delimiter = max(_DELIMITERS, key=lambda one: _known_in(lines, one, columns))
    top, names, rows = 0, [], []
    try:
        for number, row in enumerate(csv.reader(lines, delimiter=delimiter), start=1):
            if not any(cell.strip() for cell in row):
                continue
            if not top:
                top, names = number, [cell.strip() for cell in row]
            else:
                rows.append((number, row))
    except csv.Error as error:
        raise NotATable(f"no table: {error}.") from None
    try:
        known = [heading(name, columns) for name in names]
    except UnknownUnit as error:
        raise NotATable(str(error)) from None
    _refuse_other_shape(names, known, columns)
    first = next(one for one in known if one is not None)
    return Table(
        rows=[_cells(number, known, row) for number, row in rows if not _is_too_long(row, names)],
        too_long=[Cell(number, first, row[known.index(first)]) for number, row in rows if _is_too_long(row, names)],
        top=top,
        headings=[one for one in known if one is not None],
        unknown=[name for name, one in zip(names, known, strict=True) if one is None and name],
        delimiter=_DELIMITERS[delimiter],
        encoding=encoding,
    )


def _cells(number: int, known: Sequence[Heading | None], row: Sequence[str]) -> list[Cell]:
    """What stands under known headings; nothing where the row ends before."""
    pairs = zip_longest(known, row, fillvalue="")
    return [Cell(number, over, said) for over, said in pairs if isinstance(over, Heading)]


def _is_too_long(row: Sequence[str], names: Sequence[str]) -> bool:
    return any(cell.strip() for cell in row[len(names) :])


def _text(path: Path) -> tuple[str, str]:
    try:
        with path.open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise NotATable(f"can't be read: {(error.strerror or str(error)).lower()}.") from None
    if len(raw) > MOST_BYTES:
        raise NotATable(f"longer than {MOST_BYTES:,} bytes; that is no table of one pair of heads.")
    encoding = "utf-16" if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) else "utf-8-sig"
    try:
        return raw.decode(encoding), encoding
    except UnicodeDecodeError:
        # what spreadsheets write that write no UTF-8
        return raw.decode("cp1252", errors="replace"), "cp1252"


def _known_in(lines: Sequence[str], delimiter: str, columns: Sequence[Column]) -> int:
    """How many headings are known if this parts them."""
    top = next((line for line in lines if line.strip()), "")
    try:
        names = next(csv.reader([top], delimiter=delimiter), [])
    except csv.Error:
        return 0
    return sum(_is_known(name, columns) for name in names)


def _is_known(name: str, columns: Sequence[Column]) -> bool:
    try:
        return heading(name, columns) is not None
    except UnknownUnit:
        return True


def _refuse_other_shape(names: Sequence[str], known: Sequence[Heading | None], columns: Sequence[Column]) -> None:
    there = [one.column.where for one in known if one is not None]
    missing = [one.name for one in columns if one.needed and one.where not in there]
    if missing:
        has = ", ".join(f'"{name[:40]}"' for name in names[:_MOST_TOLD]) or "none at all"
        more = ", ..." if len(names) > _MOST_TOLD else ""
        raise NotATable(f"no column {' and none '.join(missing)}; it has: {has}{more}.")
    for place, where in enumerate(there):
        if where in there[:place] and "load at" not in where:
            twice = next(one.column.name for one in known if one is not None and one.column.where == where)
            raise NotATable(f'two columns are "{twice}"; leave one out.')


def nearest(name: str, columns: Sequence[Column]) -> str | None:
    """The heading that was meant, perhaps."""
    found = difflib.get_close_matches(name.casefold(), [one for column in columns for one in column.names], 1)
    return found[0] if found else None
