"""Lifts that no valve has: told first, and never the ground of an accepted clearance."""

from __future__ import annotations

from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import TABLE, Job, float_job, whole_job

Client = TestClient[ASGIApp]


def post(client: Client, path: str, job: Job) -> Any:
    response = client.post(path, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def odd(answer: Any) -> list[tuple[str, str]]:
    return [(one["pointer"], one["detail"]) for one in answer["notes"] if one["code"] == "unusual_reading"]


def again(answer: Any) -> list[str]:
    return [item["pointer"] for item in answer["open_items"] if "lift again" in item["detail"]]


def bind(lift: Job, own: float | None = None) -> Job:
    position = {"id": "1I", "valve": "intake", "spring": "S1", "installed_height": 1.75}
    return {
        "valvetrain": {"intake": lift},
        "springs": [{"id": "S1", "coil_bind_height": 1.12}],
        "positions": [position if own is None else position | {"valve_lift": own}],
    }


SEAL = {"positions": [{"id": "1I", "valve": "intake", "retainer_to_seal": 0.6}]}


# 0.1 to 1.2 in are the usual lifts: common practice, no source; 0.055 in is 0.55 in with its point slipped
@pytest.mark.parametrize(
    ("lift", "own", "pointer"),
    [
        ({"valve_lift": 0.055}, None, "/valvetrain/intake/valve_lift"),
        ({"lobe_lift": 0.0325, "rocker_ratio": 1.5}, None, "/valvetrain/intake/lobe_lift"),
        ({"valve_lift": 0.5}, 0.055, "/positions/0/valve_lift"),
    ],
)
@pytest.mark.parametrize("path", ["/v1/coil-bind", "/v1/retainer-clearance"])
def test_a_slipped_lift_is_told_first_and_accepts_nothing(
    client: Client, path: str, lift: Job, own: float | None, pointer: str
) -> None:
    job = bind(lift, own)
    if path == "/v1/retainer-clearance":
        job = {
            "valvetrain": {"intake": lift},
            "positions": [SEAL["positions"][0] | ({"valve_lift": own} if own else {})],
        }
    answer = post(client, path, job)
    assert answer["verdict"] == "not_measured"
    assert answer["notes"][1]["pointer"] == pointer
    assert "usual 0.100 in to 1.200 in" in odd(answer)[0][1]
    assert again(answer) == [pointer]


@pytest.mark.parametrize(("lift", "told"), [(0.55, 0), (0.11, 0), (0.098, 1), (1.25, 1)])
def test_a_lift_that_is_only_odd_is_told_and_judged(client: Client, lift: float, told: int) -> None:
    job = (
        {"valvetrain": {"intake": {"valve_lift": lift}}}
        | SEAL
        | {"limits": {"retainer_to_seal_clearance_minimum": 0.04}}
    )
    answer = post(client, "/v1/retainer-clearance", job)
    assert answer["verdict"] == ("accept" if lift < 0.56 else "reject")
    assert len(odd(answer)) == told
    assert again(answer) == []


@pytest.mark.parametrize("lift", [0.055, 5.5])
def test_nothing_is_judged_or_mended_by_a_slipped_lift(client: Client, lift: float) -> None:
    # 1.750 - 0.055 - 1.690 = 0.005 in and 1.750 - 5.5 - 1.690 < 0 would both miss the 0.060 in that is the least
    job = bind({"valve_lift": lift})
    job["springs"][0]["coil_bind_height"] = 1.69
    answer = post(client, "/v1/coil-bind", job)
    line = answer["positions"][0]
    assert (line["verdict"], line["open_height"]) == ("not_measured", None)
    assert line["valve_lift"] == lift
    assert {note["code"] for note in answer["notes"]} == {"plain_comparison", "unusual_reading"}


def test_a_closed_valve_that_leaves_too_little_is_rejected_whatever_its_lift(client: Client) -> None:
    # 1.750 - 1.700 = 0.050 in with the valve closed, 0.060 in is the least
    job = bind({"valve_lift": 0.055})
    job["springs"][0]["coil_bind_height"] = 1.70
    assert post(client, "/v1/coil-bind", job)["verdict"] == "reject"


def test_the_sheet_and_float_accept_nothing_on_a_slipped_lift(client: Client) -> None:
    job = whole_job()
    job["valvetrain"]["intake"] = {"valve_lift": 0.055}
    answer = post(client, "/v1/head-assembly", job)
    line = answer["positions"][0]
    assert [line[f"{check}_check"]["verdict"] for check in ("coil_bind_clearance", "retainer_to_seal_clearance")] == [
        "not_measured",
        "not_measured",
    ]
    assert answer["notes"][1]["pointer"] == again(answer)[0] == "/valvetrain/intake/valve_lift"
    job = float_job(TABLE | {"readings": [one | {"lift": one["lift"] / 10} for one in TABLE["readings"]]})
    job["valvetrain"]["intake"]["valve_lift"] = 0.049
    answer = post(client, "/v1/valve-float", job)
    assert answer["verdict"] == "not_measured"
    assert again(answer) == ["/valvetrain/intake/valve_lift"]
    assert odd(answer)[0][0] == "/valvetrain/intake/valve_lift"


def test_spring_load_tells_an_odd_lift_too(client: Client) -> None:
    curve = {"kind": "rated", "height": 1.75, "load": 117, "rate": 294}
    working = {"installed_height": 1.75, "valve_lift": 0.055}
    answer = post(
        client, "/v1/spring-load", {"springs": [{"id": "S", "load_curve": curve}], "working_heights": working}
    )
    assert [pointer for pointer, _ in odd(answer)] == ["/working_heights/valve_lift"]
