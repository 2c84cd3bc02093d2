"""The published schema: an OpenAPI 3.1 document that says exactly what the decoder enforces.

Litestar's own generator leaves out what msgspec enforces (unknown fields, bounds inside unions, ...),
so the components are msgspec's and the paths are read off the route handlers.
"""

from __future__ import annotations

import inspect
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

import msgspec
from litestar.handlers import HTTPRouteHandler

from headbench import __version__
from headbench.api.exchange.asking import REFUSALS, Asked, too_busy, too_much_work
from headbench.api.exchange.decoding import too_slow, wrong_media_type
from headbench.api.exchange.negotiating import Form, not_acceptable
from headbench.api.exchange.options import OPEN
from headbench.api.exchange.problems import MEDIA_TYPE, Problem, defect, refusal, too_large, wrong_method
from headbench.api.exchange.resource import SHEET, Resource
from headbench.api.published import batched, forms
from headbench.api.published.components import components
from headbench.api.serving.access import no_key, too_often
from headbench.api.vocabulary.findings import CAUTIONS

_REFUSALS: Final = {
    "400": (
        "Unreadable",
        "malformed-json, duplicate-key, empty-body or invalid-request. Correct what `errors` names and send it again.",
    ),
    "401": (
        "KeyNeeded",
        "unauthorized, where the service asks for keys: send one that it knows as `Authorization: Bearer <key>`.",
    ),
    "405": ("WrongMethod", "method-not-allowed. Use a method that the Allow header names."),
    "406": ("NotAcceptable", "not-acceptable. Ask for a media type that the answer has."),
    "408": ("TooSlow", "request-timeout: the body did not arrive in time. Send it again."),
    "413": ("TooLarge", "body-too-large. Send one pair of heads at a time."),
    "415": ("WrongMediaType", "unsupported-media-type. Send the media type that the Accept header names."),
    "422": (
        "Contradictory",
        (
            "contradiction: the readings cannot all be true. Check those that `errors` names and send the job again. "
            "Or too-much-work: it takes too long to work out. Send it in parts."
        ),
    ),
    "429": (
        "TooOften",
        "too-many-requests, where a caller may ask only so often. Send it again after the seconds of Retry-After.",
    ),
    "503": ("Busy", "busy: too many requests wait. Send it again after the seconds that Retry-After names."),
    "500": ("Defect", "internal-error: a defect of the service. Report it with the X-Request-Id of the answer."),
}
_EVERYWHERE: Final = ("405", "500")
_NOT_WHERE_OPEN: Final = ("401", "429")
"""What only addresses answer that may ask for a key and limit how often they are asked."""

_HEADERS: Final[dict[str, dict[str, Any]]] = {
    "401": {"WWW-Authenticate": {"description": "How a key is sent (RFC 6750).", "schema": {"type": "string"}}},
    "405": {"Allow": {"description": "Methods this address takes.", "schema": {"type": "string"}}},
    "415": {"Accept": {"description": "Media type this address takes.", "schema": {"type": "string"}}},
    "429": {
        "Retry-After": {"description": "Seconds to wait.", "schema": {"type": "integer", "minimum": 0}},
        "RateLimit": {
            "description": "What is left of the limit, and seconds until all of it is.",
            "schema": {"type": "string"},
        },
        "RateLimit-Policy": {
            "description": "The limit: requests, and in how many seconds.",
            "schema": {"type": "string"},
        },
    },
    "503": {"Retry-After": {"description": "Seconds to wait.", "schema": {"type": "integer", "minimum": 0}}},
}
"""What HTTP asks to be told along with a refusal."""

_REFUSED_JOBS: Final[dict[str, dict[str, Any]]] = {
    "400": {"positions": [{"id": "2I", "valve": "inlet", "measured_hight": 1.84}]},
    "422": {"positions": [{"id": "2I", "valve": "intake"}, {"id": "2I", "valve": "exhaust"}]},
}
"""Jobs to show a refusal with: words that are not the schema's, and one name for two valves."""

