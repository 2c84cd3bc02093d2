"""Null says the same as leaving out, in every field that may be left out, of every request."""

from __future__ import annotations

import json
from copy import deepcopy
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from litestar.testing import TestClient
from litestar.types import ASGIApp

from headbench.api.app import RESOURCES

Client = TestClient[ASGIApp]
EXAMPLES = {resource.path: resource.example for resource in RESOURCES}


@pytest.fixture(scope="module")
def document(client: Client) -> Any:
    return client.get("/openapi.json").json()


def optional(document: Any, schema: Any, value: Any) -> list[tuple[dict[str, Any], str]]:
    """Every field that the published schema demands nowhere in a value, said or not, as the object and the name."""
    if isinstance(value, list):
        items = next(kind["items"] for kind in [schema, *schema.get("anyOf", [])] if "items" in kind)
        return [place for item in value for place in optional(document, items, item)]
    if not isinstance(value, dict):
        return []
    schema = struct_of(document, schema, value)
    own = [(value, name) for name in schema["properties"] if name not in schema["required"]]
    inner = [optional(document, schema["properties"][name], member) for name, member in value.items()]
    return own + [place for places in inner for place in places]


def struct_of(document: Any, schema: Any, value: dict[str, Any]) -> Any:
    """The schema of an object, under references and a choice of kinds."""
    if "$ref" in schema:
        return document["components"]["schemas"][schema["$ref"].rsplit("/")[-1]]
    if "discriminator" in schema:
        tag = schema["discriminator"]["propertyName"]
        return struct_of(document, {"$ref": schema["discriminator"]["mapping"][value[tag]]}, value)
    (kind,) = (kind for kind in schema["anyOf"] if "$ref" in kind or "anyOf" in kind)
    return struct_of(document, kind, value)


@pytest.mark.parametrize("path", EXAMPLES)
@given(data=st.data())
@settings(max_examples=12)
def test_null_in_fields_that_may_be_left_out_answers_as_if_they_were(
    client: Client, document: Any, path: str, data: st.DataObject
) -> None:
    body = document["paths"][path]["post"]["requestBody"]["content"]["application/json"]["schema"]
    with_nulls, without = deepcopy(EXAMPLES[path]), deepcopy(EXAMPLES[path])
    both = list(zip(optional(document, body, with_nulls), optional(document, body, without), strict=True))
    for place in data.draw(st.lists(st.integers(0, len(both) - 1), min_size=1, max_size=20)):
        (nulled, name), (bare, _) = both[place]
        nulled[name] = None
        bare.pop(name, None)
    headers = {"Content-Type": "application/json"}
    answers = [client.post(path, content=json.dumps(job), headers=headers) for job in (with_nulls, without)]
    assert answers[0].status_code in {200, 422}, answers[0].text
    assert (answers[0].status_code, answers[0].json()) == (answers[1].status_code, answers[1].json())


def test_the_law_reaches_objects_lists_and_plain_fields_of_every_depth(document: Any) -> None:
    body = {"$ref": "#/components/schemas/HeadAssemblyRequest"}
    job = {"units": {}, "springs": [{"id": "S1", "load_curve": {"kind": "bench", "readings": []}}], "positions": []}
    found = {name for _, name in optional(document, body, job)}
    assert {"units", "limits", "springs", "length", "damper_mass", "nested", "load_curve", "second_run", "fit"} <= found
