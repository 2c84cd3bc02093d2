"""A worker: a process that answers requests over the sockets that the command listens at.

The command holds the other end of a socket to it: there a worker tells that it is ready, and there it sees that the
command is no more, however that ended; then it stops as if it had been told to.
"""

from __future__ import annotations

import asyncio
import logging
import os
import signal
import socket
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Final

from uvicorn import Config, Server

from headbench.api.listening import logs
from headbench.api.listening.connection import Connection, State
from headbench.api.listening.sockets import most_connections
from headbench.api.listening.watch import Watch
from headbench.api.serving.observing import ACCESS, DROPPED
from headbench.api.serving.readiness import READINESS
from headbench.api.serving.settings import Settings, settings_of

CUT_OFF: Final = 3
"""How a worker ends that could not answer everything in time."""

_TICK_SECONDS: Final = 0.05
_SECONDS_TO_CANCEL: Final = 1.0

_AT_ONCE: Final = 32
"""Connections that are taken before any is counted."""

_QUEUED: Final = 2_048
"""Connections that the system may hold while none is taken."""

_log = logging.getLogger(__name__)


class _Worker(Server):
    """uvicorn's server, which stops in the order that loses nothing."""

    def __init__(self, settings: Settings, sockets: list[socket.socket], command: socket.socket) -> None:
        super().__init__(
            Config(
                "headbench.api.app:create_app",
                factory=True,
                http=Connection,
                loop="asyncio",
                ws="none",
                lifespan="on",
                interface="asgi3",
                log_config=None,
                access_log=False,
                proxy_headers=False,
                server_header=False,
                backlog=_AT_ONCE,
            )
        )
        self._settings = settings
        self._sockets = sockets
        self._command = command
        self._watch = Watch(settings.head_seconds, settings.idle_seconds, most_connections())
        self.server_state: State = State(self._watch)
        self.cut_off = 0

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Stop when it is told to, or when the command is no more."""
        loop = asyncio.get_running_loop()
        loop.add_signal_handler(signal.SIGTERM, self._stop)
        loop.add_reader(self._command, self._stop)
        yield

    def _stop(self) -> None:
        asyncio.get_running_loop().remove_reader(self._command)
        self.should_exit = READINESS.is_stopping = True

    async def main_loop(self) -> None:
        """Answer until it is to stop, and some time after that."""
        for listening in self._sockets:
            listening.listen(_QUEUED)
        with suppress(OSError):
            self._command.sendall(b"r")
        self._keeping = asyncio.create_task(self._watch.keep())
        await super().main_loop()
        until = asyncio.get_running_loop().time() + self._settings.drain_seconds
        tick = 0
        while asyncio.get_running_loop().time() < until:
            await self.on_tick(tick := tick + 1)
            await asyncio.sleep(_TICK_SECONDS)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:  # noqa: ARG002 - the server's own
        """Take no more connections, answer what is under way, and tell what there was no time for."""
        self._watch.end()
        for connection in list(self.server_state.connections):
            connection.shutdown()
        loop = asyncio.get_running_loop()
        # whoever is in the system's queue by now is answered, too: it is emptied and closed in one go
        late = [one for listening in self._sockets for one in _queued(listening)]
        for server in self.servers:
            server.close()
        await asyncio.gather(*(loop.connect_accepted_socket(self._connection, one) for one in late))
        until = loop.time() + self._settings.grace_seconds
        while self.server_state.connections and loop.time() < until:  # noqa: ASYNC110 - uvicorn's set, which tells nobody
            await asyncio.sleep(_TICK_SECONDS)
        self.cut_off = sum(isinstance(one, Connection) and one.is_answering for one in self.server_state.connections)
        if self.cut_off:
            requests = "1 request" if self.cut_off == 1 else f"{self.cut_off} requests"
            seconds = self._settings.grace_seconds
            _log.error("%s cut off: not answered within the grace period of %g s", requests, seconds)
        tasks = list(self.server_state.tasks)
        for task in tasks:
            task.cancel()
        if tasks:
            await asyncio.wait(tasks, timeout=_SECONDS_TO_CANCEL)
        await self.lifespan.shutdown()

    def _connection(self) -> Connection:
        return Connection(self.config, self.server_state, self.lifespan.state)


def _queued(listening: socket.socket) -> Iterator[socket.socket]:
    """The connections that nobody has taken yet."""
    with suppress(OSError):
        while True:
            yield listening.accept()[0]


def main(listening: str, command: str) -> int:
    """Answer requests until told to stop, at sockets of these numbers; 0 if every one was answered."""
    # Ctrl-C and the end of a terminal reach every process of it; the command says when it is over
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    settings = settings_of()
    logs.begin(settings.log_level, DROPPED.inc)
    logs.begin_requests(logging.getLogger(ACCESS), DROPPED.inc)
    logging.getLogger("uvicorn").setLevel(logging.WARNING)
    sockets = [socket.socket(fileno=int(number)) for number in listening.split(",")]
    worker = _Worker(settings, sockets, socket.socket(fileno=int(command)))
    worker.run(sockets)
    return CUT_OFF if worker.cut_off else 0


if __name__ == "__main__":
    status = main(*sys.argv[1:])
    logging.shutdown()
    # threads that still compute for nobody are not waited for
    os._exit(status)
