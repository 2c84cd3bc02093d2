"""Lift tables: what is refused of a degreed lobe, what is to be read again, and what its readings leave uncertain."""

from __future__ import annotations

import math
from copy import deepcopy
from typing import Any

import numpy as np
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


def to_read(client: Client, request: Job) -> dict[str, str]:
    """Where something is still to be measured, and what."""
    return {item["pointer"]: item["detail"] for item in ask(client, request)["open_items"]}


def codes(answer: Any) -> list[str]:
    return [note["code"] for note in answer["notes"]]


def test_readings_that_scatter_more_than_is_said_are_noted(client: Client) -> None:
    # a tenth of a thousandth up and down over the whole lobe, said to scatter by a tenth of that
    rough = deepcopy(TABLE) | {"readings": lobe_readings(0.49, step=1), "lift_uncertainty": 0.00001}
    for place, reading in enumerate(rough["readings"]):
        off = (0.0001, -0.0001, 0.0, 0.0001, -0.0001)[place * 7 % 5]
        reading["lift"] = round(reading["lift"] + (off if reading["lift"] > 0.0 else 0.0), 4)
    answer = ask(client, float_job(rough))
    note = next(note for note in answer["notes"] if note["code"] == "readings_rougher")
    assert note["pointer"] == "/valvetrain/intake/motion/lift_uncertainty"
    assert answer["lobes"]["intake"]["residual"] > 0.00002


def table(readings: list[Job] | None = None, **more: Any) -> Job:
    return deepcopy(TABLE) | ({} if readings is None else {"readings": readings}) | more


def moved(place: int, **reading: float) -> list[Job]:
    readings = lobe_readings(0.49)
    readings[place] |= reading
    return readings


READINGS = "/valvetrain/intake/motion/readings"


@pytest.mark.parametrize(
    ("motion", "pointer", "words"),
    [
        (table(moved(20, angle=-20)), f"{READINGS}/20/angle", "falls back to -20 deg"),
        (table(moved(20, angle=-4)), f"{READINGS}/20/angle", "readings 20 and 21 are both at -4 deg"),
        (table(moved(40, angle=350)), "/valvetrain/intake/motion/angle", "run over 430 deg"),
        (table(lobe_readings(0.33)), READINGS, "peak at 0.330 in, but the lift entered makes it 0.490 in"),
        (STAND_IN | {"shaft": "cam", "rise": 190, "fall": 171}, "/valvetrain/intake/motion/fall", "more than one turn"),
    ],
)
def test_a_table_that_contradicts_itself_is_refused(client: Client, motion: Job, pointer: str, words: str) -> None:
    found_errors = errors(client, float_job(motion))
    assert words in found_errors[pointer]


@pytest.mark.parametrize(
    ("motion", "pointer", "words"),
    [
        (table(moved(1, lift=-0.01)), f"{READINGS}/1/lift", "-0.010 in is below the base circle"),
        (table(lobe_readings(0.49)[:25]), f"{READINGS}/24/lift", "keep reading down to the base circle"),
        (table(lobe_readings(0.49, step=20)), READINGS, "only 7 readings are off the base circle"),
    ],
)
def test_a_table_that_waits_for_readings_leaves_float_open_and_nothing_else(
    client: Client, motion: Job, pointer: str, words: str
) -> None:
    answer = ask(client, float_job(motion))
    assert [item["pointer"] for item in answer["open_items"]] == [pointer]
    assert words in answer["open_items"][0]["detail"]
    assert answer["positions"][0]["valve_float"]["float_speed"] is None
    assert answer["verdict"] == "not_measured"
    # heights and loads of a head do not wait for its lobe: 117 lbf closed, 261.06 lbf at 0.49 in by hand
    unasked = sheet_job(motion)
    sheet = client.post("/v1/head-assembly", json=sheet_job(motion)).json()
    line = sheet["positions"][0]
    assert (line["installed_height"], line["seat_load"]) == (1.75, pytest.approx(117.0))
    assert line["open_load"] == pytest.approx(261.06, rel=1e-9)
    assert pointer in {item["pointer"] for item in sheet["open_items"]}
    # and where no speed is given, so that float waits for nothing, it is still told
    del unasked["intended_speed"]
    told = client.post("/v1/head-assembly", json=unasked).json()
    assert pointer not in {item["pointer"] for item in told["open_items"]}
    assert [note["pointer"] for note in told["notes"] if note["code"] == "lift_table_incomplete"] == [pointer]


