"""Ways out asked for, of the example of its own: 1E stands at its height, 3E is 0.035 in short of it."""

from __future__ import annotations

from typing import Any

from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job, example

Client = TestClient[ASGIApp]
PATH = "/v1/ways-out"


def job(**others: Any) -> Job:
    """The example, with something else in it."""
    return example("ways-out") | others


def with_reading(position: int, **readings: Any) -> Job:
    request = job()
    request["positions"][position] |= readings
    return request


def ask(client: Client, request: Job) -> Any:
    response = client.post(PATH, json=request)
    assert response.status_code == 200, response.text
    return response.json()


def group(client: Client, request: Job) -> Any:
    (only,) = ask(client, request)["groups"]
    return only


def refused(client: Client, request: Job) -> list[tuple[str, str]]:
    response = client.post(PATH, json=request)
    assert response.status_code == 422, response.text
    return [(error["pointer"], error["detail"]) for error in response.json()["errors"]]


def noted(answer: Any, code: str) -> list[str]:
    return [note["detail"] for note in answer["notes"] if note["code"] == code]


def held(answer: Any) -> dict[str, str]:
    return {item["pointer"]: item["detail"] for item in answer["open_items"]}


def ids(found: Any) -> list[str]:
    return [way["id"] for way in found["ways"]]
