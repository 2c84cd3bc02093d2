"""Float on the assembly sheet: POST /v1/head-assembly with an intended speed."""

from __future__ import annotations

import math
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job, lobe_readings, whole_job

Client = TestClient[ASGIApp]
PATH = "/v1/head-assembly"
INCH, POUND = 0.0254, 4.4482216152605


def floating_job(speed: float | None = 4000) -> Job:
    """The whole position of whole_job, its lobe read on the cam's side and everything weighed.

    By hand: 158.8 g at the valve, 67.5/1.5^2 = 30 g of rocker and (45 + 90)/1.5^2 = 60 g beyond it, 248.8 g.
    """
    job = whole_job() | {"intended_speed": speed, "limits": {"surge_ratio_minimum": 11}}
    rocker = {"kind": "inertia", "inertia": 67.5, "valve_arm": 1.5}
    job["valvetrain"]["intake"] |= {"rocker": rocker, "pushrod_mass": 45.0, "lifter_mass": 90.0}
    job["valvetrain"]["intake"]["motion"] = {
        "kind": "table", "side": "lobe", "shaft": "cam", "readings": lobe_readings(0.325), "lift_uncertainty": 0.00003,
    }  # fmt: skip
    return job


def sheet(client: Client, job: Job) -> Any:
    response = client.post(PATH, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def test_a_whole_position_floats_as_worked_on_paper(client: Client) -> None:
    # hand arithmetic on tests/api/test_head_assembly.py: 260.031 lbf at full lift, 248.8 g; the lobe's nose is slowed
    # down by 8 lift/width^2 (0.325 (1 - x^2)^4 over 72 degrees, read to a tenth of a thou), the valve's 1.5 times as
    # much; surge 1/2 sqrt(294 lbf/in over 88.2 g) against 33.3 turns of the cam a second
    answer = sheet(client, floating_job())
    one = answer["positions"][0]["valve_float"]
    nose = 8.0 * 0.4875 * INCH / math.radians(72.0) ** 2
    speed = 2.0 * math.sqrt(260.031 * POUND / (0.2488 * nose)) * 30.0 / math.pi
    assert one["float_speed"] == pytest.approx(speed, rel=5e-3)
    assert one["float_reserve"] == pytest.approx(100.0 * (one["float_speed"] / 4000.0 - 1.0), rel=1e-9)
    assert one["moving_mass_allowed"] == pytest.approx(248.8 * (one["float_speed"] / 4000.0) ** 2, rel=1e-9)
    hertz = 0.5 * math.sqrt(294.0 * POUND / INCH / 0.0882)
    assert one["surge_ratio"] == pytest.approx(hertz * 60.0 / 2000.0, rel=1e-9)
    assert one["verdict"] == answer["positions"][0]["verdict"] == answer["verdict"] == "accept"
    assert answer["open_items"] == []
    assert "rigid_train" in {note["code"] for note in answer["notes"]}


@pytest.mark.parametrize(
    ("speed", "limits", "missed"),
    [
        (7500, {}, "float_reserve_check"),
        (4000, {"surge_ratio_minimum": 13}, "surge_ratio_check"),
        (4000, {"float_reserve_minimum": 90}, "float_reserve_check"),
    ],
)
def test_float_and_surge_join_the_verdict(client: Client, speed: float, limits: Job, missed: str) -> None:
    answer = sheet(client, floating_job(speed) | {"limits": limits})
    one = answer["positions"][0]["valve_float"]
    assert one[missed]["verdict"] == one["verdict"] == answer["verdict"] == "reject"
    assert answer["positions"][0]["coil_bind_clearance_check"]["verdict"] == "accept"


@pytest.mark.parametrize("limits", [{"float_reserve_minimum": 10}, {"intake": {"surge_ratio_minimum": 7}}])
def test_a_limit_that_is_named_without_a_speed_is_never_accepted(client: Client, limits: Job) -> None:
    answer = sheet(client, floating_job(None) | {"limits": limits})
    assert [item["pointer"] for item in answer["open_items"]] == ["/intended_speed"]
    assert answer["positions"][0]["verdict"] == answer["verdict"] == "not_measured"


def test_a_position_with_a_lift_of_its_own_floats_at_that(client: Client) -> None:
    # by hand: 0.470 of 0.4875 in brakes by as much less, and opens 0.0175 in less far: 294 * 0.0175 = 5.145 lbf less of
    # 260.031
    plain, own = floating_job(), floating_job()
    own["positions"][0]["valve_lift"] = 0.470
    speeds = [sheet(client, job)["positions"][0]["valve_float"]["float_speed"] for job in (plain, own)]
    ratio = math.sqrt((260.031 - 5.145) / 260.031 * 0.4875 / 0.470)
    assert speeds[1] / speeds[0] == pytest.approx(ratio, rel=1e-3)


def test_without_a_speed_nothing_changes(client: Client) -> None:
    job = floating_job(None) | {"limits": {}}
    with_motion = sheet(client, job)
    del job["valvetrain"]["intake"]["motion"]
    plain = sheet(client, job)
    assert with_motion == plain
    assert plain["positions"][0]["valve_float"] is None


@pytest.mark.parametrize(
    ("taken_away", "pointer"),
    [
        ("valvetrain/intake/motion", "/valvetrain/intake/motion"),
        ("valvetrain/intake/rocker_ratio", "/valvetrain/intake/rocker_ratio"),
        ("springs/0/mass", "/springs/0/mass"),
        ("springs/0/load_curve", "/springs/0/load_curve"),
        ("positions/0/masses/valve", "/positions/0/masses/valve"),
        ("positions/0/measured_height", "/positions/0/measured_height"),
        ("positions/0/spring", "/positions/0/spring"),
        ("targets/intake", "/targets/intake/installed_height"),
    ],
)
def test_what_float_waits_for_holds_the_head_back(client: Client, taken_away: str, pointer: str) -> None:
    job = floating_job()
    *parents, last = taken_away.split("/")
    holder: Any = job
    for parent in parents:
        holder = holder[int(parent) if parent.isdigit() else parent]
    del holder[last]
    answer = sheet(client, job)
    held = {item["pointer"]: item["needed_for"] for item in answer["open_items"]}
    assert "valve_float" in held[pointer]
    assert answer["positions"][0]["valve_float"]["verdict"] == answer["verdict"] == "not_measured"


def test_a_lift_that_nobody_stated_is_the_measured_lobes_peak(client: Client) -> None:
    # hand arithmetic: 0.325 * 1.5
    job = floating_job()
    del job["valvetrain"]["intake"]["lobe_lift"]
    answer = sheet(client, job)
    assert answer["positions"][0]["valve_lift"] == pytest.approx(0.4875, abs=1e-4)
    assert answer["open_items"] == []


def test_a_stand_in_never_makes_a_head_good(client: Client) -> None:
    job = floating_job()
    job["valvetrain"]["intake"]["motion"] = {
        "kind": "textbook", "profile": "polynomial_345", "shaft": "crank", "rise": 140, "fall": 140,
    }  # fmt: skip
    answer = sheet(client, job)
    assert answer["positions"][0]["valve_float"]["float_speed"] is not None
    assert answer["verdict"] == "not_measured"


def test_springs_tested_together_wait_to_be_read_alone_only_where_a_speed_is_meant(client: Client) -> None:
    for speed, waits in ((4000, True), (None, False)):
        job = floating_job(speed) | {"limits": {}}
        job["springs"][0] |= {
            "nested": [{"seat_rise": 0.05, "coil_bind_height": 1.0, "mass": 30.0}],
            "tested_together": True,
        }
        pointers = {item["pointer"] for item in sheet(client, job)["open_items"]}
        assert ("/springs/0/tested_together" in pointers) == waits


def test_a_lift_table_that_cannot_be_true_is_refused_with_the_rest(client: Client) -> None:
    job = floating_job()
    job["valvetrain"]["intake"]["motion"]["readings"][3]["angle"] = -90
    job["positions"].append({"id": "1I", "valve": "intake"})
    response = client.post(PATH, json=job)
    assert response.status_code == 422
    assert {error["pointer"] for error in response.json()["errors"]} == {
        "/valvetrain/intake/motion/readings/3/angle",
        "/positions/1/id",
    }


def test_the_moving_mass_takes_in_what_moves_beyond_the_rocker(client: Client) -> None:
    # hand arithmetic: 158.8 g, 30 g and (45 + 90)/1.5^2 = 60 g
    position = sheet(client, floating_job())["positions"][0]
    assert position["moving_mass"] == pytest.approx(248.8, rel=1e-9)
    assert position["valve_float"]["moving_mass_by_part"]["lifter"] == 40.0


def test_masses_are_corrected_by_the_scales_known_weights(client: Client) -> None:
    # hand arithmetic: it shows 1 % too much, so 158.8/1.01 and 60/1.01; a moment of inertia does not come off it
    job = floating_job() | {"scale": {"calibration": [{"applied": 100, "indicated": 101}]}}
    assert sheet(client, job)["positions"][0]["moving_mass"] == pytest.approx(218.8 / 1.01 + 30.0, rel=1e-9)


def test_a_ratio_that_masses_wait_for_is_an_open_item(client: Client) -> None:
    job = floating_job()
    job["valvetrain"]["intake"] = {"valve_lift": 0.4875, "lifter_mass": 90.0}
    items = {item["pointer"]: item["needed_for"] for item in sheet(client, job)["open_items"]}
    assert items["/valvetrain/intake/rocker_ratio"] == ["moving_mass", "valve_float"]


@pytest.mark.parametrize(
    ("part", "pointer"), [("rocker", "rocker"), ("pushrod_mass", "pushrod_mass"), ("lifter_mass", "lifter_mass")]
)
def test_a_part_that_moves_and_is_not_weighed_holds_the_head_back(client: Client, part: str, pointer: str) -> None:
    job = floating_job()
    del job["valvetrain"]["intake"][part]
    answer = sheet(client, job)
    assert (
        answer["positions"][0]["valve_float"]["float_reserve_check"]["verdict"] == answer["verdict"] == "not_measured"
    )
    assert [item["pointer"] for item in answer["open_items"]] == [f"/valvetrain/intake/{pointer}"]
    # what floats too early without the part floats earlier with it
    assert sheet(client, job | {"intended_speed": 7500})["verdict"] == "reject"


def test_a_reserve_on_the_sheet_keeps_its_distance_from_the_scatter_of_the_lobes_readings(client: Client) -> None:
    # by hand: at a speed that leaves the limit of 10 % to a ten-thousandth, less than the scatter of any table
    speed = sheet(client, floating_job())["positions"][0]["valve_float"]["float_speed"]
    answer = sheet(client, floating_job(speed / 1.1001) | {"limits": {"surge_ratio_minimum": 1}})
    one = answer["positions"][0]["valve_float"]
    assert 0.0 < one["float_reserve_check"]["to_spare"] < 1.65 * 100.0 * one["float_speed_uncertainty"] * 1.1 / speed
    assert one["float_reserve_check"]["verdict"] == answer["verdict"] == "borderline"
    assert "guard_band" in {note["code"] for note in answer["notes"]}
