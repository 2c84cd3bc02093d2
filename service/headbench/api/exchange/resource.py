"""Resource: the frame that every calculation stands in.

A room says what it takes, what it answers and how it gets from one to the other; what all have in common is
said here, once: units, rounding, cautions, and that long work keeps off the event loop.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, Final, Generic, TypeVar

import msgspec
from litestar import Request, Response, post
from litestar.datastructures import ResponseHeader
from litestar.datastructures.state import State
from litestar.handlers import HTTPRouteHandler
from litestar.params import JSONBody
from litestar.types import ExceptionHandlersMap

from headbench.api.exchange.envelope import HasJob, job_echo
from headbench.api.exchange.negotiating import Answered, Form, accept_of, form_for
from headbench.api.exchange.off_loop import off_loop
from headbench.api.vocabulary.converting import in_si
from headbench.api.vocabulary.quantities import Answer
from headbench.api.vocabulary.rounding import from_si
from headbench.api.vocabulary.saying import said_in
from headbench.calc.judging.limits import Limit
from headbench.calc.judging.rules import Rule
from headbench.errors import RefusedRequest

SHEET: Final = "sheet"
"""The parameter that says which sheet is wanted."""

R = TypeVar("R", bound=HasJob)
A = TypeVar("A", bound=Answer)


@dataclass(frozen=True)
class Resource(Generic[R, A]):
    """A calculation that callers may ask for, at /v1/<kind> or as a line of a batch.

    kind : its name in addresses and in batches
    operation_id, summary, description, tag : what the schema says of it
    request, answer : the structs that go in and out
    compute : from one to the other; raises Contradiction
    example : a JSON file with a job that shows it
    takes_long : whether a request may take more than a few milliseconds
    limits, rules, notes : those of this topic alone, which the tables of reference list after the house's
    sheets : the sheets it may be printed as, the usual one first, where there are several
    """

    kind: str
    operation_id: str
    summary: str
    description: str
    tag: str
    request: type[R]
    answer: type[A]
    compute: Callable[[R], A]
    example_file: Path
    takes_long: Callable[[R], bool] = lambda _: False
    limits: tuple[Limit, ...] = ()
    rules: tuple[Rule, ...] = ()
    notes: Mapping[str, str] = field(default_factory=dict)
    sheets: Sequence[str] = ()

    @property
    def path(self) -> str:
        """Its address."""
        return f"/v1/{self.kind}"

    @cached_property
    def example(self) -> Any:
        """The job that shows it."""
        return msgspec.json.decode(self.example_file.read_bytes())

    def __call__(self, request: R) -> A:
        """Answer one request; raises Contradiction, NotFinite."""
        with said_in(request.units.scales()):
            answer = from_si(self.compute(in_si(request)), request.units)
        # the answer is ours alone
        msgspec.structs.force_setattr(answer, "job", job_echo(request.job))
        return answer

    def route(self, forms: Sequence[Form] = ()) -> HTTPRouteHandler:
        """Its route: decodes, makes one call, answers in the form that the caller takes."""

        async def handle(data: Any, request: Any) -> Any:
            form = form_for(accept_of(request.headers), forms)
            which = self._sheet(request.query_params.getall(SHEET, []))
            if form is None:
                return await off_loop(self, data) if self.takes_long(data) else self(data)
            return await self._printed(form, which, data, request)

        handle.__name__ = self.operation_id
        handle.__doc__ = self.description
        # a type that is only known here; the framework decodes by it and the schema is built from it
        asked = {"data": JSONBody[self.request], "request": Request[None, None, State]}  # type: ignore[misc, name-defined]
        handle.__annotations__ = {**asked, "return": self.answer}
        return post(
            self.path,
            operation_id=self.operation_id,
            summary=self.summary,
            tags=[self.tag],
            status_code=200,
            response_headers=[ResponseHeader(name="Vary", value="Accept")],
            opt={"resource": self, "forms": tuple(forms)} | self._options(),
            exception_handlers=self._refusals(),
        )(handle)

    def _options(self) -> dict[str, Any]:
        """What else is told of its route."""
        return {}

    def _refusals(self) -> ExceptionHandlersMap | None:
        """How its refusals are told, where that is not as everywhere."""
        return None

    async def _sent(self, request: Request[None, None, State]) -> bytes:
        """The JSON that was sent."""
        return await request.body()

    async def _printed(self, form: Form, which: str | None, job: R, request: Request[None, None, State]) -> Any:
        """Its answer in another form than JSON."""
        raw = await self._sent(request)

        def printed(job: R) -> bytes:
            return form.make(Answered(self.kind, msgspec.json.decode(raw), job, self(job)), which)

        return Response(await off_loop(printed, job), media_type=form.media_type, headers=form.headers)

    def _sheet(self, named: Sequence[str]) -> str | None:
        """Which sheet was asked for; raises RefusedRequest where there is no such."""
        if not self.sheets or not named:
            return None
        if len(named) > 1 or named[0] not in self.sheets:
            detail = f"There is no such sheet; ask for one of these: {', '.join(self.sheets)}."
            raise RefusedRequest("invalid-request", 400, detail)
        return named[0]
