"""POST /v1/milling: seats, valve train, cam drive, intake and what is wanted, beside hand arithmetic."""

from __future__ import annotations

from copy import deepcopy

import pytest
from tests.api.jobs import Job, example
from tests.api.milling_jobs import Client, ask, details, errors, flat

EXAMPLE = example("milling")
CLEARANCES = example("piston-to-valve")
PUSHRODS = example("pushrod-length")


def test_a_ground_seat_opens_its_chamber_and_lifts_stem_and_spring(client: Client) -> None:
    # 0.25 mm off a 60 degree seat sinks a 50 mm valve 0.5 mm: a disc of pi 50^2/4 by 0.5 = 981.7 mm3
    job = flat(0.0, chambers=[{"id": "1", "chamber_volume": 60.0}, {"id": "2", "chamber_volume": 60.0}])
    job["chambers_measured"] = "before_seats"
    job["positions"] = [
        {"id": "2E", "valve": "exhaust", "chamber": "2", "seat_ground": 0.25, "seat_angle": 60, "head_diameter": 50.0}
    ]
    answer = ask(client, job)
    seat = answer["seats"][0]
    assert (seat["sink"], seat["stem_height_change"], seat["installed_height_change"]) == (0.5, 0.5, 0.5)
    assert seat["sunk_volume"] == pytest.approx(0.9817, abs=5e-5)
    assert [line["chamber_volume_after"] for line in answer["chambers"]] == pytest.approx([60.0, 60.9817], abs=5e-5)
    assert "2E: sits 0.50 mm deeper" in details(answer)["valves_sunk"]


@pytest.mark.parametrize("field", ["chamber", "head_diameter"])
def test_a_ground_seat_that_is_not_fully_known_leaves_its_chamber_open(client: Client, field: str) -> None:
    job = flat(0.0, chambers=[{"id": "1", "chamber_volume": 60.0}], chambers_measured="before_seats")
    job["positions"] = [{"id": "1E", "valve": "exhaust", "chamber": "1", "seat_ground": 0.25, "head_diameter": 50.0}]
    del job["positions"][0][field]
    answer = ask(client, job)
    assert [item["pointer"] for item in answer["open_items"]] == [f"/positions/0/{field}"]
    assert answer["chambers"][0]["chamber_volume_after"] is None


@pytest.mark.parametrize(
    ("path", "example", "part"),
    [("/v1/pushrod-length", PUSHRODS, "pushrods"), ("/v1/piston-to-valve", CLEARANCES, "piston_to_valve")],
)
def test_a_part_answered_alone_is_the_same_part_of_the_whole(
    client: Client, path: str, example: Job, part: str
) -> None:
    alone = ask(client, example, path)
    # of a whole engine the rods belong to its cylinders
    whole = ask(client, {name: value for name, value in example.items() if name != "rod_material"})[part]
    assert whole == {name: alone[name] for name in whole}


def test_the_worst_check_of_any_part_is_the_heads_verdict(client: Client) -> None:
    job = deepcopy(EXAMPLE)
    job["positions"].pop(1)
    del job["limits"]["piston_to_exhaust_valve_minimum"]
    assert ask(client, job)["verdict"] == "accept"
    for limit, value in (
        ("head_thickness_minimum", 5.08),
        ("quench_minimum", 0.08),
        ("piston_to_intake_valve_minimum", 0.2),
    ):
        worse = deepcopy(job)
        worse["limits"][limit] = value
        assert ask(client, worse)["verdict"] == "reject"
    worse = deepcopy(job)
    worse["lifters"] = {"preload_minimum": 0.010, "preload_maximum": 0.020}
    assert ask(client, worse)["verdict"] == "borderline"
    worse["limits"]["off_target"] = "reject"
    assert ask(client, worse)["verdict"] == "reject"


CHAMBERS = [{"id": name, "chamber_volume": volume} for name, volume in (("1", 64.0), ("2", 64.5), ("3", 63.5))]
AREA = {"kind": "area", "deck_area": 5000.0}


def test_depth_for_a_chamber_and_for_a_ratio(client: Client) -> None:
    # 50 cm2: 1 mm takes 5 cc; a bore of 100 by 80 mm sweeps 628.3185 cc, so 70 cc over it make a ratio of 9.97598
    job = flat(0.3, chambers=CHAMBERS[:1], chamber_shape=AREA)
    job["cylinder"] = {
        "bore": 100.0, "stroke": 80.0, "deck_clearance": 0.0, "dish_volume": 10.0,
        "gasket": {"compressed_thickness": 0.0, "gasket_bore": 100.0},
    }  # fmt: skip
    job["targets"] = {"chamber_volume": 59.0, "static_ratio": 1 + 628.3185307 / 70.0}
    line = ask(client, job)["for_targets"]["depths"][0]
    assert line["depth_for_volume"] == {"target": 59.0, "depth": 1.0, "nearest": 59.0}
    assert line["depth_for_ratio"]["depth"] == pytest.approx(0.8, abs=1e-6)


