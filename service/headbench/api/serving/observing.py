"""Observing: a request id, a log line and a count for every request, refused ones too.

Wrapped around the application rather than hung into it, because Litestar's middleware never sees
what no route takes (404, 405).
"""

from __future__ import annotations

import asyncio
import json
import logging
import re
import time
from collections.abc import Collection
from typing import Final
from uuid import uuid4

from litestar.enums import ScopeType
from litestar.types import ASGIApp, Message, Receive, Scope, Send
from prometheus_client import Counter, Histogram

from headbench.api.exchange.asking import LEFT

ACCESS: Final = "headbench.access"
"""The log with a line a request."""

_log = logging.getLogger(ACCESS)

REQUESTS: Final = Counter("headbench_requests_total", "Requests answered.", ["method", "route", "status"])
SECONDS: Final = Histogram("headbench_request_seconds", "Time from first byte in to last byte out.", ["route"])
DROPPED: Final = Counter("headbench_log_lines_dropped_total", "Lines of the log that nobody took.")

_METHODS: Final = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE"})
_NO_ROUTE: Final = "none"

_CUT_OFF: Final = 503
"""Status of one that the end of the service left no time for."""

_REQUEST_ID: Final = re.compile(rb"[A-Za-z0-9._-]{1,64}")


class Observed:
    """An ASGI application with every request counted, timed and logged; bodies are never logged.

    `routes` are the addresses that it has, so that a method that one does not take is counted by its address, too.
    """

    def __init__(self, app: ASGIApp, routes: Collection[str] = ()) -> None:
        self._app = app
        self._routes = frozenset(routes)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on and watch its answer."""
        if scope["type"] != ScopeType.HTTP:
            await self._app(scope, receive, send)
            return
        given = dict(scope["headers"]).get(b"x-request-id", b"")
        request_id = given if _REQUEST_ID.fullmatch(given) else uuid4().hex.encode()
        status, size, start = 0, 0, time.perf_counter()

        async def watch(message: Message) -> None:
            nonlocal status, size
            if message["type"] == "http.response.start":
                status = message["status"]
                message["headers"] = [*message.get("headers", []), (b"x-request-id", request_id)]
            elif message["type"] == "http.response.body":
                size += len(message.get("body", b""))
            await send(message)

        try:
            await self._app(scope, receive, watch)
            status = status or LEFT
        except asyncio.CancelledError:
            status = _CUT_OFF
            raise
        finally:
            path = scope["path"]
            route = str(scope.get("path_template") or (path if path in self._routes else _NO_ROUTE))
            _note(request_id, str(scope.get("method")), route, status or 500, time.perf_counter() - start, size)


def observe_refused(status: int) -> None:
    """Count and log what came over a connection and was no request."""
    _note(uuid4().hex.encode(), "", _NO_ROUTE, status, 0.0, 0)


def _note(request_id: bytes, method: str, route: str, status: int, seconds: float, size: int) -> None:
    method = method if method in _METHODS else "other"
    REQUESTS.labels(method, route, str(status)).inc()
    SECONDS.labels(route).observe(seconds)
    line = {
        "request_id": request_id.decode(),
        "method": method,
        "route": route,
        "status": status,
        "milliseconds": round(1000.0 * seconds, 3),
        "bytes": size,
    }
    _log.info(json.dumps(line))
