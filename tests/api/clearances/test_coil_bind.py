"""POST /v1/coil-bind."""

from __future__ import annotations

from typing import Any

from litestar.testing import TestClient
from litestar.types import ASGIApp

Client = TestClient[ASGIApp]
PATH = "/v1/coil-bind"


def ask(client: Client, springs: list[dict[str, Any]], height: float | None = 1.751, **more: Any) -> Any:
    positions = [
        {"id": f"{place}I", "valve": "intake", "installed_height": height, "spring": spring["id"]}
        for place, spring in enumerate(springs, start=1)
    ]
    lift = {"valvetrain": {"intake": {"lobe_lift": 0.325, "rocker_ratio": 1.5}}}
    response = client.post(PATH, json=lift | {"springs": springs, "positions": positions} | more)
    assert response.status_code == 200, response.text
    return response.json()


def test_the_smallest_of_a_set_is_named(client: Client) -> None:
    # hand arithmetic: open height 1.751 - 0.4875 = 1.2635, less each spring's own coil-bind height
    springs = [{"id": f"S{place}", "coil_bind_height": solid} for place, solid in enumerate((1.12, 1.15, 1.13))]
    answer = ask(client, springs)
    assert [p["coil_bind_clearance_check"]["value"] for p in answer["positions"]] == [0.1435, 0.1135, 0.1335]
    spread = answer["coil_bind_clearance_spread"]
    assert (spread["smallest"], spread["smallest_at"], spread["spread"]) == (0.1135, "2I", 0.03)


def test_the_inner_spring_counts_with_its_own_height(client: Client) -> None:
    # hand arithmetic: the inner one stands 0.060 shorter: 1.2635 - 0.060 - 1.160 = 0.0435
    spring = {"id": "S1", "coil_bind_height": 1.12, "nested": [{"seat_rise": 0.060, "coil_bind_height": 1.16}]}
    position = ask(client, [spring])["positions"][0]
    assert position["coil_bind_clearance_check"]["value"] == 0.0435
    assert (position["tightest_spring"], position["verdict"]) == ("inner", "reject")


def test_an_inner_spring_not_read_holds_the_verdict_back(client: Client) -> None:
    answer = ask(client, [{"id": "S1", "coil_bind_height": 1.12, "nested": [{}]}])
    assert answer["verdict"] == "not_measured"
    assert [item["pointer"] for item in answer["open_items"]] == ["/springs/0/nested/0/coil_bind_height"]


def test_coils_that_touch_before_full_lift_are_said_so(client: Client) -> None:
    answer = ask(client, [{"id": "S1", "coil_bind_height": 1.28}])
    note = next(note for note in answer["notes"] if note["code"] == "coils_touch")
    assert "0.0165 in before full lift" in note["detail"]
    assert answer["verdict"] == "reject"


def test_a_height_not_known_leaves_every_spring_open(client: Client) -> None:
    answer = ask(client, [{"id": "S1", "coil_bind_height": 1.12}], height=None)
    assert answer["positions"][0]["open_height"] is None
    assert [item["pointer"] for item in answer["open_items"]] == ["/positions/0/installed_height"]


def test_a_spring_that_is_not_there_is_refused(client: Client) -> None:
    job = {"positions": [{"id": "1I", "valve": "intake", "spring": "S9"}]}
    response = client.post(PATH, json=job)
    assert response.status_code == 422
    assert response.json()["errors"] == [
        {"pointer": "/positions/0/spring", "detail": '1I: no spring "S9" in this job; it has: none at all'}
    ]
