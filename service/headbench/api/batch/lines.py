"""Lines: a stream of bytes cut into lines, none held beyond a bound."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, TypeAlias

MOST_LINE_BYTES: Final = 2_000_000
"""Longest line read: as much as a request may have by itself."""

Line: TypeAlias = tuple[int, bytes | None]
"""A line that is not blank, by its number from 1; None in place of one that is too long."""

_SPACE: Final = re.compile(rb"[ \t\r\n]*")


class Lines:
    """What has arrived of a stream, cut at its newlines; blank lines are counted and passed over.

    number : the line that is being read
    dropped : bytes of blank lines and of lines that are too long
    """

    def __init__(self, most_bytes: int = MOST_LINE_BYTES) -> None:
        self.number = 1
        self.dropped = 0
        self._most_bytes = most_bytes
        self._held = bytearray()
        self._is_too_long = False

    def take(self, piece: bytes) -> Iterator[Line]:
        """The lines that end in the next piece of the stream."""
        start = 0
        while start < len(piece):
            if not self._held and not self._is_too_long:
                start = self._past_blank_lines(piece, start)
            end = piece.find(b"\n", start)
            self._hold(piece[start : None if end < 0 else end])
            if end < 0:
                return
            yield from self.end()
            start = end + 1

    def end(self) -> Iterator[Line]:
        """What is held, as a line: at a newline, or where the stream ends without one."""
        line = None if self._is_too_long else bytes(self._held)
        if line is None or line.strip():
            yield self.number, line
        else:
            self.dropped += len(line)
        self.number += 1
        self._held.clear()
        self._is_too_long = False

    def _past_blank_lines(self, piece: bytes, start: int) -> int:
        space = _SPACE.match(piece, start)
        end = piece.rfind(b"\n", start, space.end() if space else start) + 1
        if end <= start:
            return start
        self.number += piece.count(b"\n", start, end)
        self.dropped += end - start
        return end

    def _hold(self, part: bytes) -> None:
        if self._is_too_long or len(self._held) + len(part) > self._most_bytes:
            self.dropped += len(self._held) + len(part)
            self._held.clear()
            self._is_too_long = True
        else:
            self._held += part
