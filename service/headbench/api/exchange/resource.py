"""Resource: the frame that every calculation stands in.

A room says what it takes, what it answers and how it gets from one to the other; what all have in common is
said here, once: units, rounding, forms, refusals, and that nothing is worked out where connections are served.
"""

from __future__ import annotations

import logging
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

from headbench.api.exchange.asking import JSON, Answerer, Asked, Told, answered, response_of
from headbench.api.exchange.decoding import decode, read_body
from headbench.api.exchange.envelope import HasJob, job_echo
from headbench.api.exchange.negotiating import Answered, Form, accept_of, form_for
from headbench.api.exchange.problems import defect, headers_of, problem_of, told
from headbench.api.vocabulary.converting import in_si
from headbench.api.vocabulary.quantities import Answer
from headbench.api.vocabulary.rounding import from_si
from headbench.api.vocabulary.saying import said_in
from headbench.calc.judging.limits import Limit
from headbench.calc.judging.rules import Rule
from headbench.errors import Contradiction, NotFinite, RefusedRequest

SHEET: Final = "sheet"
"""The parameter that says which sheet is wanted."""

_log = logging.getLogger(__name__)
_ENCODER: Final = msgspec.json.Encoder()

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

    @property
    def media_types(self) -> Sequence[str]:
        """What a request may be sent as."""
        return (JSON,)

    def tell(self, asked: Asked, forms: Sequence[Form] = ()) -> Told:
        """Answer a request that is still bytes, in the form that its caller takes, or say why not."""
        job: R | None = None
        try:
            form = form_for(asked.accept, forms)
            which = self._sheet(asked.sheets)
            raw = self._json_of(asked)
            job = decode(raw, self.request)
            answer = self(job)
            if form is not None:
                return self._printed(asked, form, which, Answered(self.kind, msgspec.json.decode(raw), job, answer))
        except (RefusedRequest, Contradiction, NotFinite) as error:
            return self._refused(asked, job, error)
        except Exception:  # noqa: BLE001 - whatever it is, its caller is told
            # a defect of ours: logged with its traceback, told without it
            _log.exception("unexpected error at %s", self.path)
            return told(defect(), asked.accept)
        return Told(200, JSON, _ENCODER.encode(answer))

    def route(self, answerer: Answerer, forms: Sequence[Form] = ()) -> HTTPRouteHandler:
        """Its route: takes the request as bytes, has it answered elsewhere, and sends on what comes back."""

        async def handle(request: Any) -> Any:
            accept = accept_of(request.headers)
            # who takes no form there is, is told so before anything is read
            form_for(accept, forms)
            media_type, sheets = request.content_type[0].lower(), request.query_params.getall(SHEET, [])
            asked = Asked(self.kind, b"", media_type, accept, sheets)
            try:
                asked = msgspec.structs.replace(asked, body=await read_body(request, self.media_types))
            except RefusedRequest as error:
                return response_of(self._refused(asked, None, error))
            return response_of(await answered(answerer, asked, request.receive))

        handle.__name__ = self.operation_id
        handle.__doc__ = self.description
        # not as text, which the framework would look up in this module
        handle.__annotations__ = {"request": Request[None, None, State], "return": Response[bytes]}
        return post(
            self.path,
            operation_id=self.operation_id,
            summary=self.summary,
            tags=[self.tag],
            status_code=200,
            response_headers=[ResponseHeader(name="Vary", value="Accept")],
            opt={"resource": self, "forms": tuple(forms)},
        )(handle)

    def _json_of(self, asked: Asked) -> bytes:
        """The JSON that was sent."""
        return asked.body

    def _printed(self, asked: Asked, form: Form, which: str | None, done: Answered) -> Told:  # noqa: ARG002 - forms use it
        """An answer in another form than JSON."""
        return Told(200, form.media_type, form.make(done, which), dict(form.headers))

    def _refused(self, asked: Asked, job: R | None, error: RefusedRequest | Contradiction | NotFinite) -> Told:
        """What is told where there is no answer."""
        return told(problem_of(error, job), asked.accept, headers_of(error))

    def _sheet(self, named: Sequence[str]) -> str | None:
        """Which sheet was asked for; raises RefusedRequest where there is no such."""
        if not self.sheets or not named:
            return None
        if len(named) > 1 or named[0] not in self.sheets:
            detail = f"There is no such sheet; ask for one of these: {', '.join(self.sheets)}."
            raise RefusedRequest("invalid-request", 400, detail)
        return named[0]
