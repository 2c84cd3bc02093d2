"""Beside an echo: every calculation against a handler that only decodes and encodes the same bytes.

The handler stands in the same framework, takes the same request through the same door, and answers a struct that
was made before. The ratio is what part of a request's CPU time decoding and encoding take: 1 would be a
calculation that costs nothing.
"""

from __future__ import annotations

import asyncio
import json
import sys
from collections.abc import Iterator
from typing import Any

import msgspec
from litestar import Litestar, Request, Response, post
from litestar.datastructures.state import State
from tests.api.batches import AtOnce
from tests.benchmarks import asgi
from tests.benchmarks.jobs import whole_head
from tests.benchmarks.table import Row, ratio_row, time_text
from tests.benchmarks.turns import Effort, take_turns

from headbench.api.app import RESOURCES, create_app
from headbench.api.exchange.asking import JSON, Told, response_of
from headbench.api.exchange.decoding import decode, read_body
from headbench.api.exchange.problems import HANDLERS
from headbench.api.exchange.resource import Resource
from headbench.api.serving.observing import Observed

HEAD = next(one for one in RESOURCES if one.kind == "head-assembly")


def jobs() -> Iterator[tuple[str, Resource[Any, Any], Any]]:
    """What is posted: its name in the table, to whom, and the job."""
    for count, name in ((16, "16 positions"), (1, "one position")):
        yield f"`{HEAD.path}`, {name}", HEAD, whole_head(count)
    for resource in RESOURCES:
        yield f"`{resource.path}`, its example", resource, resource.example


def echo_app(resource: Resource[Any, Any], answer: msgspec.Struct) -> Observed:
    """Decodes a request as the service does, and encodes an answer that was made before."""

    @post(resource.path, status_code=200)
    async def echo(request: Request[None, None, State]) -> Response[bytes]:
        decode(await read_body(request, [JSON]), resource.request)
        return response_of(Told(200, JSON, msgspec.json.encode(answer)))

    return Observed(Litestar([echo], exception_handlers=HANDLERS, openapi_config=None, logging_config=None))


def measure(effort: Effort, loop: asyncio.AbstractEventLoop) -> Iterator[Row]:
    """A line per job."""
    service = create_app(AtOnce())
    for name, resource, job in jobs():
        body = json.dumps(job).encode()
        answer = resource(msgspec.json.decode(body, type=resource.request))
        apps: dict[str, asgi.App] = {"whole": service, "echo": echo_app(resource, answer)}
        (status, whole), (_, echoed) = (
            loop.run_until_complete(asgi.post(app, resource.path, body)) for app in apps.values()
        )
        if status != 200 or whole != echoed:
            sys.exit(f"{name}: the two do not answer the same bytes; the comparison would mean nothing")
        turns = take_turns({key: asgi.posts(app, resource.path, body, loop) for key, app in apps.items()}, effort)
        times = f"{time_text(turns.least('echo'))} of {time_text(turns.least('whole'))}"
        yield ratio_row(f"{name}, against decode + encode of the same bytes", turns.ratio("echo", "whole"), times)
