"""POST /v1/pushrod-length against hand arithmetic."""

from __future__ import annotations

from copy import deepcopy
from math import sqrt
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job, example

EXAMPLE = example("pushrod-length")


Client = TestClient[ASGIApp]
PATH = "/v1/pushrod-length"
TRAVEL = "/lifters/plunger_travel"
# the usual 0.020 to 0.060 in, its upper end entered: while neither it nor the travel is, no preload is judged good
RANGE = {"preload_maximum": 0.060}
STRAIGHT = {"kind": "length_and_angle", "length": 8.150, "angle": 0}


WEDGE = EXAMPLE["cut"]


def ask(client: Client, job: Job) -> Any:
    response = client.post(PATH, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def errors(client: Client, job: Job) -> dict[str, str]:
    response = client.post(PATH, json=job)
    assert response.status_code == 422, response.text
    return {error["pointer"]: error["detail"] for error in response.json()["errors"]}


def one(cut: float, pushrod: Job, **more: Any) -> Job:
    return {
        "cut": {"kind": "flat", "depth": cut},
        "positions": [{"id": "1I", "valve": "intake", "pushrod": pushrod}],
        **more,
    }


def line(client: Client, job: Job) -> Any:
    return ask(client, job)["positions"][0]


def test_a_pushrod_along_the_bore_is_too_long_by_the_heads_drop(client: Client) -> None:
    # by hand: 0.030 in nearer; preload 0.030 + 0.030, at the end of its range; middle of the range 0.040
    found = line(client, one(0.030, {"geometry": STRAIGHT, "preload": 0.030}, lifters=RANGE))
    assert (found["shortening"], found["preload_after"]) == (0.03, 0.06)
    assert (found["length_for_same_preload"], found["length_for_target_preload"]) == (8.12, 8.13)
    assert (found["stock_from"], found["stock_steps_shorter"]) == ("present_pushrod", 0)
    assert found["preload_check"]["verdict"] == "accept"


def test_an_off_the_shelf_step_lands_in_range_or_is_said_not_to(client: Client) -> None:
    # 0.030 + 0.045 = 0.075, above 0.060; one step of 0.050 shorter: 0.025
    job = one(0.045, {"geometry": STRAIGHT, "preload": 0.030}, lifters=RANGE)
    answer = ask(client, job)
    found = answer["positions"][0]
    assert (found["stock_steps_shorter"], found["stock_preload"], found["stock_in_range"]) == (1, 0.025, True)
    assert (answer["common_steps_shorter"], answer["common_in_range"], answer["verdict"]) == (1, True, "borderline")
    # off its range it is a setting: rejected where the job asks for it
    assert ask(client, job | {"limits": {"off_target": "reject"}})["verdict"] == "reject"
    # a step of 0.200 passes the range on both sides
    answer = ask(client, job | {"lifters": {"stock_step": 0.200}})
    assert answer["positions"][0]["stock_in_range"] is False
    assert [note["pointer"] for note in answer["notes"] if note["code"] == "no_stock_length"] == [
        "/positions/0/pushrod"
    ]


def test_a_leaning_pushrod_shortens_by_the_distance_of_its_ends(client: Client) -> None:
    # by hand, 60 degrees: 100 mm along and 173.205 mm across; 10 mm nearer leaves sqrt(90^2 + 173.205^2)
    leaning = {"geometry": {"kind": "length_and_angle", "length": 200.0, "angle": 60.0}}
    found = line(client, one(10.0, leaning, units={"length": "mm"}))
    assert found["shortening"] == pytest.approx(200.0 - sqrt(90.0**2 + 30000.0), abs=1e-9)
    # a 3-4-5 triangle: 60 across, 80 along; 5 nearer leaves sqrt(60^2 + 75^2)
    ends = {"lifter_end": {"x": 1, "y": 2, "z": 3}, "rocker_end": {"x": 37, "y": 50, "z": 83}}
    found = line(client, one(5.0, {"geometry": {"kind": "two_ends", **ends}}, units={"length": "mm"}))
    assert found["length_before"] == pytest.approx(100.0, abs=1e-9)
    assert found["shortening"] == pytest.approx(100.0 - sqrt(60.0**2 + 75.0**2), abs=1e-9)


def test_the_mock_up_gives_the_length_by_itself(client: Client) -> None:
    # 8.100 + 0.035 - 0.031
    job = one(0.0, {"mock_up": {"length": 8.100, "preload": 0.031}}, lifters={"target_preload": 0.035})
    answer = ask(client, job)
    found = answer["positions"][0]
    assert found["length_by_mock_up"] == 8.104
    # a checking rod's own length is no length in stock, and nothing says how long the present one is
    assert (found["stock_from"], found["stock_steps_shorter"], found["stock_preload"]) == (None, None, None)
    assert found["length_to_order"] == 8.104
    # nobody has measured the one that will run
    assert (found["preload_check"]["verdict"], answer["verdict"]) == ("not_measured", "not_measured")
    assert [item["pointer"] for item in answer["open_items"]] == [TRAVEL, "/positions/0/pushrod/geometry"]
    assert answer["common_steps_shorter"] is None


def test_a_ground_seat_presses_the_pushrod_down_by_the_rockers_ratio(client: Client) -> None:
    # 0.75 mm square to a 60 degree seat sinks 1.5 mm; a rocker of 1.5 makes 1.0 mm of it
    job = one(0.0, {"geometry": STRAIGHT, "preload": 0.5}, units={"length": "mm"})
    job["positions"][0] |= {"seat_ground": 0.75, "seat_angle": 60, "rocker_ratio": 1.5}
    found = line(client, job)
    assert (found["shortening"], found["from_sunk_valve"], found["preload_after"]) == (0.0, 1.0, 1.5)
    assert found["length_for_same_preload"] == 7.15


@pytest.mark.parametrize("seat", [{"seat_ground": 0.75, "seat_angle": 60}, {"sink": 1.5}, {"sink": -1.5}])
def test_a_seat_that_was_done_asks_for_the_rockers_ratio(client: Client, seat: Job) -> None:
    job = one(0.0, {"geometry": STRAIGHT, "preload": 0.5}, units={"length": "mm"}, lifters={"plunger_travel": 3.0})
    job["positions"][0] |= seat
    answer = ask(client, job)
    assert [item["pointer"] for item in answer["open_items"]] == ["/positions/0/rocker_ratio"]
    assert answer["verdict"] == "not_measured"


def test_the_nut_undoes_the_work_by_its_thread(client: Client) -> None:
    # 2 mm nearer; 1.25 mm per turn, 1.6 mm at the pushrod per mm of the nut: one turn looser
    job = one(2.0, {"geometry": STRAIGHT, "preload": 1.0}, units={"length": "mm"})
    job |= {"adjuster": {"thread_pitch": 1.25, "lever_ratio": 1.6}, "lifters": {"target_preload": 1.0}}
    found = line(client, job)
    assert (found["turns_for_same_preload"], found["turns_for_target_preload"]) == (-1.0, -1.0)


def test_a_solid_lifter_loses_lash_instead(client: Client) -> None:
    job = one(
        0.010, {"geometry": STRAIGHT, "preload": -0.022}, lifters={"preload_minimum": -0.026, "preload_maximum": -0.018}
    )
    answer = ask(client, job)
    assert answer["positions"][0]["preload_after"] == -0.012
    assert answer["positions"][0]["preload_check"]["limit"] == -0.018
    # a solid lifter has no plunger to ask for, and too little lash is a setting
    assert (answer["verdict"], answer["open_items"]) == ("borderline", [])
    # by hand: 0.022 of lash less 0.022 leaves none: it holds the valve open
    job["cut"]["depth"] = 0.022
    answer = ask(client, job)
    assert (answer["verdict"], answer["positions"][0]["preload_check"]["check_class"]) == ("reject", "damage")


def test_every_pushrod_takes_the_wedges_depth_at_its_own_place(client: Client) -> None:
    # 0.010 + 0.042 * 4/6 - 0.004
    assert line(client, EXAMPLE)["head_drop"] == 0.034


@pytest.mark.parametrize(
    ("path", "waits"),
    [
        ("distance_across", "shortening"),
        ("rocker_ratio", "from_sunk_valve"),
        ("pushrod/geometry", "length_for_same_preload"),
        ("pushrod/preload", "preload_after"),
    ],
)
def test_a_missing_reading_is_an_open_item_and_never_good(client: Client, path: str, waits: str) -> None:
    job = deepcopy(EXAMPLE)
    job["positions"].pop(1)
    del job["positions"][0]["pushrod"]["mock_up"]
    job["cut"] = WEDGE if path == "distance_across" else {"kind": "flat", "depth": 0.010}
    asked = ["/positions/0/pushrod/mock_up"] if path == "distance_across" else []
    assert [item["pointer"] for item in ask(client, job)["open_items"]] == asked
    holder = job["positions"][0]
    *parents, last = path.split("/")
    for parent in parents:
        holder = holder[parent]
    del holder[last]
    answer = ask(client, job)
    items = {item["pointer"]: item for item in answer["open_items"]}
    assert list(items) == [f"/positions/0/{path}", *asked]
    assert waits in items[f"/positions/0/{path}"]["needed_for"]
    assert answer["positions"][0][waits] is None
    assert answer["verdict"] == "not_measured"


def test_a_head_that_stays_needs_no_geometry(client: Client) -> None:
    answer = ask(client, one(0.0, {"preload": 0.030}, lifters=RANGE))
    found = answer["positions"][0]
    assert (found["shortening"], found["preload_after"], answer["verdict"]) == (0.0, 0.03, "accept")
    # only its lengths wait for the pushrod itself
    (item,) = answer["open_items"]
    assert item["needed_for"] == ["length_before", "length_for_same_preload", "length_for_target_preload"]


def test_every_contradiction_is_named_at_once(client: Client) -> None:
    job = deepcopy(EXAMPLE)
    job["cut"] = {"kind": "tilt", "at": {"distance_across": 1, "depth": 0.01}, "tilt": -60}
    job["lifters"] = {"preload_minimum": 0.070, "preload_maximum": 0.060}
    job["positions"][0]["seat_angle"] = 90
    job["positions"][1]["id"] = "1I"
    assert set(errors(client, job)) == {
        "/cut/tilt", "/lifters/preload_maximum", "/positions/0/seat_angle", "/positions/1/id",
    }  # fmt: skip


def test_pushrods_that_cannot_stand_are_refused(client: Client) -> None:
    point = {"x": 1.0, "y": 1.0, "z": 1.0}
    job: Job = {
        "cut": {"kind": "flat", "depth": 2.0},
        "lifters": {"target_preload": 0.2} | RANGE,
        "positions": [
            {"id": "1I", "valve": "intake", "pushrod": {"geometry": geometry}}
            for geometry in (
                {"kind": "length_and_angle", "length": 8.15, "angle": 90},
                {"kind": "length_and_angle", "length": 1.9, "angle": 0},
                {"kind": "two_ends", "lifter_end": point, "rocker_end": point},
            )
        ],
    }
    for place, position in enumerate(job["positions"]):
        position["id"] = f"{place}I"
    assert set(errors(client, job)) == {"/lifters/target_preload"}
    del job["lifters"]
    found = errors(client, job)
    assert set(found) == {f"/positions/{place}/pushrod/geometry" for place in range(3)}
    assert (
        "the head drops 2.000 in, past the lifter end of a pushrod 1.900 in long"
        in found["/positions/1/pushrod/geometry"]
    )


def test_a_mock_up_is_judged_where_there_is_one(client: Client) -> None:
    # by hand: 0.030 + 0.020 = 0.050 is inside 0.020 to 0.060, but 0.090 read with the same 8.15 in is not
    pushrod = {"geometry": STRAIGHT, "preload": 0.030, "mock_up": {"length": 8.15, "preload": 0.09}}
    answer = ask(client, one(0.020, pushrod, lifters=RANGE))
    found = answer["positions"][0]
    assert (found["preload_after"], found["preload_by_mock_up"]) == (0.05, 0.09)
    assert (found["preload_check"]["value"], answer["verdict"]) == (0.09, "borderline")
    # 0.090 - 0.050 = 0.040
    assert (found["stock_from"], found["stock_steps_shorter"], found["stock_preload"]) == ("mock_up", 1, 0.04)
    told = {note["code"]: note for note in answer["notes"]}["mock_up_disagrees"]
    assert told["pointer"] == "/positions/0/pushrod/mock_up"
    assert (
        "figured from the earlier readings it has preload 0.050 in, the mock-up shows preload 0.090 in"
        in told["detail"]
    )


def test_steps_of_stock_count_from_the_present_pushrod(client: Client) -> None:
    # by hand: 8.150 is 0.087 longer than 8.063, so it presses 0.031 + 0.087 = 0.118; two steps shorter 0.018 is
    # nearest to 0.040 but one of 0.050 leaves 0.068: (0.118 - 0.040)/0.050 = 1.56, two steps
    pushrod = {"geometry": STRAIGHT, "mock_up": {"length": 8.063, "preload": 0.031}}
    answer = ask(client, one(0.020, pushrod, lifters=RANGE))
    found = answer["positions"][0]
    assert (found["preload_after"], found["preload_by_mock_up"]) == (None, 0.118)
    assert (found["stock_steps_shorter"], found["stock_preload"], found["stock_in_range"]) == (2, 0.018, False)
    assert (answer["verdict"], [item["pointer"] for item in answer["open_items"]]) == ("borderline", [])


def test_a_mock_up_beside_a_preload_asks_how_long_the_present_pushrod_is(client: Client) -> None:
    answer = ask(client, one(0.020, {"preload": 0.030, "mock_up": {"length": 8.15, "preload": 0.04}}))
    assert answer["verdict"] == "not_measured"
    (item,) = [item for item in answer["open_items"] if item["pointer"] != TRAVEL]
    assert item["pointer"] == "/positions/0/pushrod/geometry"
    assert "preload_check" in item["needed_for"]


def test_a_pushrod_of_which_nothing_is_known_never_counts_as_good(client: Client) -> None:
    job = one(0.010, {"geometry": STRAIGHT, "preload": 0.030}, lifters=RANGE)
    job["positions"].append({"id": "1E", "valve": "exhaust", "pushrod": {}})
    answer = ask(client, job)
    assert [line["preload_check"]["verdict"] for line in answer["positions"]] == ["accept", "not_measured"]
    assert answer["verdict"] == "not_measured"


def test_a_wedge_takes_its_depth_where_the_pushrods_rocker_end_stands(client: Client) -> None:
    # by hand: 0.010 in per inch across; 3 in across takes 0.030, the valve at 4 in would take 0.040
    cut = {
        "kind": "two_depths",
        "first": {"distance_across": 0.0, "depth": 0.0},
        "second": {"distance_across": 6.0, "depth": 0.06},
    }
    job = one(0.0, {"geometry": STRAIGHT, "preload": 0.030, "distance_across": 3.0}) | {"cut": cut}
    job["positions"][0]["distance_across"] = 4.0
    answer = ask(client, job)
    assert answer["positions"][0]["shortening"] == 0.03
    assert "pushrods_swing" in {note["code"] for note in answer["notes"]}
    del job["positions"][0]["pushrod"]["distance_across"]
    assert line(client, job)["shortening"] == 0.04


def test_a_wedge_that_ends_before_a_pushrod_is_refused(client: Client) -> None:
    # 0.01 in at the edge and none 1 in across: 4 in across it would have to put 0.03 in on
    cut = {
        "kind": "two_depths",
        "first": {"distance_across": 0.0, "depth": 0.01},
        "second": {"distance_across": 1.0, "depth": 0.0},
    }
    job = one(0.0, {"geometry": STRAIGHT, "preload": 0.030, "distance_across": 4.0}) | {"cut": cut}
    assert "-0.030 in" in errors(client, job)["/positions/0/pushrod/distance_across"]


def test_a_gasket_as_thick_as_the_cut_moves_nothing(client: Client) -> None:
    # 0.1 + 0.2 - 0.3 mm, which binary numbers do not make nothing
    job = one(
        0.1,
        {"preload": 0.7},
        block_decked=0.2,
        gasket_thickness_change=0.3,
        units={"length": "mm"},
        lifters={"preload_maximum": 1.5},
    )
    answer = ask(client, job)
    assert (answer["positions"][0]["head_drop"], answer["positions"][0]["preload_after"]) == (0.0, 0.7)
    assert answer["verdict"] == "accept"


@pytest.mark.parametrize(
    "cut",
    [
        {
            "kind": "two_depths",
            "first": {"distance_across": 0.0, "depth": 0.03},
            "second": {"distance_across": 6.0, "depth": 0.03},
        },
        {"kind": "tilt", "at": {"distance_across": 0.0, "depth": 0.03}, "tilt": 0.0},
    ],
)
def test_a_wedge_without_a_slope_is_a_flat_cut(client: Client, cut: Job) -> None:
    job = one(0.03, {"geometry": STRAIGHT, "preload": 0.030})
    assert ask(client, job | {"cut": cut}) == ask(client, job)
