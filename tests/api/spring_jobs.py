"""Springs that tests of more than one room ask about, and how they ask."""

from __future__ import annotations

from typing import Any

from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job

Client = TestClient[ASGIApp]
PATH = "/v1/spring-load"
BENCH: Job = {"kind": "bench", "readings": [{"height": 1.75, "load": 117}, {"height": 1.25, "load": 264}]}


def answer(client: Client, job: Job) -> Any:
    response = client.post(PATH, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def line(client: Client, curve: Job, **more: Any) -> Any:
    spring = {"id": "S1", "load_curve": curve} | more.pop("spring", {})
    return answer(client, {"springs": [spring]} | more)["springs"][0]


def errors(client: Client, curve: Job, **more: Any) -> dict[str, str]:
    spring = {"id": "S1", "load_curve": curve} | more.pop("spring", {})
    response = client.post(PATH, json={"springs": [spring]} | more)
    assert response.status_code == 422, response.text
    return {error["pointer"].removeprefix("/springs/0"): error["detail"] for error in response.json()["errors"]}


def coils(**changes: Any) -> Job:
    """Music wire 0.037 in, OD 7/16 in, 12.5 squared coils.

    Shigley's Mechanical Engineering Design, 9th ed. (2011), Example 10-1 (from memory).
    """
    curve: Job = {
        "kind": "dimensioned",
        "wire": {"kind": "round", "diameter": 0.037},
        "shape": {"kind": "cylinder", "mean_diameter": 0.400},
        "ends": "squared",
        "total_coils": 12.5,
        "free_height": 2.06,
        "shear_modulus": 11.85e6,
        "shear_modulus_source": "textbook table",
        "material": "music_wire",
    }
    return curve | changes
