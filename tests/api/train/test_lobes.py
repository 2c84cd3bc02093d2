"""Lobes: how motions are given, and what is made of them at the valve."""

from __future__ import annotations

import math
from copy import deepcopy
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import STAND_IN, TABLE, Job, float_job, lobe_readings

Client = TestClient[ASGIApp]


PATH = "/v1/valve-float"


def ask(client: Client, request: Job) -> Any:
    response = client.post(PATH, json=request)
    assert response.status_code == 200, response.text
    return response.json()


def found(client: Client, request: Job) -> Any:
    return ask(client, request)["positions"][0]["valve_float"]


def errors(client: Client, request: Job) -> dict[str, str]:
    response = client.post(PATH, json=request)
    assert response.status_code == 422, response.text
    return {error["pointer"]: error["detail"] for error in response.json()["errors"]}


def codes(answer: Any) -> list[str]:
    return [note["code"] for note in answer["notes"]]


def test_crank_degrees_are_twice_the_cams(client: Client) -> None:
    crank = deepcopy(TABLE) | {"shaft": "crank"}
    for reading in crank["readings"]:
        reading["angle"] *= 2
    assert found(client, float_job(crank)) == found(client, float_job(TABLE))
    law = STAND_IN | {"shaft": "cam", "rise": 70, "fall": 70}
    assert found(client, float_job(law)) == found(client, float_job())


def test_a_lobe_read_on_the_cams_side_goes_over_rocker_and_lash(client: Client) -> None:
    # by hand: every lift is 1.4 times the lobe's, and so is what a gauge at the valve would have shown
    at_lobe = deepcopy(TABLE) | {"side": "lobe", "readings": lobe_readings(0.35)}
    at_valve = deepcopy(TABLE) | {"lift_uncertainty": 0.00003 * 1.4}
    at_valve["readings"] = [{"angle": r["angle"], "lift": 1.4 * r["lift"]} for r in at_lobe["readings"]]
    request = float_job(at_lobe)
    request["valvetrain"]["intake"] = {"lobe_lift": 0.35, "rocker_ratio": 1.4, "motion": at_lobe}
    lobe, valve = found(client, request), found(client, float_job(at_valve))
    assert lobe["float_speed"] == pytest.approx(valve["float_speed"], rel=1e-9)
    request["valvetrain"]["intake"]["lash"] = 0.02
    figures = ask(client, request)["lobes"]["intake"]
    assert figures["at_valve"]["peak_lift"] == pytest.approx(1.4 * figures["at_lobe"]["peak_lift"] - 0.02, rel=1e-6)
    # less lift, as much slowing down: less load at the nose by 294 * 0.02 lbf
    less = found(client, request)["float_speed"]
    assert less == pytest.approx(lobe["float_speed"] * math.sqrt(1.0 - 294.0 * 0.02 / 261.06), rel=1e-3)


def test_a_ratio_that_grows_with_lift_lifts_the_valve_by_as_much(client: Client) -> None:
    # by hand: 1.3 at 0.05 in and 1.4 at 0.35 in run straight, so 0.35 * 1.4 at the peak; there dL/dl is
    # 1.4 + 0.35 * (0.1/0.3) = 1.51667, and so is the slowing down over that of the lobe
    table = deepcopy(TABLE) | {"side": "lobe", "readings": lobe_readings(0.35)}
    ratios = [{"lobe_lift": 0.35, "rocker_ratio": 1.4}, {"lobe_lift": 0.05, "rocker_ratio": 1.3}]
    request = float_job(table)
    request["valvetrain"]["intake"] = {"lobe_lift": 0.35, "rocker_ratios": ratios, "motion": table}
    figures = ask(client, request)["lobes"]["intake"]
    assert figures["at_valve"]["peak_lift"] == pytest.approx(0.49, abs=2e-4)
    slowed = figures["at_valve"]["peak_deceleration"] / figures["at_lobe"]["peak_deceleration"]
    assert slowed == pytest.approx(1.4 + 0.35 / 3.0, rel=1e-3)


