"""The sheet of any answer, made of its fields: for every resource that has none of its own."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import zip_longest
from typing import Any, Final

from headbench.api.vocabulary.checks import VERDICTS
from headbench.sheet.fields import ENVELOPE, Line, Value, in_words, lines
from headbench.sheet.model import Block, Cell, Facts, Leaf, Points, Prose, Section, Signatures, Table, Verdict
from headbench.sheet.numbers import MARKS, OPEN, WORDS, number, shown

_LEGEND: Final = f"{OPEN} is not measured yet. Beside a number: ! out of limits, ~ you decide, ? cannot be judged yet."
_RULES: Final = {"at_least": "min", "at_most": "max", "within": "+/-"}
_Key = tuple[str, str]
"""A column: its name and its unit."""

_MOST_COLUMNS: Final = 9
"""Columns that a page has room for beside each other; more go into another table below."""


_MOST_IN_A_CELL: Final = 8
"""Numbers of a list that a cell has room for; longer lists are columns of their own."""

_MOST_LISTED: Final = 40
"""Rows of such columns; more is for plotting, not for reading."""


def answer_leaf(answer: Any) -> Leaf:
    """Every number of an answer, what is open, what was found, and what the words mean."""
    found = lines(answer, answer.units, left_out=ENVELOPE | {"verdict"})
    by_place: dict[tuple[str, bool], list[Line]] = {}
    for line in found:
        by_place.setdefault((line.where, line.is_row), []).append(line)
    open_items = [one.detail for one in answer.open_items]
    sections = [
        Section("", [*_head(answer, found)]),
        Section(f"Still to measure ({len(open_items)})", [Points(open_items, "box")]),
        *(Section(_title(where), [*_lines(rows)]) for (where, _), rows in by_place.items() if where),
        Section("Notes", [Points([note.detail for note in answer.notes])]),
        Section("Cautions", [Points(answer.cautions, "caution")]),
        Section("What the words mean", [Facts(_meanings(found))]),
        Section("", [Signatures(("Measured by", "Checked by", "Date"))]),
    ]
    return Leaf("", sections)


def _title(where: str) -> str:
    return f"{where[0].upper()}{where[1:]}"


def _head(answer: Any, found: Sequence[Line]) -> Iterator[Block]:
    job = answer.job
    told = (
        ("Head", job.head), ("Customer", job.customer), ("Engine", job.engine), ("Remarks", job.remarks),
        ("Parts fitted", "; ".join(job.parts)),
    )  # fmt: skip
    if facts := [(name, value) for name, value in told if value]:
        yield Facts(facts)
    yield Prose([_LEGEND])
    if getattr(answer, "verdict", None) is not None:
        yield Verdict(answer.verdict)
    for line in found:
        if not line.where:
            yield from _lines([line])


def _lines(rows: Sequence[Line]) -> Iterator[Block]:
    """Lines of one kind: a table where they are the rows of a list, else a list of facts."""
    if not rows[0].is_row:
        yield from (Facts([(one.words, _fact(one)) for one in line.values]) for line in rows)
        return
    columns: dict[_Key, list[Value | None]] = {}
    for key in dict.fromkeys((one.words, one.unit) for line in rows for one in line.values):
        columns[key] = [_at(line, key) for line in rows]
    empty = [key for key, column in columns.items() if all(one is None or one.value in (None, []) for one in column)]
    there = [key for key in columns if key not in empty]
    names = [key for key in there if key[0] in {"name", "valve"}] or there[:1]
    long = [key for key in there if any(map(_is_long, columns[key]))]
    rest = [key for key in there if key not in names and key not in long]
    for start in range(0, max(len(rest), 1), _MOST_COLUMNS):
        yield _table({key: columns[key] for key in (*names, *rest[start : start + _MOST_COLUMNS])})
    for row in range(len(rows) if long else 0):
        yield from _listed(" ".join(_cell(columns[key][row]).text for key in names), {k: columns[k][row] for k in long})
    if empty:
        yield Prose([f"Not measured or not asked, at none of them: {', '.join(words for words, _ in empty)}."])


def _table(columns: Mapping[_Key, Sequence[Value | None]]) -> Table:
    words = {at for at, column in enumerate(columns.values()) if any(map(_is_words, column))}
    rows = [[_cell(one) for one in row] for row in zip(*columns.values(), strict=True)]
    return Table([f"{name} {unit}".rstrip() for name, unit in columns], rows, frozenset({0} | words))


def _is_long(one: Value | None) -> bool:
    return one is not None and isinstance(one.value, list) and len(one.value) > _MOST_IN_A_CELL


def _listed(name: str, lists: Mapping[_Key, Value | None]) -> Iterator[Block]:
    """Long lists of one row as columns beside each other; of very long ones, which are for plotting, a part."""
    columns = [[] if one is None else [_cell(replace(one, value=item)) for item in one.value] for one in lists.values()]
    points = max(map(len, columns))
    if not points:  # those of other rows are there
        return
    step = math.ceil(points / _MOST_LISTED)
    told = f", one in {step} of {points} points; JSON and CSV have all" if step > 1 else ""
    yield Prose([f"{name}{told}:"])
    rows = [list(row) for row in zip_longest(*columns, fillvalue=Cell(""))]
    yield Table([f"{words} {unit}".rstrip() for words, unit in lists], rows[::step], frozenset())


def _at(line: Line, key: _Key) -> Value | None:
    return next((one for one in line.values if (one.words, one.unit) == key), None)


def _is_words(one: Value | None) -> bool:
    return one is not None and isinstance(one.value, str | bool | list)


def _cell(one: Value | None) -> Cell:
    if one is None:
        return Cell("")
    if one.is_end and one.value is None:  # there is no limit, so that nothing is open
        return Cell("")
    if one.is_check and one.value is not None:
        shown_there = one.value.limit if one.is_end else one.value.value
        return Cell(f"{number(shown_there, one.unit)}{MARKS[one.value.verdict]}", one.value.verdict)
    if one.value in VERDICTS:
        return Cell(WORDS[one.value], one.value)
    return Cell(_written(one))


def _fact(one: Value) -> str:
    if one.is_check and one.value is not None:
        check = one.value
        value = OPEN if check.value is None else shown(check.value, one.unit)
        return f"{value} ({_RULES[check.rule]} {shown(check.limit, one.unit)}): {WORDS[check.verdict]}"
    if one.value in VERDICTS:
        return WORDS[one.value]
    return f"{_written(one)} {'' if one.value is None else one.unit}".rstrip()


def _written(one: Value) -> str:
    match one.value:
        case None:
            return OPEN
        case bool():
            return "yes" if one.value else "no"
        case float():
            return number(one.value, one.unit)
        case list():
            return ", ".join(_written(replace(one, value=item)) for item in one.value) or "none"
        case str() if _CODE.fullmatch(one.value):
            return one.value.replace("_", " ")
        case _:
            return str(one.value)


_CODE: Final = re.compile(r"[a-z0-9]+(_[a-z0-9]+)+")
"""A word of the schema's own, like not_measured."""


def _meanings(found: Sequence[Line]) -> list[tuple[str, str]]:
    """Every word of the sheet that the schema describes, once, with the first sentence it says."""
    told: dict[str, str] = {}
    for line in found:
        for one in line.values:
            sentence = re.split(r"(?<=[.;])\s", _CODE.sub(lambda code: in_words(code[0]), one.description))[0]
            told.setdefault(one.words, sentence.rstrip(";."))
    return sorted((words, f"{sentence}.") for words, sentence in told.items() if sentence)