def sheet_job(motion: Job) -> Job:
    """The position of float_job on the assembly sheet: measured at its height, nothing to shim."""
    job = float_job(motion)
    job["targets"] = {"intake": {"installed_height": 1.75}}
    job["positions"][0] = {name: value for name, value in job["positions"][0].items() if name != "installed_height"} | {
        "measured_height": 1.75,
        "deduction": 0.0,
    }
    return job


# a lobe that brakes hardest off its nose, 1 + sum c_i x^i with three derivatives 0 at its ends: the polynomial valve
# cam, its coefficients solved for here
POWERS = (2, 14, 26, 38)


SHARP = np.linalg.solve(
    np.array([[math.prod(power - down for down in range(order)) for power in POWERS] for order in range(4)], float),
    [-1.0, 0.0, 0.0, 0.0],
)


def sharp_readings(step: int) -> list[Job]:
    """That lobe, 0.325 in high and 60 cam degrees to either side, read to a tenth of a thousandth."""
    return [
        {"angle": at, "lift": round(0.325 * max(1 + float(SHARP @ [x**power for power in POWERS]), 0), 4)}
        for at in range(-80, 81, step)
        for x in [min(abs(at) / 60, 1)]
    ]


def test_a_fine_gauge_every_five_degrees_is_answered_and_its_spacing_counts(client: Client) -> None:
    # a third of a ten-thousandth, as a graduation of that is read; half a thousandth hides what the spacing leaves open
    fine, coarse = (
        float_job(table(sharp_readings(5), lift_uncertainty=error), intended_speed=3000)
        for error in (0.0001 / 3, 0.0005)
    )
    for request in (fine, coarse):
        request["valvetrain"]["intake"]["valve_lift"] = 0.325
        assert found(client, request)["float_speed"] is not None
    one = found(client, fine)
    assert "readings_coarse" in codes(ask(client, fine))
    # own derivation: the closed form, where its load over its braking is least
    x = np.linspace(0.0, 1.0, 100_001)
    lift = 0.325 * (1 + sum(c * x**p for c, p in zip(SHARP, POWERS, strict=True)))
    braking = -0.325 * sum(c * p * (p - 1) * x ** (p - 2) for c, p in zip(SHARP, POWERS, strict=True))
    load = (117.0 + 294.0 * lift) * 4.4482216152605
    with np.errstate(divide="ignore", invalid="ignore"):
        cam = np.sqrt(load / (0.155 * braking * 0.0254)) * math.radians(60.0)
    speed = 2.0 * float(np.nanmin(np.where(braking > 0.0, cam, np.nan))) * 30.0 / math.pi
    assert abs(one["float_speed"] - speed) <= 2.0 * one["float_speed_uncertainty"]
    # and the sheet is not lost for it
    whole = sheet_job(table(sharp_readings(5), lift_uncertainty=0.0001 / 3))
    whole["valvetrain"]["intake"]["valve_lift"] = 0.325
    assert client.post("/v1/head-assembly", json=whole).json()["positions"][0]["seat_load"] == pytest.approx(117.0)


def test_a_table_too_coarse_to_prove_anything_leaves_float_open_until_it_is_read_as_close_as_is_asked(
    client: Client,
) -> None:
    def request(step: int, angle: str = "cam") -> Job:
        turns = 2 if angle == "crank" else 1
        readings = [{"angle": turns * r["angle"], "lift": r["lift"]} for r in sharp_readings(step)]
        job = float_job(table(readings, shaft=angle, lift_uncertainty=0.00003), intended_speed=3000)
        del job["valvetrain"]["intake"]["valve_lift"]
        return job

    answer = ask(client, request(10))
    assert [item["pointer"] for item in answer["open_items"]] == [READINGS]
    assert answer["verdict"] == "not_measured"
    assert answer["positions"][0]["valve_float"]["float_speed"] is not None

    def asked(item: Job) -> float:
        return float(item["detail"].split("every ")[1].split(" c")[0])

    spacing = asked(answer["open_items"][0])
    assert 1.0 < spacing < 10.0
    closer = ask(client, request(int(spacing)))
    assert closer["open_items"] == []
    assert "readings_coarse" not in codes(closer)
    # in the degrees that the readings have
    assert asked(ask(client, request(10, "crank"))["open_items"][0]) == pytest.approx(2.0 * spacing, abs=0.11)


