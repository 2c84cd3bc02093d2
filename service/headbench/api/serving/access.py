"""Access: who may ask, and how often; whatever a route does not declare open is under both.

Open is what is the same for everybody and says nothing of anybody's job: health, release, schema, docs, the page at the
bench. A request is refused before any of its body is read.
"""

from __future__ import annotations

import ipaddress
import math
from collections.abc import Sequence
from datetime import timedelta
from typing import Final

from litestar.datastructures import Headers
from litestar.enums import ScopeType
from litestar.middleware import ASGIMiddleware
from litestar.types import ASGIApp, Message, Receive, Scope, Send

from headbench.api.exchange.negotiating import likes_page_best
from headbench.api.exchange.options import OPEN
from headbench.api.serving.keys import known_hash, sent_key
from headbench.api.serving.settings import RateLimit
from headbench.errors import RefusedRequest

MOST_CALLERS: Final = 50_000
"""Callers whose requests are counted at a time; of more, who asked longest ago begins anew."""

_NEIGHBORS: Final = 64
"""Bits of an IPv6 address that tell one site from another; the others are its own to choose (RFC 4291, 2.5.4)."""

_REALM: Final = 'realm="headbench"'
_ASKED_BY_A_BROWSER: Final = f'Basic {_REALM}, charset="UTF-8"'
"""What makes a browser ask for the key by itself, as a password under any name."""


class Access(ASGIMiddleware):
    """Middleware that lets through who has a key, where there are keys, and who has not asked too often."""

    scopes = (ScopeType.HTTP,)
    exclude_opt_key = OPEN

    def __init__(self, hashes: Sequence[str], limit: RateLimit | None) -> None:
        self._hashes = hashes
        self._limit = None if limit is None else _Limit(limit)

    async def handle(self, scope: Scope, receive: Receive, send: Send, next_app: ASGIApp) -> None:
        """Pass a request on; raises RefusedRequest (unauthorized, 401; too-many-requests, 429)."""
        headers = Headers.from_scope(scope)
        key = sent_key(headers.get("authorization", "")) if self._hashes else None
        known = None if key is None else known_hash(key, self._hashes)
        if self._limit is not None:
            # a key that is none counts for where it comes from: trying keys is bounded, too
            send = self._limit.counted(known or site_of(scope), send)
        if self._hashes and known is None:
            raise no_key(is_wrong=key is not None, is_page=likes_page_best(headers.get("accept", "")))
        await next_app(scope, receive, send)


class _Limit:
    """How often each caller may ask: so many at once, and again one by one as time goes by (GCRA)."""

    def __init__(self, limit: RateLimit) -> None:
        # imported here, so that a service without a limit does without
        from throttled import RateLimiterType, Throttled, rate_limiter  # noqa: PLC0415
        from throttled.store import MemoryStore  # noqa: PLC0415

        self._policy = f'"requests";q={limit.requests};w={limit.seconds}'
        quota = rate_limiter.per_duration(timedelta(seconds=limit.seconds), limit.requests, limit.requests)
        store = MemoryStore(options={"MAX_SIZE": MOST_CALLERS})
        self._counts = Throttled(using=RateLimiterType.GCRA.value, quota=quota, store=store)

    def counted(self, caller: str, send: Send) -> Send:
        """Count a request, and have its answer say what is left; raises RefusedRequest."""
        result = self._counts.limit(caller)
        if result.limited:
            raise too_often(result.state.retry_after, self._policy)
        told = [
            (b"ratelimit-policy", self._policy.encode()),
            (b"ratelimit", _left(result.state.remaining, result.state.reset_after).encode()),
        ]

        async def say(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message.get("headers", ()), *told]
            await send(message)

        return say


def _left(requests: int, seconds: float) -> str:
    return f'"requests";r={requests};t={max(1, math.ceil(seconds))}'


def site_of(scope: Scope) -> str:
    """Where a request comes from, as it is counted: an IPv4 address, or the site of an IPv6 one.

    >>> [site_of({"client": (host, 1)}) for host in ("192.0.2.7", "::ffff:192.0.2.7", "2001:db8:1:2:3::4", "?:")]
    ['192.0.2.7', '192.0.2.7', '2001:db8:1:2::/64', '?:']
    """
    host = (scope.get("client") or ("", 0))[0]
    if ":" not in host:
        return host
    try:
        address = ipaddress.IPv6Address(host)
    except ValueError:
        return host
    if address.ipv4_mapped is not None:
        return str(address.ipv4_mapped)
    return str(ipaddress.IPv6Network((int(address), _NEIGHBORS), strict=False))


def no_key(*, is_wrong: bool, is_page: bool) -> RefusedRequest:
    """What is told of a request without a key that the service knows (RFC 6750, 3; RFC 7617, 2)."""
    bearer = f'Bearer {_REALM}, error="invalid_token"' if is_wrong else f"Bearer {_REALM}"
    detail = (
        "This key is none that the service knows; ask whoever runs it for another."
        if is_wrong
        else "The service asks for a key: send it as Authorization: Bearer <key>. Whoever runs it has one."
    )
    # alone, because browsers do not read it behind another
    challenge = _ASKED_BY_A_BROWSER if is_page else bearer
    return RefusedRequest("unauthorized", 401, detail, headers={"WWW-Authenticate": challenge})


def too_often(seconds: float, policy: str) -> RefusedRequest:
    """What is told of who asks too often, with when to come back (RFC 9110, 10.2.3)."""
    later = max(1, math.ceil(seconds))
    detail = f"Too many requests from here; come back in {later} s."
    headers = {"Retry-After": str(later), "RateLimit-Policy": policy, "RateLimit": _left(0, later)}
    return RefusedRequest("too-many-requests", 429, detail, headers=headers)
