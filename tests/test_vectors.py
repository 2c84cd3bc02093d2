"""The vectors that callers check themselves against hold for the service."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.vectors import FOLDER, VECTORS, Vector

from headbench.api.app import RESOURCES

Client = TestClient[ASGIApp]


def answered(client: Client, vector: Vector) -> Any:
    """What the service answers to the request as it stands in the file."""
    body = json.dumps(vector.request).encode()
    response = client.post(f"/v1/{vector.kind}", content=body, headers={"Content-Type": "application/json"})
    assert response.status_code == 200, response.text
    return response.json()


@pytest.mark.parametrize("vector", VECTORS, ids=lambda one: f"{one.kind}-{one.name}")
def test_a_vector_is_answered_as_expected(client: Client, vector: Vector) -> None:
    assert vector.what
    assert vector.source
    assert vector.working
    assert vector.answer
    assert vector.faults(answered(client, vector)) == []


def test_all_vectors_in_one_batch_are_answered_as_expected(client: Client) -> None:
    lines = [json.dumps({"kind": one.kind, "id": one.name, "request": one.request}) for one in VECTORS]
    response = client.post("/v1/batch", content="\n".join(lines), headers={"Content-Type": "application/x-ndjson"})
    answers = [json.loads(line) for line in response.text.splitlines()]
    assert [one["id"] for one in answers] == [one.name for one in VECTORS]
    assert [vector.faults(one["answer"]) for vector, one in zip(VECTORS, answers, strict=True)] == [[]] * len(VECTORS)


def test_every_resource_has_a_vector() -> None:
    assert {one.kind for one in VECTORS} == {resource.kind for resource in RESOURCES}


def test_every_file_of_the_folder_is_a_vector_or_its_page() -> None:
    others = {path.name for path in FOLDER.rglob("*") if path.is_file()} - {f"{one.name}.json" for one in VECTORS}
    assert others == {"README.md"}


@pytest.mark.parametrize("expected", [1.0001, 2, None, "1", True, [1.0], [], {}])
def test_a_value_that_is_another_is_a_fault(expected: Any) -> None:
    vector = replace(VECTORS[0], tolerance={"relative": 1e-5, "absolute": 0.0}, answer={"/a": expected})
    assert vector.faults({"a": 1.0}) != []


@pytest.mark.parametrize(
    ("found", "expected", "within"),
    [
        (1.00001, 1.0, {"relative": 1e-4, "absolute": 0.0}),
        (0.00001, 0.0, {"relative": 1e-4, "absolute": 1e-4}),
        (3.0, 3, {"relative": 0.0, "absolute": 0.0}),
        ([1.0, 2.0], [1, 2], {"relative": 0.0, "absolute": 0.0}),
        ([], [], {"relative": 0.0, "absolute": 0.0}),
        (None, None, {"relative": 0.0, "absolute": 0.0}),
        ("reject", "reject", {"relative": 0.0, "absolute": 0.0}),
    ],
)
def test_a_value_within_the_tolerance_is_as_expected(found: Any, expected: Any, within: dict[str, float]) -> None:
    assert replace(VECTORS[0], tolerance=within, answer={"/a": expected}).faults({"a": found}) == []
