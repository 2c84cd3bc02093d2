"""POST /v1/milling: what is wanted and what is still to be measured, beside hand arithmetic."""

from __future__ import annotations

import pytest
from tests.api.jobs import Job
from tests.api.milling_jobs import Client, ask, details, flat

POURED: Job = {"kind": "pours", "pours": [{"depth": 0.0, "volume": 57.3}, {"depth": 1.0, "volume": 52.3}]}


def test_a_wanted_depth_beyond_the_pours_is_said_to_be_extrapolated(client: Client) -> None:
    # two pours 1 mm and 5 cm3 apart: 47.3 cm3 is 2 mm down, 1 mm deeper than was poured
    chambers = [{"id": "1", "chamber_volume": 57.3}]
    wanted = {"chamber_volume": 47.3, "equal_chambers": True}
    answer = ask(client, flat(0.0, chambers=chambers, chamber_shape=POURED, targets=wanted))
    assert answer["for_targets"]["depths"][0]["depth_for_volume"]["depth"] == pytest.approx(2.0, abs=1e-9)
    told = [note["detail"] for note in answer["notes"] if note["code"] == "beyond_pours"]
    assert len(told) == 2
    assert all("1.00 mm deeper" in one for one in told)
    wanted["chamber_volume"] = 52.3
    answer = ask(client, flat(0.0, chambers=chambers, chamber_shape=POURED, targets=wanted))
    assert "beyond_pours" not in details(answer)


def test_a_ratio_beyond_the_pours_is_said_to_be_extrapolated(client: Client) -> None:
    # by hand: 400 cm2 x 1 cm = 400 cm3 swept, 9 to 1 leaves 50 cm3: 7.3/5 = 1.46 mm, 0.46 mm beyond the pours
    bore = 2.0 * (400.0 / 3.141592653589793) ** 0.5 * 10.0
    cylinder = {
        "bore": bore,
        "stroke": 10.0,
        "deck_clearance": 0.0,
        "gasket": {"compressed_thickness": 0.0, "gasket_bore": bore},
    }
    job = flat(0.0, chambers=[{"id": "1", "chamber_volume": 57.3}], chamber_shape=POURED, cylinder=cylinder)
    answer = ask(client, job | {"targets": {"static_ratio": 9.0}})
    assert answer["for_targets"]["depths"][0]["depth_for_ratio"]["depth"] == pytest.approx(1.46, abs=1e-6)
    assert "0.46 mm deeper" in details(answer)["beyond_pours"]


def test_a_depth_wanted_of_a_head_nobody_measured_is_said_to_be_unheld(client: Client) -> None:
    chambers = [{"id": "1", "chamber_volume": 57.3}]
    job = flat(0.0, chambers=chambers, chamber_shape=POURED, limits={"head_thickness_minimum": 100.0})
    (item,) = ask(client, job | {"targets": {"chamber_volume": 55.0}})["open_items"]
    assert item["pointer"] == "/chambers/0/head_thickness"
    assert "no cut is checked against the minimum thickness" in item["detail"]
    (item,) = ask(client, job)["open_items"]
    assert "no cut is checked" not in item["detail"]


def test_what_is_wanted_of_no_chambers_is_open(client: Client) -> None:
    answer = ask(client, flat(0.0, targets={"static_ratio": 10.0, "equal_chambers": True}))
    assert answer["for_targets"]["equal_chambers"]["complete"] is False
    assert {item["pointer"] for item in answer["open_items"]} == {"/chambers", "/cylinder"}


def test_a_wanted_quench_asks_for_no_chambers_shape(client: Client) -> None:
    answer = ask(client, flat(0.0, chambers=[{"id": "1", "chamber_volume": 57.3}], targets={"quench": 1.0}))
    assert {item["pointer"]: item["needed_for"] for item in answer["open_items"]} == {
        "/cylinder": ["compression", "chambers"]
    }


def test_a_place_nobody_gave_is_asked_for_once_and_hides_no_other_question(client: Client) -> None:
    cut = {"kind": "tilt", "at": {"distance_across": 0.0, "depth": 0.1}, "tilt": 0.2}
    position = {
        "id": "1",
        "valve": "intake",
        "pushrod": {"geometry": {"kind": "length_and_angle", "length": 200.0, "angle": 0}, "preload": 1.0},
        "piston_to_valve": {"crown": "pocket", "read": {"kind": "clay", "thinnest_clay": 4.0}},
    }
    answer = ask(client, flat(0.0) | {"cut": cut, "positions": [position]})
    items = {item["pointer"]: item["needed_for"] for item in answer["open_items"]}
    assert len(items) == len(answer["open_items"])
    assert {"shortening", "preload_after", "lost", "piston_to_valve_check"} <= set(
        items["/positions/0/distance_across"]
    )
    assert "/positions/0/piston_to_valve/valve_angle" in items


def test_a_cut_that_takes_the_whole_chamber_is_not_laid_to_the_head(client: Client) -> None:
    # by hand: 400 cm3 swept at 101 to 1 leaves 4 cm3, and 5 cm3 of dish are there whatever is cut
    bore = 2.0 * (400.0 / 3.141592653589793) ** 0.5 * 10.0
    cylinder = {
        "bore": bore,
        "stroke": 10.0,
        "deck_clearance": 0.0,
        "dish_volume": 5.0,
        "gasket": {"compressed_thickness": 0.0, "gasket_bore": bore},
    }
    chambers = [{"id": "1", "chamber_volume": 50.0, "head_thickness": 130.0}]
    shape = {"kind": "area", "deck_area": 5000.0}
    job = flat(0.0, chambers=chambers, chamber_shape=shape, cylinder=cylinder, targets={"static_ratio": 100.9})
    told = [note["detail"] for note in ask(client, job)["notes"] if "by milling" in note["detail"]]
    assert len(told) == 1
    assert "whole chamber" in told[0]
