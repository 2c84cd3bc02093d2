"""Cylinders that tests of more than one room ask the compression ratio about, and how they ask."""

from __future__ import annotations

from typing import Any

from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job

Client = TestClient[ASGIApp]
PATH = "/v1/compression-ratio"


def ask(client: Client, job: Job) -> Any:
    response = client.post(PATH, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def errors(client: Client, job: Job) -> dict[str, str]:
    response = client.post(PATH, json=job)
    assert response.status_code == 422, response.text
    return {error["pointer"]: error["detail"] for error in response.json()["errors"]}


def plain(bore: float, stroke: float, chamber: float) -> Job:
    """A bare cylinder in millimeters: no gasket to speak of, crown level with the deck."""
    return {
        "units": {"length": "mm", "volume": "cm3"},
        "cylinder": {
            "bore": bore,
            "stroke": stroke,
            "deck_clearance": 0.0,
            "gasket": {"compressed_thickness": 0.0, "gasket_bore": bore},
        },
        "chambers": [{"id": "1", "chamber_volume": chamber}],
    }
