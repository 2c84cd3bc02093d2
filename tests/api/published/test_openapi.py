"""The published schema: committed, exact, complete, and only ever added to."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from typing import Any

import msgspec
import pytest
from jsonschema_rs import Draft202012Validator
from litestar.testing import TestClient
from litestar.types import ASGIApp
from msgspec import inspect
from openapi_spec_validator import validate
from tests.api.batches import AtOnce
from tests.api.jobs import ROOT

from headbench.api.app import RESOURCES, create_app, published
from headbench.api.batch.jobs import job_types
from headbench.api.vocabulary.findings import CAUTIONS
from headbench.api.vocabulary.quantities import Model
from headbench.printing import schema_text

COMMITTED = ROOT / "openapi" / "openapi.json"
DOCUMENT: Any = json.loads(COMMITTED.read_text())
SCHEMAS = DOCUMENT["components"]["schemas"]
HANDLERS = {str(next(iter(handler.paths))): handler for handler in published(AtOnce())}
BATCH = "/v1/batch"  # lines and no JSON document; tests/api/batch/test_published.py
POSTS = [path for path, handler in HANDLERS.items() if "POST" in handler.http_methods and path != BATCH]


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
    requests = [HANDLERS[path].opt["resource"].request for path in POSTS]
    return [s for request in (*requests, *job_types(RESOURCES)) for s in structs(request, seen)]


@pytest.mark.parametrize("struct", request_structs(), ids=lambda struct: struct.__name__)
def test_every_bound_the_decoder_enforces_is_published(struct: type[msgspec.Struct]) -> None:
    schema = SCHEMAS[struct.__name__]
    assert issubclass(struct, Model)
    assert schema["additionalProperties"] is False
    for field in msgspec.structs.fields(struct):
        published = list(said(schema["properties"][field.name]))
        assert (field.name in schema["required"]) == field.required
        for keyword, value in bounds(inspect.type_info(field.type)):
            assert (keyword, value) in published, (field.name, keyword, value)


def said(schema: Any) -> Iterator[tuple[str, Any]]:
    """Each keyword of a field, its kinds and its items with what it says; choices in the order of the alphabet."""
    for keyword, value in schema.items():
        yield keyword, sorted(value) if keyword == "enum" else value
    for kind in [*schema.get("anyOf", []), *([schema["items"]] if "items" in schema else [])]:
        yield from said(kind)
    component = SCHEMAS[schema["$ref"].rsplit("/")[-1]] if "$ref" in schema else {}
    if "enum" in component:
        yield from said(component)


# What Python must be told to keep a trailing newline out, and the same for engines that know neither looking ahead
# nor `\\u`: a line or paragraph separator stands for itself.
PLAIN_PATTERNS = {r"^[^\u0000-\u001f\u007f-\u009f\u2028\u2029]+$(?!\n)": "^[^\\x00-\\x1f\\x7f-\\x9f\u2028\u2029]+$"}


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
        assert info.pattern is not None, "any text"
        yield from (("maxLength", info.max_length), ("pattern", PLAIN_PATTERNS[info.pattern]))
    elif isinstance(info, inspect.ListType):
        assert info.max_length is not None, "an unbounded list"
        yield "maxItems", info.max_length
        yield from bounds(info.item_type)
    elif isinstance(info, inspect.LiteralType):
        yield "enum", sorted(info.values)


def every(key: str, value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Each value of a key anywhere in a JSON value, with where it stands."""
    members = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, member in members:
        if name == key:
            yield path, member
        yield from every(key, member, f"{path}/{name}")


def test_no_default_is_said_so_that_generators_demand_the_field_or_wrap_it() -> None:
    assert list(every("default", SCHEMAS)) == []
    assert list(every("allOf", SCHEMAS)) == []


@pytest.mark.parametrize("struct", request_structs(), ids=lambda struct: struct.__name__)
def test_every_plain_default_is_published(struct: type[msgspec.Struct]) -> None:
    plain = {f.name: f.default for f in msgspec.structs.fields(struct) if isinstance(f.default, str | float | int)}
    fields = SCHEMAS[struct.__name__]["properties"]
    assert {name: one["x-default"] for name, one in fields.items() if "x-default" in one} == plain
    assert [name for name in plain if "efault" not in fields[name]["description"]] == []


@pytest.mark.parametrize("struct", request_structs(), ids=lambda struct: struct.__name__)
def test_null_is_taken_in_every_field_that_may_be_left_out_and_in_no_other(struct: type[msgspec.Struct]) -> None:
    schema = SCHEMAS[struct.__name__]
    taken = [name for name, one in schema["properties"].items() if {"type": "null"} in one.get("anyOf", [])]
    assert sorted(taken) == sorted(set(schema["properties"]) - set(schema["required"]))


