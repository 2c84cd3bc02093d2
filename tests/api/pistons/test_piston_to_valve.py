"""POST /v1/piston-to-valve against hand arithmetic."""

from __future__ import annotations

import math
from copy import deepcopy
from typing import Any

import numpy as np
import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job, example

EXAMPLE = example("piston-to-valve")


Client = TestClient[ASGIApp]
PATH = "/v1/piston-to-valve"


def ask(client: Client, job: Job) -> Any:
    response = client.post(PATH, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def dial(*readings: tuple[float, float]) -> Job:
    return {"kind": "dial", "readings": [{"crank_angle": angle, "clearance": gap} for angle, gap in readings]}


def clay(thinnest: float) -> Job:
    return {"kind": "clay", "thinnest_clay": thinnest}


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
    assert line["piston_to_valve_check"]["value"] == pytest.approx(
        line["smallest_clearance_before"] - lost + gained, abs=1e-9
    )


def test_the_smallest_lies_on_the_parabola_between_the_readings(client: Client) -> None:
    # referee: numpy's own fit of a parabola to the three readings, and its vertex
    a, b, c = np.polyfit([0.0, 10.0, 20.0], [5.0, 4.0, 4.5], 2)
    line = ask(client, job_of(0.0, THREE))["positions"][0]
    assert (line["smallest_reading"], line["crank_angle"], line["bracketed"]) == (4.0, 10.0, True)
    assert line["smallest_clearance_before"] == pytest.approx(c - b * b / (4 * a), abs=1e-9)
    assert line["lost"] == 0.0


def test_intake_and_exhaust_have_their_own_limits(client: Client) -> None:
    # from memory: 0.080 in intake, 0.100 in exhaust
    for valve, limit in (("intake", 2.032), ("exhaust", 2.54)):
        check = ask(client, job_of(0.0, clay(2.3), valve=valve))["positions"][0]["piston_to_valve_check"]
        assert check["limit"] == limit
        assert check["verdict"] == ("accept" if valve == "intake" else "reject")
    job = job_of(0.0, clay(2.3), valve="exhaust") | {"limits": {"piston_to_exhaust_valve_minimum": 2.3}}
    assert ask(client, job)["verdict"] == "accept"


def test_a_smallest_reading_at_the_end_proves_nothing_good(client: Client) -> None:
    answer = ask(client, job_of(0.0, dial((0, 5.0), (10, 4.0))))
    line = answer["positions"][0]
    assert (line["bracketed"], line["piston_to_valve_check"]["verdict"]) == (False, "not_measured")
    assert [item["pointer"] for item in answer["open_items"]] == ["/positions/0/piston_to_valve/read/readings"]
    # but a miss stays a miss
    line = ask(client, job_of(0.0, dial((0, 5.0), (10, 1.0))))["positions"][0]
    assert line["piston_to_valve_check"]["verdict"] == "reject"


@pytest.mark.parametrize(("step", "verdict"), [(20, "accept"), (25, "not_measured")])
def test_readings_far_apart_prove_nothing_good(client: Client, step: int, verdict: str) -> None:
    # between readings 30 degrees apart a valve can come 0.008 in nearer than the parabola through them: own derivation
    answer = ask(client, job_of(0.0, dial((-step, 5.0), (0, 4.0), (step, 5.0))))
    assert answer["verdict"] == verdict
    asked = [] if verdict == "accept" else ["/positions/0/piston_to_valve/read/readings"]
    assert [item["pointer"] for item in answer["open_items"]] == asked


def test_readings_may_come_in_any_order_and_each_valve_at_its_own_angles(client: Client) -> None:
    job = deepcopy(EXAMPLE)
    job["positions"][1]["piston_to_valve"]["read"] = dial((-12, 0.140), (-20, 0.171), (-6, 0.160), (-16, 0.150))
    lines = ask(client, job)["positions"]
    assert [(line["smallest_reading"], line["crank_angle"]) for line in lines] == [(0.139, 10.0), (0.14, -12.0)]


def test_valves_that_would_meet_are_noted(client: Client) -> None:
    answer = ask(client, job_of(3.0, clay(2.5)))
    assert [note["pointer"] for note in answer["notes"]] == ["", "/positions/0/piston_to_valve"]
    note = next(note for note in answer["notes"] if note["code"] == "valve_meets_piston")
    assert "interfere by 0.50 mm" in note["detail"]
    assert answer["verdict"] == "reject"


@pytest.mark.parametrize("crown", ["flat", "pocket"])
@pytest.mark.parametrize(
    "path",
    [
        "piston_to_valve/read",
        "piston_to_valve/valve_angle",
        "piston_to_valve/stem_leans",
        "distance_across",
        "head_diameter",
    ],
)
def test_a_missing_reading_is_an_open_item_and_never_good(client: Client, path: str, crown: str) -> None:
    job = deepcopy(EXAMPLE)
    job["positions"].pop(1)
    del job["limits"]
    job["positions"][0]["piston_to_valve"]["crown"] = crown
    answer = ask(client, job)
    assert (answer["verdict"], answer["open_items"]) == ("accept", [])
    holder = job["positions"][0]
    *parents, last = path.split("/")
    for parent in parents:
        holder = holder[parent]
    del holder[last]
    answer = ask(client, job)
    (item,) = answer["open_items"]
    assert item["pointer"] == f"/positions/0/{path}"
    line = answer["positions"][0]
    for field in item["needed_for"]:
        assert line[field] is None or line[field]["verdict"] == "not_measured", field
    # which way a stem leans does not change how far a valve tips in its pocket
    known = crown == "pocket" and path == "piston_to_valve/stem_leans"
    assert answer["verdict"] == ("accept" if known else "not_measured")


def test_where_nothing_moves_the_valves_angle_does_not_matter(client: Client) -> None:
    job = job_of(0.0, clay(3.0))
    del job["positions"][0]["piston_to_valve"]["valve_angle"]
    answer = ask(client, job)
    assert answer["positions"][0]["piston_to_valve_check"]["value"] == 3.0
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
    assert "valve and piston touch. Do not turn this engine over." in told
    assert (
        ask(client, job_of(0.9, clay(1.0)) | {"limits": {"piston_to_intake_valve_minimum": 0.0}})["verdict"] == "accept"
    )


def tilted(crown: str, leans: str, read: Job, **more: Any) -> Job:
    """0.030 at 3.0 across and 1 degree, a valve of 2.02 at 4.0 across that stands at 15 degrees."""
    clearance = {"crown": crown, "valve_angle": 15, "stem_leans": leans, "read": read}
    place = {"id": "1I", "valve": "intake", "distance_across": 4.0, "head_diameter": 2.02}
    return {
        "cut": {"kind": "tilt", "at": {"distance_across": 3.0, "depth": 0.030}, "tilt": 1.0},
        "positions": [place | {"piston_to_valve": clearance} | more],
    }


def rigid_head(crown: str, lean: float, clearance: float) -> tuple[float, float]:
    """What is left, and the valve angle in degrees, by turning a drawn valve head. Own derivation, inches.

    Complex numbers are places in the plane square to the crank: toward the intake and up, the old deck at 0. The head
    of the valve is a bar of 2.02 square to its stem, its middle at the deck where it comes nearest. The cut head is
    turned about the deck's point at 3.0 until its new deck lies on the block.
    """
    tilt, across = math.radians(1.0), 3.0
    stem = complex(lean * math.sin(math.radians(15.0)), math.cos(math.radians(15.0)))
    ends = [complex(4.0, 0.0) + side * 1.01 * stem * -1j for side in (-1.0, 1.0)]
    turned = complex(math.cos(tilt), -math.sin(tilt))
    moved = [across + (end - complex(across, 0.030)) * turned for end in ends]
    after = stem * turned
    angle = math.degrees(math.atan2(lean * after.real, after.imag))
    if crown == "flat":
        # clay lies on the crown, so far below the lower end
        return min(end.imag for end in moved) - (min(end.imag for end in ends) - clearance), angle
    # clay lies on a floor parallel to the bar before, so far below it
    floor = ends[0] - clearance * stem
    return min(((end - floor) * stem.conjugate()).real for end in moved), angle


@pytest.mark.parametrize("crown", ["flat", "pocket"])
@pytest.mark.parametrize(("leans", "lean"), [("toward_intake", 1.0), ("away_from_intake", -1.0)])
def test_after_an_angle_cut_the_lowest_edge_of_a_valve_that_leans_with_its_head_decides(
    client: Client, crown: str, leans: str, lean: float
) -> None:
    line = ask(client, tilted(crown, leans, clay(0.130)))["positions"][0]
    left, angle = rigid_head(crown, lean, 0.130)
    # turning takes 1 - cos 1 deg off an inch across, and swings a deck 0.030 down sideways: 0.030 sin 1 sin 15 deg
    second_order = 0.00016 * 1.1 + (0.000136 if crown == "pocket" else 0.0)
    assert line["piston_to_valve_check"]["value"] == pytest.approx(left, abs=second_order)
    assert line["valve_angle_after"] == pytest.approx(angle, abs=1e-9)
    # 0.080 in for an intake valve, from memory: only a stem that stands up with the cut keeps it, over a flat crown
    good = crown == "flat" and lean < 0.0
    assert line["piston_to_valve_check"]["verdict"] == ("accept" if good else "reject")


def test_an_angle_cut_that_a_gasket_makes_up_for_still_leans_the_valve(client: Client) -> None:
    # by hand: nothing nearer at the valve's middle, but 1.01 (sin 16 - sin 15) = 0.016986 and 1.01 sin 1 = 0.017627
    for crown, dip in (("flat", 0.016986), ("pocket", 0.017627)):
        job = tilted(crown, "toward_intake", clay(0.130), distance_across=3.0) | {"gasket_thickness_change": 0.030}
        line = ask(client, job)["positions"][0]
        assert (line["head_drop"], line["lost"]) == (0.0, pytest.approx(dip, abs=1e-6))


def test_a_dial_over_a_flat_crown_reads_along_the_stem_that_now_leans(client: Client) -> None:
    # by hand: the lower end of the bar stands 0.130 cos 15 = 0.125570 over the crown, less 0.047455 and 0.016986 is
    # 0.061129, along a stem at 16 degrees 0.061129/cos 16 = 0.063592
    job = tilted("flat", "toward_intake", dial((5, 0.140), (10, 0.130), (15, 0.140)))
    assert ask(client, job)["positions"][0]["piston_to_valve_check"]["value"] == pytest.approx(0.063592, abs=3e-6)


@pytest.mark.parametrize("path", ["valve_angle", "stem_leans"])
def test_clay_on_a_flat_crown_asks_how_the_valve_stands_once_an_angle_cut_leans_it(client: Client, path: str) -> None:
    job = tilted("flat", "toward_intake", clay(0.130))
    del job["positions"][0]["piston_to_valve"][path]
    (item,) = ask(client, job)["open_items"]
    assert item["pointer"] == f"/positions/0/piston_to_valve/{path}"
    assert {"valve_angle_after", "lost", "piston_to_valve_check"} == set(item["needed_for"])


def test_a_place_that_nobody_measured_holds_back_what_it_lies_under(client: Client) -> None:
    job = tilted("flat", "toward_intake", clay(0.130))
    del job["positions"][0]["distance_across"]
    (item,) = ask(client, job)["open_items"]
    assert (item["pointer"], item["needed_for"]) == (
        "/positions/0/distance_across",
        ["head_drop", "lost", "piston_to_valve_check"],
    )


def test_a_valve_sunk_in_a_head_that_leans_gains_along_its_new_angle(client: Client) -> None:
    # by hand: 0.010 in off a 60 degree seat sinks 0.020, at 15 + 1 degrees 0.020 cos 16 = 0.019225 along the bore
    job = tilted("flat", "toward_intake", clay(0.130), seat_ground=0.010, seat_angle=60)
    assert ask(client, job)["positions"][0]["gained"] == pytest.approx(0.019225, abs=5e-7)


def test_a_flat_cut_leaves_the_valve_angle_alone(client: Client) -> None:
    assert ask(client, job_of(1.0, clay(4.0)))["positions"][0]["valve_angle_after"] is None


@pytest.mark.parametrize(
    ("crown", "read", "raised", "deeper"),
    [
        # by hand, a valve at 60 degrees, 2.0 mm left of 3.0: 1 mm along the bore; square to a pocket 1 mm, which the
        # head gives by 1/cos 60 = 2 mm; 1 mm of valve travel is 0.5 mm up
        ("flat", clay(2.0), "1.00 mm", "1.00 mm"),
        ("pocket", clay(2.0), "2.00 mm", "1.00 mm"),
        ("flat", dial((0, 2.5), (10, 2.0), (20, 2.5)), "0.50 mm", "0.50 mm"),
    ],
)
def test_a_clearance_below_its_minimum_says_what_gives_the_room_back(
    client: Client, crown: str, read: Job, raised: str, deeper: str
) -> None:
    job = job_of(0.0, read, crown=crown) | {"limits": {"piston_to_intake_valve_minimum": 3.0}}
    answer = ask(client, job)
    assert answer["verdict"] == "reject"
    (told,) = [note["detail"] for note in answer["notes"] if note["code"] == "piston_to_valve_low"]
    assert "2.00 mm piston to valve, 3.00 mm needed" in told
    assert answer["notes"][-1]["pointer"] == "/positions/0/piston_to_valve"
    assert f"Raise the head {raised}" in told
    assert f"pocket {deeper} deeper" in told
    # and as much thicker a gasket does give it
    thicker = job | {"gasket_thickness_change": float(raised.split(maxsplit=1)[0]) + 1e-9}
    assert ask(client, thicker)["verdict"] == "accept"


def test_every_reject_says_what_to_do_however_little_is_missing(client: Client) -> None:
    # a millionth of an inch short, which no sentence shows
    job = job_of(0.0, clay(2.031999))
    answer = ask(client, job)
    assert answer["verdict"] == "reject"
    (told,) = [note["detail"] for note in answer["notes"] if note["code"] == "piston_to_valve_low"]
    # one in the last place that a bench reads is enough
    assert "Raise the head 0.001 mm" in told
    assert ask(client, job | {"gasket_thickness_change": 0.001})["verdict"] == "accept"


def test_a_low_clearance_without_a_valve_angle_still_says_what_to_do(client: Client) -> None:
    job = job_of(0.0, clay(1.0), crown="pocket")
    del job["positions"][0]["piston_to_valve"]["valve_angle"]
    (told,) = [note["detail"] for note in ask(client, job)["notes"] if note["code"] == "piston_to_valve_low"]
    # by hand: 0.080 in is 2.032 mm
    assert told.endswith("Cut the valve pocket 1.032 mm deeper if the crown is thick enough.")


def test_an_angle_cut_asks_for_clay_again(client: Client) -> None:
    answer = ask(client, tilted("flat", "toward_intake", clay(0.130)))
    assert {note["code"]: note["pointer"] for note in answer["notes"]}["valves_swing"] == "/cut"
    assert "valves_swing" not in {note["code"] for note in ask(client, job_of(1.0, clay(4.0)))["notes"]}


def test_a_minimum_that_nothing_is_read_against_is_open(client: Client) -> None:
    job = job_of(0.0, clay(4.0)) | {"limits": {"piston_to_exhaust_valve_minimum": 2.5}}
    answer = ask(client, job)
    assert (answer["positions"][0]["piston_to_valve_check"]["verdict"], answer["verdict"]) == ("accept", "not_measured")
    (item,) = answer["open_items"]
    assert (item["pointer"], item["needed_for"]) == ("/positions", ["piston_to_valve_check"])
    assert "exhaust valves" in item["detail"]


def test_aluminum_rods_ask_for_more_where_no_limit_is_named(client: Client) -> None:
    # from memory: 0.030 in more than the 0.080 and 0.100 in of steel rods
    for valve, steel, aluminum in (("intake", 0.080, 0.110), ("exhaust", 0.100, 0.130)):
        job = job_of(0.0, clay(2.9), valve=valve)
        for material, minimum in (("steel", steel), ("aluminum", aluminum), (None, steel)):
            check = ask(client, job | {"rod_material": material})["positions"][0]["piston_to_valve_check"]
            assert check["limit"] == pytest.approx(minimum * 25.4, abs=1e-9)
        limits = {"limits": {f"piston_to_{valve}_valve_minimum": 2.0}, "rod_material": "aluminum"}
        assert ask(client, job | limits)["positions"][0]["piston_to_valve_check"]["limit"] == 2.0


def test_an_angle_cut_that_lays_a_valve_across_is_refused(client: Client) -> None:
    job = tilted("flat", "toward_intake", clay(0.130))
    job["positions"][0]["piston_to_valve"]["valve_angle"] = 89.5
    response = client.post(PATH, json=job)
    assert response.status_code == 422
    (error,) = response.json()["errors"]
    assert error["pointer"] == "/positions/0/piston_to_valve/valve_angle"
    assert "90.5 deg" in error["detail"]


def test_a_wedge_that_ends_before_a_valve_is_refused(client: Client) -> None:
    # 0.1 mm at the edge, 0.01 mm less per millimeter: nothing left 10 mm across
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
    assert ask(client, job)["positions"][0]["head_drop"] == 0.0
