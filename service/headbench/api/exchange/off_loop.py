"""Off the loop: long requests computed in a thread, so that short ones and health checks go on being answered."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Final, TypeVar

from headbench.errors import RefusedRequest

Request = TypeVar("Request")
Answer = TypeVar("Answer")

THREADS: Final = 2
MOST_WAITING: Final = 16
"""Long requests that may wait for a thread; one more is told to come back."""


class _Pool:
    """A few threads, and how many requests are in them or wait for them."""

    def __init__(self) -> None:
        self.threads = ThreadPoolExecutor(THREADS, thread_name_prefix="long-request")
        self.pending = 0


_POOL: Final = _Pool()


def too_busy() -> RefusedRequest:
    """What is told of a long request when too many wait already."""
    detail = "Too many long requests wait already; come back in a moment."
    return RefusedRequest("busy", 503, detail, headers={"Retry-After": "1"})


async def off_loop(compute: Callable[[Request], Answer], request: Request) -> Answer:
    """Compute an answer in a thread; raises RefusedRequest (busy, 503) when too many wait already."""
    if _POOL.pending >= THREADS + MOST_WAITING:
        raise too_busy()
    _POOL.pending += 1
    try:
        return await asyncio.get_running_loop().run_in_executor(_POOL.threads, compute, request)
    finally:
        _POOL.pending -= 1
