"""Recompute: every job of a file answered anew, in the order of the lines.

Jobs are read as they are needed and handed to whoever answers them in small groups, a few groups ahead; so a file
of any length takes the same memory, and what answers is never idle.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable
from concurrent.futures import Future
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final, TypeAlias

from headbench.api.app import processes
from headbench.api.batch.jobs import too_long
from headbench.api.batch.lines import GROUP_BYTES, GROUP_LINES, Group, Line, grouped
from headbench.bulk.results import Results, lines_of

_GROUPS_AHEAD: Final = 4
"""Groups read ahead for each that is answered at a time, so that nobody is idle while answers wait for their order."""

_Answers: TypeAlias = "Future[bytes] | bytes"


@dataclass(frozen=True, slots=True)
class Answerer:
    """Who answers lines.

    ask : has a group of lines answered
    at_once : how many groups it answers at a time
    lines, bytes : where a group ends
    """

    ask: Callable[[Group], Future[bytes]]
    at_once: int
    lines: int = GROUP_LINES
    bytes: int = GROUP_BYTES


@cache
def in_process() -> Answerer:
    """The workers that answer batches, on every core of this machine."""
    workers = processes()
    return Answerer(lambda group: workers.begin_lines(group).future, workers.count)


def recompute(jobs: Path, results: Results, answerer: Answerer, tell: Callable[[int], None]) -> None:
    """Answer every line that has no answer yet; `tell` hears the number of each line that is done.

    Raises Unusable where the jobs cannot be read or the answers not be written, and what the answerer raises where
    it gives up. What is written by then is whole.
    """
    ahead: deque[_Answers] = deque()
    begin = results.last
    left: Iterable[Line] = (line for line in lines_of(jobs) if line[0] > begin)
    try:
        for one in grouped(left, answerer.lines, answerer.bytes):
            ahead.append(too_long(one) if isinstance(one, int) else answerer.ask(one))
            while len(ahead) > _GROUPS_AHEAD * answerer.at_once:
                _write(results, ahead.popleft(), tell)
        while ahead:
            _write(results, ahead.popleft(), tell)
    finally:
        for one_left in ahead:
            if isinstance(one_left, Future):
                one_left.cancel()


def _write(results: Results, answers: _Answers, tell: Callable[[int], None]) -> None:
    results.write(answers if isinstance(answers, bytes) else answers.result())
    tell(results.last)
