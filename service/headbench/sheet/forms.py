"""Forms: the media types that an answer is given in beside JSON, and what makes each."""

from __future__ import annotations

from typing import Final

from headbench.api.exchange.markup import POLICY
from headbench.api.exchange.negotiating import PAGE, Answered, Form
from headbench.sheet.page import as_page
from headbench.sheet.sheets import sheet_of
from headbench.sheet.table import as_table
from headbench.sheet.text import as_text


def _page(done: Answered, which: str | None) -> bytes:
    return as_page(sheet_of(done, which, by_head=True))


def _text(done: Answered, which: str | None) -> bytes:
    return as_text(sheet_of(done, which, by_head=False)).encode()


def _paper(done: Answered, which: str | None) -> bytes:
    # loaded when it is first asked for: a service that prints nothing does without
    from headbench.sheet.paper.press import as_paper  # noqa: PLC0415

    return as_paper(sheet_of(done, which, by_head=True))


def _table(done: Answered, _: str | None) -> bytes:
    return as_table(done.answer, done.answer.units)


FORMS: Final = (
    Form(PAGE, "page", "The sheet as a page to read and print.", _page, {"Content-Security-Policy": POLICY}),
    Form("text/plain", "text", "The sheet as plain text, for a terminal.", _text),
    Form("application/pdf", "pdf", "The sheet as PDF: US letter for inches, A4 for millimeters.", _paper),
    Form("text/csv", "csv", "A row a position, or a row for each line of the answer (RFC 4180).", _table),
)