_DESCRIPTION: Final = """\
The arithmetic of a cylinder-head bench. Send whatever you have measured; you get the assembly sheet and a list of \
what is missing. Nothing unmeasured passes.

* Numbers are plain JSON numbers in the units that the request's `units` names; `x-quantity` says what a field \
measures. Angles are in degrees, speeds in rpm, frequencies in Hz. The answer names every unit it uses.
* Leave out a reading you did not take, or send null: in every field that may be left out, null says the same, and \
`x-default` says what is taken then. Everything that can be figured without it is. The rest is null, its check is \
`not_measured`, and `open_items` says what to measure.
* A request that does not match the schema is refused with 400, one whose readings contradict each other with 422. \
Both say where and what to do, for up to twenty faults. A reading that is odd but possible is used, and noted.
* `Accept` chooses the form of an answer: JSON (also where it says nothing), a page, plain text, PDF or CSV; the last \
four are for people and printers. Every answer names the release that computed it and the job it is of.
* Pass over fields of an answer and codes of notes that you do not know: a later release may add some.
* Whoever runs the service may have it ask for a key (401) and limit how often a caller may ask (429). Answers then \
say how much of the limit is left (`RateLimit`, `RateLimit-Policy`).
* What is not HTTP/1.1 is refused with 400, a head of more than 32,768 bytes with 431, both as a problem document; a \
connection that sends nothing is closed without one. HEAD is answered wherever GET is.
* A body may be packed, as `Content-Encoding: gzip` says; what bounds it bounds it unpacked.

## Cautions

""" + "\n".join(f"* {caution}" for caution in CAUTIONS)

_TAGS: Final = [
    {"name": "Bench", "description": "What to set up and check at every valve."},
    {"name": "Milling", "description": "What a cut changes: chambers, pushrods, piston-to-valve, intake fit."},
    {"name": "Reference", "description": "The limits and tables behind the answers, each with its basis."},
    {"name": "Service", "description": "Is the service up, and which release is it."},
]


def build(handlers: Sequence[HTTPRouteHandler]) -> dict[str, Any]:
    """The OpenAPI document of some route handlers, the main one first; every example in it is computed here."""
    refused = {status: [_refused(handlers[0], job)] for status, job in _REFUSED_JOBS.items()}
    refused["422"].append(refusal(too_much_work()))
    refused |= {
        "401": [refusal(no_key(is_wrong=False, is_page=False))],
        "429": [refusal(too_often(1, ""))],
        "405": [wrong_method("POST"), wrong_method("GET")],
        "406": [refusal(not_acceptable(handlers[0].opt["forms"]))],
        "408": [refusal(too_slow())],
        "413": [too_large()],
        "415": [refusal(wrong_media_type())],
        "500": [defect()],
        "503": [refusal(too_busy(1))],
    }
    asked = [one for one in map(_resource, handlers) if one is not None]
    jobs = [(one.request.__name__, one.example) for one in asked]
    resources = [resource for h in handlers for resource in batched.resources_of(h)]
    jobs += batched.jobs(resources)
    structs = {Problem: None}
    for handler in handlers:
        structs |= dict.fromkeys(_structs(handler))
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
            "contact": {"name": "Headbench"},
            "license": {"name": "Apache-2.0", "identifier": "Apache-2.0"},
        },
        "servers": [{"url": "/"}],
        "security": [{}, {"key": []}],
        "tags": _TAGS,
        "paths": dict(sorted(paths.items())),
        "components": {
            "securitySchemes": {
                "key": {"type": "http", "scheme": "bearer", "description": "Where the service asks for a key."}
            },
            "schemas": forms.with_forms(batched.with_lines(components(structs, jobs), resources), asked),
            "responses": {
                name: _problem_response(description, refused[status], _HEADERS.get(status))
                for status, (name, description) in _REFUSALS.items()
            }
            | {
                one.name: _problem_response(one.description, one.shown, one.headers)
                for one in batched.REFUSALS.values()
            },
        },
    }


def _structs(handler: HTTPRouteHandler) -> Iterable[Any]:
    if resources := batched.resources_of(handler):
        yield from batched.structs(resources)
        return
    resource = _resource(handler)
    if resource is not None:
        yield resource.request
    yield _answer(handler)


def _resource(handler: HTTPRouteHandler) -> Resource[Any, Any] | None:
    found: Resource[Any, Any] | None = handler.opt.get("resource")
    return found


def _answer(handler: HTTPRouteHandler) -> Any:
    resource = _resource(handler)
    return handler.parsed_fn_signature.return_type.annotation if resource is None else resource.answer


