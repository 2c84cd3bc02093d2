"""POST /v1/piston-to-valve against hand arithmetic."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import numpy as np
import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job

from headbench.api.piston_to_valve import EXAMPLE

Client = TestClient[ASGIApp]
PATH = "/v1/piston-to-valve"


def ask(client: Client, job: Job) -> Any:
    response = client.post(PATH, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def dial(*readings: tuple[float, float]) -> Job:
    return {"kind": "dial", "readings": [{"crank_angle": angle, "clearance": gap} for angle, gap in readings]}


def clay(thinnest: float) -> Job:
    return {"kind": "clay", "thinnest": thinnest}


def job_of(cut: float, read: Job, *, crown: str = "flat", valve: str = "intake", **more: Any) -> Job:
    clearance = {"crown": crown, "valve_angle": 60, "read": read}
    return {
        "units": {"length": "mm"},
        "cut": {"kind": "flat", "depth": cut},
        "positions": [{"id": "1", "valve": valve, "piston_to_valve": clearance, **more}],
    }


THREE = dial((0, 5.0), (10, 4.0), (20, 4.5))


@pytest.mark.parametrize(
    ("crown", "read", "measure", "lost", "gained"),
    [
        # a valve at 60 degrees (cosine a half), 1 mm nearer, 0.25 mm off a 60 degree seat: sink 0.5 mm; by hand
        ("flat", THREE, "in_valve_travel", 2.0, 0.5),
        ("flat", clay(4.0), "along_bore", 1.0, 0.25),
        ("pocket", THREE, "across_pocket", 0.5, 0.5),
        ("pocket", clay(4.0), "across_pocket", 0.5, 0.5),
    ],
)
def test_what_is_lost_and_gained_is_by_the_measure_it_was_read_in(
    client: Client, crown: str, read: Job, measure: str, lost: float, gained: float
) -> None:
    line = ask(client, job_of(1.0, read, crown=crown, seat_ground=0.25, seat_angle=60))["positions"][0]
    assert (line["measure"], line["lost"], line["gained"]) == (measure, lost, gained)
    assert line["piston_to_valve"]["value"] == pytest.approx(line["between_readings"] - lost + gained, abs=1e-9)


def test_the_smallest_lies_on_the_parabola_between_the_readings(client: Client) -> None:
    # referee: numpy's own fit of a parabola to the three readings, and its vertex
    a, b, c = np.polyfit([0.0, 10.0, 20.0], [5.0, 4.0, 4.5], 2)
    line = ask(client, job_of(0.0, THREE))["positions"][0]
    assert (line["smallest_reading"], line["crank_angle"], line["bracketed"]) == (4.0, 10.0, True)
    assert line["between_readings"] == pytest.approx(c - b * b / (4 * a), abs=1e-9)
    assert line["lost"] == 0.0


def test_intake_and_exhaust_have_their_own_limits(client: Client) -> None:
    # published (trade press): 0.080 in intake, 0.100 in exhaust
    for valve, limit in (("intake", 2.032), ("exhaust", 2.54)):
        check = ask(client, job_of(0.0, clay(2.3), valve=valve))["positions"][0]["piston_to_valve"]
        assert check["limit"] == limit
        assert check["verdict"] == ("accept" if valve == "intake" else "reject")
    job = job_of(0.0, clay(2.3), valve="exhaust") | {"limits": {"piston_to_exhaust_valve_minimum": 2.3}}
    assert ask(client, job)["verdict"] == "accept"


def test_a_smallest_reading_at_the_end_proves_nothing_good(client: Client) -> None:
    answer = ask(client, job_of(0.0, dial((0, 5.0), (10, 4.0))))
    line = answer["positions"][0]
    assert (line["bracketed"], line["piston_to_valve"]["verdict"]) == (False, "not_measured")
    assert [item["pointer"] for item in answer["open_items"]] == ["/positions/0/piston_to_valve/read/readings"]
    # but a miss stays a miss
    line = ask(client, job_of(0.0, dial((0, 5.0), (10, 1.0))))["positions"][0]
    assert line["piston_to_valve"]["verdict"] == "reject"


def test_readings_may_come_in_any_order_and_each_valve_at_its_own_angles(client: Client) -> None:
    job = deepcopy(EXAMPLE)
    job["positions"][1]["piston_to_valve"]["read"] = dial((-12, 0.140), (-20, 0.171), (-6, 0.160), (-16, 0.150))
    lines = ask(client, job)["positions"]
    assert [(line["smallest_reading"], line["crank_angle"]) for line in lines] == [(0.139, 10.0), (0.14, -12.0)]


def test_valves_that_would_meet_are_noted(client: Client) -> None:
    answer = ask(client, job_of(3.0, clay(2.5)))
    note = next(note for note in answer["notes"] if note["code"] == "valve_meets_piston")
    assert "meet by 0.5 mm" in note["detail"]
    assert answer["verdict"] == "reject"


@pytest.mark.parametrize("path", ["piston_to_valve/read", "piston_to_valve/valve_angle", "distance_across"])
def test_a_missing_reading_is_an_open_item_and_never_good(client: Client, path: str) -> None:
    job = deepcopy(EXAMPLE)
    job["positions"].pop(1)
    job["positions"][0]["distance_across"] = 3.0
    job["cut"] = {"kind": "tilt", "at": {"distance_across": 2.0, "depth": 0.03}, "tilt": 0.5}
    assert ask(client, job)["open_items"] == []
    holder = job["positions"][0]
    *parents, last = path.split("/")
    for parent in parents:
        holder = holder[parent]
    del holder[last]
    answer = ask(client, job)
    assert [item["pointer"] for item in answer["open_items"]] == [f"/positions/0/{path}"]
    assert answer["verdict"] == "not_measured"


def test_where_nothing_moves_the_valves_angle_does_not_matter(client: Client) -> None:
    job = job_of(0.0, clay(3.0))
    del job["positions"][0]["piston_to_valve"]["valve_angle"]
    answer = ask(client, job)
    assert answer["positions"][0]["piston_to_valve"]["value"] == 3.0
    assert answer["open_items"] == []


def test_every_contradiction_is_named_at_once(client: Client) -> None:
    job = deepcopy(EXAMPLE)
    job["positions"][0]["piston_to_valve"]["read"] = dial((5, 0.15), (10, 0.14), (5, 0.16))
    job["positions"][1] |= {"id": "1I", "seat_angle": 90}
    job["positions"][1]["piston_to_valve"]["valve_angle"] = 90
    response = client.post(PATH, json=job)
    assert response.status_code == 422
    found = {error["pointer"]: error["detail"] for error in response.json()["errors"]}
    assert set(found) == {
        "/positions/0/piston_to_valve/read/readings/2/crank_angle",
        "/positions/1/id",
        "/positions/1/seat_angle",
        "/positions/1/piston_to_valve/valve_angle",
    }
    assert "readings 1 and 3 are both at 5 deg" in found["/positions/0/piston_to_valve/read/readings/2/crank_angle"]


@pytest.mark.parametrize("readings", [((5, 0.11), (10, 0.10), (15, 0.10)), ((5, 0.10), (10, 0.10), (15, 0.11))])
def test_equal_smallest_readings_at_an_end_prove_nothing_good(
    client: Client, readings: tuple[tuple[float, float], ...]
) -> None:
    # the row ends on its smallest: beyond it there may be less, on whichever side it ends
    job = job_of(0.0, dial(*readings)) | {"units": {"length": "in"}}
    answer = ask(client, job)
    assert (answer["positions"][0]["bracketed"], answer["verdict"]) == (False, "not_measured")
    # with one more reading on that side it lies between, and is above the 0.080 in of an intake valve
    job = job_of(0.0, dial((0, 0.12), *readings, (20, 0.12))) | {"units": {"length": "in"}}
    assert ask(client, job)["verdict"] == "accept"


def test_a_valve_that_touches_is_refused_whatever_the_limit(client: Client) -> None:
    # by hand: 1 mm of clearance, 1 mm nearer
    job = job_of(1.0, clay(1.0)) | {"limits": {"piston_to_intake_valve_minimum": 0.0}}
    answer = ask(client, job)
    assert answer["verdict"] == "reject"
    (told,) = [note["detail"] for note in answer["notes"] if note["code"] == "valve_meets_piston"]
    assert "would touch" in told
    assert (
        ask(client, job_of(0.9, clay(1.0)) | {"limits": {"piston_to_intake_valve_minimum": 0.0}})["verdict"] == "accept"
    )


def test_a_wedge_that_ends_before_a_valve_is_refused(client: Client) -> None:
    # 0.1 mm at the edge, 0.01 mm less per millimetre: nothing left 10 mm across
    cut = {
        "kind": "two_depths",
        "first": {"distance_across": 0.0, "depth": 0.1},
        "second": {"distance_across": 10.0, "depth": 0.0},
    }
    job = job_of(0.0, clay(4.0), distance_across=50.0) | {"cut": cut}
    response = client.post(PATH, json=job)
    assert response.status_code == 422
    (error,) = response.json()["errors"]
    assert error["pointer"] == "/positions/0/distance_across"
    assert "ends before" in error["detail"]
    assert "-0.40 mm" in error["detail"]
    # and where it just ends nothing comes off
    job["positions"][0]["distance_across"] = 10.0
    assert ask(client, job)["positions"][0]["net_approach"] == 0.0
