"""Results: the file of answers, which a run that was killed at any point goes on with.

Answers stand in it in the order of the jobs, each a line with the number of the line that it answers; so the last
whole line says where to go on, and half a line is cut off. Beside it stands a small file that says what the run
was begun with: jobs that have changed since, or another release, would make a file of two kinds of answers.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Final, Self

import msgspec

from headbench.api.batch.lines import MOST_LINE_BYTES, Line, Lines

PIECE_BYTES: Final = 1 << 18
"""How much of a file is read at a time."""

MOST_SHOWN: Final = 5
"""Refused lines that are told by themselves; all stand in the file."""


class Unusable(Exception):
    """Files that cannot be worked with; says why and what to do."""


class Begun(msgspec.Struct, frozen=True):
    """What a run was begun with.

    jobs : digest of the file of jobs
    lines : how many lines it has
    version : the release that answers them
    """

    jobs: str
    lines: int
    version: str


def begun_with(jobs: Path, version: str) -> Begun:
    """What a run over these jobs begins with; reads the file once."""
    digest, lines, last = hashlib.blake2b(digest_size=20), 0, b"\n"
    for piece in pieces(jobs):
        digest.update(piece)
        lines += piece.count(b"\n")
        last = piece[-1:]
    return Begun(jobs=digest.hexdigest(), lines=lines + (last != b"\n"), version=version)


def pieces(path: Path) -> Iterator[bytes]:
    """A file, some of it at a time."""
    try:
        with path.open("rb") as file:
            while piece := file.read(PIECE_BYTES):
                yield piece
    except OSError as error:
        raise Unusable(f"{path} can't be read: {(error.strerror or str(error)).lower()}.") from None


def lines_of(path: Path, most_bytes: int = MOST_LINE_BYTES) -> Iterator[Line]:
    """The lines of a file that are not blank, by their number; None in place of one that is too long."""
    lines = Lines(most_bytes)
    for piece in pieces(path):
        yield from lines.take(piece)
    yield from lines.end()


class _Fault(msgspec.Struct, frozen=True):
    pointer: str
    detail: str


class _Problem(msgspec.Struct, frozen=True):
    detail: str
    errors: list[_Fault] = []

    def __str__(self) -> str:
        """What is wrong, as short as it can be said."""
        if not self.errors:
            return self.detail
        more = f" (and {len(self.errors) - 1} more)" if len(self.errors) > 1 else ""
        return f"{self.errors[0].pointer}: {self.errors[0].detail}{more}"


class Told(msgspec.Struct, frozen=True):
    """What counts of an answer here: which line it is of, and whether it is one."""

    line: int
    status: int
    id: str | None = None
    problem: _Problem | None = None


_TOLD: Final = msgspec.json.Decoder(Told)


@dataclass
class Tally:
    """How many lines were answered, how many refused, and some of those."""

    answered: int = 0
    refused: int = 0
    some_refused: list[Told] = field(default_factory=list)

    def count(self, told: Told) -> None:
        """Count one more."""
        if told.problem is None:
            self.answered += 1
            return
        self.refused += 1
        if len(self.some_refused) < MOST_SHOWN:
            self.some_refused.append(told)


class Results:
    """The file of answers, open for more; nobody else may write to it meanwhile.

    last : the number of the line that was answered last, 0 before the first
    tally : what has been answered so far
    """

    def __init__(self, path: Path, begun: Begun) -> None:
        """Begin a file, or go on with one; raises Unusable."""
        self.last = 0
        self.tally = Tally()
        self._path = path
        beside = path.with_name(f"{path.name}.run.json")
        if path.exists():
            _refuse_another_run(path, beside, begun)
        else:
            _written_whole(beside, msgspec.json.format(msgspec.json.encode(begun)) + b"\n")
        try:
            self._file = path.open("ab+", buffering=0)
        except OSError as error:
            raise Unusable(f"{path} can't be written: {(error.strerror or str(error)).lower()}.") from None
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            self._file.close()
            raise Unusable(f"{path} is being written by another run; let that one finish.") from None
        self._cut_off_what_is_not_whole()

    def __enter__(self) -> Self:
        """Itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """See that what was written is on the disk."""
        os.fsync(self._file.fileno())
        self._file.close()

    def write(self, answers: bytes) -> None:
        """Write some whole lines down."""
        left = memoryview(answers)
        try:
            while left:
                left = left[self._file.write(left) :]
        except OSError as error:
            raise Unusable(f"{self._path} can't be written: {(error.strerror or str(error)).lower()}.") from None
        for raw in answers.splitlines():
            self._count(_TOLD.decode(raw))

    def _count(self, told: Told) -> None:
        self.last = told.line
        self.tally.count(told)

    def _cut_off_what_is_not_whole(self) -> None:
        """Count what is there, and leave nothing behind the last whole line."""
        whole = 0
        with self._path.open("rb") as file:
            for raw in file:
                told = whole_line(raw)
                if told is None or told.line <= self.last:
                    break
                self._count(told)
                whole += len(raw)
        self._file.truncate(whole)


def whole_line(raw: bytes) -> Told | None:
    """What a line of results says; None where it is half a line, or none of results."""
    if not raw.endswith(b"\n"):
        return None
    try:
        return _TOLD.decode(raw)
    except (msgspec.DecodeError, ValueError):
        return None


def _refuse_another_run(path: Path, beside: Path, begun: Begun) -> None:
    try:
        before = msgspec.json.decode(beside.read_bytes(), type=Begun)
    except (OSError, msgspec.DecodeError):
        raise Unusable(f"{path} is there and no run that can be gone on with; name another file, or move it.") from None
    if before.jobs != begun.jobs:
        raise Unusable(f"The jobs have changed since {path} was begun; remove it to begin anew, or name another file.")
    if before.version != begun.version:
        raise Unusable(
            f"{path} was begun by release {before.version}, this is {begun.version}; remove it to begin anew, or name "
            "another file."
        )


def _written_whole(path: Path, content: bytes) -> None:
    """Write a small file so that it is there whole or not at all."""
    draft = path.with_name(f"{path.name}.new")
    try:
        with draft.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        draft.replace(path)
    except OSError as error:
        raise Unusable(f"{path} can't be written: {(error.strerror or str(error)).lower()}.") from None
