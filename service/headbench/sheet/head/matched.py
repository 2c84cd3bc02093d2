"""Springs matched on a head's bench sheet: what to take where, and what it betters."""

from __future__ import annotations

from headbench.api.matching.answers import Matched, MatchedSpreads
from headbench.sheet.head.part import Part
from headbench.sheet.model import Cell, Prose, Section, Table
from headbench.sheet.numbers import number


def matched(part: Part) -> list[Section]:
    """The moves in the order to make them, and loads before and after; nothing where no match was asked for."""
    found = part.answer.spring_matching
    if found is None:
        return []
    rows = [
        [
            Cell(str(step + 1)),
            Cell(move.spring),
            Cell(move.from_position or "bench"),
            Cell(move.to_position or "bench"),
            Cell(", ".join(number(size, part.answer.units.length) for size in move.shims) or "none")
            if move.to_position
            else Cell(""),
        ]
        for step, move in enumerate(found.moves)
        if part.is_whole or {move.from_position, move.to_position} & part.ids
    ]
    moves = [Table(("step", "spring", "from", "to", "shims"), rows, frozenset({1, 2, 3, 4}))] if rows else []
    title = f"Springs to move, in this order ({len(rows)})" if rows else "No spring moves"
    return [Section(title, [*moves, Prose([*_told(found, part.answer.units.force)])])]


def _told(found: Matched, force: str) -> list[str]:
    """What the match came to, in sentences."""
    lines = []
    if found.worst_deviation is not None:
        lines.append(
            f"Farthest off the load wanted: {_change(found.worst_deviation_before, found.worst_deviation, force)}."
        )
    for kind, own in (("intake", found.intake), ("exhaust", found.exhaust)):
        if own is not None and own.seat_load.spread is not None:
            lines.append(f"Spread of {kind} seat loads: {_spreads(own, force)}.")
    return lines


def _spreads(own: MatchedSpreads, force: str) -> str:
    return _change(own.seat_load_before.spread, own.seat_load.spread, force)


def _change(before: float | None, after: float | None, force: str) -> str:
    now = f"{number(after, force)} {force}"
    return now if before is None else f"{now}, {number(before, force)} as the springs lie"
