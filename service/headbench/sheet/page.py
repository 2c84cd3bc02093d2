"""A sheet as a page: HTML that needs nothing from outside, runs nothing and prints as it is read.

It is built as a tree of elements, so that no text of a caller is ever read as markup.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final
from xml.etree import ElementTree as ET

from headbench.api.exchange.markup import document, element
from headbench.api.vocabulary.checks import VerdictName
from headbench.sheet.fitting import fitted
from headbench.sheet.model import (
    Block,
    Circle,
    Drawing,
    Facts,
    Label,
    Lines,
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

_LONG: Final = 24
"""Letters of a word or two; more may be broken anywhere."""


def as_page(sheet: Sheet) -> bytes:
    """The whole sheet, a printed page for each head."""
    leaves = [
        element(
            "article",
            *([element("h2", leaf.name, dir="auto")] if leaf.name else []),
            *(_part(one, leaf.name) for one in leaf.sections),
        )
        for leaf in sheet.leaves
    ]
    return document(
        sheet.title,
        element("header", element("h1", sheet.title, dir="auto")),
        element("main", *leaves),
        element("footer", element("p", sheet.footing)),
    )


def _part(part: Section | Pair, leaf: str) -> ET.Element:
    if isinstance(part, Section):
        return _section(part, leaf)
    sides = [element("div", *(_section(one, leaf) for one in side)) for side in (part.left, part.right)]
    return element("div", *sides, class_="pair")


def _section(section: Section, leaf: str) -> ET.Element:
    heading = "h3" if leaf else "h2"
    told = f"{leaf} {section.title}".strip() or "Positions"
    blocks = [one for block in section.blocks for one in _block(block, told)]
    if not section.title:
        return element("div", *blocks, class_="section")
    title = element(heading, section.title, dir="auto")
    if section.verdict is not None:
        title = element(heading, element("bdi", section.title), ": ", _word(section.verdict, section.word))
    return element("section", title, *blocks)


def _word(verdict: VerdictName, word: str | None) -> ET.Element:
    return element("strong", word or WORDS[verdict], class_=f"verdict {verdict}")


def _block(block: Block, told: str) -> Iterator[ET.Element]:
    match block:
        case Facts():
            rows = [element("div", element("dt", name), element("dd", value, dir="auto")) for name, value in block.rows]
            yield element("dl", *rows)
        case Prose():
            yield from (element("p", line.strip(), dir="auto") for line in block.lines)
        case Overall():
            counts = [f" ({block.counts})"] if block.counts else []
            yield element("p", "Verdict: ", _word(block.verdict, block.word), *counts, class_="overall")
        case Table():
            yield element("div", _table(block), class_="wide", tabindex="0", role="region", aria_label=told)
        case Points():
            items = [element("li", sentence, dir="auto") for sentence in block.sentences]
            yield element("ul", *items, class_=block.bullet) if items else element("p", "nothing")
        case SideBySide():
            yield element("div", *map(_figure, block.drawings), class_="drawings")
        case Signatures():
            yield element("p", *(element("span", name) for name in block.names), class_="sign")
        case Tags():
            yield element(
                "ul",
                *(
                    element(
                        "li",
                        element("strong", tag.name, dir="auto"),
                        *(element("div", line, dir="auto") for line in tag.lines),
                    )
                    for tag in block.tags
                ),
                class_="tags",
            )


def _table(table: Table) -> ET.Element:
    def kind(column: int) -> str:
        if column not in table.words:
            return "number"
        return "long" if any(len(row[column].text) > _LONG for row in table.rows) else "word"

    header = [
        element("th", name.strip(), scope="col", class_=kind(column), dir="auto")
        for column, name in enumerate(table.header)
    ]
    rows = []
    for row in table.rows:
        cells = [element("th", row[0].text.strip(), scope="row", class_=kind(0), dir="auto")]
        for column, cell in enumerate(row[1:], start=1):
            judged = f" {cell.verdict}" if cell.verdict else ""
            cells.append(element("td", cell.text.strip(), class_=f"{kind(column)}{judged}", dir="auto"))
        rows.append(element("tr", *cells))
    name = "fill" if table.to_fill else "plain"
    return element("table", element("thead", element("tr", *header)), element("tbody", *rows), class_=name)


def _figure(drawing: Drawing) -> ET.Element:
    return element("figure", as_svg(drawing))


def as_svg(drawing: Drawing) -> ET.Element:
    """A drawing as an SVG element."""
    shapes = [_shape(shape) for shape in drawing.shapes]
    box = {"viewBox": f"0 0 {drawing.width:g} {drawing.height:g}", "xmlns": "http://www.w3.org/2000/svg"}
    return element("svg", element("title", drawing.told), *shapes, role="img", **box)


def _shape(shape: Lines | Circle | Label) -> ET.Element:
    match shape:
        case Lines():
            points = " ".join(f"{x:.2f},{y:.2f}" for x, y in shape.points)
            name = f"line {shape.ink}{' dashed' if shape.dashed else ''}"
            return element("polyline", points=points, class_=name)
        case Circle():
            place = {"cx": f"{shape.x:.2f}", "cy": f"{shape.y:.2f}", "r": f"{shape.radius:.2f}"}
            return element("circle", **place, class_=f"line {shape.verdict or shape.ink}")
        case Label():
            text, size = fitted(shape.text, shape.size, shape.most)
            place = {"x": f"{shape.x:.2f}", "y": f"{shape.y:.2f}", "font-size": f"{size:.2f}"}
            name = f"{shape.anchor}{' heavy' if shape.strong else ''}"
            return element("text", text, **place, class_=name)
