"""HEAD: answered as GET is, without the body (RFC 9110, 9.3.2)."""

from __future__ import annotations

from typing import Any

from litestar.enums import HttpMethod
from litestar.types import ASGIApp, Message, Receive, Scope, Send


class Heads:
    """An ASGI application that is asked GET where HEAD is asked."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, and of an answer to HEAD its head."""

        async def say(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [_allowed(*one) for one in message.get("headers", [])]
            elif message["type"] == "http.response.body" and is_head:
                message["body"] = b""
            await send(message)

        is_head = scope.get("method") == HttpMethod.HEAD
        if not is_head:
            await self._app(scope, receive, say)
            return
        # the server looks at what was asked, so that it is not changed there
        asked: Any = {**scope, "method": HttpMethod.GET}
        try:
            await self._app(asked, receive, say)
        finally:
            scope["path_template"] = asked.get("path_template", "")


def _allowed(name: bytes, value: bytes) -> tuple[bytes, bytes]:
    if name.lower() == b"allow" and b"GET" in value and b"HEAD" not in value:
        value += b", HEAD"
    return name, value
