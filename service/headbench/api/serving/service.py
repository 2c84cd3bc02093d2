"""Whether the service is there, and which: health, version, schema and docs."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from litestar import Request, Response, get
from litestar.datastructures.state import State
from litestar.exceptions import NotFoundException
from litestar.handlers import HTTPRouteHandler
from litestar.status_codes import HTTP_200_OK
from msgspec import Meta

from headbench import __version__
from headbench.api.exchange.asking import JSON, REFUSALS, Answerer, Asked, answered, response_of
from headbench.api.exchange.files import File, file_of, send_file
from headbench.api.exchange.options import OPEN, PACKED
from headbench.api.serving.readiness import READINESS
from headbench.api.vocabulary.quantities import Answer
from headbench.errors import RefusedRequest

SCHEMA: Final = "openapi"
"""By what name the published schema is asked for."""

_WEB: Final = Path(__file__).parent.parent.parent / "web"
_TYPES: Final = {".css": "text/css", ".html": "text/html", ".js": "text/javascript"}
_POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src data:; connect-src 'self'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)
"""What the docs page may load: its assets, their signs, and answers to what is tried out on it."""


class Health(Answer, kw_only=True, frozen=True):
    """The service answers."""

    status: Literal["ok"]


class Version(Answer, kw_only=True, frozen=True):
    """Which Headbench this is."""

    version: Annotated[str, Meta(description="Release of the service.")]
    api: Annotated[str, Meta(description="Version of the interface; changes inside it only add.")]


@get("/health/live", operation_id="isLive", summary="Is the service alive?", tags=["Service"], opt={OPEN: True})
async def live() -> Health:
    """Answer as long as the service runs at all."""
    return Health(status="ok")


def ready_route(is_full: Callable[[], bool]) -> HTTPRouteHandler:
    """The route that says whether the service takes work."""

    @get(
        "/health/ready",
        operation_id="isReady",
        summary="Can it take work?",
        tags=["Service"],
        opt={OPEN: True, REFUSALS: ["503"]},
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


@get("/version", operation_id="getVersion", summary="Which version is this?", tags=["Service"], opt={OPEN: True})
async def version() -> Version:
    """Name the release and the version of the interface."""
    return Version(version=__version__, api="v1")


_PACKER: Final = ThreadPoolExecutor(1, thread_name_prefix="packer")
"""What packs large files, which takes too long for the loop; each is packed once."""

_files: Final[dict[str, File]] = {}


def _read_files() -> dict[str, File]:
    """Every file of the docs page by its address."""
    paths = {"/docs": _WEB / "docs.html"}
    paths |= {f"/assets/{path.name}": path for path in (_WEB / "assets").iterdir()}
    return {name: file_of(path.read_bytes(), _TYPES.get(path.suffix, "text/plain")) for name, path in paths.items()}


async def _file(address: str) -> File:
    """A file of the docs page; all are read when the first is asked for."""
    if not _files:
        _files.update(await asyncio.get_running_loop().run_in_executor(_PACKER, _read_files))
    if address not in _files:
        raise NotFoundException
    return _files[address]


@get("/docs", include_in_schema=False, opt={OPEN: True, PACKED: True})
async def docs(request: Request[Any, Any, State]) -> Response[bytes]:
    """The interface as a page; needs nothing from outside."""
    return send_file(request, await _file("/docs"), {"Content-Security-Policy": _POLICY})


@get("/assets/{name:str}", include_in_schema=False, opt={OPEN: True, PACKED: True})
async def assets(request: Request[Any, Any, State]) -> Response[bytes]:
    """What the docs page is made of."""
    return send_file(request, await _file(f"/assets/{request.path_params['name']}"))


def schema_route(answerer: Answerer) -> HTTPRouteHandler:
    """The route that serves the published schema; it is built where jobs are worked out, as its examples are jobs."""
    built: list[File] = []

    @get("/openapi.json", include_in_schema=False, opt={OPEN: True, PACKED: True})
    async def schema(request: Request[Any, Any, State]) -> Response[bytes]:
        if not built:
            told = await answered(answerer, Asked(SCHEMA), request.receive)
            if told.status != HTTP_200_OK:
                return response_of(told)
            built[:] = [await asyncio.get_running_loop().run_in_executor(_PACKER, file_of, told.body, JSON)]
        return send_file(request, built[0])

    return schema
