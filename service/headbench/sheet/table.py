"""An answer as CSV (RFC 4180), to go on with in a spreadsheet: a row a position, or a row for each line there is.

Numbers are those of the JSON, digit by digit.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from typing import Any, Final

from headbench.api.vocabulary.quantities import Answer, UnitsUsed
from headbench.sheet.fields import Line, lines

_ROWS: Final = "positions"
_FORMULAS: Final = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for the start of a formula."""


def as_table(answer: Answer, used: UnitsUsed) -> bytes:
    """Every line of an answer as a row; of one that goes valve by valve, a row a position."""
    found = lines(answer, used)
    by_position = isinstance(getattr(answer, _ROWS, None), list)
    rows = [dict(_cells(line)) for line in found if not by_position or line.where == _ROWS]
    if not by_position:
        rows = [{"part": _text(line.where or "whole"), **row} for line, row in zip(found, rows, strict=True)]
    header = list(dict.fromkeys(name for row in rows for name in row))
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows([row.get(name, "") for name in header] for row in rows)
    return out.getvalue().encode()


def _cells(line: Line) -> Iterator[tuple[str, str]]:
    """The cells of a line by their headings; a check is three: its value, its limit and its verdict."""
    for one in line.values:
        unit = f" [{one.unit}]" if one.unit else ""
        if one.is_check:
            check = one.value
            yield f"{one.words}{unit}", _written(check and check.value)
            yield f"{one.words} limit{unit}", _written(check and check.limit)
            yield f"{one.words} verdict", check.verdict if check else ""
        else:
            yield f"{one.words}{unit}", _written(one.value)


def _written(value: Any) -> str:
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case int() | float():
            return repr(value)
        case list():
            return "; ".join(_written(one) for one in value)
        case _:
            return _text(str(value))


_GUARD: Final = "'"


def _text(text: str) -> str:
    """A text that no spreadsheet takes for a formula."""
    return f"{_GUARD}{text}" if text.startswith(_FORMULAS) else text
