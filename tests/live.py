"""The service as it is shipped, started as a person would, and callers who speak to it byte by byte."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

SECONDS = 60.0
"""How long anything may take before a test gives up; nothing is judged by it."""


class Service:
    """A service that runs.

    log : its standard output, errors : its standard error
    """

    def __init__(self, folder: Path, *options: str, nofile: int | None = None, **said: str) -> None:
        self._output, self._errors = folder / "log", folder / "errors"
        bound = ["sh", "-c", f'ulimit -n {nofile} && exec "$@"', "sh"] if nofile else []
        self._command = [*bound, sys.executable, "-m", "headbench.cli", "serve", "--port", "0", *options]
        # a worker is a second of start; who asks what several do says so
        said = {"WORKERS": "1"} | said
        self.environment = os.environ | {f"HEADBENCH_{name}": value for name, value in said.items()}
        self.process: subprocess.Popen[bytes]
        self.port = 0

    def start(self, output: IO[bytes] | int | None = None) -> None:
        """Start it, and wait until it says where it is."""
        with self._output.open("wb") as log, self._errors.open("wb") as errors:
            self.process = subprocess.Popen(  # noqa: S603 - our own
                self._command, env=self.environment, stdout=output or log, stderr=errors
            )
        self.until(lambda: " listens at " in self.errors or self.process.poll() is not None)
        found = re.search(r" listens at .*http://127\.0\.0\.1:([0-9]+)", self.errors)
        assert found, self.errors
        self.port = int(found[1])

    @property
    def log(self) -> list[Any]:
        """What it wrote of requests so far."""
        return [json.loads(line) for line in self._output.read_bytes().splitlines(keepends=True) if line[-1:] == b"\n"]

    @property
    def errors(self) -> str:
        """What it wrote to standard error so far."""
        return self._errors.read_text()

    @property
    def server(self) -> int:
        """The process that answers."""
        (server,) = children(self.process.pid)
        return server

    @property
    def processes(self) -> list[int]:
        """The one that answers, and those that work out what is asked."""
        return [one for server in children(self.process.pid) for one in (server, *children(server))]

    def connect(self) -> socket.socket:
        """A connection to it."""
        return socket.create_connection(("127.0.0.1", self.port), timeout=SECONDS)

    def say(self, raw: bytes) -> bytes:
        """What it answers to some bytes, until it closes the connection."""
        with self.connect() as connection:
            connection.sendall(raw)
            return everything(connection)

    def status(self, path: str = "/health/live") -> int:
        """What it answers to GET."""
        return int(self.say(get(path, close=True)).split()[1])

    def stop(self) -> int:
        """Tell it to stop; how it ended."""
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(SECONDS)

    def until(self, happened: Any) -> None:
        """Wait until something has happened."""
        end = time.monotonic() + SECONDS
        while not happened():
            assert time.monotonic() < end, self.errors
            time.sleep(0.01)


@contextmanager
def service(folder: Path, *options: str, nofile: int | None = None, **said: str) -> Iterator[Service]:
    """A service that is started, and gone afterward."""
    one = Service(folder, *options, nofile=nofile, **said)
    one.start()
    try:
        yield one
    finally:
        gone(one)


def gone(one: Service) -> None:
    """See that nothing is left of a service."""
    if one.process.poll() is None:
        processes = one.processes
        one.process.kill()
        one.process.wait()
        for process in processes:
            one.until(lambda process=process: not alive(process))


def children(process: int) -> list[int]:
    """The processes that one started, whichever of its threads did."""
    tasks = Path(f"/proc/{process}/task").glob("*")
    return [int(one) for task in tasks for one in (task / "children").read_text().split()]


def alive(process: int) -> bool:
    """Whether a process runs."""
    status = Path(f"/proc/{process}/stat")
    return status.exists() and status.read_text().rpartition(")")[2].split()[0] != "Z"


def get(path: str = "/health/live", *, close: bool = False, headers: Mapping[str, str] | None = None) -> bytes:
    """A request for something that is only read."""
    fields = {"Host": "bench", **({"Connection": "close"} if close else {}), **(headers or {})}
    return f"GET {path} HTTP/1.1\r\n{_lines(fields)}\r\n".encode()


def post(path: str, size: int, media_type: str = "application/json", **headers: str) -> bytes:
    """The head of a request whose body has so many bytes."""
    fields = {"Host": "bench", "Content-Type": media_type, "Content-Length": str(size), **headers}
    return f"POST {path} HTTP/1.1\r\n{_lines(fields)}\r\n".encode()


def _lines(fields: Mapping[str, str]) -> str:
    return "".join(f"{name.replace('_', '-')}: {value}\r\n" for name, value in fields.items())


def everything(connection: socket.socket) -> bytes:
    """What arrives until the other side closes."""
    got = bytearray()
    while part := connection.recv(65_536):
        got += part
    return bytes(got)


def problem(answer: bytes) -> tuple[int, str]:
    """The status of an answer and the kind of problem that it tells."""
    head, _, body = answer.partition(b"\r\n\r\n")
    assert b"application/problem+json" in head
    assert b"connection: close" in head.lower()
    document = json.loads(body)
    status = int(head.split()[1])
    assert document["status"] == status
    return status, document["type"].removeprefix("urn:headbench:problem:")
