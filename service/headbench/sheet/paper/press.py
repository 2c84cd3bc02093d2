"""The press: a sheet as PDF, the same bytes for the same sheet, its fonts in it, a page for each head.

Loaded when paper is first asked for: a service that prints nothing does without the library that draws it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from io import BytesIO
from itertools import pairwise
from threading import Lock
from typing import Any, Final
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    PageBreak,
    PageTemplate,
    Paragraph,
    TableStyle,
)
from reportlab.platypus import Table as Grid

from headbench.errors import RefusedRequest
from headbench.sheet.model import (
    Block,
    Drawing,
    Facts,
    Pair,
    Points,
    Prose,
    Section,
    Sheet,
    SideBySide,
    Signatures,
    Table,
    Tags,
)
from headbench.sheet.model import Verdict as Overall
from headbench.sheet.numbers import WORDS
from headbench.sheet.paper.letters import BOLD, LACKING, PLAIN, drawable, load_fonts
from headbench.sheet.paper.vectors import FAINT, FILLS, Vectors

_MARGIN: Final = 30.0
_BODY: Final = 8.0
_NEARLY: Final = 2
"""Pages to a head that smaller letters can still bring to one."""
_MOST_FITTED: Final = 8
"""Heads of a sheet that is printed again until each keeps to its page."""
MOST_CELLS: Final = 6_000
"""Places of tables on one sheet, which takes about a second to print."""
_CELLS_OF_LEAF: Final = 200
"""What a head takes beside its tables."""
_SCALES: Final = (0.94, 0.88, 0.82, 0.78)
"""How much smaller letters may be so that a head keeps to its page; where that is not enough it goes on to another."""
_BULLETS: Final = {"point": "•", "box": "☐", "caution": "⚠"}
_BARE: Final = (
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
)
"""A grid that only places what is in it."""
_MOST_BESIDE: Final = 0.5
"""How high columns and drawings beside each other may be, as a part of the paper."""
_TO_WRITE: Final = 48.0
"""Room for a number written by hand."""
_TO_SIGN: Final = 22.0
"""Room for a name written by hand."""
_SHORT: Final = 62
"""Letters of a fact that others may stand beside in one line."""
_TAGS_ACROSS: Final = 3
_AT_WORK: Final = Lock()
"""Fonts are shared and take note of what was drawn with them; one sheet is printed at a time."""


def as_paper(sheet: Sheet) -> bytes:
    """The whole sheet as PDF: US letter where lengths are in inches, A4 where they are in millimeters.

    Raises RefusedRequest (too-much-work, 422) where that would take reams.
    """
    _refuse_reams(sheet)
    load_fonts()
    with _AT_WORK:
        whole, pages = _Press(sheet, 1.0).printed()
        leaves = len(sheet.leaves)
        if not leaves < sum(pages) <= _NEARLY * leaves or leaves > _MOST_FITTED:
            return whole
        for scale in _SCALES:
            # a leaf that has gone on to another page is printed alone first: while it does, so does the sheet
            longest = sheet.leaves[pages.index(max(pages))]
            if sum(_Press(replace(sheet, leaves=[longest]), scale).printed()[1]) > 1:
                continue
            printed, pages = _Press(sheet, scale).printed()
            if sum(pages) <= leaves:
                return printed
        return whole


def _refuse_reams(sheet: Sheet) -> None:
    tables = [
        block for leaf in sheet.leaves for one in leaf.in_turn() for block in one.blocks if isinstance(block, Table)
    ]
    cells = _CELLS_OF_LEAF * len(sheet.leaves) + sum(len(table.header) * len(table.rows) for table in tables)
    if cells > MOST_CELLS:
        detail = (
            f"This fills {cells:,} places on paper; a PDF has up to {MOST_CELLS:,}. Ask for a page (text/html) or a "
            "table (text/csv), or send fewer heads, springs or points at a time."
        )
        raise RefusedRequest("too-much-work", 422, detail)


class _Numbered(Canvas):
    """A canvas that says at the foot of every page which of how many it is."""

    def __init__(self, *given: Any, footing: Callable[[], str], right: float, **more: Any) -> None:
        super().__init__(*given, **more)
        self._footing = footing
        self._right = right
        self._done: list[dict[str, Any]] = []

    def showPage(self) -> None:  # noqa: N802 - the library's
        """Keep a page until it is known how many there are."""
        self._done.append(dict(self.__dict__))
        self._startPage()  # type: ignore[attr-defined] # the types leave it out

    def save(self) -> None:
        """Print every page with its foot."""
        for page, state in enumerate(self._done, start=1):
            self.__dict__.update(state)
            self.setFont(PLAIN, 6.5)
            self.drawString(_MARGIN, 18.0, self._footing())
            self.drawRightString(self._right, 18.0, f"page {page} of {len(self._done)}")
            super().showPage()
        super().save()


class _Paper(BaseDocTemplate):
    """Paper that notes on which pages its leaves begin.

    headings : what leaves begin with, by id
    """

    def __init__(self, *given: Any, **more: Any) -> None:
        super().__init__(*given, **more)
        self.headings: set[int] = set()
        self.begun: list[int] = []

    def afterFlowable(self, flowable: Flowable) -> None:  # noqa: N802 - the library's
        """Note where a leaf begins."""
        if id(flowable) in self.headings:
            self.begun.append(self.page)


class _Press:
    """Prints a sheet at one size of letters."""

    def __init__(self, sheet: Sheet, scale: float) -> None:
        self._sheet = sheet
        self._size = _BODY * scale
        self._lacks = False
        self._paper = A4 if sheet.is_metric else LETTER
        self._width = self._paper[0] - 2 * _MARGIN
        body = {"fontName": PLAIN, "splitLongWords": 1, "allowWidows": 0}
        self._body = self._style("body", body, 1.0)
        self._point = self._style("point", body, 1.0, leftIndent=11, bulletIndent=1, bulletFontName=PLAIN)
        self._title = self._style("title", body, 1.6, fontName=BOLD, spaceAfter=2)
        self._heading = self._style("heading", body, 1.2, fontName=BOLD, spaceBefore=4, spaceAfter=1, keepWithNext=1)
        self._loud = self._style("loud", body, 1.35, fontName=BOLD, spaceBefore=1, spaceAfter=2)

    def _text(self, text: str) -> str:
        drawn = drawable(text)
        self._lacks = self._lacks or (LACKING in drawn and LACKING not in text)
        return drawn

    def _footing(self) -> str:
        """What stands at the foot of every page; known once all is drawn."""
        lacking = f"; {LACKING} is a letter that this paper lacks and the page has" if self._lacks else ""
        return f"{self._sheet.footing}{lacking}"

    def _style(self, name: str, body: dict[str, Any], factor: float, **more: Any) -> ParagraphStyle:
        size = self._size * factor
        return ParagraphStyle(name, **{**body, "fontSize": size, "leading": size * 1.2, **more})

    def printed(self) -> tuple[bytes, list[int]]:
        """The paper, and how many pages each leaf has."""
        out = BytesIO()
        sheet = self._sheet
        paper = _Paper(
            out, pagesize=self._paper, title=self._text(sheet.title), author="Headbench", lang="en", invariant=1
        )
        bottom = _MARGIN
        frame = Frame(
            _MARGIN, bottom, self._width, self._paper[1] - _MARGIN - bottom,
            leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0,
        )  # fmt: skip
        paper.addPageTemplates([PageTemplate("page", [frame])])
        flow: list[Flowable] = []
        for place, leaf in enumerate(sheet.leaves):
            title = f"{sheet.title}: {leaf.name}" if leaf.name else sheet.title
            flow += [PageBreak()] if place else []
            heading = self._paragraph(title, self._title)
            paper.headings.add(id(heading))
            flow.append(heading)
            for part in leaf.sections:
                flow += self._section(part) if isinstance(part, Section) else self._pair(part)
        paper.build(flow, canvasmaker=self._canvas)
        begun = [*paper.begun, paper.page + 1]
        return out.getvalue(), [behind - at for at, behind in pairwise(begun)]

    def _canvas(self, *given: Any, **more: Any) -> Canvas:
        right = self._paper[0] - _MARGIN
        return _Numbered(*given, footing=self._footing, right=right, **more)

    def _paragraph(self, text: str, style: ParagraphStyle, bullet: str | None = None) -> Paragraph:
        return Paragraph(escape(self._text(text)), style, bulletText=bullet)

    def _pair(self, pair: Pair) -> list[Flowable]:
        """Two columns, where neither is so high that it would have to be cut."""
        gap = 10.0
        whole, self._width = self._width, (self._width - gap) / 2
        sides = [[one for section in side for one in self._section(section)] for side in (pair.left, pair.right)]
        heights = [sum(one.wrap(self._width, self._paper[1])[1] for one in side) for side in sides]
        room, self._width = self._width, whole
        if max(heights) > _MOST_BESIDE * self._paper[1]:
            return [one for section in (*pair.left, *pair.right) for one in self._section(section)]
        look = [("LEFTPADDING", (0, 0), (0, 0), 0), ("LEFTPADDING", (1, 0), (1, 0), gap), *_BARE]
        return [Grid([sides], [room, room + gap], style=TableStyle(look), hAlign="LEFT", spaceBefore=4)]

    def _section(self, section: Section) -> list[Flowable]:
        blocks = [one for block in section.blocks for one in self._block(block)]
        if not section.title:
            return blocks
        title = (
            section.title if section.verdict is None else f"{section.title}: {section.word or WORDS[section.verdict]}"
        )
        return [self._paragraph(title, self._heading), *blocks]

    def _block(self, block: Block) -> Iterator[Flowable]:
        match block:
            case Facts():
                told = [f"<b>{escape(self._text(name))}</b>: {escape(self._text(value))}" for name, value in block.rows]
                is_short = all(len(value) <= _SHORT for _, value in block.rows)
                yield from (Paragraph(one, self._body) for one in (["&nbsp; &nbsp; ".join(told)] if is_short else told))
            case Prose():
                yield from (self._paragraph(line, self._body) for line in block.lines)
            case Overall():
                counts = f" ({block.counts})" if block.counts else ""
                yield self._paragraph(f"Verdict: {block.word or WORDS[block.verdict]}{counts}", self._loud)
            case Table():
                yield self._table(block)
            case Points():
                bullet = _BULLETS[block.bullet]
                yield from (self._paragraph(one, self._point, bullet) for one in block.sentences)
                if not block.sentences:
                    yield self._paragraph("nothing", self._body)
            case SideBySide():
                yield self._drawings(block.drawings)
            case Signatures():
                yield self._signatures(block.names)
            case Tags():
                yield self._tags(block)

    def _table(self, table: Table) -> Flowable:
        texts = [[self._text(cell.text.rstrip()) for cell in row] for row in table.rows]
        header = [self._text(name.strip()) for name in table.header]
        size, padding = self._size * 0.93, 2.2
        widths = self._widths(header, texts, table.words, size, padding)
        for at in range(len(header) if table.to_fill else 0):
            if any(not row[at] for row in texts):
                widths[at] = max(widths[at], _TO_WRITE)
        edges = 2 * padding * len(widths)
        shrunk = min((self._width - edges) / (sum(widths) - edges), 1.0)
        size, widths = size * shrunk, [(width - 2 * padding) * shrunk + 2 * padding for width in widths]

        def style(bold: bool, right: bool) -> ParagraphStyle:  # noqa: FBT001 - two of four kinds
            return ParagraphStyle(
                "cell", fontName=BOLD if bold else PLAIN, fontSize=size, leading=size * 1.14,
                alignment=2 if right else 0, splitLongWords=1,
            )  # fmt: skip

        styles = {(bold, right): style(bold, right) for bold in (False, True) for right in (False, True)}
        lines: list[list[Any]] = [
            [Paragraph(escape(name), styles[True, at not in table.words]) for at, name in enumerate(header)]
        ]
        look: list[tuple[Any, ...]] = [
            ("GRID", (0, 0), (-1, -1), 0.4, colors.HexColor("#767676")),
            ("BACKGROUND", (0, 0), (-1, 0), colors.HexColor("#ececec")),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE" if table.to_fill else "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), padding),
            ("RIGHTPADDING", (0, 0), (-1, -1), padding),
            ("TOPPADDING", (0, 0), (-1, -1), 0.4),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1.2),
        ]
        for row, own in enumerate(texts):
            verdicts = [cell.verdict for cell in table.rows[row]]
            lines.append(
                [
                    Paragraph(escape(text), styles[not at or verdicts[at] == "reject", at not in table.words])
                    for at, text in enumerate(own)
                ]
            )
            look += [
                ("BACKGROUND", (at, row + 1), (at, row + 1), FILLS[verdict])
                for at, verdict in enumerate(verdicts)
                if verdict in FILLS
            ]
        heights = [None, *([self._size * 1.7] * len(texts))] if table.to_fill else None
        return Grid(
            lines, widths, heights, repeatRows=1, splitInRow=1, style=TableStyle(look), hAlign="LEFT", spaceAfter=2
        )

    def _widths(
        self, header: Sequence[str], rows: Sequence[Sequence[str]], words: frozenset[int], size: float, padding: float
    ) -> list[float]:
        """Columns as wide as what stands in them; those of words give way where there is no room for all."""

        def wide(text: str, font: str = BOLD) -> float:
            return float(pdfmetrics.stringWidth(text, font, size))

        widths, least = [], []
        for at, name in enumerate(header):
            title = max(map(wide, name.split()), default=0.0)
            column = [row[at] for row in rows]
            natural = max([title, *map(wide, column)])
            breaks = max([title, *(wide(word) for text in column for word in text.split())])
            least.append(2 * padding + 1 + min(breaks if at in words else natural, 0.3 * self._width))
            widths.append(2 * padding + 1 + natural)
        over = sum(widths) - self._width
        give = sum(width - low for width, low in zip(widths, least, strict=True))
        if over > 0.0 and give > 0.0:
            share = min(over / give, 1.0)
            widths = [width - share * (width - low) for width, low in zip(widths, least, strict=True)]
        return widths

    def _drawings(self, drawings: Sequence[Drawing]) -> Flowable:
        gap = 8.0
        room = (self._width - gap) / 2
        most = _MOST_BESIDE * self._paper[1]
        cells = [Vectors(one, min(room / one.width, most / one.height)) for one in drawings]
        look = TableStyle([("LEFTPADDING", (0, 0), (-1, -1), 0), *_BARE])
        return Grid([cells], [room + gap / 2] * len(cells), style=look, hAlign="LEFT", spaceAfter=4)

    def _signatures(self, names: Sequence[str]) -> Flowable:
        """A line for each, with a gap between."""
        gap = 14.0
        cells: list[Any] = []
        widths: list[float] = []
        for name, share in zip(names, (0.39, 0.39, 0.22), strict=True):
            cells += [self._paragraph(name, self._body), ""]
            widths += [self._width * share - gap, gap]
        look: list[tuple[Any, ...]] = [("LEFTPADDING", (0, 0), (-1, -1), 0)]
        look += [("LINEABOVE", (at, 0), (at, 0), 0.7, colors.black) for at in range(0, len(cells), 2)]
        return Grid([cells], widths, style=TableStyle(look), hAlign="LEFT", spaceBefore=_TO_SIGN)

    def _tags(self, block: Tags) -> Flowable:
        cells: list[Any] = [
            [self._paragraph(tag.name, self._loud), *(self._paragraph(line, self._body) for line in tag.lines)]
            for tag in block.tags
        ]
        rows = [cells[at : at + _TAGS_ACROSS] for at in range(0, len(cells), _TAGS_ACROSS)]
        rows = [[*row, *([""] * (_TAGS_ACROSS - len(row)))] for row in rows]
        if not rows:
            return self._paragraph("No springs were entered.", self._body)
        look = TableStyle([("GRID", (0, 0), (-1, -1), 0.4, FAINT, None, (3, 2)), ("VALIGN", (0, 0), (-1, -1), "TOP")])
        return Grid(rows, [self._width / _TAGS_ACROSS] * _TAGS_ACROSS, style=look, hAlign="LEFT")
