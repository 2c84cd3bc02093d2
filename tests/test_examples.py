"""The worked examples that callers check themselves against."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp

SHARED = Path(__file__).parent.parent / "shared"
EXAMPLES = sorted((SHARED / "examples").glob("*.json"))


def at(answer: Any, pointer: str) -> Any:
    for part in pointer.removeprefix("/").split("/"):
        answer = answer[int(part)] if isinstance(answer, list) else answer[part]
    return answer


def test_there_are_examples() -> None:
    assert EXAMPLES


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_a_worked_example_is_answered_as_worked(client: TestClient[ASGIApp], path: Path) -> None:
    example = json.loads(path.read_text())
    assert example["what"]
    assert example["source"]
    assert example["working"]
    response = client.post(example["path"], json=example["request"])
    assert response.status_code == 200, response.text
    for pointer, value in example["expected"].items():
        found = at(response.json(), pointer)
        assert found == (pytest.approx(value, rel=1e-8) if isinstance(value, float) else value), pointer


@pytest.mark.parametrize("path", sorted((SHARED / "demo").glob("*.json")), ids=lambda path: path.stem)
def test_a_demo_job_is_answered(client: TestClient[ASGIApp], path: Path) -> None:
    assert client.post("/v1/head-assembly", json=json.loads(path.read_text())).status_code == 200