def test_masses_beyond_the_rocker_count_by_its_ratio_at_full_lift(client: Client) -> None:
    # hand arithmetic: the ratio read highest is 1.6, so 90/2.56 = 35.15625; stated lift in between 1.4 and 1.6 runs
    # straight to 1.5 at 0.2 in, 90/2.25 = 40
    ratios = [{"lobe_lift": 0.1, "rocker_ratio": 1.4}, {"lobe_lift": 0.3, "rocker_ratio": 1.6}]
    request = float_job()
    request["valvetrain"]["intake"] = {"rocker_ratios": ratios, "lifter_mass": 90.0}
    assert found(client, request)["moving_mass_by_part"]["lifter"] == pytest.approx(35.15625, rel=1e-9)
    request["valvetrain"]["intake"]["lobe_lift"] = 0.2
    assert found(client, request)["moving_mass_by_part"]["lifter"] == pytest.approx(40.0, rel=1e-9)


def test_durations_are_told_at_the_checking_lifts_and_any_other(client: Client) -> None:
    # by hand: lift/2 (1 + cos(pi angle/70)) passes h at 70/pi acos(2 h/lift - 1), four times that in crank degrees
    def duration(lift: float) -> float:
        return 4.0 * 70.0 / math.pi * math.acos(2.0 * lift / 0.49 - 1.0)

    usual = ask(client, float_job())["lobes"]["intake"]["at_valve"]
    assert [span["lift"] for span in usual["durations"]] == [0.05, pytest.approx(1 / 25.4)]
    for span in usual["durations"]:
        assert span["duration"] == pytest.approx(duration(span["lift"]), rel=1e-6)
        assert span["closing_angle"] == pytest.approx(duration(span["lift"]) / 4.0, rel=1e-6)
    # by hand: area lift * rise, peaks lift/2 (pi/70)^n
    assert usual["lift_area"] == pytest.approx(0.49 * 70.0, rel=1e-6)
    for power, name in enumerate(("peak_opening_velocity", "peak_acceleration", "peak_jerk"), start=1):
        assert usual[name] == pytest.approx(0.245 * (math.pi / 70.0) ** power, rel=1e-6)
    other = ask(client, float_job(checking_lifts=[0.1, 0.6]))["lobes"]["intake"]["at_valve"]["durations"]
    assert other[0]["duration"] == pytest.approx(duration(0.1), rel=1e-6)
    assert (other[1]["duration"], other[1]["opening_angle"]) == (0.0, None)


@pytest.mark.parametrize(
    ("train", "pointer"),
    [
        ({"motion": STAND_IN}, "/valvetrain/intake/valve_lift"),
        ({"motion": STAND_IN, "lobe_lift": 0.325}, "/valvetrain/intake/rocker_ratio"),
        ({"motion": TABLE | {"side": "lobe"}}, "/valvetrain/intake/rocker_ratio"),
    ],
    ids=["lift", "ratio of a law", "ratio of a table"],
)
def test_a_motion_that_waits_for_lift_or_ratio_says_so(client: Client, train: Job, pointer: str) -> None:
    request = float_job()
    request["valvetrain"]["intake"] = train
    answer = ask(client, request)
    assert pointer in {item["pointer"] for item in answer["open_items"]}
    assert answer["positions"][0]["valve_float"]["float_speed"] is None
    assert answer["lobes"]["intake"]["at_valve"] is None


def table(readings: list[Job] | None = None, **more: Any) -> Job:
    return deepcopy(TABLE) | ({} if readings is None else {"readings": readings}) | more


@pytest.mark.parametrize(
    ("train", "pointer", "words"),
    [
        ({"valve_lift": 0.49, "lobe_lift": 0.33, "rocker_ratio": 1.5}, "valve_lift", "given twice"),
        ({"valve_lift": 0.49, "lash": 0.02}, "lash", "leave lash out"),
        ({"lobe_lift": 0.33, "rocker_ratio": 1.5, "lash": 0.5}, "lash", "uses up all the lift"),
        (
            {"rocker_ratio": 1.5, "rocker_ratios": [{"lobe_lift": 0.1, "rocker_ratio": 1.5}]},
            "rocker_ratio",
            "given twice",
        ),
        (
            {"rocker_ratios": [{"lobe_lift": 0.1, "rocker_ratio": r} for r in (1.5, 1.6)]},
            "rocker_ratios/1",
            "at 0.100 in of lobe lift is given twice",
        ),
        (
            {"rocker_ratios": [{"lobe_lift": 0.2, "rocker_ratio": 2}, {"lobe_lift": 0.25, "rocker_ratio": 1.5}]},
            "rocker_ratios/1",
            "closes while the lobe still opens it",
        ),
        ({"rocker_ratio": 1.5, "lash": 0.8, "motion": table(side="lobe")}, "lash", "uses up all the lift"),
    ],
)
def test_statements_about_the_train_that_cannot_hold_are_refused(
    client: Client, train: Job, pointer: str, words: str
) -> None:
    request = float_job()
    request["valvetrain"]["intake"] = train
    refused = errors(client, request)
    assert list(refused) == [f"/valvetrain/intake/{pointer}"]
    assert words in refused[f"/valvetrain/intake/{pointer}"]


