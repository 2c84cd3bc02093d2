"""Letters: the fonts that paper carries with it, and texts as they are drawn with them."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Final

from bidi.algorithm import get_display
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

PLAIN, BOLD = "Sheet", "Sheet-Bold"
_FONTS: Final = Path(__file__).parent.parent / "fonts"
_FILES: Final = {PLAIN: "DejaVuSansCondensed.ttf", BOLD: "DejaVuSansCondensed-Bold.ttf"}
LACKING: Final = "□"
"""Stands for a letter that the fonts do not have."""
_UNSEEN: Final = frozenset(map(chr, [*range(0x200B, 0x2010), *range(0x202A, 0x202F), *range(0x2060, 0x2070), 0x061C]))
"""Characters that show nothing themselves and turn or join others."""
_FIRST_FROM_RIGHT: Final = "\u0590"
"""No script below it is written from right to left."""


@cache
def load_fonts() -> None:
    """Have the fonts at hand; they are read once."""
    for name in _FILES:
        pdfmetrics.registerFont(_font(name))
    pdfmetrics.registerFontFamily(PLAIN, normal=PLAIN, bold=BOLD, italic=PLAIN, boldItalic=BOLD)


@cache
def _font(name: str) -> TTFont:
    return TTFont(name, _FONTS / _FILES[name])


@cache
def _letters() -> frozenset[int]:
    """The characters that the fonts have; those that only turn the direction of others are left out."""
    faces = [set(_font(name).face.charToGlyph) for name in _FILES]
    return frozenset(set.intersection(*faces) - {ord(one) for one in _UNSEEN})


def drawable(text: str) -> str:
    """A text as it is drawn, from left to right: what the fonts lack is told by a box."""
    if text.isascii():
        return text
    known = _letters()
    kept = "".join(one if ord(one) in known else "" if one in _UNSEEN else LACKING for one in text)
    return get_display(kept, base_dir="L") if any(one >= _FIRST_FROM_RIGHT for one in kept) else kept
