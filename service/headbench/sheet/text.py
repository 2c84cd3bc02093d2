"""A sheet as plain text, for a terminal or a printer."""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Iterator, Sequence
from functools import singledispatch
from typing import Final

from headbench.sheet.model import Block, Facts, Points, Prose, Section, Sheet, Signatures, Table, Tags, Verdict
from headbench.sheet.numbers import WORDS

_WIDTH: Final = 118
_BULLETS: Final = {"point": "  -", "box": "[ ]", "caution": "  *"}
_TURNING: Final = dict.fromkeys([*range(0x200E, 0x2010), *range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x061C])
"""Characters that turn the direction of what follows them; a terminal has no bounds to hold them in."""


def as_text(sheet: Sheet) -> str:
    """The whole sheet; drawings are for those who see them."""
    lines = [sheet.title, "=" * _wide(sheet.title)]
    for leaf in sheet.leaves:
        for section in leaf.in_turn():
            lines += [*_section(section), ""]
    lines.append(sheet.footing)
    return "\n".join(line.rstrip() for line in lines).translate(_TURNING) + "\n"


def _section(section: Section) -> Iterator[str]:
    if section.title:
        yield section.title if section.verdict is None else f"{section.title}: {section.word or WORDS[section.verdict]}"
    for block in section.blocks:
        yield from _block(block)


@singledispatch
def _block(_: Block) -> Iterator[str]:
    """What cannot be written in letters is left out."""
    yield from ()


@_block.register
def _(block: Facts) -> Iterator[str]:
    for name, value in block.rows:
        yield from _wrapped(f"{name}: ", value)


@_block.register
def _(block: Prose) -> Iterator[str]:
    for line in block.lines:
        yield from textwrap.wrap(line, _WIDTH)


@_block.register
def _(block: Verdict) -> Iterator[str]:
    yield f"VERDICT: {block.word or WORDS[block.verdict]}{f' ({block.counts})' if block.counts else ''}"


@_block.register
def _(block: Points) -> Iterator[str]:
    for sentence in block.sentences:
        yield from _wrapped(f"{_BULLETS[block.bullet]} ", sentence)
    if not block.sentences:
        yield "  nothing"


@_block.register
def _(block: Signatures) -> Iterator[str]:
    yield "  ".join(f"{name} {'_' * (12 if name == 'Date' else 30)}" for name in block.names)


@_block.register
def _(block: Tags) -> Iterator[str]:
    for tag in block.tags:
        yield from (tag.name, *(f"  {line}" for line in tag.lines), "")


def _wrapped(start: str, text: str) -> list[str]:
    wrapper = textwrap.TextWrapper(_WIDTH, initial_indent=start, subsequent_indent=" " * min(len(start), 10))
    return wrapper.wrap(text)


@_block.register
def _(table: Table) -> Iterator[str]:
    blank = "________" if table.to_fill else ""
    texts = [list(table.header), *([cell.text or blank for cell in row] for row in table.rows)]
    columns = [
        list(column) if at in table.words else _lined_up(column) for at, column in enumerate(zip(*texts, strict=True))
    ]
    texts = [list(row) for row in zip(*columns, strict=True)]
    widths = [max(map(_wide, column)) for column in columns]
    lines = ["  " + "  ".join(_right(cell, width) for cell, width in zip(row, widths, strict=True)) for row in texts]
    yield from [lines[0], "  " + "  ".join("-" * width for width in widths), *lines[1:]]


def _lined_up(column: Sequence[str]) -> list[str]:
    """Numbers with their points under each other, below what stands over them."""
    behind = [len(text) - text.rfind(".") if "." in text else 0 for text in column[1:]]
    most = max(behind, default=0)
    padded = [f"{text}{' ' * (most - own)}" if own else text for text, own in zip(column[1:], behind, strict=True)]
    return [column[0], *padded]


def _wide(text: str) -> int:
    """How many columns a text takes: two for a wide character, none for one that sits on another."""
    return sum(
        0 if unicodedata.combining(one) else 2 if unicodedata.east_asian_width(one) in "WF" else 1 for one in text
    )


def _right(text: str, width: int) -> str:
    return " " * (width - _wide(text)) + text