RATIOS_THAT_RETURN = [{"lobe_lift": 0.1, "rocker_ratio": 2.0}, {"lobe_lift": 0.2, "rocker_ratio": 1.2}]


def test_ratios_that_bring_the_valve_back_on_the_way_to_full_lift_are_refused(client: Client) -> None:
    # by hand: r = 2.8 - 8 l through both readings, l r = 2.8 l - 8 l^2 is highest at l = 0.175; a
    # step of the search is 0.325 / 500 = 0.00065, and the last but one that still rises is 269 of them, 0.17485
    train = {"lobe_lift": 0.325, "rocker_ratios": RATIOS_THAT_RETURN}
    positions = [{"id": "1I", "valve": "intake"}]
    for path in ("/v1/coil-bind", PATH):
        response = client.post(path, json={"valvetrain": {"intake": train}, "positions": positions})
        assert response.status_code == 422
        error = response.json()["errors"][0]
        assert error["pointer"] == "/valvetrain/intake/rocker_ratios"
        assert "from 0.1749 in of its 0.325 in" in error["detail"]
    # up to 0.2 alone it comes back too, though 0.2 * 1.2 is more than 0.1 * 2.0
    short = {"valvetrain": {"intake": train | {"lobe_lift": 0.2}}, "positions": positions}
    assert client.post("/v1/coil-bind", json=short).status_code == 422


def test_clearances_take_the_larger_of_stated_and_measured_lift(client: Client) -> None:
    # by hand: coils solid at 1.24 and 1.75 high: 0.030 in left at the stated 0.480, 0.010 in at the 0.500 read
    job: Job = {
        "valvetrain": {"intake": {"valve_lift": 0.48, "motion": TABLE | {"readings": lobe_readings(0.5)}}},
        "springs": [{"id": "S", "coil_bind_height": 1.24}],
        "targets": {"intake": {"installed_height": 1.75}},
        "positions": [{"id": "1I", "valve": "intake", "measured_height": 1.75, "spring": "S"}],
    }
    response = client.post("/v1/head-assembly", json=job)
    assert response.status_code == 200, response.text
    answer = response.json()
    assert answer["positions"][0]["coil_bind_clearance_check"]["value"] == pytest.approx(0.01, abs=1e-4)
    assert "lifts_differ" in codes(answer)
    # and the stated one where that is larger: 1.75 - 0.49 - 1.24
    job["valvetrain"]["intake"] |= {"valve_lift": 0.49, "motion": TABLE | {"readings": lobe_readings(0.48)}}
    answer = client.post("/v1/head-assembly", json=job).json()
    assert answer["positions"][0]["coil_bind_clearance_check"]["value"] == 0.02
    assert "lifts_differ" in codes(answer)
    job["valvetrain"]["intake"]["motion"] = TABLE
    assert "lifts_differ" not in codes(client.post("/v1/head-assembly", json=job).json())


@pytest.mark.parametrize("motion", [None, STAND_IN | {"profile": "modified_sine"}])
def test_a_lash_that_takes_all_the_lift_but_rounding_is_refused(client: Client, motion: Job | None) -> None:
    # 0.325 * 1.5 = 0.4875, which binary fractions miss by some 1e-17
    train = {"lobe_lift": 0.325, "rocker_ratio": 1.5, "lash": 0.4875}
    positions = [{"id": "1I", "valve": "intake"}]
    for path in (PATH,) if motion else ("/v1/coil-bind", PATH):
        own = train | ({"motion": motion} if motion else {})
        response = client.post(path, json={"valvetrain": {"intake": own}, "positions": positions})
        assert response.status_code == 422, response.text
        assert [error["pointer"] for error in response.json()["errors"]] == ["/valvetrain/intake/lash"]


def test_a_lash_beside_a_lift_read_at_the_valve_alone_is_refused(client: Client) -> None:
    request = float_job(TABLE)
    request["valvetrain"]["intake"] = {"motion": TABLE, "lash": 0.02}
    assert "already out of it" in errors(client, request)["/valvetrain/intake/lash"]


