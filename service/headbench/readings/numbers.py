"""Numbers: what a cell says, with the decimal mark that its whole table has.

A comma is a decimal mark in one shop and parts thousands in the next. Which it is is decided once for a table, by
the cells that can be read one way only; where none can, or they contradict each other, nobody guesses.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final, Literal, NamedTuple

from headbench.readings.tables import Cell, NotATable

Decimal = Literal["point", "comma"]
MARKS: Final[dict[Decimal, str]] = {"point": ".", "comma": ","}

_NOT_MEASURED: Final = frozenset({"", "-", "--", "\u2013", "\u2014", "n/a", "na", "n.a.", "not measured"})
_NOT_FITTED: Final = frozenset({"not fitted", "none", "none fitted"})
_SPACES: Final = re.compile(r"(?<=\d)[ \u00a0\u202f\u2009'\u2019](?=\d{3}(?!\d))")
"""What parts thousands and is no mark at all."""

_THOUSANDS: Final = re.compile(r"[+-]?[1-9]\d{0,2}([.,]\d{3})")
"""What could be thousands, or a number of three decimals."""

_MANY_THOUSANDS: Final = re.compile(r"[+-]?[1-9]\d{0,2}(?P<mark>[.,])\d{3}((?P=mark)\d{3})+")


def is_not_measured(said: str) -> bool:
    """Whether a cell says that nothing was measured.

    >>> is_not_measured(" N/A "), is_not_measured("0")
    (True, False)
    """
    return said.strip().casefold() in _NOT_MEASURED


def is_not_fitted(said: str) -> bool:
    """Whether a cell says that there is no such part."""
    return said.strip().casefold() in _NOT_FITTED


class Evidence(NamedTuple):
    """A cell, and the decimal mark that it can only have; None where it may have either."""

    cell: Cell
    decimal: Decimal | None


def decimal_of(cells: Iterable[Cell]) -> Decimal:
    """The decimal mark of a table, by all its cells that should hold numbers.

    Raises NotATable where two cells contradict each other, or none says which it is.
    """
    seen = [one for one in map(_evidence, cells) if one is not None]
    sure = {one.decimal: one.cell for one in reversed(seen) if one.decimal is not None}
    if len(sure) > 1:
        raise NotATable(
            f"{sure['comma']} has a decimal comma and {sure['point']} a decimal point; write all numbers one way."
        )
    if sure:
        return next(iter(sure))
    doubtful = next((one.cell for one in seen if "," in one.cell.said), None)
    if doubtful is not None:
        raise NotATable(
            f"{doubtful} may have a decimal comma or thousands, and no other number says which; say it with "
            "--decimal comma or --decimal point."
        )
    return "point"


def _evidence(cell: Cell) -> Evidence | None:
    said = _plain(cell.said)
    marks = re.sub(r"[^.,]", "", said)
    if not marks or not re.fullmatch(r"[+-]?[\d.,]+", said):
        return None
    other: dict[str, Decimal] = {".": "comma", ",": "point"}
    same: dict[str, Decimal] = {".": "point", ",": "comma"}
    if len(set(marks)) > 1:
        return Evidence(cell, same[marks[-1]])
    if _MANY_THOUSANDS.fullmatch(said):
        return Evidence(cell, other[marks[0]])
    if len(marks) > 1:
        return None
    return Evidence(cell, None if _THOUSANDS.fullmatch(said) else same[marks])


def number_in(said: str, decimal: Decimal) -> float | None:
    """The number that a cell says; None where it is none.

    >>> number_in("1,885", "comma"), number_in("1,885", "point"), number_in("1.85 in", "point")
    (1.885, 1885.0, None)
    """
    mark = MARKS[decimal]
    thousands = "," if mark == "." else "."
    plain = _plain(said)
    whole = rf"(\d+|[1-9]\d{{0,2}}({re.escape(thousands)}\d{{3}})+)"
    if not re.fullmatch(rf"[+-]?({whole}({re.escape(mark)}\d*)?|{re.escape(mark)}\d+)", plain):
        return None
    return float(plain.replace(thousands, "").replace(mark, "."))


def _plain(said: str) -> str:
    return _SPACES.sub("", said.strip().replace("\u2212", "-"))
