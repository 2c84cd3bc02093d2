"""What the tests of batches ask with: lines, a caller that goes one step at a time, and workers in this process."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterable, Sequence
from concurrent.futures import Future
from typing import Any

from litestar.types import ASGIApp, Message

from headbench.api import app
from headbench.api.batch.lines import Group
from headbench.api.computing.desk import Lines, Written
from headbench.api.computing.desk import Message as Asking
from headbench.api.exchange.asking import Asked

NDJSON = {"Content-Type": "application/x-ndjson"}
REQUESTS = {resource.kind: resource.example for resource in app.RESOURCES}


def line(kind: str = "valve-mass", name: str | None = "J-1", **others: Any) -> bytes:
    """A job of a batch, as its bytes."""
    return json.dumps({"kind": kind, "id": name, "request": REQUESTS[kind]} | others).encode()


def read(body: bytes) -> list[Any]:
    """The lines of an answer."""
    return [json.loads(one) for one in body.splitlines()]


def told(answers: Iterable[Any]) -> list[tuple[int, str | None, int]]:
    """Number, id and status of each."""
    return [(one["line"], one["id"], one["status"]) for one in answers]


class Given:
    """Work that is done, or never will be."""

    def __init__(self, result: Any = None) -> None:
        self.future: Future[Any] = Future()
        self.is_abandoned = False
        if result is not None:
            self.future.set_result(result)

    def abandon(self) -> None:
        self.is_abandoned = True
        self.future.cancel()


class AtOnce:
    """Workers of this process, who answer when they are asked, or never."""

    count = 1

    def __init__(self, *, answer: bool = True) -> None:
        self.asked: list[int] = []
        self.left: list[Given] = []
        self._desk = app.desk() if answer else None

    def start(self) -> None:
        pass

    def is_full(self) -> bool:
        return False

    def retry_seconds(self) -> int:
        return 1

    def begin(self, asked: Asked) -> Given:
        return self._given(asked)

    def begin_lines(self, group: Group) -> Given:
        self.asked += [number for number, _ in group]
        return self._given(Lines(group))

    def _given(self, message: Asking) -> Given:
        if self._desk is None:
            self.left.append(Given())
            return self.left[-1]
        reply = self._desk(message)
        return Given(reply.lines if isinstance(reply, Written) else reply)


class Caller:
    """Sends chunk after chunk, then ends, hangs up or waits; takes so many messages of the answer, then no more."""

    def __init__(self, chunks: Iterable[bytes], then: str = "ends", takes: float = float("inf")) -> None:
        self.sent = 0
        self.got: list[Message] = []
        self._chunks = iter(chunks)
        self._then = then
        self._takes = takes

    async def call(self, service: ASGIApp, headers: Sequence[tuple[bytes, bytes]] = ()) -> None:
        """Call the service; returns when it has done with the caller."""
        scope: Any = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "POST", "scheme": "http",
            "path": "/v1/batch", "raw_path": b"/v1/batch", "query_string": b"", "root_path": "",
            "headers": [(b"content-type", b"application/x-ndjson"), *headers],
            "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 80), "state": {}, "extensions": {},
        }  # fmt: skip
        await service(scope, self._receive, self._send)

    @property
    def status(self) -> int:
        """The status it got."""
        return int(self.got[0]["status"])  # type: ignore[typeddict-item] # the first message has it

    @property
    def body(self) -> bytes:
        """What it got."""
        return b"".join(message["body"] for message in self.got if message["type"] == "http.response.body")

    async def _receive(self) -> Any:
        chunk = next(self._chunks, None)
        if chunk is not None:
            self.sent += 1
            return {"type": "http.request", "body": chunk, "more_body": True}
        if self._then == "ends":
            self._then = "waits"
            return {"type": "http.request", "body": b"", "more_body": False}
        if self._then == "hangs up":
            return {"type": "http.disconnect"}
        return await asyncio.Event().wait()

    async def _send(self, message: Message) -> None:
        if len(self.got) >= self._takes:
            await asyncio.Event().wait()
        self.got.append(message)


def called(service: ASGIApp, caller: Caller, headers: Sequence[tuple[bytes, bytes]] = ()) -> Caller:
    """The caller, after the service has done with it."""
    asyncio.run(caller.call(service, headers))
    return caller
