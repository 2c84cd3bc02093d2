"""The published schema as a judge: whether it takes a body, and whether an answer is what it says."""

from __future__ import annotations

import json
import math
import sys
from functools import cache
from pathlib import Path
from typing import Any, Final

import jsonschema_rs
from tests.fuzz.asking import Said

DOCUMENT: Final = json.loads((Path(__file__).parent.parent.parent / "openapi" / "openapi.json").read_text())

SCHEMAS: Final[dict[str, Any]] = DOCUMENT["components"]["schemas"]


class NotReadableError(Exception):
    """A body is no JSON text that a job may be sent as; the code of the problem that is to come."""


def request_schema(path: str) -> Any:
    """The schema of what an address takes."""
    return DOCUMENT["paths"][path]["post"]["requestBody"]["content"]["application/json"]["schema"]


def answer_schema(path: str) -> Any:
    """The schema of what it answers."""
    return DOCUMENT["paths"][path]["post"]["responses"]["200"]["content"]["application/json"]["schema"]


@cache
def _judge(path: str, status: str | None) -> Any:
    schema = request_schema(path) if status is None else _content(path, status)["application/json"]["schema"]
    # a date is one of the calendar, as RFC 3339 has it, and not any text
    return jsonschema_rs.validator_for(schema | {"components": DOCUMENT["components"]}, validate_formats=True)


def _content(path: str, status: str) -> Any:
    response = DOCUMENT["paths"][path]["post"]["responses"][status]
    if "$ref" in response:
        response = DOCUMENT["components"]["responses"][response["$ref"].rsplit("/")[-1]]
    content = dict(response["content"])
    # a problem is JSON as well
    return content | {"application/json": content.get("application/json", content.get("application/problem+json"))}


def read(body: bytes) -> Any:
    """The value of a JSON text by RFC 8259, with I-JSON's bounds: finite numbers, whole characters, names once."""
    if not body.strip(b" \t\r\n"):
        raise NotReadableError("empty-body")

    def constant(_: str) -> None:
        raise ValueError

    def once(members: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(members)
        twice.extend([True] * (len(members) - len(found)))
        return found

    def whole(digits: str) -> int:
        value = int(digits)
        # what no double holds is no number here, as 1e309 is none
        if abs(value) > sys.float_info.max:
            raise ValueError
        return value

    twice: list[bool] = []
    try:
        value = json.loads(body.decode(), parse_constant=constant, parse_int=whole, object_pairs_hook=once)
        json.dumps(value, ensure_ascii=False, allow_nan=False).encode()
    except (ValueError, RecursionError):
        raise NotReadableError("malformed-json") from None
    if twice:
        raise NotReadableError("duplicate-key")
    return value


def takes(path: str, value: Any) -> bool:
    """Whether the schema takes a value."""
    return bool(_judge(path, None).is_valid(value))


def faults(path: str, said: Said) -> list[str]:
    """Where an answer is not what the schema says of it."""
    responses = DOCUMENT["paths"][path]["post"]["responses"]
    if said.status >= 500:
        return [f"status {said.status}"]
    if str(said.status) not in responses:
        return [f"status {said.status} is not published"]
    own = _content(path, str(said.status))
    wanted = "application/json" if said.status == 200 else "application/problem+json"
    if said.media_type not in own:
        return [f"media type {said.media_type} is not published for {said.status}"]
    if said.media_type != wanted:
        return []
    try:
        value = json.loads(said.body.decode(), parse_constant=_no_number)
    except ValueError as error:
        return [f"no JSON: {error}"]
    found = [f"{error.instance_path}: {error.message}" for error in _judge(path, str(said.status)).iter_errors(value)]
    return [*found[:5], *([] if _finite(value) else ["a number that is not finite"])]


def _no_number(text: str) -> None:
    raise ValueError(text)


def _finite(value: Any) -> bool:
    if isinstance(value, float):
        return math.isfinite(value)
    if isinstance(value, dict):
        value = list(value.values())
    return all(_finite(one) for one in value) if isinstance(value, list) else True
