"""Parts outstanding on a head's sheets: when each can be here, those that are late first, and what waits for it."""

from __future__ import annotations

from datetime import date
from typing import Final

from headbench.api.waiting.parts import PartAwaited
from headbench.api.waiting.words import say_day, say_how_long, say_names
from headbench.sheet.head.part import Part
from headbench.sheet.model import Cell, Section, Table

_SAID: Final = {
    "arrival_known": "on its way",
    "promised": "promised",
    "lead_time": "by lead time",
    "lead_time_from_today": "not ordered; if ordered today",
    "nothing": "no date: ask",
}
"""What a part's days rest on, as a sheet has it."""


def outstanding(part: Part) -> list[Section]:
    """A table of the parts that are not here; nothing where none is named."""
    asked, awaited = part.request.outstanding, part.answer.parts_outstanding
    if asked is None or not awaited:
        return []
    header = ("part", "missing", "soonest", "latest", "what is known", "waiting for it")
    rows = [
        [
            Cell(one.what or one.id),
            Cell(f"{one.missing} of {one.needed}"),
            Cell(_day(one.soonest)),
            Cell(_day(one.latest)),
            Cell(_known(one)),
            Cell(_waiting(part, one)),
        ]
        for one in sorted(awaited, key=_late_first)
    ]
    title = f"Parts outstanding, as of {say_day(asked.as_of)} ({len(rows)})"
    return [Section(title, [Table(header, rows, frozenset({0, 2, 3, 4, 5}))])]


def _late_first(one: PartAwaited) -> tuple[int, int]:
    """The late before those without a date before the others, and the last to come before the first."""
    if one.late_days is not None:
        return 0, -one.late_days
    return (1, 0) if one.latest is None else (2, -one.latest.toordinal())


def _day(day: date | None) -> str:
    return "no date" if day is None else say_day(day)


def _known(one: PartAwaited) -> str:
    if one.late_days is not None:
        return f"LATE by {say_how_long(one.late_days)}: ask"
    return _SAID[one.basis]


def _waiting(part: Part, one: PartAwaited) -> str:
    """The positions and springs whose readings wait for a part."""
    held = [item for item in part.answer.open_items if any(waits.part == one.id for waits in item.waits_for)]
    own = [item for item in held if part.has(item)]
    names = dict.fromkeys(item.position or item.spring or "all" for item in own)
    return say_names(list(names), most=8) or "nothing open here"
