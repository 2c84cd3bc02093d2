"""Metrics: what is counted and timed, at an address of the service or at a port of its own.

One process takes all requests, however many compute, so what it counted is all there is to count.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncGenerator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager

from litestar import Litestar, Response, get
from prometheus_client import CONTENT_TYPE_LATEST, generate_latest, start_http_server


@get("/metrics", include_in_schema=False)
async def metrics() -> Response[bytes]:
    """Counters of this process in the Prometheus text format."""
    # litestar says the character set of every text itself
    return Response(generate_latest(), media_type=CONTENT_TYPE_LATEST.removesuffix("; charset=utf-8"))


def at_own_port(host: str, port: int) -> Callable[[Litestar], AbstractAsyncContextManager[None]]:
    """What keeps metrics at a port of their own while the service is up."""

    @asynccontextmanager
    async def kept(_: Litestar) -> AsyncGenerator[None]:
        server, thread = start_http_server(port, host)
        try:
            yield
        finally:
            await asyncio.to_thread(server.shutdown)
            server.server_close()
            thread.join()

    return kept
