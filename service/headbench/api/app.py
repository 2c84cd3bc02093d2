"""The application: the only place where anything is wired together."""

from __future__ import annotations

from typing import Final

from litestar import Litestar

from headbench.api.clearances import coil_bind, retainer_clearance
from headbench.api.cylinders import compression_ratio
from headbench.api.exchange import service
from headbench.api.exchange.decoding import StrictRequest
from headbench.api.exchange.observing import Observed
from headbench.api.exchange.problems import HANDLERS
from headbench.api.head import head_assembly
from headbench.api.heights import installed_height
from headbench.api.intake import intake_fit
from headbench.api.masses import valve_mass
from headbench.api.milling import milling
from headbench.api.pistons import piston_to_valve
from headbench.api.published import openapi, reference
from headbench.api.pushrods import pushrod_length
from headbench.api.springs import spring_load
from headbench.api.valve_float import speed as valve_float

MOST_BODY_BYTES: Final = 2_000_000
"""Largest body read; a pair of heads with every reading there is takes about 100 kB."""

RESOURCES: Final = (
    head_assembly.head_assembly,
    installed_height.installed_height,
    spring_load.spring_load,
    coil_bind.coil_bind,
    retainer_clearance.retainer_clearance,
    valve_mass.valve_mass,
    milling.milling,
    compression_ratio.compression_ratio,
    pushrod_length.pushrod_length,
    piston_to_valve.piston_to_valve,
    intake_fit.intake_fit,
    valve_float.valve_float,
    reference.limit_table,
    reference.note_table,
    reference.wire_table,
    service.live,
    service.ready,
    service.version,
)
"""Every operation the schema publishes."""


def create_app() -> Observed:
    """The service as an ASGI application."""
    schema = service.schema_route(lambda: openapi.build(RESOURCES))
    app = Litestar(
        route_handlers=[*RESOURCES, service.metrics, service.docs, service.ASSETS, schema],
        request_class=StrictRequest,
        request_max_body_size=MOST_BODY_BYTES,
        exception_handlers=HANDLERS,
        openapi_config=None,
        logging_config=None,
    )
    return Observed(app)
