"""POST /v1/milling: limits of pistons, valves and lifters, beside hand arithmetic."""

from __future__ import annotations

import pytest
from tests.api.milling_jobs import Client, ask, flat


def test_a_minimum_asks_for_the_clearance_of_every_valve_of_its_kind(client: Client) -> None:
    job = flat(0.0, limits={"piston_to_intake_valve_minimum": 2.0, "piston_to_exhaust_valve_minimum": 2.5})
    clearance = {"crown": "flat", "read": {"kind": "clay", "thinnest_clay": 5.0}}
    job["positions"] = [
        {"id": "1I", "valve": "intake", "piston_to_valve": clearance},
        {"id": "2I", "valve": "intake"},
    ]
    answer = ask(client, job)
    assert (answer["piston_to_valve"]["verdict"], answer["verdict"]) == ("accept", "not_measured")
    assert [item["pointer"] for item in answer["open_items"]] == ["/positions", "/positions/1/piston_to_valve"]


def test_a_preload_range_that_nothing_is_read_against_is_open(client: Client) -> None:
    answer = ask(client, flat(0.0, lifters={"preload_maximum": 1.5}))
    assert (answer["verdict"], [item["pointer"] for item in answer["open_items"]]) == ("not_measured", ["/positions"])
    job = flat(0.0, lifters={"preload_maximum": 1.5}, positions=[{"id": "1I", "valve": "intake"}])
    assert [item["pointer"] for item in ask(client, job)["open_items"]] == ["/positions/0/pushrod"]


def test_aluminum_rods_of_its_cylinders_ask_for_more_between_piston_and_valve(client: Client) -> None:
    # from memory: 0.080 in and 0.030 in more
    clearance = {"crown": "flat", "read": {"kind": "clay", "thinnest_clay": 5.0}}
    job = flat(0.0, positions=[{"id": "1I", "valve": "intake", "piston_to_valve": clearance}])
    for cylinder, minimum in ((None, 0.080), ({"rod_material": "aluminum"}, 0.110)):
        (line,) = ask(client, job | {"cylinder": cylinder})["piston_to_valve"]["positions"]
        assert line["piston_to_valve_check"]["limit"] == pytest.approx(minimum * 25.4, abs=1e-9)
