"""The published schema: an OpenAPI 3.1 document that says exactly what the decoder enforces.

Litestar's own generator leaves out what msgspec enforces (unknown fields, bounds inside unions, ...),
so the components are msgspec's and the paths are read off the route handlers.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterable, Sequence
from typing import Any, Final

import msgspec
from litestar.handlers import HTTPRouteHandler

from headbench import __version__
from headbench.api.problems import MEDIA_TYPE, Problem

_REFUSALS: Final = {
    "400": ("Unreadable", "malformed-json, duplicate-key, empty-body or invalid-request: nothing was computed."),
    "405": ("WrongMethod", "method-not-allowed; the Allow header names the methods that are."),
    "408": ("TooSlow", "request-timeout: the body did not arrive in time."),
    "413": ("TooLarge", "body-too-large."),
    "415": ("WrongMediaType", "unsupported-media-type; the Accept header names the one that is taken."),
    "422": ("Contradictory", "contradiction: the readings cannot all be true; every one found is named."),
    "503": ("Busy", "busy: too many long requests wait; the Retry-After header says when to come back."),
    "500": ("Defect", "internal-error: a defect of the service, logged."),
}
_EVERYWHERE: Final = ("405", "500")

_DESCRIPTION: Final = """\
The arithmetic of a cylinder-head bench: readings in, the assembly sheet out, with what is still unmeasured named.

* Numbers are plain JSON numbers in the units that the request's `units` names; a field's dimension stands in \
`x-quantity`. Angles are degrees, speeds rpm, frequencies Hz. The answer names every unit it uses.
* A reading that was not taken is left out, or null. Whatever can be computed without it is; the rest is null, the \
check is `not_measured`, and `open_items` says what to measure.
* A request the schema does not admit is refused with 400; one whose readings contradict each other with 422. Both \
name the places, up to twenty in a request that cannot be read. What the schema admits and is merely odd is computed, \
and noted.
* A defect of the HTTP exchange itself (a malformed header, say) is refused by the server before it comes here, \
without a problem document.
"""

_TAGS: Final = [
    {"name": "Bench", "description": "What the machinist works out for every valve."},
    {"name": "Milling", "description": "What a cut moves."},
    {"name": "Reference", "description": "The tables behind the answers, with what each value rests on."},
    {"name": "Service", "description": "Whether the service is there, and which."},
]


def build(handlers: Sequence[HTTPRouteHandler]) -> dict[str, Any]:
    """The OpenAPI document of some route handlers."""
    structs = {Problem: None}
    for handler in handlers:
        structs |= dict.fromkeys(_structs(handler))
    _, components = msgspec.json.schema_components(list(structs), ref_template="#/components/schemas/{name}")
    paths: dict[str, Any] = {}
    for handler in handlers:
        for path in sorted(handler.paths):
            for method in sorted(handler.http_methods):
                paths.setdefault(path, {})[method.lower()] = _operation(handler)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Headbench",
            "version": __version__,
            "description": _DESCRIPTION,
            "license": {"name": "Apache-2.0", "identifier": "Apache-2.0"},
        },
        "servers": [{"url": "/"}],
        "security": [],
        "tags": _TAGS,
        "paths": dict(sorted(paths.items())),
        "components": {
            "schemas": {name: _cleaned(schema) for name, schema in sorted(components.items())},
            "responses": {
                name: _problem_response(status, description) for status, (name, description) in _REFUSALS.items()
            },
        },
    }


def _structs(handler: HTTPRouteHandler) -> Iterable[Any]:
    data = handler.parsed_data_field
    if data is not None:
        yield data.annotation
    yield handler.parsed_fn_signature.return_type.annotation


def _operation(handler: HTTPRouteHandler) -> dict[str, Any]:
    operation: dict[str, Any] = {
        "operationId": handler.operation_id,
        "summary": handler.summary,
        "description": inspect.cleandoc(handler.fn.__doc__ or ""),
        "tags": list(handler.tags or ()),
    }
    refusals: Iterable[str] = _EVERYWHERE
    data = handler.parsed_data_field
    if data is not None:
        refusals = _REFUSALS
        operation["requestBody"] = {
            "required": True,
            "content": {
                "application/json": {
                    "schema": _reference(data.annotation),
                    "examples": {"job": {"summary": "A job", "value": handler.opt["example"]}},
                }
            },
        }
    answer = {"application/json": {"schema": _reference(handler.parsed_fn_signature.return_type.annotation)}}
    operation["responses"] = {
        "200": {"description": "The answer.", "content": answer},
        **{status: {"$ref": f"#/components/responses/{_REFUSALS[status][0]}"} for status in refusals},
    }
    return operation


def _reference(annotation: type[msgspec.Struct]) -> dict[str, str]:
    return {"$ref": f"#/components/schemas/{annotation.__name__}"}


def _problem_response(status: str, description: str) -> dict[str, Any]:
    headers = {"405": "Allow", "415": "Accept", "503": "Retry-After"}.get(status)
    response: dict[str, Any] = {
        "description": description,
        "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
    }
    if headers:
        response["headers"] = {headers: {"schema": {"type": "string"}, "description": "What HTTP asks to be told."}}
    return response


def _cleaned(schema: Any) -> Any:
    """What msgspec leaves to wish for: the type of an enumeration, docstrings on one line."""
    if isinstance(schema, list):
        return [_cleaned(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    cleaned = {key: _cleaned(value) for key, value in schema.items()}
    if "enum" in cleaned and all(isinstance(value, str) for value in cleaned["enum"]):
        cleaned["type"] = "string"
    if isinstance(cleaned.get("description"), str):
        cleaned["description"] = re.sub(r"\s+", " ", cleaned["description"])
    return cleaned
