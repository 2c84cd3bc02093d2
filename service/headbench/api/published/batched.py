"""How batches are published: OpenAPI 3.1 has no words for a stream of lines, so that of one stands for all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import msgspec
from litestar.handlers import HTTPRouteHandler

from headbench.api.batch import batch
from headbench.api.batch.jobs import Answering, BatchAnswered, BatchRefused, job_types
from headbench.api.exchange.gzipped import damaged
from headbench.api.exchange.problems import Problem, refusal
from headbench.api.exchange.resource import Resource

Resources = Sequence[Resource[Any, Any]]
Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Refusal:
    """A refusal of a whole batch: the component it is published as, what it means, its headers and examples."""

    name: str
    description: str
    headers: Mapping[str, Any]
    shown: Sequence[Problem]


REFUSALS: Final = {
    "400": Refusal(
        "UnreadableBatch",
        "empty-body or malformed-gzip: not a line could be read. Send lines, packed by gzip or as they are.",
        {},
        [refusal(batch.empty()), refusal(damaged(batch.SEND_AGAIN))],
    ),
    "413": Refusal(
        "BatchOfNothing",
        "body-too-large: the gzip body unpacks to blank or too long lines. Send lines that ask something.",
        {},
        [refusal(batch.unpacks_to_nothing())],
    ),
    "415": Refusal(
        "WrongBatchType",
        "unsupported-media-type or unsupported-encoding. Send the media type that the Accept header names, packed as "
        "the Accept-Encoding header names or not at all.",
        {
            "Accept": {"description": "Media type this address takes.", "schema": {"type": "string"}},
            "Accept-Encoding": {"description": "Encoding this address takes.", "schema": {"type": "string"}},
        },
        [refusal(batch.wrong_media_type()), refusal(batch.wrong_encoding())],
    ),
}
"""How a batch is refused, where that is not as every other request is: status -> refusal."""

_ALIKE: Final = {
    "401": "KeyNeeded", "405": "WrongMethod", "408": "TooSlow", "429": "TooOften", "500": "Defect", "503": "Busy",
}  # fmt: skip


def resources_of(handler: HTTPRouteHandler) -> Resources:
    """The resources that the lines of a batch may ask for; none where the handler takes no batches."""
    found: Resources = handler.opt.get("batch", ())
    return found


def structs(resources: Resources) -> list[type[msgspec.Struct]]:
    """What lines are made of."""
    return [*job_types(resources), BatchAnswered, BatchRefused] if resources else []


def jobs(resources: Resources) -> list[tuple[str, Any]]:
    """A line of each kind, with the name of its component."""
    return [(kind.__name__, _line(resource)) for kind, resource in job_types(resources).items()]


def with_lines(components: Json, resources: Resources) -> Json:
    """The components, and a line of any kind among them."""
    made = job_types(resources)
    answers = [_reference(answer.__name__) for answer in dict.fromkeys(one.answer for one in resources)]
    properties = components[BatchAnswered.__name__]["properties"]
    properties["answer"] = {**properties["answer"], "anyOf": answers}
    mapping = {resource.kind: _reference(kind.__name__)["$ref"] for kind, resource in made.items()}
    line = {
        "title": "BatchLine",
        "description": "A line of a batch: a job of any kind.",
        "anyOf": [{"$ref": reference} for reference in mapping.values()],
        "discriminator": {"propertyName": "kind", "mapping": mapping},
    }
    answer = {
        "title": "BatchAnswer",
        "description": "A line that a batch answers: what was asked, or why not.",
        "anyOf": [_reference(BatchAnswered.__name__), _reference(BatchRefused.__name__)],
    }
    return dict(sorted({**components, "BatchLine": line, "BatchAnswer": answer}.items()))


def exchange(resources: Resources) -> Json:
    """What goes in and comes out: request and responses of the operation."""
    shown = _line(min(resources, key=lambda resource: len(msgspec.json.encode(resource.example))))
    answered = Answering(resources)
    examples = {
        "answer": {"summary": "Its answer", "value": _read(answered(1, msgspec.json.encode(shown)))},
        "refusal": {"summary": "The answer to half a line", "value": _read(answered(2, b'{"kind": '))},
    }
    return {
        "requestBody": {
            "required": True,
            "content": _lines("BatchLine", {"job": {"summary": "A line", "value": shown}}),
        },
        "responses": {
            "200": {
                "description": "The answers, a line each.",
                "headers": {
                    "Content-Encoding": {
                        "description": "gzip, where it was asked for.",
                        "schema": {"type": "string"},
                    }
                },
                "content": _lines("BatchAnswer", examples),
            },
            **dict(sorted({status: _response(name) for status, name in _refused().items()}.items())),
        },
    }


def _refused() -> dict[str, str]:
    return _ALIKE | {status: one.name for status, one in REFUSALS.items()}


def _line(resource: Resource[Any, Any]) -> Json:
    return {"kind": resource.kind, "id": "J-17", "request": resource.example}


def _read(line: bytes) -> Any:
    return msgspec.json.decode(line)


def _lines(name: str, examples: Json) -> Json:
    return {batch.MEDIA_TYPE: {"schema": _reference(name), "examples": examples}}


def _reference(name: str) -> dict[str, str]:
    return {"$ref": f"#/components/schemas/{name}"}


def _response(name: str) -> dict[str, str]:
    return {"$ref": f"#/components/responses/{name}"}
