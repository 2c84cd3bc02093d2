"""Head assembly: what is said about odd jobs, and what never counts as good."""

from __future__ import annotations

from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job, whole_job

Client = TestClient[ASGIApp]
PATH = "/v1/head-assembly"


def sheet(client: Client, job: Job) -> Any:
    response = client.post(PATH, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def codes(answer: Any) -> list[str]:
    return [note["code"] for note in answer["notes"]]


@pytest.mark.parametrize(("height", "lift"), [(1.75, 0.63), (1.73, 0.61), (1.70, 0.58)])
def test_coils_that_just_touch_are_rejected_whatever_the_limit(client: Client, height: float, lift: float) -> None:
    job = whole_job()
    job["limits"]["coil_bind_clearance_minimum"] = 0
    job["valvetrain"]["intake"] = {"valve_lift": lift}
    job["targets"]["intake"] = {"installed_height": height, "open_load": 150}
    job["positions"][0] |= {"measured_height": height + 0.09, "retainer_to_seal": 0.8}
    answer = sheet(client, job)
    assert answer["positions"][0]["coil_bind_clearance_check"]["verdict"] == answer["verdict"] == "reject"
    assert answer["positions"][0]["open_load"] is None


def test_springs_that_push_nothing_are_rejected(client: Client) -> None:
    job = whole_job()
    job["springs"][0]["load_curve"]["readings"] = [{"height": 1.6, "load": 20}, {"height": 1.2, "load": 100}]
    job["targets"]["intake"] = {"installed_height": 1.75}
    answer = sheet(client, job)
    assert answer["positions"][0]["seat_load"] == 0.0
    assert answer["verdict"] == "reject"
    assert "spring_loose" in codes(answer)


def test_a_load_far_outside_the_readings_is_given_but_not_accepted(client: Client) -> None:
    # read only 0.01 in apart; the open height lies half an inch away
    job = whole_job()
    job["springs"][0]["load_curve"]["readings"] = [{"height": 1.76, "load": 114.06}, {"height": 1.75, "load": 117}]
    job["targets"]["intake"]["open_load"] = 260
    answer = sheet(client, job)
    assert answer["positions"][0]["open_load_check"]["verdict"] == answer["verdict"] == "not_measured"
    item = answer["open_items"][-1]
    assert (item["pointer"], item["needed_for"]) == ("/springs/0/load_curve/readings", ["open_load_check"])


def test_a_spring_solid_by_its_dimensions_is_noted_against_the_press(client: Client) -> None:
    # hand arithmetic: 7.5 coils of 0.177 in wire, squared and ground, are solid at 1.3275; open height is 1.2635
    job = whole_job()
    job["springs"][0]["load_curve"] = {
        "kind": "dimensioned",
        "wire": {"kind": "round", "diameter": 0.177},
        "shape": {"kind": "cylinder", "mean_diameter": 1.2},
        "ends": "squared_and_ground",
        "total_coils": 7.5,
        "free_height": 2.1,
        "shear_modulus": 11.5e6,
        "shear_modulus_source": "handbook",
    }
    answer = sheet(client, job)
    assert {"coil_bind_by_dimensions", "known_by_dimensions"} <= set(codes(answer))
    told = {note["code"]: note["detail"] for note in answer["notes"]}
    assert told["coil_bind_by_dimensions"].endswith("; measure its coil-bind height again.")
    assert answer["positions"][0]["open_load"] is None


def test_coils_that_touch_with_the_valve_shut_reject_before_the_lift_is_known(client: Client) -> None:
    job = whole_job()
    del job["valvetrain"]
    job["targets"]["intake"] = {"installed_height": 1.1, "seat_load": 308}
    job["positions"][0] |= {"measured_height": 1.19, "retainer_to_seal": 0.02}
    answer = sheet(client, job)
    position = answer["positions"][0]
    assert position["seat_load"] is None
    assert position["coil_bind_clearance_check"]["verdict"] == "reject"
    assert position["retainer_to_seal_clearance_check"]["verdict"] == "reject"
    assert {"coils_touch", "seal_too_near"} <= set(codes(answer))


def test_a_lift_longer_than_the_spring_is_rejected(client: Client) -> None:
    job = whole_job()
    job["valvetrain"]["intake"] = {"valve_lift": 2.5}
    job["positions"][0]["retainer_to_seal"] = 3.0
    del job["springs"][0]["coil_bind_height"]
    answer = sheet(client, job)
    assert answer["positions"][0]["open_load"] is None
    assert answer["verdict"] == "reject"


@pytest.mark.parametrize("load", [5000, 310])
def test_a_seat_load_the_springs_cannot_push_is_an_open_item(client: Client, load: float) -> None:
    # 310 lbf is reached at 1.0935 in only, below the coil-bind height of 1.12 in
    job = whole_job()
    job["targets"]["intake"] = {"seat_load": load}
    answer = sheet(client, job)
    assert answer["positions"][0]["installed_height"] is None
    assert answer["verdict"] == "not_measured"
    assert "/targets/intake/seat_load" in {item["pointer"] for item in answer["open_items"]}


def test_what_waits_for_a_spring_depends_on_what_is_aimed_at(client: Client) -> None:
    job = whole_job()
    job["targets"] = {"intake": {"seat_load": 118}, "exhaust": {"installed_height": 1.75}}
    job["springs"] = [{"id": "I"}, {"id": "E"}]
    job["positions"] = [
        {"id": "1I", "valve": "intake", "spring": "I"},
        {"id": "1E", "valve": "exhaust", "spring": "E"},
    ]
    held = {item["pointer"]: item["needed_for"] for item in sheet(client, job)["open_items"]}
    assert "installed_height" in held["/springs/0/load_curve"]
    waiting = held["/springs/1/load_curve"]
    assert {"figured_seat_load", "seat_load", "seat_load_check", "open_load", "open_load_check"} <= set(waiting)
    assert "installed_height" not in waiting


def test_a_reading_a_hair_outside_is_no_note(client: Client) -> None:
    job = whole_job()
    job["positions"][0]["measured_height"] = 1.87004
    assert "beyond_readings" not in codes(sheet(client, job))


def test_a_refusal_stays_short_however_many_springs_there_are(client: Client) -> None:
    job = {
        "springs": [{"id": f"{place:060d}"} for place in range(128)],
        "positions": [{"id": f"{place}", "valve": "intake", "spring": "none"} for place in range(128)],
    }
    assert len(client.post(PATH, json=job).content) < 150_000


def test_a_spring_that_lost_too_much_against_its_rating_is_rejected_where_the_job_asks_for_it(client: Client) -> None:
    # hand arithmetic: 117 lbf read where 200 lbf are printed is a loss of 41.5 %
    job = whole_job()
    job["springs"][0]["rating"] = {"height": 1.75, "load": 200, "rate": 290, "load_tolerance": 2}
    assert sheet(client, job)["positions"][0]["load_loss_check"]["verdict"] == "borderline"
    job["limits"]["off_target"] = "reject"
    answer = sheet(client, job)
    position = answer["positions"][0]
    assert position["load_loss_check"]["value"] == pytest.approx(41.5)
    assert (
        position["load_loss_check"]["verdict"]
        == position["rated_load_check"]["verdict"]
        == answer["verdict"]
        == "reject"
    )


def test_a_rating_no_reading_is_near_is_an_open_item(client: Client) -> None:
    job = whole_job()
    job["springs"][0]["rating"] = {"height": 2.2, "load": 20, "rate": 290}
    answer = sheet(client, job)
    assert answer["positions"][0]["load_loss_check"]["verdict"] == answer["verdict"] == "not_measured"
    assert "/springs/0/load_curve" in {item["pointer"] for item in answer["open_items"]}


def test_a_deduction_that_was_not_said_is_none_and_noted(client: Client) -> None:
    job = whole_job()
    del job["positions"][0]["deduction"]
    answer = sheet(client, job)
    assert (answer["positions"][0]["deduction"], answer["positions"][0]["bare_height"]) == (0.0, 1.871)
    assert "deduction_assumed" in codes(answer)
    job["positions"][0]["deduction"] = 0.0
    assert "deduction_assumed" not in codes(sheet(client, job))
