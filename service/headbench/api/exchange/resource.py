"""Resource: the frame that every calculation stands in.

A room says what it takes, what it answers and how it gets from one to the other; what all have in common is
said here, once: units, rounding, cautions, and that long work keeps off the event loop.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, Generic, TypeVar

import msgspec
from litestar import post
from litestar.handlers import HTTPRouteHandler
from litestar.params import JSONBody

from headbench.api.exchange.off_loop import off_loop
from headbench.api.vocabulary.converting import HasUnits, in_si
from headbench.api.vocabulary.quantities import Answer
from headbench.api.vocabulary.rounding import from_si
from headbench.api.vocabulary.saying import said_in
from headbench.calc.judging.limits import Limit
from headbench.calc.judging.rules import Rule

R = TypeVar("R", bound=HasUnits)
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
            return from_si(self.compute(in_si(request)), request.units)

    def route(self) -> HTTPRouteHandler:
        """Its route: decodes, makes one call, answers."""

        async def handle(data: Any) -> Any:
            return await off_loop(self, data) if self.takes_long(data) else self(data)

        handle.__name__ = self.operation_id
        handle.__doc__ = self.description
        # a type that is only known here; the framework decodes by it and the schema is built from it
        handle.__annotations__ = {"data": JSONBody[self.request], "return": self.answer}  # type: ignore[misc, name-defined]
        return post(
            self.path,
            operation_id=self.operation_id,
            summary=self.summary,
            tags=[self.tag],
            status_code=200,
            opt={"resource": self},
        )(handle)