def test_of_an_answer_every_field_is_there() -> None:
    got = [one for one in SCHEMAS.values() if "properties" in one and one.get("additionalProperties") is not False]
    assert got
    assert all(one["required"] == list(one["properties"]) for one in got)


def test_choices_that_are_made_more_than_once_are_a_component() -> None:
    once = Counter(tuple(sorted(choices)) for _, choices in every("enum", SCHEMAS))
    assert [choices for choices, count in once.items() if count > 1] == []
    assert SCHEMAS["Verdict"]["enum"] == ["accept", "borderline", "not_measured", "reject"]
    assert SCHEMAS["Position"]["properties"]["valve"]["$ref"] == "#/components/schemas/ValveKind"


def test_the_fields_stand_in_their_own_order_and_names_first() -> None:
    assert list(SCHEMAS["Reading"]["properties"]) == ["height", "load"]
    assert list(SCHEMAS["PushrodPosition"]["properties"])[:2] == ["id", "valve"]
    assert [
        name
        for name, one in SCHEMAS.items()
        if "id" in one.get("properties", {}) and next(iter(one["properties"])) != "id"
    ] == []
    assert list(SCHEMAS) == sorted(SCHEMAS)
    assert list(DOCUMENT["paths"]) == sorted(DOCUMENT["paths"])


def test_the_tag_of_a_kind_is_a_constant_that_its_union_maps() -> None:
    mappings = [one for _, one in every("discriminator", SCHEMAS)]
    assert mappings
    for one in mappings:
        for tag, reference in one["mapping"].items():
            schema = SCHEMAS[reference.rsplit("/")[-1]]
            assert schema["properties"][one["propertyName"]]["const"] == tag
            assert one["propertyName"] in schema["required"]
    assert all(len(choices) > 1 for _, choices in every("enum", SCHEMAS))


def test_a_field_without_words_of_its_own_has_those_of_the_object_it_holds() -> None:
    assert SCHEMAS["HeadAssemblyRequest"]["properties"]["units"]["description"] == SCHEMAS["Units"]["description"]
    assert (
        SCHEMAS["HeadAssemblyRequest"]["properties"]["positions"]["description"] != SCHEMAS["Position"]["description"]
    )


@pytest.mark.parametrize("path", POSTS)
def test_every_refusal_is_declared_as_a_problem(path: str) -> None:
    responses = DOCUMENT["paths"][path]["post"]["responses"]
    assert set(responses) == {"200", "400", "401", "405", "406", "408", "413", "415", "422", "429", "500", "503"}
    for name, response in DOCUMENT["components"]["responses"].items():
        assert list(response["content"]) == ["application/problem+json"], name


@pytest.mark.parametrize("path", POSTS)
def test_every_published_example_is_computed(client: TestClient[ASGIApp], path: str) -> None:
    examples = DOCUMENT["paths"][path]["post"]["requestBody"]["content"]["application/json"]["examples"]
    for example in examples.values():
        assert client.post(path, json=example["value"]).status_code == 200


OPERATIONS = [(path, method) for path, operations in DOCUMENT["paths"].items() for method in operations]


def validator(name: str) -> Draft202012Validator:
    return Draft202012Validator({"$ref": f"#/components/schemas/{name}", "components": DOCUMENT["components"]})


@pytest.mark.parametrize(("path", "method"), [one for one in OPERATIONS if one[0] != BATCH])
def test_every_operation_shows_an_answer_as_it_gives_it(client: TestClient[ASGIApp], path: str, method: str) -> None:
    operation = DOCUMENT["paths"][path][method]
    answer = operation["responses"]["200"]["content"]["application/json"]
    shown = answer["examples"]["answer"]["value"]
    validator(answer["schema"]["$ref"].rsplit("/")[-1]).validate(shown)
    job = (
        operation["requestBody"]["content"]["application/json"]["examples"]["job"]["value"]
        if method == "post"
        else None
    )
    assert_alike(shown, client.request(method, path, json=job).json())


def assert_alike(shown: Any, given: Any) -> None:
    """The same but for digits beyond the sixth."""
    if isinstance(given, dict):
        assert list(shown) == list(given)
        for name in given:
            assert_alike(shown[name], given[name])
    elif isinstance(given, list):
        assert len(shown) == len(given)
        for one, other in zip(shown, given, strict=True):
            assert_alike(one, other)
    else:
        assert shown == (pytest.approx(given, rel=1e-5) if isinstance(given, float) else given)