def _operation(handler: HTTPRouteHandler) -> dict[str, Any]:
    operation: dict[str, Any] = {
        "operationId": handler.operation_id,
        "summary": handler.summary,
        "description": inspect.cleandoc(handler.fn.__doc__ or ""),
        "tags": list(handler.tags or ()),
    }
    if resources := batched.resources_of(handler):
        exchange: dict[str, Any] = _rounded(batched.exchange(resources))
        return operation | exchange
    refusals: Sequence[str] = sorted(
        [*_EVERYWHERE, *handler.opt.get(REFUSALS, ()), *(() if handler.opt.get(OPEN) else _NOT_WHERE_OPEN)]
    )
    resource = _resource(handler)
    if resource is not None:
        refusals = list(_REFUSALS)
        if resource.sheets:
            operation["parameters"] = [_sheet(resource.sheets)]
        operation["requestBody"] = {
            "required": True,
            "content": {
                "application/json": {
                    "schema": _reference(resource.request),
                    "examples": {"job": {"summary": "A job", "value": resource.example}},
                }
            },
        }
    answer: dict[str, Any] = {
        "application/json": {
            "schema": _reference(_answer(handler)),
            "examples": {"answer": {"summary": "Its answer", "value": _answered(handler)}},
        }
    }
    answer |= {form.media_type: _form(form) for form in handler.opt.get("forms", ())}
    if resource is not None and forms.form_of(resource):
        operation["parameters"] = list(forms.PARAMETERS)
        operation["requestBody"]["content"] |= forms.taken(resource)
    operation["responses"] = {
        "200": {"description": "The answer.", "content": answer},
        **{status: {"$ref": f"#/components/responses/{_REFUSALS[status][0]}"} for status in refusals},
    }
    return operation


def _form(form: Form) -> dict[str, Any]:
    """An answer in another form than JSON."""
    if form.is_text:
        return {"schema": {"type": "string", "description": form.told}}
    return {"schema": {"type": "string", "contentMediaType": form.media_type, "description": form.told}}


def _sheet(sheets: Sequence[str]) -> dict[str, Any]:
    described = f"Which sheet a page, text or PDF is; JSON and CSV are the same for all. Default: {sheets[0]}."
    schema = {"type": "string", "enum": list(sheets), "x-default": sheets[0]}
    return {"name": SHEET, "in": "query", "description": described, "schema": schema, "example": sheets[0]}


def _reference(annotation: type[msgspec.Struct]) -> dict[str, str]:
    return {"$ref": f"#/components/schemas/{annotation.__name__}"}


def _problem_response(
    description: str, shown: Sequence[Problem], headers: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    examples = {
        f"problem_{place}" if place > 1 else "problem": {"summary": one.title, "value": msgspec.to_builtins(one)}
        for place, one in enumerate(shown, start=1)
    }
    content = {"schema": {"$ref": "#/components/schemas/Problem"}, "examples": examples}
    response: dict[str, Any] = {"description": description, "content": {MEDIA_TYPE: content}}
    if headers:
        response["headers"] = headers
    return response


def _answered(handler: HTTPRouteHandler) -> Any:
    """What an operation answers to its own example."""
    resource = _resource(handler)
    if resource is not None:
        return _rounded(msgspec.to_builtins(resource(msgspec.convert(resource.example, resource.request))))
    return _rounded(msgspec.to_builtins(_run(handler)))


def _run(handler: HTTPRouteHandler) -> Any:
    """What a handler returns that waits for nothing, so that it takes no loop, and may be asked in the midst of one."""
    running: Any = handler.fn()
    try:
        running.send(None)
    except StopIteration as done:
        return done.value
    raise TypeError(handler.operation_id)


def _rounded(value: Any) -> Any:
    """Numbers to six digits: the document is the same, byte for byte, wherever it is made."""
    if isinstance(value, float):
        return float(f"{value:.6g}")
    if isinstance(value, list):
        return [_rounded(item) for item in value]
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    return value


def _refused(handler: HTTPRouteHandler, job: dict[str, Any]) -> Problem:
    """What an operation says to a job it refuses."""
    asked = Asked(handler.opt["resource"].kind, msgspec.json.encode(job))
    return msgspec.json.decode(handler.opt["resource"].tell(asked).body, type=Problem)
