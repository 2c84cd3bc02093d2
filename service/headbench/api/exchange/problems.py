"""Problems: every refusal as an RFC 9457 problem document."""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Final

import msgspec
from litestar import Request, Response
from litestar.exceptions import (
    HTTPException,
    InternalServerException,
    MethodNotAllowedException,
    NotFoundException,
)
from msgspec import Meta

from headbench.api.exchange.asking import LEFT, Told, response_of
from headbench.api.exchange.faults import with_names
from headbench.api.exchange.markup import POLICY, document, element
from headbench.api.exchange.negotiating import PAGE, accept_of, takes_pages_only
from headbench.api.vocabulary.quantities import Answer
from headbench.errors import Contradiction, NotFinite, Pointed, RefusedRequest

MEDIA_TYPE: Final = "application/problem+json"

_log = logging.getLogger(__name__)

TITLES: Final = {
    "malformed-json": "Not valid JSON",
    "duplicate-key": "Duplicate field",
    "malformed-gzip": "Not valid gzip",
    "malformed-http": "Not valid HTTP",
    "empty-body": "Empty request",
    "invalid-request": "Request does not match the schema",
    "unauthorized": "Key needed",
    "not-found": "Not found",
    "method-not-allowed": "Method not allowed",
    "not-acceptable": "No such form",
    "request-timeout": "Request took too long to arrive",
    "body-too-large": "Request too large",
    "head-too-large": "Request head too large",
    "client-left": "Caller left",
    "unsupported-media-type": "Wrong media type",
    "unsupported-encoding": "Wrong content encoding",
    "too-many-requests": "Too many requests",
    "busy": "Too busy",
    "stopping": "Stopping",
    "contradiction": "Readings contradict each other",
    "too-much-work": "Too much to work out at once",
    "internal-error": "Internal error",
}
"""Every refusal there is: code -> title."""


class Fault(Answer, kw_only=True, frozen=True):
    """One thing that is wrong with the request."""

    pointer: Annotated[str, Meta(description="Where: an RFC 6901 JSON pointer into the request body.")]
    detail: Annotated[str, Meta(description="What, in words for the person at the bench.")]


class Problem(Answer, kw_only=True, frozen=True):
    """A refusal (RFC 9457). Nothing was computed."""

    type: Annotated[str, Meta(description="Names the kind of refusal: urn:headbench:problem:<code>.")]
    title: Annotated[str, Meta(description="The kind of refusal in words.")]
    status: Annotated[int, Meta(description="The HTTP status.", ge=400, le=599)]
    detail: Annotated[str, Meta(description="What happened this time.")]
    errors: Annotated[list[Fault], Meta(description="Everything found wrong, each with its place.")]


def problem(code: str, status: int, detail: str, errors: Sequence[Pointed] = ()) -> Problem:
    """A problem document."""
    return Problem(
        type=f"urn:headbench:problem:{code}",
        title=TITLES[code],
        status=status,
        detail=detail,
        errors=[Fault(pointer=error.pointer, detail=error.detail) for error in errors],
    )


def told(shown: Problem, accept: str, headers: Mapping[str, str] | None = None) -> Told:
    """A problem as bytes, for a caller who takes these forms."""
    headers = {**(headers or {}), "Vary": "Accept"}
    if takes_pages_only(accept):
        headers["Content-Security-Policy"] = POLICY
        return Told(shown.status, PAGE, _page(shown), headers)
    return Told(shown.status, MEDIA_TYPE, msgspec.json.encode(shown), headers)


def _response(
    request: Request[Any, Any, Any], shown: Problem, headers: Mapping[str, str] | None = None
) -> Response[bytes]:
    return response_of(told(shown, accept_of(request.headers), headers))


