"""What every generated client is held to."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

COMMITTED = Path(__file__).parent.parent.parent / "openapi" / "openapi.json"


@dataclass(frozen=True, slots=True)
class Operation:
    """What a client needs to know of an operation: its name, how it is called, and what goes in and comes out."""

    name: str
    path: str
    method: str
    tag: str
    takes: str | None
    job: Any
    gives: str
    answer: Any


@pytest.fixture(scope="session")
def document() -> Any:
    """The published schema."""
    return json.loads(COMMITTED.read_text())


@pytest.fixture(scope="session")
def operations(document: Any) -> list[Operation]:
    """Every operation of the published schema with its own example, but for lines: no generator knows of them."""
    return [
        operation(path, method, one)
        for path, methods in document["paths"].items()
        for method, one in methods.items()
        if "application/json" in one["responses"]["200"]["content"]
    ]


def operation(path: str, method: str, one: Any) -> Operation:
    """An operation as the schema publishes it."""
    body = one.get("requestBody", {"content": {"application/json": {}}})["content"]["application/json"]
    answer = one["responses"]["200"]["content"]["application/json"]
    return Operation(
        name=one["operationId"],
        path=path,
        method=method,
        tag=one["tags"][0],
        takes=body["schema"]["$ref"].rsplit("/")[-1] if body else None,
        job=body["examples"]["job"]["value"] if body else None,
        gives=answer["schema"]["$ref"].rsplit("/")[-1],
        answer=answer["examples"]["answer"]["value"],
    )
