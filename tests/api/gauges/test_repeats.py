"""A reading that may be repeated: a number or a list of numbers, averaged, with its range said."""

from __future__ import annotations

from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import TABLE, float_job, whole_job

Client = TestClient[ASGIApp]


def ask(client: Client, *coil_bind_height: Any, length: str = "in") -> Any:
    size = 25.4 if length == "mm" else 1.0
    springs = [{"id": f"S{place}", "coil_bind_height": read} for place, read in enumerate(coil_bind_height, start=1)]
    return client.post(
        "/v1/coil-bind",
        json={
            "units": {"length": length},
            "valvetrain": {"intake": {"valve_lift": 0.5 * size}},
            "springs": springs,
            "positions": [
                {"id": f"{place}I", "valve": "intake", "installed_height": 1.75 * size, "spring": spring["id"]}
                for place, spring in enumerate(springs, start=1)
            ],
        },
    )


def told(answer: Any, code: str) -> list[tuple[str, str]]:
    return [(note["pointer"], note["detail"]) for note in answer["notes"] if note["code"] == code]


def test_a_coil_bind_height_read_three_times_counts_with_its_mean(client: Client) -> None:
    answer = ask(client, [1.120, 1.123, 1.123]).json()
    # by hand: mean 3.366/3 = 1.122; 1.750 - 0.500 - 1.122
    assert answer["positions"][0]["coil_bind_clearance_check"]["value"] == pytest.approx(0.128, abs=1e-9)
    assert told(answer, "repeats_averaged") == [
        (
            "/springs/0/coil_bind_height",
            "Coil-bind height averaged: Spring S1 1.122 in (3 readings, range 0.003 in).",
        )
    ]
    assert told(answer, "repeats_disagree") == []


def test_repeats_in_millimeters_are_averaged_as_those_in_inches(client: Client) -> None:
    answer = ask(client, [28.448, 28.524], length="mm").json()
    # by hand: mean 28.486; 44.45 - 12.7 - 28.486
    assert answer["positions"][0]["coil_bind_clearance_check"]["value"] == pytest.approx(3.264, abs=1e-9)


def test_repeats_too_far_apart_are_to_be_read_again(client: Client) -> None:
    # 0.005 in is what repeats may differ by: common practice, no source
    answer = ask(client, [1.120, 1.125], [1.120, 1.126]).json()
    # those that disagree are not averaged: the worst of them is what breaks parts
    (averaged,) = told(answer, "repeats_averaged")
    assert averaged[1] == "Coil-bind height averaged: Spring S1 1.1225 in (2 readings, range 0.005 in)."
    assert told(answer, "repeats_disagree") == [
        (
            "/springs/1/coil_bind_height",
            (
                "Spring S2: coil-bind height readings 1.120 in and 1.126 in are more than 0.005 in apart; the tallest "
                "is used and not accepted. Measure again."
            ),
        )
    ]


def test_one_reading_in_a_list_is_one_reading(client: Client) -> None:
    alone, listed = ask(client, 1.12).json(), ask(client, [1.12]).json()
    assert listed == alone


@pytest.mark.parametrize(
    ("reading", "pointer"),
    [
        ([], "/springs/0/coil_bind_height"),
        ([1.1] * 11, "/springs/0/coil_bind_height"),
        ([1.12, "1.13"], "/springs/0/coil_bind_height/1"),
        ([1.12, None], "/springs/0/coil_bind_height/1"),
    ],
)
def test_a_list_that_is_no_list_of_readings_is_refused_at_its_place(client: Client, reading: Any, pointer: str) -> None:
    response = ask(client, reading)
    assert response.status_code == 400
    assert [error["pointer"] for error in response.json()["errors"]] == [pointer]


def test_readings_below_the_mean_coil_bind_height_are_told_of(client: Client) -> None:
    # by hand: the mean of 1.10 and 1.14 is 1.12; the spring was read at 1.11
    readings = [{"height": 1.75, "load": 117}, {"height": 1.11, "load": 300}]
    spring = {"id": "S1", "load_curve": {"kind": "bench", "readings": readings}, "coil_bind_height": [1.10, 1.14]}
    response = client.post("/v1/spring-load", json={"springs": [spring], "heights": [1.75]})
    assert response.status_code == 422
    assert [error["pointer"] for error in response.json()["errors"]] == ["/springs/0/load_curve/readings/1/height"]


@pytest.mark.parametrize(("readings", "verdict"), [([1.10, 1.20], "reject"), ([1.10, 1.12], "not_measured")])
@pytest.mark.parametrize("place", ["outer", "inner"])
def test_repeats_that_disagree_are_judged_by_the_tallest_and_never_accepted(
    client: Client, readings: list[float], verdict: str, place: str
) -> None:
    # by hand: 1.250 open less 1.200 leaves 0.050, under the 0.060 from memory; less 1.120 leaves 0.130
    one: dict[str, Any] = {"coil_bind_height": readings}
    spring = one if place == "outer" else {"coil_bind_height": 1.0, "nested": [one]}
    job = {
        "valvetrain": {"intake": {"valve_lift": 0.5}},
        "springs": [{"id": "S1"} | spring],
        "positions": [{"id": "1", "valve": "intake", "spring": "S1", "installed_height": 1.75}],
    }
    answer = client.post("/v1/coil-bind", json=job).json()
    check = answer["positions"][0]["coil_bind_clearance_check"]
    assert check["value"] == pytest.approx(1.25 - max(readings), abs=1e-9)
    assert check["verdict"] == answer["verdict"] == verdict
    pointer = "/springs/0/coil_bind_height" if place == "outer" else "/springs/0/nested/0/coil_bind_height"
    (item,) = answer["open_items"]
    assert item["pointer"] == pointer
    assert "press it again" in item["detail"]


def test_coil_bind_repeats_that_disagree_hold_the_sheet_and_float_back(client: Client) -> None:
    job = whole_job()
    job["springs"][0]["coil_bind_height"] = [1.05, 1.12]
    answer = client.post("/v1/head-assembly", json=job).json()
    check = answer["positions"][0]["coil_bind_clearance_check"]
    # the sheet clears 0.060 by far with a single reading of 1.120
    assert check["verdict"] == "not_measured"
    assert check["value"] == pytest.approx(answer["positions"][0]["open_height"] - 1.12, abs=1e-9)
    assert ("/springs/0/coil_bind_height", "Spring S1: its coil-bind readings disagree; press it again.") in [
        (item["pointer"], item["detail"]) for item in answer["open_items"]
    ]
    floats = float_job(TABLE, intended_speed=4000)
    floats["springs"][0]["coil_bind_height"] = 1.12
    assert client.post("/v1/valve-float", json=floats).json()["verdict"] == "accept"
    floats["springs"][0]["coil_bind_height"] = [1.05, 1.12]
    answer = client.post("/v1/valve-float", json=floats).json()
    assert answer["verdict"] == "not_measured"
    assert "/springs/0/coil_bind_height" in [item["pointer"] for item in answer["open_items"]]
