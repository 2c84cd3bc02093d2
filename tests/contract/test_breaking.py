"""Inside /v1 things are only added: the committed schema against the last released one, and the gate itself."""

from __future__ import annotations

import json
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from tests.contract.breaking import find_breaking

ROOT = Path(__file__).parent.parent.parent
BASELINE = json.loads((ROOT / "openapi" / "baseline.json").read_text())
COMMITTED = json.loads((ROOT / "openapi" / "openapi.json").read_text())


def test_nothing_that_was_released_is_removed_or_narrowed() -> None:
    assert find_breaking(BASELINE, COMMITTED) == []


# A schema made up for the gate, small enough to be read whole.
LENGTH = {"type": "number", "minimum": 0.0, "maximum": 1000.0, "x-quantity": "length"}
NAME = {"type": "string", "minLength": 1, "maxLength": 60, "pattern": "^[^\n]+$"}
SMALL: Any = {
    "paths": {
        "/v1/bores": {
            "post": {
                "operationId": "measureBores",
                "requestBody": {"content": {"application/json": {"schema": {"$ref": "#/components/schemas/Job"}}}},
                "responses": {
                    "200": {"content": {"application/json": {"schema": {"$ref": "#/components/schemas/Sheet"}}}},
                    "400": {"$ref": "#/components/responses/Unreadable"},
                },
            }
        },
        "/v1/tables": {
            "get": {
                "operationId": "listTables",
                "responses": {
                    "200": {"content": {"application/json": {"schema": {"$ref": "#/components/schemas/Sheet"}}}}
                },
            }
        },
    },
    "components": {
        "responses": {
            "Unreadable": {
                "content": {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}}
            }
        },
        "schemas": {
            "Job": {
                "type": "object",
                "additionalProperties": False,
                "required": ["bores"],
                "properties": {
                    "unit": {"type": "string", "enum": ["in", "mm"], "x-default": "in"},
                    "name": {"anyOf": [NAME, {"type": "null"}]},
                    "count": {"type": "integer", "minimum": 1, "maximum": 16},
                    "gauge": {
                        "anyOf": [{"$ref": "#/components/schemas/Dial"}, {"$ref": "#/components/schemas/Plug"}],
                        "discriminator": {"propertyName": "kind"},
                    },
                    "bores": {"type": "array", "minItems": 1, "maxItems": 8, "items": {"anyOf": [LENGTH]}},
                },
            },
            "Dial": {
                "type": "object",
                "additionalProperties": False,
                "required": ["kind", "reading"],
                "properties": {"kind": {"type": "string", "const": "dial"}, "reading": LENGTH},
            },
            "Plug": {
                "type": "object",
                "additionalProperties": False,
                "required": ["kind"],
                "properties": {"kind": {"type": "string", "const": "plug"}},
            },
            "Sheet": {
                "type": "object",
                "required": ["verdict", "bores", "note"],
                "properties": {
                    "verdict": {"type": "string", "enum": ["accept", "reject"]},
                    "bores": {"type": "array", "items": {"$ref": "#/components/schemas/Bore"}},
                    "note": {"anyOf": [{"type": "string"}, {"type": "null"}]},
                },
            },
            "Bore": {"type": "object", "required": ["size"], "properties": {"size": LENGTH}},
            "Problem": {"type": "object", "required": ["title"], "properties": {"title": {"type": "string"}}},
        },
    },
}
Change = Callable[[Any, Any], object]


def job(schemas: Any) -> Any:
    return schemas["Job"]["properties"]


def sheet(schemas: Any) -> Any:
    return schemas["Sheet"]["properties"]


def changed(change: Change) -> Any:
    document = deepcopy(SMALL)
    change(document["paths"], document["components"]["schemas"])
    assert document != SMALL
    return document


