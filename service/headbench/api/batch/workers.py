"""Workers: processes that answer lines of batches, one a core, started when the first batch comes.

A thread waits for each, so that the event loop only moves bytes and health checks never wait. A process that
dies is replaced; the lines it had are asked again one by one, so that the one it died of is found.
"""

from __future__ import annotations

import logging
import os
import socket
import subprocess
import sys
import threading
import weakref
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from typing import Final

import msgspec

from headbench.api.batch.jobs import lost
from headbench.api.batch.lines import Group
from headbench.api.batch.messages import read, write

_log = logging.getLogger(__name__)

_SECONDS_TO_END: Final = 5.0
"""How long a worker may take to finish what it is at when the service ends."""


class _Died(Exception):
    """A worker ended without an answer."""


class _Worker:
    """A process and the socket to it."""

    def __init__(self, resources_at: str) -> None:
        self._socket, its = socket.socketpair()
        # a fresh interpreter: a fork of a process with threads may hang, and would share the service's sockets
        command = [sys.executable, "-m", "headbench.api.batch.worker", resources_at]
        with its:
            try:
                self._process = subprocess.Popen(command, stdin=its.fileno())  # noqa: S603 - our own
            except OSError:
                self._socket.close()
                raise
        self._answers = self._socket.makefile("rb")

    def ask(self, group: Group) -> bytes:
        """The answers to a few lines, as lines."""
        try:
            write(self._socket, msgspec.msgpack.encode(group))
            answers = read(self._answers)
        except OSError:
            answers = None
        if answers is None:
            raise _Died
        return answers

    def end(self) -> int:
        """Let it finish, and see that it is gone; how it ended."""
        # shut down and not only closed: the file that answers are read from holds the socket open
        with suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)
        try:
            self._process.wait(_SECONDS_TO_END)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._answers.close()
        self._socket.close()
        return self._process.returncode


def _end(workers: set[_Worker]) -> None:
    for worker in list(workers):
        worker.end()


def cores() -> int:
    """How many cores this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not every system tells
        return os.cpu_count() or 1


class Workers:
    """The workers of one service; `resources_at` ("module:name") says where they find what to compute."""

    def __init__(self, resources_at: str) -> None:
        self.count: Final = cores()
        self._resources_at = resources_at
        self._threads = ThreadPoolExecutor(self.count, thread_name_prefix="batch")
        self._own = threading.local()
        self._all: set[_Worker] = set()
        # when nobody uses them any more, or when the service ends
        weakref.finalize(self, _end, self._all)

    def ask(self, group: Group) -> Future[bytes]:
        """Have a few lines answered by the next worker that is free."""
        return self._threads.submit(self._answers, group)

    def _answers(self, group: Group) -> bytes:
        try:
            return self._ask(group)
        except _Died:
            return b"".join(self._answer(number, raw) for number, raw in group)

    def _answer(self, number: int, raw: bytes) -> bytes:
        try:
            return self._ask([(number, raw)])
        except _Died:
            return lost(number, raw)

    def _ask(self, group: Group) -> bytes:
        """Ask the worker of this thread."""
        worker: _Worker | None = getattr(self._own, "worker", None)
        if worker is None:
            worker = self._own.worker = self._started()
        try:
            return worker.ask(group)
        except _Died:
            self._own.worker = None
            self._all.discard(worker)
            _log.warning("a worker ended by itself (%d); another takes its place", worker.end())
            raise

    def _started(self) -> _Worker:
        try:
            worker = _Worker(self._resources_at)
        except OSError:
            _log.exception("no worker could be started")
            raise _Died from None
        self._all.add(worker)
        return worker
