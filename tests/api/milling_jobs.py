"""Milling jobs in millimeters, and what is asked of them."""

from __future__ import annotations

from typing import Any

from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job

Client = TestClient[ASGIApp]
PATH = "/v1/milling"


def ask(client: Client, job: Job, path: str = PATH) -> Any:
    response = client.post(path, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def errors(client: Client, job: Job) -> dict[str, str]:
    response = client.post(PATH, json=job)
    assert response.status_code == 422, response.text
    return {error["pointer"]: error["detail"] for error in response.json()["errors"]}


def details(answer: Any) -> dict[str, str]:
    return {note["code"]: note["detail"] for note in answer["notes"]}


def flat(depth: float, **more: Any) -> Job:
    return {"units": {"length": "mm"}, "cut": {"kind": "flat", "depth": depth}, **more}
