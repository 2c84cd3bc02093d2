"""Lines: a stream of bytes cut into lines, none held beyond a bound, and lines put into groups."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Final, TypeAlias

MOST_LINE_BYTES: Final = 2_000_000
"""Longest line read: as much as a request may have by itself."""

Line: TypeAlias = tuple[int, bytes | None]
"""A line that is not blank, by its number from 1; None in place of one that is too long."""

Group: TypeAlias = list[tuple[int, bytes]]
"""A few lines, each with its number."""

GROUP_LINES: Final = 16
GROUP_BYTES: Final = 64_000
"""Where a group of lines ends, so that handing it over costs little beside answering it and nobody waits long."""

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


def grouped(
    lines: Iterable[Line], most_lines: int = GROUP_LINES, most_bytes: int = GROUP_BYTES
) -> Iterator[Group | int]:
    """The lines in small groups, in their order; in place of one that is too long, its number.

    >>> list(grouped([(1, b"a"), (2, b"b"), (3, None), (5, b"c")]))
    [[(1, b'a'), (2, b'b')], 3, [(5, b'c')]]
    """
    group: Group = []
    size = 0
    for number, raw in lines:
        if raw is not None:
            group.append((number, raw))
            size += len(raw)
        if group and (raw is None or len(group) == most_lines or size >= most_bytes):
            yield group
            group, size = [], 0
        if raw is None:
            yield number
    if group:
        yield group
