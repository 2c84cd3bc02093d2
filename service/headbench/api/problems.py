"""Problems: every refusal as an RFC 9457 problem document."""

from __future__ import annotations

import logging
from typing import Annotated, Any, Final

import msgspec
from litestar import Request, Response
from litestar.exceptions import HTTPException, MethodNotAllowedException, NotFoundException
from msgspec import Meta

from headbench.api.quantities import Answer
from headbench.errors import Contradiction, NotFinite, Pointed, RefusedRequest

MEDIA_TYPE: Final = "application/problem+json"
_log = logging.getLogger(__name__)

TITLES: Final = {
    "malformed-json": "The body is not JSON",
    "duplicate-key": "A name stands twice in one object",
    "empty-body": "There is no body",
    "invalid-request": "The request is not what the schema admits",
    "not-found": "There is nothing at this address",
    "method-not-allowed": "This address does not take this method",
    "request-timeout": "The body did not arrive in time",
    "body-too-large": "The body is too large",
    "unsupported-media-type": "The body is of the wrong media type",
    "busy": "Too much is being computed already",
    "contradiction": "The readings contradict each other",
    "internal-error": "Something went wrong here",
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


def problem_response(
    code: str,
    status: int,
    detail: str,
    errors: tuple[Pointed, ...] = (),
    headers: dict[str, str] | None = None,
) -> Response[bytes]:
    """A problem document as an HTTP answer."""
    problem = Problem(
        type=f"urn:headbench:problem:{code}",
        title=TITLES[code],
        status=status,
        detail=detail,
        errors=[Fault(pointer=error.pointer, detail=error.detail) for error in errors],
    )
    return Response(msgspec.json.encode(problem), status_code=status, media_type=MEDIA_TYPE, headers=headers)


def refuse(_: Request[Any, Any, Any], error: RefusedRequest) -> Response[bytes]:
    """The request cannot be read."""
    return problem_response(error.code, error.status, error.detail, error.errors, error.headers)


def contradict(_: Request[Any, Any, Any], error: Contradiction) -> Response[bytes]:
    """The readings cannot all be true."""
    count = len(error.errors)
    detail = "1 contradiction" if count == 1 else f"{count} contradictions"
    return problem_response("contradiction", 422, f"{detail} in the readings; nothing was computed.", error.errors)


def overflow(_: Request[Any, Any, Any], error: NotFinite) -> Response[bytes]:
    """The readings span too many decades for the arithmetic."""
    return problem_response("contradiction", 422, f"{error}; check the units of the readings.".capitalize())


def http_error(request: Request[Any, Any, Any], error: HTTPException) -> Response[bytes]:
    """What the framework refuses on its own: address, method, size."""
    if isinstance(error, NotFoundException):
        return problem_response("not-found", 404, "No such address; /docs lists them all.")
    if isinstance(error, MethodNotAllowedException):
        return problem_response(
            "method-not-allowed", 405, f"{request.method} is not taken here.", headers=dict(error.headers or {})
        )
    if error.status_code == 413:  # noqa: PLR2004 - the status is its own name
        return problem_response("body-too-large", 413, "The body is larger than this service reads.")
    if error.status_code < 500:  # noqa: PLR2004 - likewise
        return problem_response("invalid-request", 400, "The request is not one this address takes.")
    return internal_error(request, error)


def internal_error(request: Request[Any, Any, Any], error: Exception) -> Response[bytes]:
    """A defect of ours: logged with its traceback, told without it."""
    _log.error("unexpected error at %s", request.url.path, exc_info=error)
    return problem_response("internal-error", 500, "The defect is logged; the request was not computed.")


HANDLERS: Final[dict[int | type[Exception], Any]] = {
    RefusedRequest: refuse,
    Contradiction: contradict,
    NotFinite: overflow,
    HTTPException: http_error,
    Exception: internal_error,
}