def _page(told: Problem) -> bytes:
    """A problem for a caller who reads nothing but pages."""
    places = [
        element("li", element("code", error.pointer or "/", dir="auto"), " ", element("bdi", error.detail))
        for error in told.errors
    ]
    return document(
        told.title,
        element(
            "main",
            element("h1", f"{told.status}: {told.title}"),
            element("p", told.detail, dir="auto"),
            *([element("ul", *places)] if places else []),
            element("p", element("code", told.type)),
        ),
    )


def refuse(request: Request[Any, Any, Any], error: RefusedRequest) -> Response[bytes]:
    """The request cannot be read."""
    return _response(request, refusal(error), error.headers)


def refusal(error: RefusedRequest) -> Problem:
    """What is told of a request that cannot be read."""
    return problem(error.code, error.status, error.detail, error.errors)


def contradiction(errors: Sequence[Pointed], job: Any) -> Problem:
    """What is told of a job whose readings cannot all be true."""
    count = "1 contradiction" if len(errors) == 1 else f"{len(errors)} contradictions"
    detail = f"{count} in the readings; nothing was computed. Check the readings named and send the job again."
    return problem("contradiction", 422, detail, with_names(errors, job))


def not_finite(error: NotFinite) -> Problem:
    """What is told of a job whose answer no machine can hold."""
    return problem("contradiction", 422, f"{error}; check the units of the readings.".capitalize())


def http_error(request: Request[Any, Any, Any], error: HTTPException) -> Response[bytes]:
    """What the framework refuses on its own: address, method, size."""
    if isinstance(error, NotFoundException):
        return _response(request, problem("not-found", 404, "No such address; /docs lists them all."))
    if isinstance(error, MethodNotAllowedException):
        headers = {name.lower(): value for name, value in (error.headers or {}).items()}
        allowed = " or ".join(sorted(set(headers["allow"].split(", ")) - {"HEAD", "OPTIONS"}))
        return _response(request, wrong_method(allowed), headers)
    if error.status_code == 413:  # noqa: PLR2004 - the status is its own name
        return _response(request, too_large())
    if isinstance(error, InternalServerException):
        # what the framework calls a caller who leaves in the midst of a body; nobody reads this
        return _response(request, problem("client-left", LEFT, "The body broke off; nobody waits for an answer."))
    if error.status_code < 500:  # noqa: PLR2004 - likewise
        return _response(
            request, problem("invalid-request", 400, "The request is not one this address takes; see /docs.")
        )
    return internal_error(request, error)


def problem_of(error: RefusedRequest | Contradiction | NotFinite, job: Any) -> Problem:
    """What is told of whatever a calculation may raise; `job` is what it was to work out, if it could be read."""
    match error:
        case RefusedRequest():
            return refusal(error)
        case Contradiction():
            return contradiction(error.errors, job)
        case NotFinite():
            return not_finite(error)


def headers_of(error: RefusedRequest | Contradiction | NotFinite) -> Mapping[str, str]:
    """What HTTP asks to be sent along with it."""
    return error.headers if isinstance(error, RefusedRequest) else {}


def wrong_method(allowed: str) -> Problem:
    """What is told of a method that an address does not take."""
    return problem("method-not-allowed", 405, f"Method not allowed; use {allowed}.")


def too_large() -> Problem:
    """What is told of a body that is too large."""
    return problem("body-too-large", 413, "The body is too large; send one pair of heads at a time.")


def internal_error(request: Request[Any, Any, Any], error: Exception) -> Response[bytes]:
    """A defect of ours: logged with its traceback, told without it."""
    _log.error("unexpected error at %s", request.url.path, exc_info=error)
    return _response(request, defect())


def defect() -> Problem:
    """What is told of a defect of ours."""
    detail = "A defect of the service; nothing was computed. Report it with the X-Request-Id of this answer."
    return problem("internal-error", 500, detail)


HANDLERS: Final[dict[int | type[Exception], Any]] = {
    RefusedRequest: refuse,
    HTTPException: http_error,
    Exception: internal_error,
}
