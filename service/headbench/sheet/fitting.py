"""Fitting: words into the room that a drawing has for them, the same in every form."""

from __future__ import annotations

import unicodedata
from typing import Final

_NARROW, _WIDE = 0.62, 1.05
"""Widths of letters, over their height: of most, and of those that fill a square."""
_SMALLEST: Final = 0.7


def fitted(text: str, size: float, most: float) -> tuple[str, float]:
    """A text that is no wider than `most`, and its size: smaller where that is enough, else cut short.

    >>> fitted("1I", 8.0, 30.0), fitted("a name of twenty one", 8.0, 40.0)
    (('1I', 8.0), ('a name of…', 5.6))
    """
    wide = _width(text)
    if wide * size <= most:
        return text, size
    least = size * _SMALLEST
    if wide * least <= most:
        return text, most / wide
    room, kept = most / least - _NARROW, ""
    for letter in text:
        room -= _width(letter)
        if room < 0.0:
            break
        kept += letter
    return f"{kept}…", least


def _width(text: str) -> float:
    return sum(_WIDE if unicodedata.east_asian_width(one) in "WF" or one in "MWmw@%□" else _NARROW for one in text)
