"""Asking for outstanding parts: jobs in few words, and what is looked up in their answers."""

from __future__ import annotations

from typing import Any

from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job

Client = TestClient[ASGIApp]
PATH = "/v1/outstanding-parts"
TODAY = "2026-03-09"


def job(*parts: Job, **others: Any) -> Job:
    return {"as_of": TODAY, "parts": list(parts)} | others


def part(name: str, **known: Any) -> Job:
    return {"id": name} | known


def step(name: str, *needs: str, days: int = 1, **others: Any) -> Job:
    return {"id": name, "needs": list(needs), "days": days} | others


def ask(client: Client, request: Job) -> Any:
    response = client.post(PATH, json=request)
    assert response.status_code == 200, response.text
    return response.json()


def refused(client: Client, request: Job) -> dict[str, str]:
    response = client.post(PATH, json=request)
    assert response.status_code == 422, response.text
    return {error["pointer"]: error["detail"] for error in response.json()["errors"]}


def noted(answer: Any, code: str) -> list[str]:
    return [note["detail"] for note in answer["notes"] if note["code"] == code]


def column(answer: Any, where: str, name: str) -> list[Any]:
    return [line[name] for line in answer[where]]
