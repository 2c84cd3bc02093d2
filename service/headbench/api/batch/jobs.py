"""Jobs of a batch: a line is read as a request of its kind, and answered by a line."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated, Any, Final, Literal, Union

import msgspec
from msgspec import Meta

from headbench.api.batch.lines import MOST_LINE_BYTES
from headbench.api.exchange.decoding import decode
from headbench.api.exchange.problems import Problem, contradiction, defect, not_finite, refusal
from headbench.api.exchange.resource import Resource
from headbench.api.vocabulary.quantities import Answer, Model, Name
from headbench.errors import Contradiction, NotFinite, RefusedRequest

_log = logging.getLogger(__name__)

CallersId = Annotated[
    Name | None,
    Meta(
        description="The caller's own name for the job; it comes back with the answer. Ids may repeat: the number of "
        "the line tells them apart.",
        examples=["J-17"],
    ),
]


class Job(Model, kw_only=True, frozen=True):
    """What every line has, whatever is asked."""

    id: CallersId = None


Number = Annotated[
    int,
    Meta(
        ge=1,
        description="Which line of the request this answers: its number from 1, blank lines counted.",
        examples=[17],
    ),
]
EchoedId = Annotated[
    str | None, Meta(description="The id of that line; null where it has none, or none that can be read.")
]


class BatchAnswered(Answer, kw_only=True, frozen=True):
    """The answer to a line."""

    line: Number
    id: EchoedId
    status: Annotated[Literal[200], Meta(description="The HTTP status it would have had by itself.")]
    answer: Annotated[Any, Meta(description="What the address of that kind answers to the request.")]


class BatchRefused(Answer, kw_only=True, frozen=True):
    """The refusal of a line, or of what follows it where the batch could not be read to its end."""

    line: Number
    id: EchoedId
    status: Annotated[int, Meta(description="The HTTP status it would have had by itself.", ge=400, le=599)]
    problem: Annotated[Problem, Meta(description="What is wrong; its pointers are into the line.")]


def job_types(resources: Sequence[Resource[Any, Any]]) -> dict[type[Job], Resource[Any, Any]]:
    """A struct for the lines of each kind, told apart by `kind`."""
    return {_job_type(resource): resource for resource in resources}


def _job_type(resource: Resource[Any, Any]) -> type[Job]:
    request: Any = Annotated[resource.request, Meta(description=f"As POST {resource.path} takes it.")]
    made: type[Any] = msgspec.defstruct(
        f"Batch{resource.request.__name__.removesuffix('Request')}",
        [("request", request)],
        bases=(Job,),
        namespace={"__doc__": f"A line that asks what POST {resource.path} answers."},
        tag_field="kind",
        tag=resource.kind,
        kw_only=True,
        frozen=True,
    )
    return made


class Answering:
    """Answers lines one by one; nothing that is wrong with one reaches another."""

    def __init__(self, resources: Sequence[Resource[Any, Any]]) -> None:
        self._resources = job_types(resources)
        self._jobs: Any = Union[tuple(self._resources)]  # noqa: UP007 - of types that are only known here

    def __call__(self, number: int, raw: bytes) -> bytes:
        """The line that answers a line."""
        try:
            job = decode(raw, self._jobs, line=number)
        except RefusedRequest as error:
            return refused(number, refusal(error), readable_id(raw))
        except Exception:  # noqa: BLE001 - whatever it is, the lines after it are answered
            return _failed(number, readable_id(raw))
        try:
            answer = self._resources[type(job)](job.request)
            return _encode(BatchAnswered(line=number, id=job.id, status=200, answer=answer))
        except Contradiction as error:
            errors = [replace(one, pointer=f"/request{one.pointer}") for one in error.errors]
            return refused(number, contradiction(errors, job), job.id)
        except NotFinite as error:
            return refused(number, not_finite(error), job.id)
        except Exception:  # noqa: BLE001 - likewise
            return _failed(number, job.id)


def refused(number: int, problem: Problem, name: str | None = None) -> bytes:
    """The line that refuses a line."""
    return _encode(BatchRefused(line=number, id=name, status=problem.status, problem=problem))


def too_long(number: int) -> bytes:
    """What is told of a line that is too long to be read."""
    detail = f"The line is longer than {MOST_LINE_BYTES:,} bytes; send one pair of heads a line."
    return refused(number, refusal(RefusedRequest("body-too-large", 413, detail)))


def lost(number: int, raw: bytes) -> bytes:
    """What is told of a line that ended the process that was to answer it."""
    return refused(number, defect(), readable_id(raw))


_ENCODER: Final = msgspec.json.Encoder()


def _encode(line: BatchAnswered | BatchRefused) -> bytes:
    return _ENCODER.encode(line) + b"\n"


def _failed(number: int, name: str | None) -> bytes:
    # a defect of ours: logged with its traceback, told without it
    _log.exception("unexpected error in line %d of a batch", number)
    return refused(number, defect(), name)


class _Named(msgspec.Struct):
    id: Name | None = None


def readable_id(raw: bytes) -> str | None:
    """The id of a line that was refused, where it can be made out."""
    try:
        return msgspec.json.decode(raw, type=_Named).id
    except (msgspec.DecodeError, ValueError, RecursionError):
        return None
