"""Whether the service is there, and which: health, version, metrics, schema and docs."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Final, Literal

import msgspec
from litestar import MediaType, Response, get
from litestar.handlers import HTTPRouteHandler
from litestar.static_files import create_static_files_router
from msgspec import Meta
from prometheus_client import CONTENT_TYPE_LATEST, generate_latest

from headbench import __version__
from headbench.api.serving.readiness import READINESS
from headbench.api.vocabulary.quantities import Answer
from headbench.errors import RefusedRequest

_WEB: Final = Path(__file__).parent.parent.parent / "web"
_DOCS: Final = (_WEB / "docs.html").read_bytes()


class Health(Answer, kw_only=True, frozen=True):
    """The service answers."""

    status: Literal["ok"]


class Version(Answer, kw_only=True, frozen=True):
    """Which Headbench this is."""

    version: Annotated[str, Meta(description="Release of the service.")]
    api: Annotated[str, Meta(description="Version of the interface; changes inside it only add.")]


@get("/health/live", operation_id="isLive", summary="Is the service alive?", tags=["Service"])
async def live() -> Health:
    """Answer as long as the service runs at all."""
    return Health(status="ok")


@get("/health/ready", operation_id="isReady", summary="Can it take work?", tags=["Service"])
async def ready() -> Health:
    """Answer once everything is loaded, until the service is told to stop; 503 from then on."""
    if READINESS.is_stopping:
        raise RefusedRequest("stopping", 503, "The service is stopping; ask another.")
    return Health(status="ok")


@get("/version", operation_id="getVersion", summary="Which version is this?", tags=["Service"])
async def version() -> Version:
    """Name the release and the version of the interface."""
    return Version(version=__version__, api="v1")


@get("/metrics", include_in_schema=False)
async def metrics() -> Response[bytes]:
    """Counters of this process in the Prometheus text format."""
    # litestar says the character set of every text itself
    return Response(generate_latest(), media_type=CONTENT_TYPE_LATEST.removesuffix("; charset=utf-8"))


@get("/docs", include_in_schema=False)
async def docs() -> Response[bytes]:
    """The interface as a page; needs nothing from outside."""
    return Response(
        _DOCS,
        media_type=MediaType.HTML,
        headers={
            "Content-Security-Policy": "default-src 'self'; img-src 'self' data:; style-src 'self' 'unsafe-inline'"
        },
    )


ASSETS: Final = create_static_files_router(path="/assets", directories=[_WEB / "assets"], include_in_schema=False)


def schema_route(build: Callable[[], dict[str, Any]]) -> HTTPRouteHandler:
    """The route that serves the published schema; it is built when it is first asked for, which takes a while."""

    @cache
    def body() -> bytes:
        return msgspec.json.encode(build())

    @get("/openapi.json", include_in_schema=False, sync_to_thread=True)
    def schema() -> Response[bytes]:
        return Response(body(), media_type=MediaType.JSON)

    return schema