def test_equal_chambers_get_the_least_common_cut_and_what_stays_unequal(client: Client) -> None:
    # largest 64.5 down to smallest 63.5: 1 cc, 0.2 mm; all lose 1 cc
    answer = ask(client, flat(0.0, chambers=CHAMBERS, chamber_shape=AREA, targets={"equal_chambers": True}))
    equal = answer["for_targets"]["equal_chambers"]
    assert (equal["target"], equal["common_cut"], equal["spread"], equal["complete"]) == (63.5, 0.2, 1.0, True)
    assert [line["depth"] for line in equal["chambers"]] == [0.1, 0.2, 0.0]
    assert [line["volume_to_open"] for line in equal["chambers"]] == [0.5, 0.0, 1.0]
    assert "1 cm3 apart" in details(answer)["stays_unequal"]
    assert "order_of_work" in details(answer)


def test_a_chamber_not_poured_may_hide_the_largest(client: Client) -> None:
    chambers = [*CHAMBERS, {"id": "4"}]
    answer = ask(client, flat(0.0, chambers=chambers, chamber_shape=AREA, targets={"equal_chambers": True}))
    assert answer["for_targets"]["equal_chambers"]["complete"] is False
    assert answer["for_targets"]["equal_chambers"]["chambers"][3]["depth"] is None


def test_what_cannot_be_reached_is_null_with_the_nearest_and_the_reason(client: Client) -> None:
    # 5 mm of head over what must stay: 25 cc come off at most, 64 - 25 = 39
    chambers = [{"id": "1", "chamber_volume": 64.0, "head_thickness": 130.0}]
    job = flat(0.0, chambers=chambers, chamber_shape=AREA, limits={"head_thickness_minimum": 125.0})
    job["targets"] = {"chamber_volume": 30.0, "equal_chambers": True}
    answer = ask(client, job)
    found = answer["for_targets"]
    assert found["depths"][0]["depth_for_volume"] == {"target": 30.0, "depth": None, "nearest": 39.0}
    assert (found["equal_chambers"]["common_cut"], found["equal_chambers"]["nearest"]) == (None, 39.0)
    assert "leave the head too thin" in details(answer)["not_reachable"]
    job["targets"] = {"chamber_volume": 70.0}
    answer = ask(client, job)
    assert answer["for_targets"]["depths"][0]["depth_for_volume"] == {"target": 70.0, "depth": None, "nearest": 64.0}
    assert "only takes away" in details(answer)["not_reachable"]


def test_without_a_shape_a_depth_is_an_open_item(client: Client) -> None:
    wanted = {"chamber_volume": 60.0, "equal_chambers": True}
    answer = ask(client, flat(0.0, chambers=CHAMBERS, targets=wanted))
    assert [item["pointer"] for item in answer["open_items"]] == ["/chamber_shape"]
    assert answer["for_targets"]["depths"][0]["depth_for_volume"]["depth"] is None
    assert answer["for_targets"]["equal_chambers"]["common_cut"] is None


def test_a_question_without_its_section_is_an_open_item(client: Client) -> None:
    answer = ask(client, flat(0.0, targets={"static_ratio": 10.0}))
    assert [item["pointer"] for item in answer["open_items"]] == ["/chambers", "/cylinder"]
    assert answer["for_targets"] == {"depths": [], "chambers": None, "equal_chambers": None}
    answer = ask(client, flat(0.0, cylinder=EXAMPLE["cylinder"]))
    assert "/chambers" in {item["pointer"] for item in answer["open_items"]}


def test_every_contradiction_of_a_whole_head_is_named_at_once(client: Client) -> None:
    job = deepcopy(EXAMPLE)
    job["cut"] = {"kind": "flat", "depth": 5.1}
    job["chambers"][1]["id"] = "1"
    job["targets"]["static_ratio"] = 0.9
    job["positions"][0] |= {"chamber": "9", "seat_angle": 90}
    job["positions"][0]["pushrod"]["geometry"]["length"] = 4.0
    job["positions"][1]["piston_to_valve"]["valve_angle"] = 90
    # entered against entered: beside a default alone a target is no contradiction
    job["lifters"] = {"target_preload": 0.5, "preload_maximum": 0.06}
    job["gasket_thickness_change"] = -0.1
    assert set(errors(client, job)) == {
        "/chambers/0/chamber_volume", "/chambers/0/head_thickness", "/chambers/1/chamber_volume",
        "/chambers/1/head_thickness", "/chambers/1/id", "/targets/static_ratio", "/positions/0/chamber",
        "/positions/0/seat_angle", "/positions/0/pushrod/geometry", "/positions/1/piston_to_valve/valve_angle",
        "/lifters/target_preload", "/gasket_thickness_change",
    }  # fmt: skip
