"""Logs: lines are written by a thread, so that whoever reads them slowly, or not at all, holds up nothing.

Where the reader of standard output stalls, what does not fit a short queue is dropped and counted, and the count
is told as soon as lines are taken again; where it is gone, nothing more is written.
"""

from __future__ import annotations

import json
import logging
import os
import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Final

MOST_BYTES: Final = 1_000_000
"""What a log may hold that is not written yet."""

_PIECE: Final = 4_096
"""Most that is written at a time: what a pipe takes whole, however many processes write to it (PIPE_BUF)."""

_GATHERING_SECONDS: Final = 0.01
_SECONDS_TO_END: Final = 1.0

_OUTPUT: Final = 1
_ERRORS: Final = 2


class Written(logging.Handler):
    """Writes lines to a descriptor from a thread of its own; `on_drop` is called for each that nobody takes."""

    def __init__(self, descriptor: int, on_drop: Callable[[], None]) -> None:
        super().__init__()
        self._descriptor = descriptor
        self._on_drop = on_drop
        self._lines: deque[bytes] = deque()
        self._held = 0
        self._untold = 0
        self._is_ending = False
        self._is_closed = False
        self._changed = threading.Condition()
        # a thread that waits for somebody to read holds up no end
        self._thread = threading.Thread(target=self._write_all, name=f"log {descriptor}", daemon=True)
        self._thread.start()

    def emit(self, record: logging.LogRecord) -> None:
        """Put a line into the queue, or count it."""
        line = f"{self.format(record)}\n".encode(errors="backslashreplace")
        with self._changed:
            is_taken = not self._is_closed and self._held + len(line) <= MOST_BYTES
            if is_taken:
                self._lines.append(line)
                self._held += len(line)
                self._changed.notify()
            else:
                self._untold += 1
        if not is_taken:
            self._on_drop()

    def close(self) -> None:
        """Write what is left, for a moment."""
        with self._changed:
            self._is_ending = True
            self._changed.notify()
        self._thread.join(_SECONDS_TO_END)
        super().close()

    def _write_all(self) -> None:
        while piece := self._next():
            try:
                while piece:
                    piece = piece[os.write(self._descriptor, piece) :]
            except OSError:
                # who read it is gone
                with self._changed:
                    self._is_closed = True
                    self._lines.clear()
                return

    def _next(self) -> bytes:
        """Lines to be written at once, after how many were dropped; nothing at the end."""
        with self._changed:
            self._changed.wait_for(lambda: self._lines or self._is_ending)
            is_hurried = self._is_ending
        if not is_hurried:
            # a few lines at a time cost little more than one
            time.sleep(_GATHERING_SECONDS)
        piece = b""
        with self._changed:
            if self._untold:
                piece = json.dumps({"log_lines_dropped": self._untold}).encode() + b"\n"
                self._untold = 0
            while self._lines and (not piece or len(piece) + len(self._lines[0]) <= _PIECE):
                piece += self._lines[0]
                self._held -= len(self._lines.popleft())
        return piece


def begin(level: str, on_drop: Callable[[], None] = lambda: None) -> None:
    """Write the log of this process to standard error."""
    told = Written(_ERRORS, on_drop)
    told.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
    logging.basicConfig(level=level.upper(), handlers=[told], force=True)
    logging.captureWarnings(capture=True)


def begin_requests(log: logging.Logger, on_drop: Callable[[], None]) -> None:
    """Write a line a request to standard output, and nothing around it."""
    log.handlers = [Written(_OUTPUT, on_drop)]
    log.propagate = False
