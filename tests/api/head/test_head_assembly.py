"""POST /v1/head-assembly: the main job as a caller sees it."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import DEMO, Job, whole_job

Client = TestClient[ASGIApp]
PATH = "/v1/head-assembly"


def sheet(client: Client, job: Job) -> Any:
    response = client.post(PATH, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def errors(client: Client, job: Job) -> dict[str, str]:
    response = client.post(PATH, json=job)
    assert response.status_code == 422, response.text
    return {error["pointer"]: error["detail"] for error in response.json()["errors"]}


def test_a_whole_position_is_answered_as_worked_on_paper(client: Client) -> None:
    # hand arithmetic: bare 1.871 - 0.090, needed 0.031 -> one 0.030; a line of
    # 294 lbf/in through 117 lbf at 1.75; lift 0.325*1.5; see tests/calc/test_head_assembly.py for each step
    answer = sheet(client, whole_job())
    position = answer["positions"][0]
    assert position["bare_height"] == 1.781
    assert position["deduction"] == 0.09
    assert position["shims"] == [0.03]
    assert position["installed_height"] == 1.751
    assert position["seat_load"] == 116.706
    assert position["open_height"] == 1.2635
    assert position["open_load"] == 260.031
    assert position["coil_bind_clearance_check"] == {
        "value": 0.1435, "limit": 0.06, "rule": "at_least", "to_spare": 0.0835, "check_class": "damage",
        "counts_toward_verdict": True, "verdict": "accept",
    }  # fmt: skip
    assert position["retainer_to_seal_clearance_check"]["value"] == 0.1145
    assert position["moving_mass"] == 158.8
    assert position["verdict"] == answer["verdict"] == "accept"
    assert answer["open_items"] == []
    assert answer["shim_totals"] == [
        {"thickness": 0.015, "count": 0}, {"thickness": 0.03, "count": 1}, {"thickness": 0.06, "count": 0},
    ]  # fmt: skip


def test_needed_0_045_is_laid_as_0_030_and_0_015(client: Client) -> None:
    # common practice, no source
    job = whole_job()
    job["positions"][0]["measured_height"] = 1.885
    position = sheet(client, job)["positions"][0]
    assert (position["shim_needed"], position["shims"], position["installed_height"]) == (0.045, [0.03, 0.015], 1.75)


@pytest.mark.parametrize(
    ("path", "open_at", "waits"),
    [
        ("positions/0/measured_height", "/positions/0/measured_height", "coil_bind_clearance_check"),
        ("positions/0/retainer_to_seal", "/positions/0/retainer_to_seal", "retainer_to_seal_clearance_check"),
        ("positions/0/spring", "/positions/0/spring", "coil_bind_clearance_check"),
        ("springs/0/coil_bind_height", "/springs/0/coil_bind_height", "coil_bind_clearance_check"),
        ("springs/0/load_curve", "/springs/0/load_curve", "seat_load"),
        ("targets/intake", "/targets/intake/installed_height", "installed_height"),
        ("valvetrain/intake", "/valvetrain/intake/valve_lift", "open_height"),
        ("valvetrain/intake/rocker_ratio", "/valvetrain/intake/rocker_ratio", "open_height"),
    ],
)
def test_a_missing_reading_is_an_open_item_and_never_good(client: Client, path: str, open_at: str, waits: str) -> None:
    job = whole_job()
    *parents, last = path.split("/")
    holder: Any = job
    for parent in parents:
        holder = holder[int(parent) if parent.isdigit() else parent]
    del holder[last]
    answer = sheet(client, job)
    items = {item["pointer"]: item for item in answer["open_items"]}
    assert open_at in items
    assert waits in items[open_at]["needed_for"]
    assert answer["verdict"] == "not_measured"
    held = answer["positions"][0][waits]
    assert held is None or held["verdict"] == "not_measured"


def test_a_part_that_was_not_weighed_is_an_open_item(client: Client) -> None:
    job = whole_job()
    del job["positions"][0]["masses"]["locks"]
    answer = sheet(client, job)
    assert [item["pointer"] for item in answer["open_items"]] == ["/positions/0/masses/locks"]
    assert answer["positions"][0]["moving_mass"] is None


def test_a_head_with_nothing_measured_is_all_open_items(client: Client) -> None:
    answer = sheet(client, {"positions": [{"id": "1I", "valve": "intake"}]})
    assert answer["verdict"] == "not_measured"
    assert len(answer["open_items"]) == 6


def test_the_worst_position_decides_its_bank_and_the_pair(client: Client) -> None:
    job = whole_job()
    bad = deepcopy(job["positions"][0]) | {"id": "2I", "retainer_to_seal": 0.500, "bank": "starboard"}
    job["positions"][0]["bank"] = "port"
    job["positions"].append(bad)
    answer = sheet(client, job)
    assert {bank["bank"]: bank["verdict"] for bank in answer["banks"]} == {"port": "accept", "starboard": "reject"}
    assert answer["verdict"] == "reject"


def test_a_short_position_gets_no_shim_and_is_told_what_can_be_done(client: Client) -> None:
    job = whole_job()
    job["positions"][0]["measured_height"] = 1.830
    del job["targets"]["intake"]["seat_load"], job["limits"]["seat_load_tolerance"]
    answer = sheet(client, job)
    position = answer["positions"][0]
    assert (position["shims"], position["short_by"], position["verdict"]) == ([], 0.01, "borderline")
    assert position["decided_by"] == ["installed_height_check"]
    job["limits"]["off_target"] = "reject"
    assert sheet(client, job)["verdict"] == "reject"
    note = next(note for note in answer["notes"] if note["code"] == "short_of_height")
    assert note["pointer"] == "/positions/0/measured_height"
    for way in ("spring seat", "locks", "retainer", "longer valve"):
        assert way in note["detail"]


def test_a_load_outside_the_readings_is_marked_with_how_far(client: Client) -> None:
    job = whole_job()
    # installed at 1.751, read at 1.73 and 1.25
    job["springs"][0]["load_curve"]["readings"][0] = {"height": 1.73, "load": 122.88}
    answer = sheet(client, job)
    position = answer["positions"][0]
    assert (position["seat_load_beyond_readings"], position["open_load_beyond_readings"]) == (0.021, 0.0)
    assert any(note["code"] == "beyond_readings" and "0.021 in" in note["detail"] for note in answer["notes"])


def test_the_solid_height_of_each_spring_is_its_own(client: Client) -> None:
    job = whole_job()
    job["springs"].append(deepcopy(job["springs"][0]) | {"id": "S2", "coil_bind_height": 1.15})
    job["positions"].append(deepcopy(job["positions"][0]) | {"id": "2I", "spring": "S2"})
    answer = sheet(client, job)
    values = [position["coil_bind_clearance_check"]["value"] for position in answer["positions"]]
    assert values == [0.1435, 0.1135]  # 0.030 in apart, as their coil-bind heights are
    spread = answer["spreads"]["intake"]["coil_bind_clearance"]
    assert (spread["smallest"], spread["smallest_at"], spread["spread"]) == (0.1135, "2I", 0.03)


def test_an_odd_but_possible_height_is_computed_and_noted(client: Client) -> None:
    job = whole_job()
    job["positions"][0]["measured_height"] = 6.0
    answer = sheet(client, job)
    assert answer["positions"][0]["bare_height"] == 5.91
    assert "unusual_reading" in {note["code"] for note in answer["notes"]}


def test_stock_is_shared_over_the_whole_set_and_a_size_that_runs_out_is_noted(client: Client) -> None:
    job = whole_job()
    job["shims"]["in_stock"] = [0, 1, 0]
    job["positions"].append(deepcopy(job["positions"][0]) | {"id": "2I"})
    answer = sheet(client, job)
    assert [position["shims"] for position in answer["positions"]] == [[0.03], []]
    assert [note["pointer"] for note in answer["notes"] if note["code"] == "shims_ran_out"] == ["/shims/in_stock"]


def test_springs_tested_together_count_once(client: Client) -> None:
    job = whole_job()
    spring = job["springs"][0]
    spring["nested"] = [{"seat_rise": 0.05, "coil_bind_height": 1.0}]
    assert sheet(client, job)["positions"][0]["seat_load"] is None
    spring["tested_together"] = True
    position = sheet(client, job)["positions"][0]
    assert position["seat_load"] == 116.706
    assert position["coil_bind_clearance_check"]["value"] == 0.1435  # inner: 1.2635 - 0.05 - 1.0 = 0.2135


def test_a_load_known_by_its_rating_is_given_but_stays_open(client: Client) -> None:
    job = whole_job()
    job["springs"][0]["load_curve"] = {"kind": "rated", "height": 1.75, "load": 118, "rate": 294}
    answer = sheet(client, job)
    position = answer["positions"][0]
    assert position["seat_load"] == pytest.approx(117.706, abs=1e-9)
    assert position["seat_load_check"]["verdict"] == answer["verdict"] == "not_measured"
    assert "/springs/0/load_curve" in {item["pointer"] for item in answer["open_items"]}


def test_thirty_two_positions_of_a_pair_are_answered_in_their_order(client: Client) -> None:
    job = deepcopy(DEMO)
    more = [deepcopy(position) | {"id": position["id"] + "b"} for position in job["positions"]]
    job["positions"] += more
    answer = sheet(client, job)
    assert [position["id"] for position in answer["positions"]] == [position["id"] for position in job["positions"]]
    assert [len(bank["positions"]) for bank in answer["banks"]] == [16, 16]


def test_every_contradiction_is_named_at_once_in_words(client: Client) -> None:
    job = whole_job()
    job["shims"] = {"thicknesses": [0.015, 0.015], "in_stock": [3]}
    job["valvetrain"]["exhaust"] = {"valve_lift": 0.5, "lobe_lift": 0.3}
    job["targets"]["intake"]["open_load"] = 100
    job["springs"][0]["load_curve"]["readings"] = [
        {"height": 1.75, "load": 117}, {"height": 1.25, "load": 264}, {"height": 1.20, "load": 251},
    ]  # fmt: skip
    job["springs"].append({"id": "S1"})
    job["positions"].append({"id": "1I", "valve": "intake", "spring": "S9", "measured_height": 0.05, "deduction": 0.09})
    found = errors(client, job)
    assert set(found) == {
        "/shims/thicknesses/1",
        "/shims/in_stock",
        "/valvetrain/exhaust/valve_lift",
        "/targets/intake/open_load",
        "/springs/0/load_curve/readings/2",
        "/springs/1/id",
        "/positions/1/id",
        "/positions/1/deduction",
        "/positions/1/spring",
    }
    assert found["/springs/0/load_curve/readings/2"] == (
        "spring S1: readings 2 and 3: load falls from 264 to 251 lbf as the spring is compressed from "
        "1.250 to 1.200 in; check both"
    )
    assert found["/positions/1/spring"] == '1I: no spring "S9" in this job; it has: S1'


def test_a_reading_below_solid_contradicts_the_coil_bind_height(client: Client) -> None:
    job = whole_job()
    job["springs"][0]["coil_bind_height"] = 1.30
    assert set(errors(client, job)) == {"/springs/0/load_curve/readings/1/height"}


def test_a_refusal_computes_nothing(client: Client) -> None:
    job = whole_job()
    job["positions"].append({"id": "1I", "valve": "intake"})
    answer = client.post(PATH, json=job).json()
    assert set(answer) == {"type", "title", "status", "detail", "errors"}


def test_without_a_target_height_the_shims_aim_at_the_seat_load_of_each_spring(client: Client) -> None:
    # hand arithmetic: lines of 294 lbf/in through 117 and 111 lbf at 1.75 in push 118 lbf at 1.75 - 1/294 = 1.746599
    # and 1.75 - 7/294 = 1.726190 in; the bare 1.781 then needs 0.0344 -> 0.030 and 0.0548 -> 0.060
    job = whole_job()
    del job["targets"]["intake"]["installed_height"]
    weak = deepcopy(job["springs"][0]) | {"id": "S2"}
    weak["load_curve"]["readings"] = [{"height": 1.75, "load": 111}, {"height": 1.25, "load": 258}]
    job["springs"].append(weak)
    job["positions"].append(deepcopy(job["positions"][0]) | {"id": "2I", "spring": "S2"})
    positions = sheet(client, job)["positions"]
    assert [p["target_height"] for p in positions] == pytest.approx([1.746598639, 1.726190476], abs=1e-9)
    assert [p["shims"] for p in positions] == [[0.03], [0.06]]
    assert [p["seat_load"] for p in positions] == pytest.approx([116.706, 119.526], abs=1e-9)


def test_a_seat_load_to_aim_at_waits_for_the_springs_curve(client: Client) -> None:
    job = whole_job()
    del job["targets"]["intake"]["installed_height"]
    del job["springs"][0]["load_curve"]
    answer = sheet(client, job)
    assert answer["positions"][0]["installed_height"] is None
    held = {item["pointer"]: item["needed_for"] for item in answer["open_items"]}
    assert "installed_height" in held["/springs/0/load_curve"]


def test_readings_are_corrected_by_the_testers_known_loads(client: Client) -> None:
    # hand arithmetic: it shows 2 % too much, so 116.706 lbf is 116.706/1.02 = 114.417647
    job = whole_job() | {"tester": {"calibration": [{"applied": 100, "indicated": 102}]}}
    assert sheet(client, job)["positions"][0]["seat_load"] == pytest.approx(114.417647, abs=1e-6)


def test_a_damper_moves_like_a_spring(client: Client) -> None:
    # hand arithmetic: 104.5 + 19.8 + 5.1 + (88.2 + 9.0)/3 = 161.8 g
    job = whole_job()
    job["springs"][0]["damper_mass"] = 9.0
    assert sheet(client, job)["positions"][0]["moving_mass"] == 161.8


def test_a_dimensioned_spring_gives_loads_that_stay_unproven(client: Client) -> None:
    # Shigley's Mechanical Engineering Design, 9th ed. (2011), Eq. 10-9: G d^4/(8 D^3 N_a) with d 0.162, D 1.1, N_a 4.5
    # in and G 11.5 Mpsi is 165.3 lbf/in; free at 2.1 in, so 165.3 * (2.1 - 1.751) at the seat
    job = whole_job()
    job["springs"][0]["load_curve"] = {
        "kind": "dimensioned",
        "wire": {"kind": "round", "diameter": 0.162},
        "shape": {"kind": "cylinder", "mean_diameter": 1.1},
        "ends": "squared_and_ground",
        "total_coils": 6.5,
        "free_height": 2.1,
        "shear_modulus": 11.5e6,
        "shear_modulus_source": "handbook",
    }
    answer = sheet(client, job)
    rate = 11.5e6 * 0.162**4 / (8 * 1.1**3 * 4.5)
    position = answer["positions"][0]
    assert position["seat_load"] == pytest.approx(rate * (2.1 - 1.751), rel=1e-9)
    assert position["seat_load_check"]["verdict"] in {"not_measured", "reject"}
    assert "/springs/0/load_curve" in {item["pointer"] for item in answer["open_items"]}
