"""A sheet between the answer and its forms: what is said on it, in which order, and nothing of how it looks.

Whoever makes a sheet of an answer makes these; text, page and paper know nothing else. Every text is plain text: a form
escapes what it must.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from headbench.api.vocabulary.checks import VerdictName

Bullet = Literal["point", "box", "caution"]
Anchor = Literal["start", "middle", "end"]
Ink = Literal["faint", "thin", "plain", "strong"]


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands in one place of a table; `verdict` where it is judged."""

    text: str
    verdict: VerdictName | None = None


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and what they are, a line each."""

    rows: Sequence[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Prose:
    """Sentences, a paragraph each."""

    lines: Sequence[str]


@dataclass(frozen=True, slots=True)
class Verdict:
    """What it all comes to; `counts` says how many came to what.

    `word` is what the verdict is called, None where it is called as ever.
    """

    verdict: VerdictName
    counts: str = ""
    word: str | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """A table; the first cell of a row names it. `words` are the columns that hold words, the others hold numbers.

    `to_fill` leaves room to write in its empty cells.
    """

    header: Sequence[str]
    rows: Sequence[Sequence[Cell]]
    words: frozenset[int] = frozenset({0})
    to_fill: bool = False


@dataclass(frozen=True, slots=True)
class Points:
    """Sentences as a list."""

    sentences: Sequence[str]
    bullet: Bullet = "point"


@dataclass(frozen=True, slots=True)
class Lines:
    """A line through two or more points."""

    points: Sequence[tuple[float, float]]
    ink: Ink = "plain"
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle; a verdict is told by how it is filled, beside the word."""

    x: float
    y: float
    radius: float
    verdict: VerdictName | None = None
    ink: Ink = "plain"


@dataclass(frozen=True, slots=True)
class Label:
    """A word in a drawing: `size` is the height of its letters, `most` the room it has across."""

    x: float
    y: float
    text: str
    size: float
    most: float
    anchor: Anchor = "middle"
    strong: bool = False


Shape = Lines | Circle | Label


@dataclass(frozen=True, slots=True)
class Drawing:
    """Vectors in a box, y downward; `told` says in words what it shows, for who can't see it."""

    width: float
    height: float
    told: str
    shapes: Sequence[Shape]


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Drawings in a row."""

    drawings: Sequence[Drawing]


@dataclass(frozen=True, slots=True)
class Signatures:
    """Room to sign: who does."""

    names: Sequence[str]


@dataclass(frozen=True, slots=True)
class Tag:
    """A label to cut out: its name large, and what is said below it."""

    name: str
    lines: Sequence[str]


@dataclass(frozen=True, slots=True)
class Tags:
    """Labels to cut out."""

    tags: Sequence[Tag]


Block = Facts | Prose | Verdict | Table | Points | SideBySide | Signatures | Tags


@dataclass(frozen=True, slots=True)
class Section:
    """Some blocks under a title, or under none; `verdict` is what they come to, `word` is that of Verdict."""

    title: str
    blocks: Sequence[Block]
    verdict: VerdictName | None = None
    word: str | None = None


@dataclass(frozen=True, slots=True)
class Pair:
    """Sections that stand beside each other where there is room, else one after the other."""

    left: Sequence[Section]
    right: Sequence[Section]


@dataclass(frozen=True, slots=True)
class Leaf:
    """What goes on a piece of paper of its own: a head; `name` is empty where there is but one."""

    name: str
    sections: Sequence[Section | Pair]

    def in_turn(self) -> Iterator[Section]:
        """Its sections one after the other."""
        for one in self.sections:
            yield from [one] if isinstance(one, Section) else [*one.left, *one.right]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet; `is_metric` chooses the paper, `footing` says what it was made by and of."""

    title: str
    footing: str
    leaves: Sequence[Leaf]
    is_metric: bool
