"""The command `readings`: tables of readings and the rest of a job in, the whole job out."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import msgspec

from headbench.api.vocabulary.quantities import Units
from headbench.readings.columns import POSITIONS, SPRINGS, Column
from headbench.readings.job import Filled, decimal_in, filled, read_job
from headbench.readings.numbers import Decimal
from headbench.readings.tables import NotATable, Table, nearest, read_table

ALL_READ: Final = 0
SOME_UNREAD: Final = 1
NOT_DONE: Final = 2


def run(readings: Path, springs: Path | None, job: Path, decimal: Decimal | None) -> int:
    """Print the job; the exit status says whether every cell could be read."""
    try:
        given = _job(job)
        positions = _filled(readings, POSITIONS, given, decimal)
        of_springs = None if springs is None else _filled(springs, SPRINGS, given, decimal)
        whole = read_job(given, positions, of_springs)
    except NotATable as error:
        _tell(str(error))
        return NOT_DONE
    unread = [(readings, one) for one in positions.unread]
    if springs is not None and of_springs is not None:
        unread += [(springs, one) for one in of_springs.unread]
    for path, one in unread:
        _tell(f"{path}: {one.cell}: {one.why}.")
    print(json.dumps(whole, indent=2, ensure_ascii=False))
    return SOME_UNREAD if unread else ALL_READ


def _job(path: Path) -> dict[str, Any]:
    try:
        given = msgspec.json.decode(path.read_bytes(), type=dict[str, Any])
        msgspec.convert(given.get("units") or {}, Units)
    except OSError as error:
        raise NotATable(f"{path} can't be read: {(error.strerror or str(error)).lower()}.") from None
    except (msgspec.DecodeError, ValueError, RecursionError) as error:
        raise NotATable(f"{path} is no job: {error}.") from None
    if given.get("positions"):
        raise NotATable(f"{path} has positions of its own; leave them out, the table has them.")
    return given


def _filled(path: Path, columns: Sequence[Column], given: dict[str, Any], said: Decimal | None) -> Filled:
    if columns is SPRINGS and given.get("springs"):
        raise NotATable("The job has springs of its own; leave them out, or do without --springs.")
    chosen = msgspec.convert(given.get("units") or {}, Units)
    try:
        table = read_table(path, columns)
        decimal = decimal_in(table, said)
    except NotATable as error:
        raise NotATable(f"{path}: {error}") from None
    _tell_table(path, table, decimal, columns)
    return filled(table, chosen.scales(), decimal)


def _tell_table(path: Path, table: Table, decimal: Decimal, columns: Sequence[Column]) -> None:
    said = f"{path}: {len(table.rows)} rows, {table.delimiter} between columns, decimal {decimal}"
    _tell(f"{said}{', read as Windows text' if table.encoding == 'cp1252' else ''}.")
    for name in table.unknown:
        meant = nearest(name, columns)
        _tell(f'{path}: nothing of "{name[:40]}" is used' + (f'; is it "{meant}"?' if meant else "."))


def _tell(sentence: str) -> None:
    print(sentence, file=sys.stderr)
