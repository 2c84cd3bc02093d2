"""Asking: what is sent and what comes back, in this process or over a connection."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Protocol

import httpx
from litestar.testing import TestClient
from litestar.types import ASGIApp

from headbench.api.app import RESOURCES, create_app
from headbench.api.batch.jobs import Answering

JSON = "application/json"


@dataclass(frozen=True, slots=True)
class Asked:
    """One POST."""

    path: str
    body: bytes
    accept: str = JSON
    query: str = ""


@dataclass(frozen=True, slots=True)
class Said:
    """Its answer; the seconds are the CPU time of this process, or what a clock showed where another one answered."""

    status: int
    media_type: str
    body: bytes
    seconds: float = 0.0


class Asker(Protocol):
    """Somebody who answers."""

    def ask(self, asked: Asked) -> Said:
        """One POST answered."""

    def line(self, line: bytes) -> bytes:
        """What a batch says to one line."""


@dataclass(frozen=True, slots=True)
class _Client:
    """A client of httpx, or one that speaks as it does."""

    client: Any
    answering: Answering | None

    def ask(self, asked: Asked) -> Said:
        headers = {"Content-Type": JSON, "Accept": asked.accept}
        clock = time.perf_counter if self.answering is None else time.process_time
        start = clock()
        answer = self.client.post(f"{asked.path}{asked.query}", content=asked.body, headers=headers)
        media_type = answer.headers.get("content-type", "").partition(";")[0]
        return Said(answer.status_code, media_type, answer.content, clock() - start)

    def line(self, line: bytes) -> bytes:
        if self.answering is not None:
            return self.answering(1, line)
        headers = {"Content-Type": "application/x-ndjson"}
        content: bytes = self.client.post("/v1/batch", content=line, headers=headers).content
        return content


@contextmanager
def asker(server: str | None) -> Iterator[Asker]:
    """The service in this process, where no address of another is given."""
    if server is not None:
        with httpx.Client(base_url=server, timeout=120.0) as live:
            yield _Client(live, None)
        return
    app: ASGIApp = create_app()
    with TestClient(app, raise_server_exceptions=False) as client:
        yield _Client(client, Answering(RESOURCES))
