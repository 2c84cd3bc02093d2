"""Files: what is sent as it stands, packed once, and sent again only where it has become another."""

from __future__ import annotations

import gzip
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from litestar import Request, Response

from headbench.api.exchange.negotiating import is_gzip_wanted

_REVALIDATED: Final = "no-cache"
"""Keep it, and ask each time whether it is still the same: a release or a setting may make it another."""


@dataclass(frozen=True, slots=True)
class File:
    """A file as it is sent; the tag is another where the body is, and weak, since it stands for the packed body too."""

    body: bytes
    packed: bytes
    media_type: str
    tag: str


def file_of(body: bytes, media_type: str) -> File:
    """A file of some bytes."""
    tag = f'W/"{hashlib.sha256(body).hexdigest()[:32]}"'
    return File(body, gzip.compress(body, 6, mtime=0), media_type, tag)


def send_file(request: Request[Any, Any, Any], file: File, headers: Mapping[str, str] | None = None) -> Response[bytes]:
    """A file for whoever has another or none; 304 for whoever has this one (RFC 9110, 13.1.2)."""
    sent = {**(headers or {}), "Cache-Control": _REVALIDATED, "ETag": file.tag, "Vary": "Accept-Encoding"}
    if _is_known(file.tag, request.headers.get("if-none-match", "")):
        return Response(b"", status_code=304, headers=sent)
    if is_gzip_wanted(request.headers.get("accept-encoding", "")):
        packed = {**sent, "Content-Encoding": "gzip"}
        return Response(file.packed, media_type=file.media_type, headers=packed)
    return Response(file.body, media_type=file.media_type, headers=sent)


def _is_known(tag: str, said: str) -> bool:
    known = {one.strip().removeprefix("W/") for one in said.split(",")}
    return "*" in known or tag.removeprefix("W/") in known
