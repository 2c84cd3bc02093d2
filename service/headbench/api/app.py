"""The application: the only place where anything is wired together."""

from __future__ import annotations

from typing import Any, Final

from litestar import Litestar
from litestar.handlers import HTTPRouteHandler
from litestar.types import ControllerRouterHandler

from headbench.api.batch import batch
from headbench.api.batch.workers import Workers
from headbench.api.bench import page, valve_check
from headbench.api.clearances import coil_bind, retainer_clearance
from headbench.api.cylinders import compression_ratio
from headbench.api.exchange.decoding import StrictRequest
from headbench.api.exchange.problems import HANDLERS
from headbench.api.exchange.resource import Resource
from headbench.api.head import head_assembly
from headbench.api.heights import installed_height
from headbench.api.intake import intake_fit
from headbench.api.listening.bodies import Bodies
from headbench.api.listening.heads import Heads
from headbench.api.listening.unpacking import Unpacked
from headbench.api.masses import valve_mass
from headbench.api.milling import milling
from headbench.api.pistons import piston_to_valve
from headbench.api.published import openapi, reference
from headbench.api.pushrods import pushrod_length
from headbench.api.serving import service
from headbench.api.serving.cors import Varied, cors
from headbench.api.serving.observing import Observed
from headbench.api.serving.packing import PACKING
from headbench.api.serving.settings import settings_of
from headbench.api.serving.starting import start_with
from headbench.api.springs import spring_load
from headbench.api.stems import stem_height
from headbench.api.valve_float import speed as valve_float
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
    valve_check.RESOURCE,
)
"""Every calculation."""


def published() -> list[HTTPRouteHandler]:
    """Every operation that the schema publishes."""
    return [
        *(resource.route(FORMS) for resource in RESOURCES),
        batch.route(RESOURCES, batch_workers()),
        *reference.tables(RESOURCES),
        service.live,
        service.ready,
        service.version,
    ]


def batch_workers() -> Workers:
    """Processes that answer the lines of batches; none is started before there is one."""
    return Workers(f"{__name__}:RESOURCES")


def create_app() -> Observed:
    """The service as an ASGI application; raises WrongSetting."""
    origins = settings_of().cors_origins
    handlers = published()
    schema = service.schema_route(lambda: openapi.build(handlers))
    pages: list[ControllerRouterHandler] = [
        service.docs,
        service.ASSETS,
        page.bench,
        valve_check.RESOURCE.blank("/bench/one-valve"),
    ]
    app = Litestar(
        route_handlers=[*handlers, service.metrics, schema, *pages],
        request_class=StrictRequest,
        request_max_body_size=MOST_BODY_BYTES,
        exception_handlers=HANDLERS,
        compression_config=PACKING,
        cors_config=cors(origins) if origins else None,
        on_startup=[start_with(RESOURCES)],
        openapi_config=None,
        logging_config=None,
    )
    # from the inside out: bodies are counted as they are once unpacked
    bounded = Unpacked(Bodies(Varied(app) if origins else app), but_at=[batch.PATH])
    return Observed(Heads(bounded), [route.path for route in app.routes])
