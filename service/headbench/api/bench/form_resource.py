"""Form resource: a calculation that also takes a plain form, and answers a page to whom asks for one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Generic

import msgspec
from litestar import MediaType, Request, Response, get
from litestar.datastructures.state import State
from litestar.handlers import HTTPRouteHandler
from litestar.types import ExceptionHandlersMap

from headbench.api.bench.forms import MEDIA_TYPE, Fields, as_json, read_form
from headbench.api.bench.page import POLICY
from headbench.api.exchange import problems
from headbench.api.exchange.decoding import JOB, WEB_FORM, WebForm
from headbench.api.exchange.negotiating import PAGE, Form, accept_of, likes_page_best
from headbench.api.exchange.options import OPEN
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

    def _options(self) -> dict[str, Any]:
        return {WEB_FORM: WebForm(MEDIA_TYPE, read_form, as_json)}

    def _refusals(self) -> ExceptionHandlersMap:
        return {
            RefusedRequest: self._refused(problems.refuse, lambda error, _: problems.refusal(error)),
            Contradiction: self._refused(
                problems.contradict, lambda error, job: problems.contradiction(error.errors, job)
            ),
            NotFinite: self._refused(problems.overflow, lambda error, _: problems.not_finite(error)),
        }

    async def _sent(self, request: Request[None, None, State]) -> bytes:
        fields = request.scope["state"].get(WEB_FORM)
        return await super()._sent(request) if fields is None else as_json(fields)

    async def _printed(self, form: Form, which: str | None, job: R, request: Request[None, None, State]) -> Any:
        """The page with the form again and what it came to; paper and tables are as of every resource."""
        if form.media_type == PAGE:
            return self._shown(request, answer=self(job))
        return await super()._printed(form, which, job, request)

    def blank(self, path: str) -> HTTPRouteHandler:
        """A route that answers the blank form."""

        @get(path, include_in_schema=False, opt={OPEN: True})
        async def form() -> Response[str]:
            return _html(self.page({}, None, None), 200)

        return form

    def _refused(self, as_problem: Callable[..., Response[bytes]], told: Callable[[Any, Any], Problem]) -> Any:
        def handle(request: Request[Any, Any, State], error: Exception) -> Response[Any]:
            if not likes_page_best(accept_of(request.headers)):
                return as_problem(request, error)
            shown = self._shown(request, problem=told(error, request.scope["state"].get(JOB)))
            if isinstance(error, RefusedRequest):
                shown.headers.update(error.headers)
            return shown

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
            if held is not None and not isinstance(held, list):
                told = str(held).lower() if isinstance(held, bool) else str(held)
                fields[f"{name}.{member}" if member else name] = told
    return fields
