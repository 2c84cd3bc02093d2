"""CORS: what a browser is told that shows a page of another origin, where the settings name that origin."""

from __future__ import annotations

from collections.abc import Sequence

from litestar.config.cors import CORSConfig
from litestar.types import ASGIApp, Message, Receive, Scope, Send


def cors(origins: Sequence[str]) -> CORSConfig:
    """What pages of these origins may ask, and what of the answer they may read."""
    return CORSConfig(
        allow_origins=list(origins),
        allow_methods=["GET", "POST"],
        allow_headers=["authorization", "content-encoding", "content-type", "x-request-id"],
        expose_headers=["RateLimit", "RateLimit-Policy", "Retry-After", "WWW-Authenticate", "X-Request-Id"],
    )


class Varied:
    """An ASGI application whose every answer says what it differs by.

    The framework says so of the origin only to origins that may ask, and in place of whatever else an answer said.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, and an answer back with one header more."""

        async def say(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message.get("headers", []), (b"vary", b"Accept, Accept-Encoding, Origin")]
            await send(message)

        await self._app(scope, receive, say)
