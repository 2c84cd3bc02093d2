"""Bodies: how many bytes of bodies are held at a time, over all connections.

A body counts from when it arrives until its answer begins. Where that comes to too much, whichever has been
arriving longest makes room, and is told to come back: a body that is sent at all is there in a moment.
"""

from __future__ import annotations

import asyncio
from typing import Final

from litestar.enums import ScopeType
from litestar.types import ASGIApp, HTTPReceiveMessage, Message, Receive, Scope, Send

from headbench.errors import RefusedRequest

MOST_BYTES: Final = 64_000_000
"""What the bodies of a worker may come to."""


class _Body:
    """A body that is held, and how its arriving is ended."""

    def __init__(self) -> None:
        self.size = 0
        self.arriving: asyncio.Timeout | None = None
        self.is_given_up = False


class Bodies:
    """An ASGI application whose bodies are bounded together."""

    def __init__(self, app: ASGIApp, most_bytes: int = MOST_BYTES) -> None:
        self._app = app
        self._most_bytes = most_bytes
        self._held = 0
        # in the order in which they began
        self._arriving: dict[_Body, None] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, and count what arrives of it."""
        if scope["type"] != ScopeType.HTTP:
            await self._app(scope, receive, send)
            return
        body = _Body()
        is_begun = False

        async def take() -> HTTPReceiveMessage:
            message = await self._next(body, receive)
            # of a body that is answered while it arrives, nothing is kept
            if not is_begun and message["type"] == "http.request":
                self._hold(body, len(message.get("body", b"")), more=message.get("more_body", False))
            return message

        async def say(message: Message) -> None:
            nonlocal is_begun
            is_begun = True
            self._let_go(body)
            await send(message)

        try:
            await self._app(scope, take, say)
        finally:
            self._let_go(body)

    async def _next(self, body: _Body, receive: Receive) -> HTTPReceiveMessage:
        if body.is_given_up:
            raise too_many_bytes()
        try:
            async with asyncio.timeout(None) as body.arriving:
                return await receive()  # type: ignore[return-value] # of HTTP, which is all it is here
        except TimeoutError:
            if body.is_given_up:
                raise too_many_bytes() from None
            raise
        finally:
            body.arriving = None

    def _hold(self, body: _Body, size: int, *, more: bool) -> None:
        body.size += size
        self._held += size
        if more:
            self._arriving[body] = None
        else:
            self._arriving.pop(body, None)
        while self._held > self._most_bytes:
            oldest = next(iter(self._arriving), body)
            self._give_up(oldest)
            if oldest is body:
                raise too_many_bytes()

    def _give_up(self, body: _Body) -> None:
        self._let_go(body)
        body.is_given_up = True
        if body.arriving is not None:
            body.arriving.reschedule(asyncio.get_running_loop().time())

    def _let_go(self, body: _Body) -> None:
        self._held -= body.size
        body.size = 0
        self._arriving.pop(body, None)


def too_many_bytes() -> RefusedRequest:
    """What is told of a body that has no room beside the others."""
    detail = "Too many large requests arrive at once; come back in a moment."
    return RefusedRequest("busy", 503, detail, headers={"Retry-After": "1", "Connection": "close"})