def test_a_whole_turn_must_come_back_to_its_base_circle(client: Client) -> None:
    lobe = {reading["angle"]: reading["lift"] for reading in lobe_readings(0.49)}
    turn = [{"angle": at, "lift": lobe.get(at - 180, 0.0)} for at in range(0, 361, 4)]
    assert ask(client, float_job(table(turn)))["lobes"]["intake"]["at_valve"]["peak_angle"] == pytest.approx(
        180.0, abs=0.1
    )
    drifted = deepcopy(turn)
    drifted[-1]["lift"] = 0.002
    assert "does not repeat after one turn" in to_read(client, float_job(table(drifted)))[f"{READINGS}/90/lift"]
    raised = [{"angle": reading["angle"], "lift": reading["lift"] + 0.01} for reading in turn]
    assert "zero the indicator" in next(iter(to_read(client, float_job(table(raised))).values()))


def test_a_lift_measured_at_the_valve_may_stand_beside_ratio_and_lash_of_a_lobe_read_below(client: Client) -> None:
    # hand arithmetic: (0.49 + 0.02)/1.5 = 0.34 at the lobe
    request = float_job(table(lobe_readings(0.34), side="lobe"))
    request["valvetrain"]["intake"] |= {"drive": "rocker_and_pushrod", "rocker_ratio": 1.5, "lash": 0.02}
    assert ask(client, request)["lobes"]["intake"]["at_valve"]["peak_lift"] == pytest.approx(0.49, abs=2e-4)
    request["valvetrain"]["intake"]["motion"]["readings"] = lobe_readings(0.49)
    assert "the lift entered makes it 0.340 in" in errors(client, request)[READINGS]


def test_every_contradiction_is_named_at_once(client: Client) -> None:
    request = float_job(table(moved(20, angle=-20)))
    request["springs"].append({"id": "S1"})
    request["positions"].append({"id": "1I", "valve": "intake", "spring": "S9"})
    request["scale"] = {"calibration": [{"applied": 0, "indicated": 5}]}
    assert set(errors(client, request)) == {
        f"{READINGS}/20/angle", "/springs/1/id", "/positions/1/id", "/positions/1/spring", "/scale/calibration/0",
    }  # fmt: skip


def test_a_table_read_backward_is_not_told_reading_by_reading(client: Client) -> None:
    refused = errors(client, float_job(table(lobe_readings(0.49)[::-1])))
    assert len(refused) == 9
    assert refused[READINGS] == "and 32 more readings that cannot be right"


FINE = [{"angle": at, "lift": round(0.325 * max(1 - (at / 72) ** 2, 0) ** 4, 5)} for at in range(-80, 81, 2)]


@pytest.mark.parametrize(("place", "slip"), [(40, 0.01), (20, 0.01), (30, -0.01), (10, 0.01), (25, 0.0005)])
def test_one_mistyped_reading_is_named_with_what_belongs_there(client: Client, place: int, slip: float) -> None:
    readings = deepcopy(FINE)
    readings[place]["lift"] = round(readings[place]["lift"] + slip, 5)
    request = float_job(TABLE | {"readings": readings, "lift_uncertainty": 0.00002})
    del request["valvetrain"]["intake"]["valve_lift"]
    told = to_read(client, request)
    assert list(told) == [f"/valvetrain/intake/motion/readings/{place}/lift"]
    detail = told[f"/valvetrain/intake/motion/readings/{place}/lift"]
    assert f"reading {place + 1} doesn't fit its neighbors" in detail
    # what was there before the slip, told to a ten-thousandth
    there = float(detail.split("point to ")[1].split(" in")[0])
    assert there == pytest.approx(FINE[place]["lift"], abs=1e-4)


@pytest.mark.parametrize("power", [1.5, 2.0, 4.0])
def test_a_lobe_that_shuts_sharply_has_no_reading_that_does_not_fit(client: Client, power: float) -> None:
    readings = [{"angle": r["angle"], "lift": round(0.325 * (r["lift"] / 0.325) ** (power / 4), 5)} for r in FINE]
    request = float_job(TABLE | {"readings": readings, "lift_uncertainty": 0.00002})
    del request["valvetrain"]["intake"]["valve_lift"]
    ask(client, request)


@pytest.mark.parametrize(("error", "noted"), [(0.003, True), (0.00001, False)])
def test_a_reading_error_that_flattens_the_lobe_is_noted(client: Client, error: float, *, noted: bool) -> None:
    # rounded to 0.00001 the readings scatter by 0.000003 (a twelfth of the step, by the root): 0.003 is 1000 times that
    request = float_job(TABLE | {"readings": FINE, "lift_uncertainty": error})
    del request["valvetrain"]["intake"]["valve_lift"]
    assert ("readings_smoother" in codes(ask(client, request))) == noted
