"""ASGI: posts straight into an application, without a network between; knows nothing of the service."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

from tests.benchmarks.turns import Turn, clock

App = Callable[[Any, Any, Any], Awaitable[None]]


async def post(app: App, path: str, body: bytes) -> tuple[int, bytes]:
    """One POST; the status and the body of its answer."""
    status, sent = 0, bytearray()
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "POST", "scheme": "http",
        "path": path, "raw_path": path.encode(), "query_string": b"", "root_path": "",
        "headers": [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())],
        "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 80), "state": {}, "extensions": {},
    }  # fmt: skip

    async def receive() -> Any:
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message: Any) -> None:
        nonlocal status
        if message["type"] == "http.response.start":
            status = message["status"]
        elif message["type"] == "http.response.body":
            sent.extend(message["body"])

    await app(scope, receive, send)
    return status, bytes(sent)


def posts(app: App, path: str, body: bytes, loop: asyncio.AbstractEventLoop) -> Turn:
    """Turns of one POST after another."""

    async def several(calls: int) -> float:
        start = clock()
        for _ in range(calls):
            await post(app, path, body)
        return clock() - start

    return lambda calls: loop.run_until_complete(several(calls))