@pytest.mark.parametrize(("said", "told", "noted"), [("cam", 1, False), ("cam", 2, True), ("crank", 1, True)])
def test_degrees_that_may_be_the_other_shafts_are_asked_about(
    client: Client, said: str, told: int, *, noted: bool
) -> None:
    # by hand: 0.49 (1 - x^2)^4 is 0.050 at x = sqrt(1 - (0.05/0.49)^(1/4)) = 0.6593, 4 * 72 * 0.6593 = 190 crank
    # degrees; read as the cam's though it is the crank's 380, the other way round 95
    readings = [{"angle": told * r["angle"], "lift": r["lift"]} for r in TABLE["readings"]]
    answer = ask(client, float_job(TABLE | {"shaft": said, "readings": readings}))
    asked = [note for note in answer["notes"] if note["pointer"] == "/valvetrain/intake/motion/angle"]
    assert bool(asked) == noted
    for note in asked:
        assert note["code"] == "unusual_reading"
        assert f"Entered as {said} degrees" in note["detail"]


def test_a_ratio_carried_on_far_beyond_where_it_was_read_is_noted(client: Client) -> None:
    ratios = [{"lobe_lift": at, "rocker_ratio": ratio} for at, ratio in ((0.05, 1.48), (0.1, 1.5))]
    positions = [{"id": "1I", "valve": "intake"}]
    for path in ("/v1/coil-bind", PATH):
        for full, noted in ((0.325, True), (0.12, False)):
            train = {"lobe_lift": full, "rocker_ratios": ratios}
            answer = client.post(path, json={"valvetrain": {"intake": train}, "positions": positions}).json()
            assert ("beyond_calibration" in codes(answer)) == noted


def test_a_ratio_read_with_the_lobe_down_alone_brings_no_valve_back(client: Client) -> None:
    train = {"rocker_ratios": [{"lobe_lift": 0.0, "rocker_ratio": 1.5}]}
    job = {"valvetrain": {"intake": train}, "positions": [{"id": "1I", "valve": "intake"}]}
    assert client.post("/v1/coil-bind", json=job).status_code == 200


# largest velocity, acceleration and jerk of a rise from 0 to 1 over 1, own derivation in
# tests/calc/test_textbook_motions.py
PROFILE_PEAKS = {
    "harmonic": (math.pi / 2, math.pi**2 / 2, math.pi**3 / 2),
    "cycloidal": (2.0, 2 * math.pi, 4 * math.pi**2),
    "polynomial_345": (15 / 8, 10 / math.sqrt(3), 60.0),
    "polynomial_4567": (35 / 16, 84 / (5 * math.sqrt(5)), 52.5),
    "modified_sine": (
        4 * math.pi / (4 + math.pi),
        4 * math.pi**2 / (4 + math.pi),
        16 * math.pi**3 / (4 + math.pi),
    ),
}


@pytest.mark.parametrize("profile", list(PROFILE_PEAKS))
def test_the_peaks_of_a_stand_in_are_its_closed_form_in_inches_and_in_millimeters(client: Client, profile: str) -> None:
    # 0.49 in over 65 and 75 cam degrees: the opening flank is the sharper one
    velocity, acceleration, jerk = PROFILE_PEAKS[profile]
    for unit, scale in (("in", 1.0), ("mm", 25.4)):
        motion = {"kind": "textbook", "profile": profile, "shaft": "crank", "rise": 130, "fall": 150}
        train = {"valve_lift": 0.49 * scale, "motion": motion}
        job = {
            "units": {"length": unit},
            "valvetrain": {"intake": train},
            "positions": [{"id": "1I", "valve": "intake"}],
        }
        figures = ask(client, job)["lobes"]["intake"]["at_valve"]
        lift = 0.49 * scale
        assert figures["peak_opening_velocity"] == pytest.approx(velocity * lift / 65, rel=1e-10)
        assert figures["peak_closing_velocity"] == pytest.approx(-velocity * lift / 75, rel=1e-10)
        assert figures["peak_acceleration"] == pytest.approx(acceleration * lift / 65**2, rel=1e-10)
        assert figures["peak_deceleration"] == pytest.approx(-acceleration * lift / 65**2, rel=1e-10)
        assert figures["peak_jerk"] == pytest.approx(jerk * lift / 65**3, rel=1e-9)