@pytest.mark.parametrize(
    ("status", "name", "told"),
    [
        ("400", "Unreadable", "did you mean measured_height?"),
        ("405", "WrongMethod", "[]"),
        ("406", "NotAcceptable", "[]"),
        ("408", "TooSlow", "[]"),
        ("413", "TooLarge", "[]"),
        ("415", "WrongMediaType", "[]"),
        ("503", "Busy", "[]"),
        ("422", "Contradictory", "2I"),
        ("500", "Defect", "[]"),
    ],
)
def test_a_refusal_of_each_kind_is_shown(status: str, name: str, told: str) -> None:
    content = DOCUMENT["components"]["responses"][name]["content"]["application/problem+json"]
    shown = content["examples"]["problem"]["value"]
    validator("Problem").validate(shown)
    assert shown["status"] == int(status)
    assert told in json.dumps(shown["errors"])
    assert shown["title"] == content["examples"]["problem"]["summary"]


def test_the_wrong_method_is_shown_of_addresses_that_are_posted_to_and_of_those_that_are_got(client: Any) -> None:
    content = DOCUMENT["components"]["responses"]["WrongMethod"]["content"]["application/problem+json"]
    shown = [one["value"] for one in content["examples"].values()]
    assert shown == [client.get("/v1/head-assembly").json(), client.post("/version").json()]


def test_the_headers_of_refusals_say_what_they_hold() -> None:
    headers: dict[str, Any] = {}
    for response in DOCUMENT["components"]["responses"].values():
        headers |= response.get("headers", {})
    assert {name: (one["schema"]["type"], one["description"]) for name, one in headers.items()} == {
        "Allow": ("string", "Methods this address takes."),
        "Accept": ("string", "Media type this address takes."),
        "Accept-Encoding": ("string", "Encoding this address takes."),
        "RateLimit": ("string", "What is left of the limit, and seconds until all of it is."),
        "RateLimit-Policy": ("string", "The limit: requests, and in how many seconds."),
        "Retry-After": ("integer", "Seconds to wait."),
        "WWW-Authenticate": ("string", "How a key is sent (RFC 6750)."),
    }


@pytest.mark.parametrize(("path", "method"), OPERATIONS)
def test_every_operation_shows_a_refusal(path: str, method: str) -> None:
    named = [
        one["$ref"].rsplit("/")[-1] for one in DOCUMENT["paths"][path][method]["responses"].values() if "$ref" in one
    ]
    responses = [DOCUMENT["components"]["responses"][name] for name in named]
    is_open = not path.startswith("/v1/")
    assert len(responses) == (
        9 if path == BATCH else 11 if method == "post" else (3 if path == "/health/ready" else 2) if is_open else 4
    )
    assert all(one["content"]["application/problem+json"]["examples"] for one in responses)


def test_the_description_carries_the_cautions() -> None:
    assert CAUTIONS
    assert all(caution in DOCUMENT["info"]["description"] for caution in CAUTIONS)


def test_it_says_whose_it_is_and_names_no_host() -> None:
    assert DOCUMENT["info"]["contact"] == {"name": "Headbench"}
    assert DOCUMENT["info"]["license"] == {"name": "Apache-2.0", "identifier": "Apache-2.0"}
    assert DOCUMENT["servers"] == [{"url": "/"}]
    assert "://" not in COMMITTED.read_text()


def test_every_tag_is_explained_and_used() -> None:
    used = {tag for path, method in OPERATIONS for tag in DOCUMENT["paths"][path][method]["tags"]}
    assert {tag["name"] for tag in DOCUMENT["tags"] if tag["description"]} == used


def test_the_document_is_made_when_it_is_first_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[object] = []

    def build(handlers: object) -> dict[str, Any]:
        made.append(handlers)
        return {}

    monkeypatch.setattr("headbench.api.app.openapi.build", build)
    with TestClient(create_app(AtOnce())) as client:
        assert made == []
        assert [client.get("/openapi.json").json() for _ in range(2)] == [{}, {}]
    assert len(made) == 1


def test_every_operation_can_be_found_by_name_and_read_about() -> None:
    operations = [op for path in DOCUMENT["paths"].values() for op in path.values()]
    names = [operation["operationId"] for operation in operations]
    assert len(set(names)) == len(names)
    assert all(operation["summary"] and operation["description"] and operation["tags"] for operation in operations)


def test_a_key_is_declared_and_not_demanded() -> None:
    # OpenAPI 3.1, Security Requirement Object: an empty one among them makes it optional
    assert DOCUMENT["security"] == [{}, {"key": []}]
    assert DOCUMENT["components"]["securitySchemes"]["key"]["scheme"] == "bearer"


def test_no_two_structs_share_a_name() -> None:
    # they would be named by their modules, which generators of clients cannot follow
    assert [name for name in SCHEMAS if not name.isidentifier()] == []
