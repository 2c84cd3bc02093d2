"""Workers: processes that work out what is asked, one a core.

A thread waits for each, so that the event loop only moves bytes and health checks never wait. Requests go before
the lines of batches, whose callers wait for many. A process that dies is replaced and what it was at asked once
more, lines one by one, so that the one it died of is found.
"""

from __future__ import annotations

import heapq
import itertools
import logging
import math
import os
import threading
import time
import weakref
from functools import partial
from typing import Any, Final

from headbench.api.batch.lines import Group
from headbench.api.computing.desk import Message, Reply
from headbench.api.computing.process import Died, Worker
from headbench.api.computing.work import LinesWork, RequestWork, Work
from headbench.api.exchange.asking import Asked, Told, too_busy

_log = logging.getLogger(__name__)

MOST_WAITING: Final = 256
"""Requests that may be in hand; one more is told to come back."""

MOST_SECONDS_WAITING: Final = 10.0
"""How long a request may have to wait by what the latest ones took; one that would wait longer is told to come back."""

_LATEST_SHARE: Final = 0.1
"""What the latest request counts for in how long one takes."""


class _Queue:
    """Work that waits, requests before lines and each in its order."""

    def __init__(self) -> None:
        self._waiting: list[tuple[int, int, Work[Any]]] = []
        self._numbers = itertools.count()
        self._changed = threading.Condition()
        self.is_open = True

    def put(self, work: Work[Any]) -> None:
        with self._changed:
            heapq.heappush(self._waiting, (not work.is_urgent, next(self._numbers), work))
            self._changed.notify()

    def take(self) -> Work[Any] | None:
        """The next; None at the end."""
        with self._changed:
            self._changed.wait_for(lambda: bool(self._waiting) or not self.is_open)
            return heapq.heappop(self._waiting)[2] if self._waiting else None

    def close(self) -> None:
        with self._changed:
            self.is_open = False
            self._changed.notify_all()


class Load:
    """How many requests are in hand, and how long one takes."""

    def __init__(self, workers: int) -> None:
        self._workers = workers
        self._lock = threading.Lock()
        self._in_hand = 0
        self._seconds = 0.0

    def begin(self) -> None:
        """One more is in hand."""
        with self._lock:
            self._in_hand += 1

    def end(self) -> None:
        """One less."""
        with self._lock:
            self._in_hand -= 1

    def took(self, seconds: float) -> None:
        """One took so long."""
        with self._lock:
            self._seconds += _LATEST_SHARE * (seconds - self._seconds)

    @property
    def seconds_to_wait(self) -> float:
        """How long one more would wait."""
        return max(self._in_hand - self._workers + 1, 0) * self._seconds / self._workers

    @property
    def is_full(self) -> bool:
        """Whether one more would be too many."""
        return self._in_hand >= MOST_WAITING or self.seconds_to_wait > MOST_SECONDS_WAITING


class _Waiter:
    """What a thread does: has work done, one after another, by the worker that is its own."""

    def __init__(self, desk_at: str, queue: _Queue, load: Load, all_workers: set[Worker]) -> None:
        self._desk_at = desk_at
        self._queue = queue
        self._load = load
        self._all_workers = all_workers
        self._worker: Worker | None = None
        self.is_there = threading.Event()

    def run(self) -> None:
        """Until the queue is closed."""
        try:
            self._worker = self._started()
        except Died:
            if self._queue.is_open:
                _log.warning("a worker could not be started; it is tried again for whatever is asked")
        self.is_there.set()
        while (work := self._queue.take()) is not None:
            begin = time.monotonic()
            work.finish(partial(self._ask, work))
            if work.is_urgent:
                self._load.took(time.monotonic() - begin)

    def _ask(self, work: Work[Any], message: Message) -> Reply:
        if self._worker is None:
            self._worker = self._started()
        try:
            return work.ask(self._worker, message)
        except Died:
            self._lose(self._worker)
            raise

    def _started(self) -> Worker:
        if not self._queue.is_open:
            raise Died
        try:
            worker = Worker(self._desk_at)
        except OSError:
            _log.exception("no worker could be started")
            raise Died from None
        self._all_workers.add(worker)
        try:
            worker.greeted()
        except Died:
            self._lose(worker)
            raise
        return worker

    def _lose(self, worker: Worker) -> None:
        self._worker = None
        self._all_workers.discard(worker)
        status = worker.end()
        # at the end they go because they are told to
        if self._queue.is_open:
            _log.warning("a worker ended by itself (%d); another takes its place", status)


def _end(queue: _Queue, workers: set[Worker]) -> None:
    queue.close()
    for worker in list(workers):
        worker.end()


def cores() -> int:
    """How many cores this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not every system tells
        return os.cpu_count() or 1


class Workers:
    """The workers of one service; `desk_at` ("module:name") says where they find what sets up their desk."""

    def __init__(self, desk_at: str, count: int | None = None) -> None:
        self.count: Final = count or cores()
        self._queue = _Queue()
        self._load = Load(self.count)
        all_workers: set[Worker] = set()
        self._waiters = [_Waiter(desk_at, self._queue, self._load, all_workers) for _ in range(self.count)]
        self._start_once = threading.Lock()
        self._is_started = False
        # when nobody uses them any more, or when the service ends
        self.end = weakref.finalize(self, _end, self._queue, all_workers)

    def start(self) -> None:
        """Start them, and wait until each is there."""
        self._start()
        for waiter in self._waiters:
            waiter.is_there.wait()

    def begin(self, asked: Asked) -> Work[Told]:
        """Take a request; raises RefusedRequest (busy, 503) when too many wait already."""
        if self.is_full():
            raise too_busy(self.retry_seconds())
        work = RequestWork(asked)
        self._load.begin()
        work.future.add_done_callback(lambda _: self._load.end())
        self._put(work)
        return work

    def begin_lines(self, group: Group) -> Work[bytes]:
        """Take a few lines of a batch."""
        work = LinesWork(group)
        self._put(work)
        return work

    def is_full(self) -> bool:
        """Whether one more request would be refused."""
        return self._load.is_full

    def retry_seconds(self) -> int:
        """How long whoever is refused now had better wait: until half of what is in hand is done."""
        return max(1, math.ceil(self._load.seconds_to_wait / 2.0))

    def _put(self, work: Work[Any]) -> None:
        self._start()
        self._queue.put(work)

    def _start(self) -> None:
        with self._start_once:
            if not self._is_started:
                self._is_started = True
                for waiter in self._waiters:
                    threading.Thread(target=waiter.run, name="worker", daemon=True).start()
