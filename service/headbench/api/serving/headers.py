"""Headers: what every answer tells a browser, refusals and pages alike, where the answer says nothing of its own.

None of them protects the service; they keep a browser from making more of an answer than it is.
"""

from __future__ import annotations

from typing import Final

from litestar.types import ASGIApp, Message, Receive, Scope, Send

EVERY: Final = (
    # an answer is what its media type says, whatever it looks like
    (b"x-content-type-options", b"nosniff"),
    # it loads nothing, runs nothing and stands in no frame; pages say for themselves what they need
    (b"content-security-policy", b"default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"),
    (b"x-frame-options", b"DENY"),
    # no page of another origin takes it in as an image or a script; what CORS lets through is asked for otherwise
    (b"cross-origin-resource-policy", b"same-origin"),
    # addresses of a shop's own network are nobody's business
    (b"referrer-policy", b"no-referrer"),
    # whose head it is, and what became of it, is kept nowhere on the way
    (b"cache-control", b"no-store"),
)
"""What every answer says."""

PAGES: Final = (
    # a window that opened ours, or that ours opened, has no hold of it
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), geolocation=(), microphone=(), payment=(), usb=()"),
)
"""What a page says besides: readings are typed, so it needs nothing that a phone has to allow."""


class Headed:
    """An ASGI application whose every answer has these headers."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, and its answer back with what it does not say itself."""

        async def say(message: Message) -> None:
            if message["type"] == "http.response.start":
                own = dict(message.get("headers", ()))
                wanted = EVERY + PAGES if own.get(b"content-type", b"").startswith(b"text/html") else EVERY
                message["headers"] = [*message.get("headers", ()), *(one for one in wanted if one[0] not in own)]
            await send(message)

        await self._app(scope, receive, say)
