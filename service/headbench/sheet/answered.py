"""The sheet of any answer, made of its fields: for every resource that has none of its own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any, Final

from headbench.api.vocabulary.checks import VERDICTS, VerdictName
from headbench.sheet.fields import CHECKS, ENVELOPE, Line, Value, lines
from headbench.sheet.model import Block, Cell, Facts, Leaf, Points, Prose, Section, Signatures, Table, Verdict
from headbench.sheet.numbers import MARKS, OPEN, WORDS, number, shown

_RULES: Final = {"at_least": "min", "at_most": "max", "within": "+/-"}
_MOST_COLUMNS: Final = 9
"""Columns that a page has room for beside each other; more go into another table below."""


def answer_leaf(answer: Any) -> Leaf:
    """Every number of an answer, what is open, what was found, and what the words mean."""
    found = lines(answer, answer.units, left_out=ENVELOPE | {"verdict"})
    sections = [Section("", [*_head(answer, found)])]
    for where, rows in groupby((line for line in found if line.where), key=lambda line: (line.where, line.is_row)):
        sections.append(Section(_title(where[0]), [*_lines(list(rows))]))
    sections += [
        Section(
            f"Still to measure ({len(answer.open_items)})", [Points([one.detail for one in answer.open_items], "box")]
        ),
        Section("Notes", [Points([note.detail for note in answer.notes])]),
        Section("Cautions", [Points(answer.cautions, "caution")]),
        Section("What the words mean", [Facts(list(_meanings(found)))]),
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
    legend = f"{OPEN} is not measured yet. Beside a number: ! out of limits, ~ for a person to decide, ? cannot be judged yet."
    yield Prose([legend])
    if getattr(answer, "verdict", None) is not None:
        yield Verdict(answer.verdict)
    for line in found:
        if not line.where:
            yield from _lines([line])


def _lines(rows: Sequence[Line]) -> Iterator[Block]:
    """Lines of one kind: a table where they are the rows of a list, else a list of facts."""
    if not rows[0].is_row:
        for line in rows:
            yield Facts([(one.words, _fact(one)) for one in line.values])
        return
    header = list(dict.fromkeys((one.words, one.unit) for line in rows for one in line.values))
    columns = {key: [_at(line, key) for line in rows] for key in header}
    empty = [
        words for (words, _), column in columns.items() if all(one is None or one.value in (None, []) for one in column)
    ]
    shown_ = [key for key in header if key[0] not in empty]
    names = [key for key in shown_ if key[0] in {"name", "valve"}][:2] or shown_[:1]
    rest = [key for key in shown_ if key not in names]
    for start in range(0, max(len(rest), 1), _MOST_COLUMNS):
        chosen = [*names, *rest[start : start + _MOST_COLUMNS]]
        yield Table(
            [f"{words} {unit}".rstrip() for words, unit in chosen],
            [[_cell(columns[key][row]) for key in chosen] for row in range(len(rows))],
            frozenset(at for at, key in enumerate(chosen) if any(_is_words(one) for one in columns[key])) | {0},
        )
    if empty:
        yield Prose([f"Not measured or not asked, at none of them: {', '.join(empty)}."])


def _at(line: Line, key: tuple[str, str]) -> Value | None:
    return next((one for one in line.values if (one.words, one.unit) == key), None)


def _is_words(one: Value | None) -> bool:
    return one is not None and isinstance(one.value, str | bool)


def _cell(one: Value | None) -> Cell:
    if one is None:
        return Cell("")
    if isinstance(one.value, CHECKS):
        return Cell(f"{number(one.value.value, one.unit)}{MARKS[one.value.verdict]}", one.value.verdict)
    if isinstance(one.value, str) and one.value in VERDICTS:
        verdict: VerdictName = one.value  # type: ignore[assignment] # it is one of them
        return Cell(WORDS[verdict], verdict)
    return Cell(_written(one))


def _fact(one: Value) -> str:
    if isinstance(one.value, CHECKS):
        check = one.value
        value = OPEN if check.value is None else shown(check.value, one.unit)
        return f"{value} ({_RULES[check.rule]} {shown(check.limit, one.unit)}): {WORDS[check.verdict]}"
    return f"{_written(one)} {one.unit if one.value is not None else ''}".rstrip()


def _written(one: Value) -> str:
    match one.value:
        case None:
            return OPEN
        case bool():
            return "yes" if one.value else "no"
        case int():
            return str(one.value)
        case float():
            return number(one.value, one.unit)
        case list():
            return ", ".join(_written(_item(one, item)) for item in one.value) or "none"
        case _:
            text = str(one.value)
            return WORDS.get(text, text.replace("_", " ") if text.islower() and "_" in text else text)  # type: ignore[call-overload, no-any-return] # a verdict or another word


def _item(one: Value, item: Any) -> Value:
    """One item of a list of values."""
    return Value(one.words, one.unit, item, one.description)


def _meanings(found: Sequence[Line]) -> Iterator[tuple[str, str]]:
    """Every word of the sheet that the schema describes, once."""
    told = {(one.words, one.description) for line in found for one in line.values if one.description}
    yield from sorted(told)
