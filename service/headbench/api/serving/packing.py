"""Packing: answers sent as gzip to whoever takes them so."""

from __future__ import annotations

from typing import Final

from litestar.config.compression import CompressionConfig
from litestar.datastructures import Headers
from litestar.enums import CompressionEncoding
from litestar.middleware.compression import CompressionMiddleware
from litestar.types import Receive, Scope, Send

from headbench.api.exchange.negotiating import is_gzip_wanted
from headbench.api.exchange.options import PACKED

_QUICKLY: Final = 1
"""Level of gzip: answers are mostly names that repeat, which the quickest finds too."""


class _Packing(CompressionMiddleware):
    """The framework's, which itself looks for the word gzip alone: that "gzip;q=0" has, and "*" has not."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, its answer packed if that is wanted."""
        is_packed = scope["route_handler"].opt.get(PACKED, False)
        if not is_packed and is_gzip_wanted(Headers.from_scope(scope).get("accept-encoding", "")):
            send = self.create_compression_send_wrapper(send, CompressionEncoding.GZIP, scope)
        await self.app(scope, receive, send)


PACKING: Final = CompressionConfig(
    backend="gzip",
    gzip_compress_level=_QUICKLY,
    middleware_class=_Packing,
    exclude_opt_key="batch",  # which packs line by line
)