BREAKAGES: dict[str, tuple[Change, str]] = {
    "a path is removed": (lambda p, _: p.pop("/v1/tables"), "GET /v1/tables: removed"),
    "a method is removed": (lambda p, _: p["/v1/bores"].pop("post"), "POST /v1/bores: removed"),
    "an operation is called otherwise": (
        lambda p, _: p["/v1/tables"]["get"].update(operationId="tables"),
        "GET /v1/tables: called tables, was listTables",
    ),
    "a body is demanded": (
        lambda p, _: p["/v1/tables"]["get"].update(requestBody=p["/v1/bores"]["post"]["requestBody"]),
        "GET /v1/tables: demands a body",
    ),
    "a response is removed": (
        lambda p, _: p["/v1/bores"]["post"]["responses"].pop("400"),
        "POST /v1/bores 400: removed",
    ),
    "a success of another kind": (
        lambda p, _: p["/v1/tables"]["get"]["responses"].update({"202": {}}),
        "GET /v1/tables 202: new",
    ),
    "a media type is removed": (
        lambda p, _: p["/v1/bores"]["post"]["requestBody"].update(content={"text/csv": {"schema": {}}}),
        "POST /v1/bores body: application/json removed",
    ),
    "a component is called otherwise": (
        lambda _, s: (s.update(Hole=s["Bore"]), sheet(s)["bores"].update(items={"$ref": "#/components/schemas/Hole"})),
        "Bore: called Hole",
    ),
    "a field of the request is removed": (lambda _, s: job(s).pop("count"), "Job.count: removed"),
    "a field is demanded that could be left out": (
        lambda _, s: s["Job"]["required"].append("count"), "Job.count: demanded"
    ),
    "a new field is demanded": (
        lambda _, s: (job(s).update(depth=LENGTH), s["Job"]["required"].append("depth")), "Job.depth: demanded"
    ),
    "a choice is removed": (lambda _, s: job(s)["unit"]["enum"].remove("mm"), "Job.unit: 'mm' no longer taken"),
    "free text becomes a choice": (
        lambda _, s: job(s)["name"].update(anyOf=[{**NAME, "enum": ["a"]}, {"type": "null"}]),
        "Job.name: only some values taken",
    ),
    "a default is another": (
        lambda _, s: job(s)["unit"].update({"x-default": "mm"}), "Job.unit: default 'mm', was 'in'"
    ),
    "a most is lowered": (lambda _, s: job(s)["count"].update(maximum=12), "Job.count: maximum 12, was 16"),
    "a least is raised": (lambda _, s: job(s)["count"].update(minimum=2), "Job.count: minimum 2, was 1"),
    "a bound is new": (
        lambda _, s: job(s)["count"].update(exclusiveMinimum=0), "Job.count: exclusiveMinimum 0, was None"
    ),
    "a list is shortened": (lambda _, s: job(s)["bores"].update(maxItems=4), "Job.bores: maxItems 4, was 8"),
    "an item of a list is narrowed": (
        lambda _, s: job(s)["bores"].update(items={**LENGTH, "maximum": 10.0}), "Job.bores[]: maximum 10.0, was 1000.0"
    ),
    "a text is shortened": (
        lambda _, s: job(s)["name"].update(anyOf=[{**NAME, "maxLength": 8}, {"type": "null"}]),
        "Job.name: maxLength 8, was 60",
    ),
    "a pattern is another": (
        lambda _, s: job(s)["name"].update(anyOf=[{**NAME, "pattern": "^[a-z]$"}, {"type": "null"}]),
        "Job.name: pattern ^[a-z]$, was ^[^\n]+$",
    ),
    "null is no longer taken": (lambda _, s: job(s).update(name=NAME), "Job.name: null no longer taken"),
    "a number must be whole": (
        lambda _, s: s["Dial"]["properties"].update(reading={**LENGTH, "type": "integer"}),
        "Dial.reading: number no longer taken",
    ),
    "a number is text": (
        lambda _, s: job(s).update(count={"type": "string"}), "Job.count: integer no longer taken"
    ),
    "a kind of a union is removed": (
        lambda _, s: job(s)["gauge"]["anyOf"].pop(), "Job.gauge: object kind plug no longer taken"
    ),
    "a kind has another tag": (
        lambda _, s: s["Plug"]["properties"]["kind"].update(const="plug_gauge"),
        "Job.gauge: object kind plug no longer taken",
    ),
    "a quantity is another": (
        lambda _, s: s["Dial"]["properties"].update(reading={**LENGTH, "x-quantity": "angle"}),
        "Dial.reading: x-quantity angle, was length",
    ),
    "a field of the answer is removed": (lambda _, s: sheet(s).pop("note"), "Sheet.note: removed"),
    "a field deep in the answer is removed": (lambda _, s: s["Bore"]["properties"].pop("size"), "Bore.size: removed"),
    "a field of the answer may be null": (
        lambda _, s: s["Bore"]["properties"].update(size={"anyOf": [LENGTH, {"type": "null"}]}),
        "Bore.size: may be null",
    ),
    "a field of the answer may be left out": (
        lambda _, s: s["Sheet"]["required"].remove("note"), "Sheet.note: may be left out"
    ),
    "an answer has a choice more": (
        lambda _, s: sheet(s)["verdict"]["enum"].append("perhaps"), "Sheet.verdict: 'perhaps' may come"
    ),
    "an answer's choice becomes free text": (
        lambda _, s: sheet(s)["verdict"].pop("enum"), "Sheet.verdict: may be any value"
    ),
    "an answer's bound is widened": (
        lambda _, s: s["Bore"]["properties"].update(size={**LENGTH, "minimum": -5.0}),
        "Bore.size: minimum -5.0, was 0.0",
    ),
    "an answer's number is text": (
        lambda _, s: s["Bore"]["properties"].update(size={"type": "string"}), "Bore.size: may be string"
    ),
    "a problem loses a field": (lambda _, s: s["Problem"]["properties"].pop("title"), "Problem.title: removed"),
}  # fmt: skip

