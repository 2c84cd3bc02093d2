"""A reading that may be repeated: a number or a list of numbers, averaged, with its range said."""

from __future__ import annotations

from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp

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
    (averaged,) = told(answer, "repeats_averaged")
    assert averaged[1].index("Spring S2 1.123 in (2 readings, range 0.006 in)") < averaged[1].index("Spring S1")
    assert told(answer, "repeats_disagree") == [
        (
            "/springs/1/coil_bind_height",
            "Spring S2: coil-bind height readings 1.120 in and 1.126 in are more than 0.005 in apart; measure again.",
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
