"""The application: the only place where anything is wired together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, Protocol, cast

import msgspec
from litestar import Litestar
from litestar.handlers import HTTPRouteHandler
from litestar.middleware import ASGIMiddleware
from litestar.types import ASGIApp, ControllerRouterHandler

from headbench.api.batch import batch
from headbench.api.batch.batch import Workers
from headbench.api.bench import page, valve_check
from headbench.api.boost import boost_load
from headbench.api.clearances import coil_bind, retainer_clearance
from headbench.api.computing.desk import Desk
from headbench.api.computing.starting import set_aside
from headbench.api.computing.workers import Workers as Processes
from headbench.api.cylinders import compression_ratio
from headbench.api.exchange.asking import JSON, Answerer, Told
from headbench.api.exchange.problems import HANDLERS
from headbench.api.exchange.resource import Resource
from headbench.api.guide_boss import guide_boss
from headbench.api.head import head_assembly
from headbench.api.heights import installed_height
from headbench.api.intake import intake_fit
from headbench.api.lash import lash_shims
from headbench.api.listening.bodies import Bodies
from headbench.api.listening.heads import Heads
from headbench.api.listening.unpacking import Unpacked
from headbench.api.load_log import load_log
from headbench.api.masses import valve_mass
from headbench.api.matching import spring_matching
from headbench.api.milling import milling
from headbench.api.pistons import piston_to_valve
from headbench.api.published import openapi, reference
from headbench.api.pushrods import pushrod_length
from headbench.api.serving import metrics, service
from headbench.api.serving.access import Access
from headbench.api.serving.cors import Varied, cors
from headbench.api.serving.headers import Headed
from headbench.api.serving.observing import Observed
from headbench.api.serving.packing import PACKING
from headbench.api.serving.settings import Settings, settings_of
from headbench.api.spring_fit import spring_fit
from headbench.api.springs import spring_load
from headbench.api.stems import stem_height
from headbench.api.valve_float import speed as valve_float
from headbench.api.waiting import outstanding_parts
from headbench.api.ways_out import ways_out
from headbench.sheet.forms import FORMS

MOST_BODY_BYTES: Final = 2_000_000
"""Largest body read; a pair of heads with every reading there is takes about 100 kB."""

RESOURCES: Final[tuple[Resource[Any, Any], ...]] = (
    head_assembly.RESOURCE,
    installed_height.RESOURCE,
    spring_load.RESOURCE,
    coil_bind.RESOURCE,
    retainer_clearance.RESOURCE,
    valve_mass.RESOURCE,
    milling.RESOURCE,
    compression_ratio.RESOURCE,
    pushrod_length.RESOURCE,
    piston_to_valve.RESOURCE,
    intake_fit.RESOURCE,
    valve_float.RESOURCE,
    stem_height.RESOURCE,
    spring_matching.RESOURCE,
    lash_shims.RESOURCE,
    outstanding_parts.RESOURCE,
    boost_load.RESOURCE,
    load_log.RESOURCE,
    spring_fit.RESOURCE,
    ways_out.RESOURCE,
    guide_boss.RESOURCE,
    valve_check.RESOURCE,
)
"""Every calculation."""


class Answering(Answerer, Workers, Protocol):
    """Whoever answers requests and lines."""

    def start(self) -> None:
        """Be there for the first."""
        ...


def published(workers: Answering) -> list[HTTPRouteHandler]:
    """Every operation that the schema publishes."""
    return [
        *(resource.route(workers, FORMS) for resource in RESOURCES),
        batch.route(RESOURCES, workers),
        *reference.tables(RESOURCES),
        service.live,
        service.ready_route(workers.is_full),
        service.version,
    ]


def schema() -> dict[str, Any]:
    """The published schema."""
    return openapi.build(published(processes(1)))


def desk() -> Desk:
    """Where a worker answers."""
    return Desk(RESOURCES, FORMS, {service.SCHEMA: lambda: Told(200, JSON, msgspec.json.encode(schema()))})


def processes(count: int | None = None) -> Processes:
    """Processes that answer, one a core where no count is said; none is started before anything is asked."""
    return Processes(f"{__name__}:{desk.__name__}", count)


def create_app(workers: Answering | None = None) -> Observed:
    """The service as an ASGI application; raises WrongSetting."""
    settings = settings_of()
    origins = settings.cors_origins
    workers = workers or processes(settings.workers)
    pages: list[ControllerRouterHandler] = [
        service.docs,
        service.assets,
        page.bench,
        valve_check.RESOURCE.blank("/bench/one-valve"),
    ]
    app = Litestar(
        route_handlers=[
            *published(workers),
            *([] if settings.metrics_port else [metrics.metrics]),
            service.schema_route(workers),
            *pages,
        ],
        request_max_body_size=MOST_BODY_BYTES,
        exception_handlers=HANDLERS,
        compression_config=PACKING,
        cors_config=cors(origins) if origins else None,
        middleware=_access(settings),
        on_startup=[workers.start, set_aside],
        lifespan=[metrics.at_own_port(settings.host, settings.metrics_port)] if settings.metrics_port else [],
        openapi_config=None,
        logging_config=None,
    )
    # from the inside out: bodies are counted as they are once unpacked
    bounded = Unpacked(Bodies(Varied(app) if origins else app), but_at=[batch.PATH])
    whole = _from_where(Headed(Heads(bounded)), settings.trusted_proxies)
    return Observed(whole, [route.path for route in app.routes])


def _access(settings: Settings) -> list[ASGIMiddleware]:
    """Who may ask and how often, where the settings say."""
    if not settings.api_keys and settings.rate_limit is None:
        return []
    return [Access(settings.api_keys, settings.rate_limit)]


def _from_where(app: ASGIApp, proxies: Sequence[str]) -> ASGIApp:
    """An application that takes these proxies' word, and nobody else's, on where a request comes from."""
    if not proxies:
        return app
    # imported here, so that a service behind none does without
    from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware  # noqa: PLC0415

    trusting: Any = ProxyHeadersMiddleware(app, list(proxies))  # type: ignore[arg-type] # ASGI in other words
    return cast(ASGIApp, trusting)
