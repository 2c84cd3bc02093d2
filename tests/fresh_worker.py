"""A process as it comes up, where nothing else has been loaded: tells what it loads, and when.

Run as a script by `tests/api/computing/test_starting.py`, to "serve" or to "compute"; prints one JSON object.
"""

from __future__ import annotations

import asyncio
import gc
import json
import sys
from collections.abc import Iterator
from typing import Any

from litestar.types import ASGIApp

from headbench.api.app import RESOURCES, create_app, desk
from headbench.api.computing.starting import warm_up
from headbench.api.exchange.asking import Asked, Told

Call = tuple[str, str, bytes]


def calls() -> Iterator[Call]:
    """Every calculation's example, all that can be got, and requests that are refused."""
    for resource in RESOURCES:
        yield "POST", resource.path, resource.example_file.read_bytes()
        yield "POST", resource.path, b'{"unit": {}, "positions": [{"id": 8}]}'
    yield "POST", RESOURCES[0].path, b'{"posit'
    for path in (
        "/health/live",
        "/health/ready",
        "/version",
        "/metrics",
        "/v1/reference/limits",
        "/v1/reference/notes",
    ):
        yield "GET", path, b""
    for path in (
        "/v1/reference/wire-materials",
        "/openapi.json",
        "/docs",
        "/assets/docs.js",
        "/nowhere",
        RESOURCES[0].path,
    ):
        yield "GET", path, b""


async def status_of(app: ASGIApp, call: Call) -> int:
    """The status that one request is answered with."""
    method, path, body = call
    scope: Any = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method, "scheme": "http",
        "path": path, "raw_path": path.encode(), "query_string": b"", "root_path": "",
        "headers": [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())],
        "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 80), "state": {}, "extensions": {},
    }  # fmt: skip
    statuses: list[int] = []

    async def receive() -> Any:
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message: Any) -> None:
        if message["type"] == "http.response.start":
            statuses.append(message["status"])

    await app(scope, receive, send)
    return statuses[0]


async def serve() -> dict[str, Any]:
    """The process that serves: start, answer; what there was after each."""
    app = create_app()
    started: asyncio.Queue[Any] = asyncio.Queue()
    asked: asyncio.Queue[Any] = asyncio.Queue()
    await asked.put({"type": "lifespan.startup"})
    scope: Any = {"type": "lifespan", "asgi": {"version": "3.0"}, "state": {}}
    living = asyncio.create_task(app(scope, asked.get, started.put))
    assert (await started.get())["type"] == "lifespan.startup.complete"
    frozen = gc.get_freeze_count()
    loaded = set(sys.modules)
    statuses = [await status_of(app, call) for call in calls()]
    await asked.put({"type": "lifespan.shutdown"})
    await living
    return {
        "loaded when ready": sorted(loaded),
        "loaded by requests": sorted(set(sys.modules) - loaded),
        "frozen when ready": frozen,
        "statuses": sorted(set(statuses)),
    }


def compute() -> dict[str, Any]:
    """A process that computes: warm up, answer; what there was after each."""
    at = desk()
    warm_up(at.resources)
    frozen = gc.get_freeze_count()
    loaded = set(sys.modules)
    posted = [(path, body) for method, path, body in calls() if method == "POST"]
    told = [at(Asked(path.removeprefix("/v1/"), body)) for path, body in posted]
    return {
        "loaded when ready": sorted(loaded),
        "loaded by requests": sorted(set(sys.modules) - loaded),
        "frozen when ready": frozen,
        "statuses": sorted({one.status for one in told if isinstance(one, Told)}),
    }


if __name__ == "__main__":
    sys.stdout.write(json.dumps(asyncio.run(serve()) if sys.argv[1] == "serve" else compute()))
