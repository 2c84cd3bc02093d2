"""Work: what was asked, on its way to a worker and back."""

from __future__ import annotations

import threading
from abc import ABC, abstractmethod
from collections.abc import Callable
from concurrent.futures import Future
from typing import ClassVar, Final, Generic, TypeVar

from headbench.api.batch.jobs import lost
from headbench.api.batch.lines import Group
from headbench.api.computing.desk import GivenUp, Lines, Message, Reply, Written
from headbench.api.computing.process import Died, Worker
from headbench.api.exchange.asking import LEFT, Asked, Told
from headbench.api.exchange.problems import defect, told

T = TypeVar("T")

Ask = Callable[[Message], Reply]
"""Has a worker reply to a message; raises Died."""

_TIMES: Final = 2
"""How often a request is asked whose worker dies; it may have been another's fault."""


class Work(ABC, Generic[T]):
    """What was asked, on its way.

    is_urgent : whether somebody waits for this alone
    future : what comes of it
    """

    is_urgent: ClassVar[bool]

    def __init__(self) -> None:
        self.future: Future[T] = Future()
        self._lock = threading.Lock()
        self._at: Worker | None = None
        self._abandoned = threading.Event()

    def abandon(self) -> None:
        """Nobody waits for it any more: what has not begun does not begin, what has stops."""
        self.future.cancel()
        with self._lock:
            self._abandoned.set()
            if self._at is not None:
                self._at.interrupt()

    def ask(self, worker: Worker, message: Message) -> Reply:
        """What a worker replies, interrupted where this is abandoned meanwhile; raises Died."""
        while True:
            with self._lock:
                if self._abandoned.is_set():
                    return GivenUp()
                self._at = worker
            try:
                reply = worker.ask(message)
            finally:
                with self._lock:
                    self._at = None
            # one that nobody abandoned was interrupted for what the worker had been at before
            if self._abandoned.is_set() or not isinstance(reply, GivenUp):
                return reply

    def finish(self, ask: Ask) -> None:
        """See it through, unless nobody waits for it."""
        if not self.future.set_running_or_notify_cancel():
            return
        try:
            self.future.set_result(self._result(ask))
        except BaseException as error:  # noqa: BLE001 - whoever waits is told, and the thread goes on
            self.future.set_exception(error)

    @abstractmethod
    def _result(self, ask: Ask) -> T:
        """What comes of it, whatever becomes of workers."""


class RequestWork(Work[Told]):
    """A request on its way."""

    is_urgent = True

    def __init__(self, asked: Asked) -> None:
        super().__init__()
        self._asked = asked

    def _result(self, ask: Ask) -> Told:
        for _ in range(_TIMES):
            try:
                reply = ask(self._asked)
            except Died:
                continue
            return reply if isinstance(reply, Told) else Told(LEFT, "text/plain", b"")
        return told(defect(), self._asked.accept)


class LinesWork(Work[bytes]):
    """Some lines of a batch on their way."""

    is_urgent = False

    def __init__(self, group: Group) -> None:
        super().__init__()
        self._group = group

    def _result(self, ask: Ask) -> bytes:
        try:
            return _written(ask, self._group)
        except Died:
            return b"".join(_line(ask, number, raw) for number, raw in self._group)


def _line(ask: Ask, number: int, raw: bytes) -> bytes:
    try:
        return _written(ask, [(number, raw)])
    except Died:
        return lost(number, raw)


def _written(ask: Ask, group: Group) -> bytes:
    reply = ask(Lines(group))
    return reply.lines if isinstance(reply, Written) else b""
