"""Batches as they are published: a line has the schema of one, and what is shown is what is answered."""

from __future__ import annotations

import json
from typing import Any

import pytest
from jsonschema_rs import Draft202012Validator
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.batches import NDJSON, REQUESTS, line, read
from tests.api.jobs import ROOT

from headbench.api.batch import batch
from headbench.api.batch.lines import MOST_LINE_BYTES

DOCUMENT: Any = json.loads((ROOT / "openapi" / "openapi.json").read_text())
OPERATION = DOCUMENT["paths"]["/v1/batch"]["post"]
SENT = OPERATION["requestBody"]["content"]["application/x-ndjson"]
GOT = OPERATION["responses"]["200"]["content"]["application/x-ndjson"]


def is_valid(schema: Any, value: Any) -> bool:
    return Draft202012Validator({**schema, "components": DOCUMENT["components"]}).is_valid(value)


def test_the_line_that_is_shown_is_answered_as_is_shown(client: TestClient[ASGIApp]) -> None:
    shown = SENT["examples"]["job"]["value"]
    answer = client.post("/v1/batch", content=json.dumps(shown) + '\n{"kind": ', headers=NDJSON)
    answered, refused = read(answer.content)
    assert is_valid(SENT["schema"], shown)
    assert answered == GOT["examples"]["answer"]["value"]
    assert refused == GOT["examples"]["refusal"]["value"]


@pytest.mark.parametrize("kind", REQUESTS)
def test_every_kind_is_published_and_answered_as_published(client: TestClient[ASGIApp], kind: str) -> None:
    assert is_valid(SENT["schema"], json.loads(line(kind)))
    assert not is_valid(SENT["schema"], json.loads(line(kind)) | {"kind": "other"})
    (answer,) = read(client.post("/v1/batch", content=line(kind), headers=NDJSON).content)
    assert is_valid(GOT["schema"], answer)
    assert answer["status"] == 200
    assert not is_valid(GOT["schema"], answer | {"status": 400})


def test_what_a_line_needs_and_what_it_has_no_room_for_is_published() -> None:
    request = REQUESTS["valve-mass"]
    assert is_valid(SENT["schema"], {"kind": "valve-mass", "request": request})
    assert is_valid(SENT["schema"], {"kind": "valve-mass", "id": None, "request": request})
    for wrong in ({"kind": "valve-mass"}, {"request": request}, {"kind": "valve-mass", "Id": "J", "request": request}):
        assert not is_valid(SENT["schema"], wrong)
    assert not is_valid(SENT["schema"], {"kind": "valve-mass", "id": "x" * 61, "request": request})


def test_every_refusal_of_a_whole_batch_is_declared_and_shown() -> None:
    assert set(OPERATION["responses"]) == {"200", "400", "401", "405", "408", "413", "415", "429", "500", "503"}
    for status, response in OPERATION["responses"].items():
        if status == "200":
            continue
        component = DOCUMENT["components"]["responses"][response["$ref"].rsplit("/")[-1]]
        for shown in component["content"]["application/problem+json"]["examples"].values():
            assert is_valid({"$ref": "#/components/schemas/Problem"}, shown["value"])
            assert shown["value"]["status"] == int(status)


def test_the_bounds_it_names_are_those_it_keeps() -> None:
    told = OPERATION["description"]
    assert f"{MOST_LINE_BYTES:,} bytes" in told
    assert told.count(f"{batch.IDLE_SECONDS:.0f} s") == 2
    assert f"{batch.MOST_DROPPED_BYTES / 1e6:.0f} MB" in told
