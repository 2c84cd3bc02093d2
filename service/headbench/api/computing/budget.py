"""Budget: how long a process may work at one job, and that it stops when nobody waits for it any more.

Signals of the process itself, because they reach into every loop there is, those of libraries too.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from headbench.api.exchange.asking import MOST_SECONDS

_AGAIN_SECONDS: Final = 0.1
"""When it is said once more, to a library that took the first time for an error of its own."""

# no Exception: nothing on the way up may take it for an error in the readings


class OutOfTime(BaseException):
    """The job takes longer than any may."""


class Abandoned(BaseException):
    """Nobody waits for the answer any more."""


class _Interrupts:
    """Whether this process takes interruptions, and is at a job: one that comes late is meant for nobody."""

    are_taken = False
    is_working = False


def be_interruptible() -> None:
    """Have the two signals end the job at hand; once, at the start of a process, by its first thread."""

    def out_of_time(*_: object) -> None:
        if _Interrupts.is_working:
            raise OutOfTime

    def abandoned(*_: object) -> None:
        if _Interrupts.is_working:
            raise Abandoned

    signal.signal(signal.SIGPROF, out_of_time)
    signal.signal(signal.SIGUSR1, abandoned)
    _Interrupts.are_taken = True


def interrupt(process: int) -> None:
    """Have a process give up the job that it is at."""
    os.kill(process, signal.SIGUSR1)


@contextmanager
def budgeted(seconds: float = MOST_SECONDS) -> Iterator[None]:
    """Work at a job for so much processor time at most; raises OutOfTime, Abandoned.

    In a process that takes no interruptions there is no end to it.
    """
    if not _Interrupts.are_taken:
        yield
        return
    _Interrupts.is_working = True
    try:
        signal.setitimer(signal.ITIMER_PROF, seconds, _AGAIN_SECONDS)
        yield
    finally:
        _Interrupts.is_working = False
        signal.setitimer(signal.ITIMER_PROF, 0.0)
