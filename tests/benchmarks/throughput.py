"""Throughput of the main job beside a handler that only decodes and encodes the same bytes.

Both run in one process, one after the other in short turns, so that a slow moment of the machine
meets both; the ratio is what counts. Run with: make bench
"""

from __future__ import annotations

import asyncio
import json
import statistics
import sys
import time
from copy import deepcopy
from pathlib import Path
from typing import Any, Final

import msgspec
from litestar import Litestar, post
from litestar.params import JSONBody
from litestar.types import ASGIApp, Message

from headbench.api.app import create_app
from headbench.api.exchange.decoding import StrictRequest
from headbench.api.exchange.observing import Observed
from headbench.api.exchange.problems import HANDLERS
from headbench.api.head.head_assembly import RESOURCE
from headbench.api.head.job import HeadAssemblyRequest
from headbench.api.head.sheet import AssemblySheet

ROOT: Final = Path(__file__).parent.parent.parent
ROUNDS: Final = 15
CALLS: Final = 100


def whole_head() -> Any:
    """The demo's 16 positions with every reading taken."""
    job = json.loads((ROOT / "shared" / "demo" / "two-heads.json").read_text())
    spring = deepcopy(job["springs"][0])
    position = deepcopy(job["positions"][0])
    job["springs"] = [spring | one for one in job["springs"]]
    job["positions"] = [position | one for one in job["positions"]]
    return job


def echo_app(sheet: AssemblySheet) -> ASGIApp:
    """Decodes the job as the service does, and encodes a sheet that was made before."""

    @post("/v1/head-assembly", status_code=200)
    async def echo(data: JSONBody[HeadAssemblyRequest]) -> AssemblySheet:  # noqa: ARG001 - decoding it is the point
        return sheet

    settings: Any = {"request_class": StrictRequest, "openapi_config": None, "logging_config": None}
    return Observed(Litestar([echo], exception_handlers=HANDLERS, **settings))


async def call(app: ASGIApp, body: bytes) -> bytes:
    """One POST straight into an ASGI application."""
    sent: list[bytes] = []
    scope: Any = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "POST", "scheme": "http",
        "path": "/v1/head-assembly", "raw_path": b"/v1/head-assembly", "query_string": b"", "root_path": "",
        "headers": [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())],
        "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 80), "state": {}, "extensions": {},
    }  # fmt: skip

    async def receive() -> Any:
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message: Message) -> None:
        if message["type"] == "http.response.body":
            sent.append(message["body"])

    await app(scope, receive, send)
    return b"".join(sent)


async def seconds_per_call(app: ASGIApp, body: bytes) -> float:
    """Mean over a turn of calls."""
    start = time.perf_counter()
    for _ in range(CALLS):
        await call(app, body)
    return (time.perf_counter() - start) / CALLS


async def measure() -> None:
    """Print the medians and their ratio."""
    job = whole_head()
    body = json.dumps(job).encode()
    request = msgspec.json.decode(body, type=HeadAssemblyRequest)
    sheet = RESOURCE(request)
    apps: dict[str, ASGIApp] = {"whole": create_app(), "echo": echo_app(sheet)}
    answers = {name: await call(app, body) for name, app in apps.items()}
    if answers["whole"] != answers["echo"]:
        sys.exit("the two do not answer the same bytes; the comparison would mean nothing")
    turns: dict[str, list[float]] = {name: [] for name in apps}
    for _ in range(ROUNDS):
        for name, app in apps.items():
            turns[name].append(await seconds_per_call(app, body))
    ratios = [echo / whole for whole, echo in zip(turns["whole"], turns["echo"], strict=True)]
    print(f"{len(job['positions'])} positions, {len(body)} bytes in, {len(answers['whole'])} bytes out")
    for name, seconds in turns.items():
        print(f"{name:6} {1e6 * statistics.median(seconds):8.0f} us per call (median of {ROUNDS} turns of {CALLS})")
    print(f"ratio  {statistics.median(ratios):8.3f} of the throughput of decoding and encoding alone "
          f"({min(ratios):.3f} to {max(ratios):.3f})")  # fmt: skip


if __name__ == "__main__":
    asyncio.run(measure())
