"""POST /v1/retainer-clearance."""

from __future__ import annotations

from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import whole_job

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


def of(client: Client, *positions: dict[str, Any], **more: Any) -> Any:
    lift = {"valve_lift": 0.488}
    named = [{"id": f"P{place}", "retainer_to_seal": 0.6142} | one for place, one in enumerate(positions, start=1)]
    job = {"valvetrain": {"intake": lift, "exhaust": lift}, "positions": named} | more
    response = client.post(PATH, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def unjudged(answer: Any) -> list[str]:
    return [note["detail"] for note in answer["notes"] if note["code"] == "gaps_not_measured"]


def test_gaps_that_nobody_measured_are_told_as_not_judged(client: Client) -> None:
    intake, exhaust = {"valve": "intake"}, {"valve": "exhaust"}
    both = {"retainer_to_rocker": 0.062, "seal_to_spring": 0.055}
    answer = of(client, intake, exhaust)
    assert answer["verdict"] == "accept"
    assert unjudged(answer) == ["Not measured, so not judged: retainer to rocker; seal to spring."]
    assert unjudged(of(client, intake | both, exhaust | both)) == []
    one_kind = of(client, intake | both, exhaust | {"seal_to_spring": 0.055})
    assert unjudged(one_kind) == ["Not measured, so not judged: retainer to rocker at P2."]
    assert one_kind["open_items"] == []


def test_a_gap_measured_at_some_valves_of_a_kind_is_asked_for_at_the_others(client: Client) -> None:
    answer = of(client, {"valve": "intake", "retainer_to_rocker": 0.062}, {"valve": "intake"}, {"valve": "exhaust"})
    first, second, third = answer["positions"]
    assert (first["verdict"], second["verdict"], third["verdict"]) == ("accept", "not_measured", "accept")
    assert second["retainer_to_rocker_check"]["verdict"] == "not_measured"
    assert [(item["pointer"], item["needed_for"], item["detail"]) for item in answer["open_items"]] == [
        (
            "/positions/1/retainer_to_rocker",
            ["retainer_to_rocker_check"],
            "P2: measure retainer to rocker, as at the other intake valves.",
        )
    ]
    assert unjudged(answer) == ["Not measured, so not judged: retainer to rocker at P3; seal to spring."]


def test_a_gap_with_a_minimum_is_asked_for_and_not_told_as_left_out(client: Client) -> None:
    answer = of(client, {"valve": "intake"}, limits={"retainer_to_rocker_minimum": 0.05})
    assert answer["verdict"] == "not_measured"
    assert unjudged(answer) == ["Not measured, so not judged: seal to spring."]
    assert [item["detail"] for item in answer["open_items"]] == [
        "P1: measure retainer to rocker, or leave its minimum out."
    ]


def test_the_sheet_says_which_gaps_it_did_not_judge(client: Client) -> None:
    job = whole_job()
    assert unjudged(client.post("/v1/head-assembly", json=job).json()) == [
        "Not measured, so not judged: retainer to rocker; seal to spring."
    ]
    job["positions"].append(job["positions"][0] | {"id": "2I", "seal_to_spring": 0.055})
    answer = client.post("/v1/head-assembly", json=job).json()
    assert answer["positions"][0]["seal_to_spring_check"]["verdict"] == "not_measured"
    assert "1I: measure seal to spring, as at the other intake valves." in [
        item["detail"] for item in answer["open_items"]
    ]
