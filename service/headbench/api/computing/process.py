"""Process: one worker as the service has it: a process, and the socket to it."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from contextlib import suppress
from typing import Final

import msgspec

from headbench.api.computing.budget import interrupt
from headbench.api.computing.desk import Message, Reply
from headbench.api.computing.messages import read, write

_SECONDS_TO_END: Final = 5.0
"""How long a worker may take to finish what it is at when the service ends."""

_SECONDS_TO_ANSWER: Final = 120.0
"""When a worker is taken for stuck; its jobs end themselves long before."""


class Died(Exception):
    """A worker ended without an answer."""


class Worker:
    """A process and the socket to it."""

    def __init__(self, desk_at: str) -> None:
        self._socket, its = socket.socketpair()
        # a fresh interpreter: a fork of a process with threads may hang, and would share the service's sockets
        command = [sys.executable, "-m", "headbench.api.computing.worker", desk_at]
        # a worker is one of many: threads within one would only take the others' cores
        environment = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"} | os.environ
        with its:
            try:
                self._process = subprocess.Popen(command, stdin=its.fileno(), env=environment)  # noqa: S603 - our own
            except OSError:
                self._socket.close()
                raise
        self._socket.settimeout(_SECONDS_TO_ANSWER)
        self._replies = self._socket.makefile("rb")
        self._encoder = msgspec.msgpack.Encoder()
        self._decoder: msgspec.msgpack.Decoder[Reply] = msgspec.msgpack.Decoder(Reply)

    def greeted(self) -> None:
        """Wait until it is there."""
        self._read()

    def ask(self, message: Message) -> Reply:
        """Its reply to a message."""
        try:
            write(self._socket, self._encoder.encode(message))
        except OSError:
            raise Died from None
        return self._decoder.decode(self._read())

    def _read(self) -> bytes:
        try:
            reply = read(self._replies)
        except OSError:
            # stuck, or gone
            self._process.kill()
            reply = None
        if reply is None:
            raise Died
        return reply

    def interrupt(self) -> None:
        """Have it give up what it is at."""
        with suppress(OSError):
            interrupt(self._process.pid)

    def end(self) -> int:
        """Let it finish, and see that it is gone; how it ended."""
        # shut down and not only closed: the file that replies are read from holds the socket open
        with suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)
        try:
            self._process.wait(_SECONDS_TO_END)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._replies.close()
        self._socket.close()
        return self._process.returncode
