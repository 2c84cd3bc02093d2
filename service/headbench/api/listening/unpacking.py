"""Unpacking: a body that is sent as gzip is unpacked before anything reads it; whatever bounds it sees it unpacked."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Collection

from litestar.datastructures import Headers
from litestar.enums import ScopeType
from litestar.types import ASGIApp, HTTPReceiveMessage, Receive, Scope, Send

from headbench.api.exchange.gzipped import Unpacker
from headbench.errors import RefusedRequest

_OF_THE_PACKED = (b"content-encoding", b"content-length")


class Unpacked:
    """An ASGI application that is sent its bodies unpacked, but at the addresses that unpack their own."""

    def __init__(self, app: ASGIApp, but_at: Collection[str]) -> None:
        self._app = app
        self._but_at = frozenset(but_at)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, its body unpacked."""
        if scope["type"] == ScopeType.HTTP and scope["path"] not in self._but_at:
            match Headers.from_scope(scope).get("content-encoding", "").strip().lower():
                case "" | "identity":
                    pass
                case "gzip" | "x-gzip":
                    scope["headers"] = [one for one in scope["headers"] if one[0] not in _OF_THE_PACKED]
                    receive = aiter(_unpacked(receive)).__anext__
                case _:
                    receive = _refuse
        await self._app(scope, receive, send)


async def _unpacked(receive: Receive) -> AsyncIterator[HTTPReceiveMessage]:
    """The messages of a body, unpacked; raises RefusedRequest."""
    unpacker, more = Unpacker(), True
    while more:
        message = await receive()
        if message["type"] != "http.request":
            yield message  # type: ignore[misc] # of HTTP, which is all it is here
            return
        more = message.get("more_body", False)
        for piece in unpacker.take(message.get("body", b"")):
            # others have their turn, however much it unpacks to
            await asyncio.sleep(0)
            yield {"type": "http.request", "body": piece, "more_body": True}
    unpacker.end()
    yield {"type": "http.request", "body": b"", "more_body": False}
    while True:
        yield await receive()  # type: ignore[misc] # likewise


async def _refuse() -> HTTPReceiveMessage:
    raise wrong_encoding()


def wrong_encoding() -> RefusedRequest:
    """What is told of a body that is packed in a way that is not unpacked here."""
    detail = "Send the body as it is, or packed by gzip."
    return RefusedRequest("unsupported-encoding", 415, detail, headers={"Accept-Encoding": "gzip"})
