"""GET /v1/reference/...: the tables behind the answers, each row with what it rests on."""

from __future__ import annotations

from typing import Annotated

from litestar import get
from msgspec import Meta

from headbench.api.findings import NOTE_CODES
from headbench.api.quantities import Answer
from headbench.calc import limits


class LimitRow(Answer, kw_only=True, frozen=True):
    """A limit that is taken where a job names none."""

    name: Annotated[str, Meta(description="The field of `limits` (or `shims`) it stands in for.")]
    value: float
    unit: Annotated[str, Meta(description="in or percent.")]
    meaning: str
    standing: Annotated[str, Meta(description="published, common practice, or from memory; with its source.")]


class LimitTable(Answer, kw_only=True, frozen=True):
    """Every default limit."""

    rows: list[LimitRow]


class NoteRow(Answer, kw_only=True, frozen=True):
    """A note that answers may carry."""

    code: str
    meaning: str


class NoteTable(Answer, kw_only=True, frozen=True):
    """Every note; codes keep their meaning, new ones may come."""

    rows: list[NoteRow]


_INCH = 0.0254


@get("/v1/reference/limits", operation_id="listLimits", summary="Default limits", tags=["Reference"])
async def limit_table() -> LimitTable:
    """List every limit that is taken where a job names none, and what it rests on."""
    return LimitTable(
        rows=[
            LimitRow(
                name=limit.name,
                value=round(limit.value / _INCH, 6) if limit.quantity == "length" else limit.value,
                unit="in" if limit.quantity == "length" else limit.quantity,
                meaning=limit.meaning,
                standing=limit.standing,
            )
            for limit in limits.ALL
        ]
    )


@get("/v1/reference/notes", operation_id="listNotes", summary="Codes of notes", tags=["Reference"])
async def note_table() -> NoteTable:
    """List every code a note can have, and what it means."""
    return NoteTable(rows=[NoteRow(code=code, meaning=meaning) for code, meaning in NOTE_CODES.items()])
