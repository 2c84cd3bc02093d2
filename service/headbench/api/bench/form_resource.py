"""Form resource: a calculation that also takes a plain form, and answers a page to whom asks for one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Generic

import msgspec
from litestar import MediaType, Request, Response, get, post
from litestar.datastructures.state import State
from litestar.handlers import HTTPRouteHandler
from litestar.params import JSONBody

from headbench.api.bench.forms import MEDIA_TYPE, Fields, as_json, read_form
from headbench.api.bench.page import POLICY
from headbench.api.exchange import problems
from headbench.api.exchange.decoding import JOB, WEB_FORM, WebForm
from headbench.api.exchange.problems import Problem
from headbench.api.exchange.resource import A, R, Resource
from headbench.errors import Contradiction, NotFinite, RefusedRequest

_Page = Callable[[Fields, Any, Problem | None], str]
"""A page out of the fields entered, and the answer or the problem, if there is one."""


@dataclass(frozen=True)
class FormResource(Resource[R, A], Generic[R, A]):
    """A calculation with a form.

    page : the page with the form, filled in, and what it came to
    """

    page: _Page = field(kw_only=True)

    def route(self) -> HTTPRouteHandler:
        """Its route: decodes either, makes one call, answers either."""

        async def handle(data: Any, request: Request[Any, Any, State]) -> Any:
            answer = self(data)
            if not asks_for_page(request.headers.get("accept", "")):
                return answer
            return self._shown(request, answer=answer)

        handle.__name__ = self.operation_id
        handle.__doc__ = self.description
        # as in Resource: the framework decodes by it, and the schema is built from it
        handle.__annotations__ = {
            "data": JSONBody[self.request],  # type: ignore[misc, name-defined]
            "request": Request[Any, Any, State],
            "return": self.answer,
        }
        return post(
            self.path,
            operation_id=self.operation_id,
            summary=self.summary,
            tags=[self.tag],
            status_code=200,
            opt={"resource": self, WEB_FORM: WebForm(MEDIA_TYPE, read_form, as_json)},
            exception_handlers={
                RefusedRequest: self._refused(problems.refuse, lambda error, _: problems.refusal(error)),
                Contradiction: self._refused(
                    problems.contradict, lambda error, job: problems.contradiction(error.errors, job)
                ),
                NotFinite: self._refused(problems.overflow, lambda error, _: problems.not_finite(error)),
            },
        )(handle)

    def blank(self, path: str) -> HTTPRouteHandler:
        """A route that answers the blank form."""

        @get(path, include_in_schema=False)
        async def form() -> Response[str]:
            return _html(self.page({}, None, None), 200)

        return form

    def _refused(self, as_problem: Callable[..., Response[bytes]], told: Callable[[Any, Any], Problem]) -> Any:
        def handle(request: Request[Any, Any, State], error: Exception) -> Response[Any]:
            if not asks_for_page(request.headers.get("accept", "")):
                return as_problem(request, error)
            return self._shown(request, problem=told(error, request.scope["state"].get(JOB)))

        return handle

    def _shown(
        self, request: Request[Any, Any, State], *, answer: A | None = None, problem: Problem | None = None
    ) -> Response[str]:
        state = request.scope["state"]
        fields = state.get(WEB_FORM) or fields_of(state.get(JOB))
        return _html(self.page(fields, answer, problem), 200 if problem is None else problem.status)


def _html(text: str, status: int) -> Response[str]:
    headers = {"Content-Security-Policy": POLICY, "Vary": "Accept"}
    return Response(text, status_code=status, media_type=MediaType.HTML, headers=headers)


def fields_of(job: Any) -> Fields:
    """The fields of a form that stand for a job which came as JSON."""
    if job is None:
        return {}
    fields: dict[str, str] = {}
    for name, value in msgspec.to_builtins(job).items():
        members = value.items() if isinstance(value, dict) else [("", value)]
        for member, held in members:
            if held is not None:
                fields[f"{name}.{member}" if member else name] = (
                    str(held).lower() if held in {True, False} else str(held)
                )
    return fields


def asks_for_page(accept: str) -> bool:
    """Whether an Accept header names a page before JSON.

    >>> asks_for_page("text/html,application/xhtml+xml,*/*;q=0.8"), asks_for_page("*/*"), asks_for_page("")
    (True, False, False)
    >>> asks_for_page("application/json, text/html;q=0.5")
    False
    """
    weights: dict[str, float] = {}
    for part in accept.split(","):
        kind, *parameters = (piece.strip() for piece in part.split(";"))
        weight = next((one[2:] for one in parameters if one.startswith("q=")), "1")
        try:
            weights[kind.lower()] = float(weight)
        except ValueError:
            continue
    every = weights.get("*/*", 0.0)
    page = weights.get("text/html", weights.get("text/*", every))
    return page > weights.get("application/json", weights.get("application/*", every))
