"""Supervisor: the command that listens, keeps the server going, and ends when it is told to."""

from __future__ import annotations

import asyncio
import logging
import signal
import socket
import sys
import time
from collections.abc import Mapping
from contextlib import suppress
from typing import Final

from headbench import __version__
from headbench.api.listening import logs
from headbench.api.listening.sockets import address_of, bound, open_standard_streams, raise_descriptors
from headbench.api.serving.settings import Settings

_SPARE_SECONDS: Final = 5.0
"""How much longer than it may the server takes to end before it is killed."""

_SECONDS_BETWEEN_STARTS: Final = 1.0
"""A server that cannot start is not started over and over."""

_log = logging.getLogger(__name__)


class _Supervisor:
    """Keeps a server going that answers at some sockets."""

    def __init__(self, settings: Settings, environment: Mapping[str, str], sockets: list[socket.socket]) -> None:
        self._settings = settings
        self._environment = environment
        self._sockets = sockets
        self._stop = asyncio.Event()
        self._is_told = False
        self._server: asyncio.subprocess.Process | None = None

    async def run(self) -> int:
        """Keep the server going until told to stop; 0 if all that was asked was answered."""
        loop = asyncio.get_running_loop()
        for told in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
            # nohup, say, wants it to go on
            if signal.getsignal(told) != signal.SIG_IGN:
                loop.add_signal_handler(told, self._stop.set)
        keeping = asyncio.create_task(self._keep())
        stopping = asyncio.create_task(self._stop.wait())
        await asyncio.wait([stopping, keeping], return_when=asyncio.FIRST_COMPLETED)
        self._stop.set()
        # nobody queues any longer where no server listens
        for one in self._sockets:
            one.close()
        if self._server is not None:
            with suppress(ProcessLookupError):
                self._server.terminate()
        seconds = self._settings.drain_seconds + self._settings.grace_seconds + _SPARE_SECONDS
        _, late = await asyncio.wait([keeping], timeout=seconds)
        if late and self._server is not None:
            _log.error("the server did not end in time and was killed")
            self._server.kill()
        return 0 if await keeping else 1

    async def _keep(self) -> bool:
        """Start it again where it ends by itself; whether the last was ready at some time and ended as it should."""
        has_been_ready = False
        while not self._stop.is_set():
            began = time.monotonic()
            is_ready, status = await self._serve()
            if self._stop.is_set():
                return status == 0 or not is_ready
            has_been_ready = has_been_ready or is_ready
            how = f"signal {-status}" if status < 0 else f"status {status}"
            if not has_been_ready:
                _log.error("the server could not start (%s)", how)
                return False
            _log.warning("the server ended by itself (%s); another takes its place", how)
            if time.monotonic() - began < _SECONDS_BETWEEN_STARTS:
                with suppress(TimeoutError):
                    await asyncio.wait_for(self._stop.wait(), _SECONDS_BETWEEN_STARTS)
        return True

    async def _serve(self) -> tuple[bool, int]:
        """Run a server until it ends: whether it was ready, and its status."""
        ours, its = socket.socketpair()
        ours.settimeout(0.0)
        numbers = [one.fileno() for one in self._sockets]
        with ours:
            with its:
                process = await asyncio.create_subprocess_exec(
                    # a fresh interpreter that takes no module from where it happens to be started
                    *(sys.executable, "-P", "-m", "headbench.api.listening.server"),
                    *(",".join(map(str, numbers)), str(its.fileno())),
                    stdin=asyncio.subprocess.DEVNULL,
                    pass_fds=[*numbers, its.fileno()],
                    env=self._environment,
                )
            self._server = process
            if self._stop.is_set():
                process.terminate()
            is_ready = bool(await asyncio.get_running_loop().sock_recv(ours, 1))
            if is_ready and not self._stop.is_set():
                self._tell()
            status = await process.wait()
            self._server = None
            return is_ready, status

    def _tell(self) -> None:
        """Say where it is reached, once."""
        if not self._is_told:
            self._is_told = True
            addresses = " and ".join(map(address_of, self._sockets))
            _log.info("Headbench %s listens at %s", __version__, addresses)


def run(settings: Settings, environment: Mapping[str, str]) -> int:
    """Run the service until it is told to stop; raises WrongSetting where it cannot listen.

    environment : where the server reads the same settings, what was said in the command among them
    """
    open_standard_streams()
    sockets = bound(settings.host, settings.port)
    raise_descriptors()
    logs.begin(settings.log_level)
    return asyncio.run(_Supervisor(settings, environment, sockets).run())