HARMLESS: dict[str, Change] = {
    "a path is new": lambda p, _: p.update({"/v1/pins": p["/v1/tables"]}),
    "a refusal is new": lambda p, _: p["/v1/tables"]["get"]["responses"].update({"429": {}}),
    "a field that can be left out is new": lambda _, s: job(s).update(depth=LENGTH),
    "a field need no longer be sent": lambda _, s: s["Job"].update(required=[]),
    "a choice to send is new": lambda _, s: job(s)["unit"]["enum"].append("cm"),
    "a bound of what is sent is wider": lambda _, s: job(s)["count"].update(minimum=0, maximum=32),
    "a bound of what is sent is gone": lambda _, s: job(s)["count"].pop("maximum"),
    "null may be sent": lambda _, s: job(s).update(count={"anyOf": [job(s)["count"], {"type": "null"}]}),
    "a broken number may be sent": lambda _, s: job(s)["count"].update(type="number"),
    "a kind to send is new": lambda _, s: (
        s.update(Tape={"type": "object", "properties": {"kind": {"type": "string", "const": "tape"}}}),
        job(s)["gauge"]["anyOf"].append({"$ref": "#/components/schemas/Tape"}),
    ),
    "a pattern is no longer held to": lambda _, s: job(s)["name"].update(
        anyOf=[{key: value for key, value in NAME.items() if key != "pattern"}, {"type": "null"}]
    ),
    "an answer has a field more": lambda _, s: (sheet(s).update(sum=LENGTH), s["Sheet"]["required"].append("sum")),
    "an answer is never null again": lambda _, s: sheet(s).update(note={"type": "string"}),
    "an answer has a choice less": lambda _, s: sheet(s)["verdict"]["enum"].remove("reject"),
    "words are bettered": lambda _, s: s["Job"].update(description="A job.", title="Job of bores"),
}


@pytest.mark.parametrize("name", BREAKAGES)
def test_a_breakage_is_found_and_said_where(name: str) -> None:
    change, told = BREAKAGES[name]
    assert told in find_breaking(SMALL, changed(change))


@pytest.mark.parametrize("name", HARMLESS)
def test_what_breaks_nobody_is_let_through(name: str) -> None:
    assert find_breaking(SMALL, changed(HARMLESS[name])) == []


def test_a_schema_does_not_break_itself() -> None:
    assert find_breaking(SMALL, SMALL) == []
    assert find_breaking(COMMITTED, COMMITTED) == []


def fields(schema: Any) -> list[str]:
    """Those beside a tag, which tells kinds apart and is looked at as such."""
    return [name for name, field in schema.get("properties", {}).items() if "const" not in field]


def emptied(**removed: list[str]) -> Any:
    """The committed schema without some fields of some components."""
    document = COMMITTED | {
        "components": COMMITTED["components"] | {"schemas": COMMITTED["components"]["schemas"].copy()}
    }
    for name, gone in removed.items():
        schema = document["components"]["schemas"][name]
        left = {field: one for field, one in schema["properties"].items() if field not in gone}
        document["components"]["schemas"][name] = schema | {"properties": left}
    return document


ALL = {name: fields(one) for name, one in COMMITTED["components"]["schemas"].items() if fields(one)}
# what holds no other component, so that nothing is hidden where it is removed
PLAIN = {
    name: [
        field
        for field in names
        if "$ref" not in json.dumps(COMMITTED["components"]["schemas"][name]["properties"][field])
    ]
    for name, names in ALL.items()
}


def test_no_component_is_out_of_sight() -> None:
    told = set(find_breaking(COMMITTED, emptied(**PLAIN)))
    assert {f"{name}.{field}: removed" for name, names in PLAIN.items() for field in names} <= told


@pytest.mark.parametrize("name", [name for name in ALL if not PLAIN[name]])
def test_no_component_that_only_holds_others_is_out_of_sight(name: str) -> None:
    told = set(find_breaking(COMMITTED, emptied(**{name: ALL[name]})))
    assert {f"{name}.{field}: removed" for field in ALL[name]} <= told
