"""Whether the service is there, and which: health, version, metrics, schema and docs."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Final, Literal

from litestar import MediaType, Request, Response, get
from litestar.datastructures.state import State
from litestar.handlers import HTTPRouteHandler
from litestar.static_files import create_static_files_router
from litestar.status_codes import HTTP_200_OK
from msgspec import Meta
from prometheus_client import CONTENT_TYPE_LATEST, generate_latest

from headbench import __version__
from headbench.api.exchange.asking import REFUSALS, Answerer, Asked, Told, answered, response_of
from headbench.api.serving.readiness import READINESS
from headbench.api.vocabulary.quantities import Answer
from headbench.errors import RefusedRequest

SCHEMA: Final = "openapi"
"""By what name the published schema is asked for."""

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


def ready_route(is_full: Callable[[], bool]) -> HTTPRouteHandler:
    """The route that says whether the service takes work."""

    @get(
        "/health/ready", operation_id="isReady", summary="Can it take work?", tags=["Service"], opt={REFUSALS: ["503"]}
    )
    async def ready() -> Health:
        """Answer once everything is loaded, while there is room for one more request, until it is told to stop."""
        if READINESS.is_stopping:
            raise stopping()
        if is_full():
            raise full()
        return Health(status="ok")

    return ready


def stopping() -> RefusedRequest:
    """What is told of a service that is told to stop."""
    return RefusedRequest("stopping", 503, "The service is stopping; ask another.", headers={"Retry-After": "1"})


def full() -> RefusedRequest:
    """What is told of a service that has as much in hand as it takes."""
    return RefusedRequest("busy", 503, "Full: as much is in hand as the service takes.", headers={"Retry-After": "1"})


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


def schema_route(answerer: Answerer) -> HTTPRouteHandler:
    """The route that serves the published schema; it is built where jobs are worked out, as its examples are jobs."""
    built: list[Told] = []

    @get("/openapi.json", include_in_schema=False)
    async def schema(request: Request[None, None, State]) -> Response[bytes]:
        if not built:
            told = await answered(answerer, Asked(SCHEMA), request.receive)
            if told.status != HTTP_200_OK:
                return response_of(told)
            built[:] = [told]
        return response_of(built[0])

    return schema
