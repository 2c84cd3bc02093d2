"""Form resource: a calculation that also takes a plain form, and answers a page to whom asks for one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, Generic

import msgspec
from litestar import Response, get
from litestar.handlers import HTTPRouteHandler

from headbench.api.bench.forms import MEDIA_TYPE, Fields, as_json, read_form
from headbench.api.bench.page import POLICY
from headbench.api.exchange.asking import Asked, Told, response_of
from headbench.api.exchange.negotiating import PAGE, Answered, Form, likes_page_best
from headbench.api.exchange.options import OPEN
from headbench.api.exchange.problems import Problem, problem_of
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

    @property
    def media_types(self) -> Sequence[str]:
        """What a request may be sent as."""
        return (*super().media_types, MEDIA_TYPE)

    def _json_of(self, asked: Asked) -> bytes:
        return as_json(read_form(asked.body)) if asked.media_type == MEDIA_TYPE else super()._json_of(asked)

    def _printed(self, asked: Asked, form: Form, which: str | None, done: Answered) -> Told:
        """The page with the form again and what it came to; paper and tables are as of every resource."""
        if form.media_type == PAGE:
            return _shown(self.page(_fields(asked, done.request), done.answer, None), 200)
        return super()._printed(asked, form, which, done)

    def _refused(self, asked: Asked, job: R | None, error: RefusedRequest | Contradiction | NotFinite) -> Told:
        """The form again, with what is wrong beside its field."""
        if not likes_page_best(asked.accept):
            return super()._refused(asked, job, error)
        problem = problem_of(error, job)
        return _shown(self.page(_fields(asked, job), None, problem), problem.status)

    def blank(self, path: str) -> HTTPRouteHandler:
        """A route that answers the blank form."""

        @get(path, include_in_schema=False, opt={OPEN: True})
        async def form() -> Response[bytes]:
            return response_of(_shown(self.page({}, None, None), 200))

        return form


def _shown(page: str, status: int) -> Told:
    return Told(status, PAGE, page.encode(), {"Content-Security-Policy": POLICY, "Vary": "Accept"})


def _fields(asked: Asked, job: Any) -> Fields:
    """The fields that were sent, or those that stand for a job which came as JSON."""
    if asked.media_type != MEDIA_TYPE:
        return fields_of(job)
    try:
        return read_form(asked.body)
    except RefusedRequest:
        return {}


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
