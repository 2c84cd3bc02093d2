"""Drives: what moves between lobe and valve, what is asked of it, and what a drive does not have."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import TABLE, Job, float_job

Client = TestClient[ASGIApp]
PATH = "/v1/valve-float"


def ask(client: Client, request: Job) -> Any:
    response = client.post(PATH, json=request)
    assert response.status_code == 200, response.text
    return response.json()


def reserves(answer: Any) -> list[str]:
    return [line["valve_float"]["float_reserve_check"]["verdict"] for line in answer["positions"]]


def driven_job(**masses: Any) -> Job:
    """Two intake valves behind rockers of 1.5, one with its own rocker, pushrod and lifter, the other as given."""
    whole = {
        "rocker": {"kind": "inertia", "inertia": 67.5, "valve_arm": 1.5},
        "pushrod": 45.0,
        "lifter": 90.0,
    }
    request = float_job(TABLE, intended_speed=3000)
    request["valvetrain"]["intake"] |= {"drive": None, "lifter_mass": None, "rocker_ratio": 1.5}
    one = request["positions"][0]
    request["positions"] = [deepcopy(one), deepcopy(one) | {"id": "2I"}]
    request["positions"][0]["masses"] |= whole
    request["positions"][1]["masses"] |= {name: whole[name] for name in masses} | {
        name: value for name, value in masses.items() if value is not None
    }
    return request


def test_a_train_that_is_not_weighed_never_accepts(client: Client) -> None:
    request = float_job(TABLE, intended_speed=3000)
    assert reserves(ask(client, request)) == ["accept"]
    request["valvetrain"]["intake"] = {"valve_lift": 0.49, "motion": deepcopy(TABLE)}
    # nothing said of the drive, then the ratio, then the drive: more truth never makes it worse
    for more, open_ in (
        ({}, ["drive"]),
        ({"rocker_ratio": 1.5}, ["drive"]),
        ({"drive": "rocker_and_pushrod"}, ["rocker", "pushrod_mass", "lifter_mass"]),
        ({"pushrod_mass": 0.0}, ["rocker", "lifter_mass"]),
    ):
        request["valvetrain"]["intake"] |= more
        answer = ask(client, request)
        assert reserves(answer) == ["not_measured"]
        assert [item["pointer"] for item in answer["open_items"]] == [f"/valvetrain/intake/{part}" for part in open_]
    assert reserves(ask(client, request | {"intended_speed": 9000})) == ["reject"]


def test_one_position_of_several_without_its_own_parts_is_named(client: Client) -> None:
    answer = ask(client, driven_job(rocker=None, pushrod=None))
    assert reserves(answer) == ["accept", "not_measured"]
    assert [(item["pointer"], item["position"]) for item in answer["open_items"]] == [
        ("/positions/1/masses/lifter", "2I")
    ]
    partly = next(note for note in answer["notes"] if note["code"] == "train_partly_counted")
    assert "lifter at 2I." in partly["detail"]


def test_a_part_that_does_not_exist_is_said_to_weigh_nothing(client: Client) -> None:
    answer = ask(client, driven_job(rocker=None, pushrod=0.0, lifter=0.0))
    assert reserves(answer) == ["accept", "accept"]
    assert answer["open_items"] == []


@pytest.mark.parametrize(
    ("drive", "asked", "weighed", "grams"),
    [
        # by hand: a bucket moves whole with the valve; a finger of 90 g is an even bar about its end, a third of it
        ("bucket", "lifter_mass", {"lifter_mass": 60.0}, 60.0),
        ("finger", "rocker", {"rocker": {"kind": "weight", "mass": 90.0}}, 30.0),
        ("finger", "rocker", {"rocker": {"kind": "scale", "tip": 45.0, "tail": 45.0}}, 45.0),
    ],
)
def test_an_overhead_cam_is_asked_for_what_it_has_and_no_more(
    client: Client, drive: str, asked: str, weighed: Job, grams: float
) -> None:
    request = float_job(TABLE | {"side": "valve"}, intended_speed=3000)
    request["valvetrain"]["intake"] = {"drive": drive, "motion": request["valvetrain"]["intake"]["motion"]}
    answer = ask(client, request)
    assert [item["pointer"] for item in answer["open_items"]] == [f"/valvetrain/intake/{asked}"]
    assert ("bucket" if drive == "bucket" else "finger") in answer["open_items"][0]["detail"]
    request["valvetrain"]["intake"] |= weighed
    answer = ask(client, request)
    assert reserves(answer) == ["accept"]
    assert answer["open_items"] == []
    assert answer["positions"][0]["moving_mass"] == pytest.approx(155.0 + grams, rel=1e-9)


def test_a_bucket_needs_no_ratio(client: Client) -> None:
    # the cam's lift is the valve's
    request = float_job(TABLE | {"side": "lobe"}, intended_speed=3000)
    request["valvetrain"]["intake"] = {"drive": "bucket", "lifter_mass": 60.0, "lobe_lift": 0.49, "lash": 0.01} | {
        "motion": request["valvetrain"]["intake"]["motion"]
    }
    answer = ask(client, request)
    assert answer["open_items"] == []
    assert answer["lobes"]["intake"]["at_valve"]["peak_lift"] == pytest.approx(0.48, abs=1e-4)


@pytest.mark.parametrize(
    ("train", "own", "pointer"),
    [
        ({"drive": "bucket", "rocker_ratio": 1.5}, {}, "/valvetrain/intake/rocker_ratio"),
        ({"drive": "bucket", "pushrod_mass": 45.0}, {}, "/valvetrain/intake/pushrod_mass"),
        ({"drive": "bucket"}, {"rocker": {"kind": "weight", "mass": 90.0}}, "/positions/0/masses/rocker"),
        ({"drive": "finger", "lifter_mass": 60.0}, {}, "/valvetrain/intake/lifter_mass"),
        ({"drive": "finger"}, {"pushrod": 45.0}, "/positions/0/masses/pushrod"),
    ],
)
@pytest.mark.parametrize("path", [PATH, "/v1/valve-mass", "/v1/head-assembly"])
def test_a_part_that_a_drive_does_not_have_is_refused(
    client: Client, path: str, train: Job, own: Job, pointer: str
) -> None:
    job = {"valvetrain": {"intake": train}, "positions": [{"id": "1I", "valve": "intake", "masses": own}]}
    response = client.post(path, json=job)
    assert response.status_code == 422, response.text
    assert [error["pointer"] for error in response.json()["errors"]] == [pointer]


def test_a_missing_ratio_is_asked_for_once_with_all_that_waits_for_it(client: Client) -> None:
    # the lift, the motion and the masses wait for it
    request = float_job(TABLE | {"side": "lobe"}, intended_speed=3000)
    request["valvetrain"]["intake"] = {
        "drive": "rocker_and_pushrod", "lobe_lift": 0.49, "motion": request["valvetrain"]["intake"]["motion"],
        "pushrod_mass": 45.0, "lifter_mass": 90.0, "rocker": {"kind": "weight", "mass": 90.0},
    }  # fmt: skip
    asked = [item for item in ask(client, request)["open_items"] if item["pointer"].endswith("rocker_ratio")]
    assert [item["needed_for"] for item in asked] == [["valve_float", "moving_mass"]]
    job = request | {"targets": {"intake": {"installed_height": 1.75}}}
    position = {name: value for name, value in request["positions"][0].items() if name != "installed_height"}
    sheet = client.post("/v1/head-assembly", json=job | {"positions": [position]}).json()
    asked = [item for item in sheet["open_items"] if item["pointer"].endswith("rocker_ratio")]
    assert len(asked) == 1
    assert {"open_load", "coil_bind_clearance_check", "moving_mass", "valve_float"} <= set(asked[0]["needed_for"])
