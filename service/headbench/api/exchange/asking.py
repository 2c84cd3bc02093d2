"""Asking: a request as bytes, and what it is told, as bytes; so that whoever answers may be a process of its own."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from concurrent.futures import Future
from typing import Any, Final, Protocol, TypeVar

import msgspec
from litestar import Response

from headbench.errors import RefusedRequest

JSON: Final = "application/json"

MOST_SECONDS: Final = 5.0
"""Processor time of one job; the costliest there is takes about one second."""

REFUSALS: Final = "refusals"
"""Where the options of a route name the statuses that it alone refuses with."""

_SECONDS_UNWATCHED: Final = 0.05
"""How long an answer may take before anybody looks whether the caller is still there; most are done by then."""

T = TypeVar("T")

LEFT: Final = 499
"""Status in the log of a request whose caller left; nobody reads it, and HTTP has none for it."""


class Asked(msgspec.Struct, frozen=True, tag=True):
    """What a caller asks.

    kind : the resource that is asked
    media_type, body : what was sent, and what it is sent as
    accept : the forms that the caller takes
    sheets : the sheets that were named
    """

    kind: str
    body: bytes = b""
    media_type: str = JSON
    accept: str = ""
    sheets: list[str] = []


class Told(msgspec.Struct, frozen=True, tag=True):
    """What it is told: an answer in the form it takes, or a refusal."""

    status: int
    media_type: str
    body: bytes
    headers: dict[str, str] = {}


class Work(Protocol[T]):
    """What was asked, on its way."""

    @property
    def future(self) -> Future[T]:
        """What it is told, once that is known."""
        ...

    def abandon(self) -> None:
        """Nobody waits any more: what has not begun does not begin, what has stops."""
        ...


class Answerer(Protocol):
    """Whoever answers."""

    def begin(self, asked: Asked) -> Work[Told]:
        """Take a request; raises RefusedRequest (busy, 503) when too many wait already."""
        ...

    def retry_seconds(self) -> int:
        """How long whoever is refused now had better wait."""
        ...

    def is_full(self) -> bool:
        """Whether one more request would be refused."""
        ...


def too_busy(seconds: int) -> RefusedRequest:
    """What is told of a request when too many wait already."""
    detail = f"Too many requests wait already; come back in {seconds} s."
    return RefusedRequest("busy", 503, detail, headers={"Retry-After": str(seconds)})


def too_much_work() -> RefusedRequest:
    """What is told of a job that takes too long."""
    detail = (
        f"This takes more than {MOST_SECONDS:.0f} s to work out. Send it in parts: fewer springs, heights or points "
        "at a time."
    )
    return RefusedRequest("too-much-work", 422, detail)


async def answered(answerer: Answerer, asked: Asked, receive: Callable[[], Awaitable[Any]]) -> Told:
    """Have a request answered, for as long as its caller is there; raises RefusedRequest (busy, 503)."""
    work = answerer.begin(asked)
    future = asyncio.wrap_future(work.future)
    loop = asyncio.get_running_loop()
    leaving: asyncio.Task[None] | None = None

    def watch() -> None:
        nonlocal leaving
        leaving = loop.create_task(_leaves(receive))
        leaving.add_done_callback(lambda _: future.cancel())

    watching = loop.call_later(_SECONDS_UNWATCHED, watch)
    try:
        return await future
    except asyncio.CancelledError:
        work.abandon()
        if leaving is not None and leaving.done():
            return Told(LEFT, "text/plain", b"")
        raise
    finally:
        watching.cancel()
        if leaving is not None:
            leaving.cancel()


async def _leaves(receive: Callable[[], Awaitable[Any]]) -> None:
    """Until the caller is gone; what a caller of this goes on to send is nobody's concern."""
    if (await receive())["type"] != "http.disconnect":
        await asyncio.Event().wait()


def response_of(told: Told) -> Response[bytes]:
    """As HTTP sends it."""
    return Response(told.body, status_code=told.status, media_type=told.media_type, headers=told.headers)
