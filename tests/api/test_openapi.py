"""The published schema: committed, exact, complete, and only ever added to."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from msgspec import inspect
from openapi_spec_validator import validate

from headbench.api.app import RESOURCES
from headbench.api.quantities import Model
from headbench.cli import schema_text

COMMITTED = Path(__file__).parent.parent.parent / "openapi" / "openapi.json"
DOCUMENT: Any = json.loads(COMMITTED.read_text())
SCHEMAS = DOCUMENT["components"]["schemas"]
HANDLERS = {str(next(iter(handler.paths))): handler for handler in RESOURCES}
POSTS = [path for path, handler in HANDLERS.items() if "POST" in handler.http_methods]


def test_the_committed_schema_is_what_the_code_makes() -> None:
    assert COMMITTED.read_text() == schema_text(), "run: make schema, and read what changed"


def test_the_served_schema_is_the_committed_one(client: TestClient[ASGIApp]) -> None:
    assert client.get("/openapi.json").json() == DOCUMENT


def test_the_schema_is_valid_openapi_3_1() -> None:
    validate(DOCUMENT)


def structs(annotation: Any, seen: set[type]) -> Iterator[type[msgspec.Struct]]:
    info = inspect.type_info(annotation)
    stack: list[Any] = [info]
    while stack:
        one = stack.pop()
        if isinstance(one, inspect.Metadata):
            stack.append(one.type)
        elif isinstance(one, inspect.UnionType):
            stack.extend(one.types)
        elif isinstance(one, inspect.ListType):
            stack.append(one.item_type)
        elif isinstance(one, inspect.StructType) and one.cls not in seen:
            seen.add(one.cls)
            yield one.cls
            stack.extend(field.type for field in one.fields)


def request_structs() -> list[type[msgspec.Struct]]:
    seen: set[type] = set()
    return [s for path in POSTS for s in structs(HANDLERS[path].parsed_data_field.annotation, seen)]  # type: ignore[union-attr] # a POST has data


@pytest.mark.parametrize("struct", request_structs(), ids=lambda struct: struct.__name__)
def test_every_bound_the_decoder_enforces_is_published(struct: type[msgspec.Struct]) -> None:
    schema = SCHEMAS[struct.__name__]
    assert issubclass(struct, Model)
    assert schema["additionalProperties"] is False
    for field in msgspec.structs.fields(struct):
        published = json.dumps(schema["properties"][field.name])
        assert (field.name in schema["required"]) == field.required
        for keyword, value in bounds(inspect.type_info(field.type)):
            assert f'"{keyword}": {json.dumps(value)}' in published, (field.name, keyword, value)


def bounds(info: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(info, inspect.Metadata):
        yield from (("x-quantity", v) for k, v in (info.extra_json_schema or {}).items() if k == "x-quantity")
        yield from bounds(info.type)
    elif isinstance(info, inspect.UnionType):
        for member in info.types:
            yield from bounds(member)
    elif isinstance(info, inspect.FloatType | inspect.IntType):
        assert info.ge is not None
        assert info.le is not None, "an unbounded number"
        yield from (("minimum", info.ge), ("maximum", info.le))
    elif isinstance(info, inspect.StrType):
        assert info.max_length is not None, "unbounded text"
        yield from (("maxLength", info.max_length), ("pattern", info.pattern))
    elif isinstance(info, inspect.ListType):
        assert info.max_length is not None, "an unbounded list"
        yield "maxItems", info.max_length
        yield from bounds(info.item_type)
    elif isinstance(info, inspect.LiteralType):
        yield "enum", sorted(info.values)


@pytest.mark.parametrize("path", POSTS)
def test_every_refusal_is_declared_as_a_problem(path: str) -> None:
    responses = DOCUMENT["paths"][path]["post"]["responses"]
    assert set(responses) == {"200", "400", "405", "408", "413", "415", "422", "500", "503"}
    for name, response in DOCUMENT["components"]["responses"].items():
        assert list(response["content"]) == ["application/problem+json"], name


@pytest.mark.parametrize("path", POSTS)
def test_every_published_example_is_computed(client: TestClient[ASGIApp], path: str) -> None:
    examples = DOCUMENT["paths"][path]["post"]["requestBody"]["content"]["application/json"]["examples"]
    for example in examples.values():
        assert client.post(path, json=example["value"]).status_code == 200


def test_every_operation_can_be_found_by_name_and_read_about() -> None:
    operations = [op for path in DOCUMENT["paths"].values() for op in path.values()]
    names = [operation["operationId"] for operation in operations]
    assert len(set(names)) == len(names)
    assert all(operation["summary"] and operation["description"] and operation["tags"] for operation in operations)


def test_every_object_and_every_field_a_caller_fills_in_is_described() -> None:
    for struct in request_structs():
        schema = SCHEMAS[struct.__name__]
        assert schema.get("description"), struct.__name__
        for name, field in schema["properties"].items():
            plain = "$ref" in field or "enum" in field or "items" in field or name in {"limits", "targets", "units"}
            nested = any("$ref" in option for option in field.get("anyOf", []))
            assert plain or nested or field.get("description"), (struct.__name__, name)
