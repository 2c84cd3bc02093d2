"""POST /v1/retainer-clearance."""

from __future__ import annotations

from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp

Client = TestClient[ASGIApp]
PATH = "/v1/retainer-clearance"


def ask(client: Client, **gaps: float | None) -> Any:
    lift = {"valvetrain": {"intake": {"valve_lift": 0.630}}}
    response = client.post(PATH, json=lift | {"positions": [{"id": "1I", "valve": "intake"} | gaps]})
    assert response.status_code == 200, response.text
    return response.json()


def test_0_700_shut_and_0_630_of_lift_leave_0_070(client: Client) -> None:
    # common practice, no source
    answer = ask(client, retainer_to_seal=0.700)
    assert answer["positions"][0]["retainer_to_seal_clearance_check"]["value"] == 0.07
    assert answer["verdict"] == "accept"


@pytest.mark.parametrize("gap", ["retainer_to_rocker", "seal_to_spring"])
def test_a_gap_that_was_looked_at_counts_and_one_that_was_not_does_not(client: Client, gap: str) -> None:
    # from memory: 0.050 in
    answer = ask(client, retainer_to_seal=0.700, **{gap: 0.049})
    assert answer["positions"][0][f"{gap}_check"]["verdict"] == answer["verdict"] == "reject"
    assert ask(client, retainer_to_seal=0.700)["positions"][0][f"{gap}_check"] is None


def test_a_retainer_that_meets_the_seal_is_rejected(client: Client) -> None:
    answer = ask(client, retainer_to_seal=0.600)
    assert answer["positions"][0]["retainer_to_seal_clearance_check"]["value"] == -0.03
    assert answer["verdict"] == "reject"


def test_a_distance_not_measured_is_open(client: Client) -> None:
    answer = ask(client)
    assert answer["verdict"] == "not_measured"
    assert [item["pointer"] for item in answer["open_items"]] == ["/positions/0/retainer_to_seal"]
