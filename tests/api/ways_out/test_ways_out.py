from __future__ import annotations

from copy import deepcopy

import pytest
from hypothesis import given, settings
from tests.api.jobs import DEMO
from tests.ways_asking import Client, ask, group, ids, job, noted, with_reading
from tests.ways_jobs import benches, drawers, ways_job
from tests.ways_referee import Bench, Drawer


# the trade's own numbers, from memory, as no source is known
def test_its_limits_stand_in_the_table_with_what_they_rest_on(client: Client) -> None:
    rows = {row["name"]: row for row in client.get("/v1/reference/limits").json()["rows"]}
    for name, value in {"tip_above_retainer_minimum": 0.060, "pocket_floor_minimum": 0.150}.items():
        assert (rows[name]["values"], rows[name]["check_class"]) == ([value], "damage")
        assert rows[name]["basis"].startswith("from memory")


def test_one_short_valve_is_put_right_three_ways_and_told_in_one_sentence(client: Client) -> None:
    answer = ask(client, job())
    assert answer["verdict"] == "borderline"
    assert ids(answer["groups"][0]) == ["+0.050 locks", "pocket deeper at 3E", "-0.050 locks + long valve"]
    (told,) = noted(answer, "ways_out")
    # the least room: 3E's tip, 0.158 - 0.050 - 0.060; its seal, 0.548 - 0.480 - 0.050, and with 0.050 more
    assert told == (
        "Exhaust valves: now 3E is 0.035 in short. What puts them right: 1) +0.050 locks (2 shims, tightest "
        "clearance 0.048 in over its minimum); 2) pocket deeper at 3E (3E 0.035 in; 1 shim, tightest clearance "
        "0.018 in over its minimum); 3) -0.050 locks + long valve (2 shims, tightest clearance 0.068 in over its "
        "minimum)."
    )
    assert answer["together"]["ways"] == ["+0.050 locks"]
    assert {total["thickness"]: total["count"] for total in answer["together"]["shim_totals"]} == {
        0.015: 1, 0.030: 0, 0.060: 1,
    }  # fmt: skip


def test_other_parts_are_cautioned_of_and_what_follows_is_told(client: Client) -> None:
    answer = ask(client, job())
    assert "0.050 in: as much less tip above it" in noted(answer, "retainer_raised")[0]
    assert noted(answer, "stem_height_follows")[0].startswith("long valve: the tip stands 0.100 in higher. ")
    assert "break into water or oil" in noted(answer, "pockets_to_cut")[0]
    assert noted(answer, "masses_follow")
    assert noted(answer, "read_again_with_parts")
    without = job()
    without["catalogue"]["pocket_cuts"] = []
    assert not any("Clamp the head" in caution for caution in ask(client, without)["cautions"])


def test_a_head_that_misses_nothing_needs_no_way(client: Client) -> None:
    answer = ask(client, with_reading(1, measured_height=1.827))
    (only,) = answer["groups"]
    assert (only["change_needed"], only["ways"], only["none"], answer["together"]) == (False, [], None, None)
    assert answer["verdict"] == only["as_it_is"]["verdict"] == "accept"


def test_what_is_as_it_is_is_what_the_head_sheet_says(client: Client) -> None:
    request = deepcopy(DEMO)
    answer = ask(client, request)
    sheet = client.post("/v1/head-assembly", json=request).json()
    assert answer["verdict"] == sheet["verdict"]
    lines = {line["id"]: line for found in answer["groups"] for line in found["as_it_is"]["positions"]}
    for line in sheet["positions"]:
        own = lines[line["id"]]
        for name in ("shims", "installed_height", "seat_load", "open_load", "coil_bind_clearance_check"):
            assert own[name] == line[name]


@given(valves=benches(), drawer=drawers())
@settings(max_examples=30)
def test_a_way_is_the_sheet_of_a_head_whose_readings_are_changed_by_hand(
    client: Client, valves: list[Bench], drawer: Drawer
) -> None:
    request = ways_job(valves, drawer)
    for way in group(client, request)["ways"]:
        head = {name: value for name, value in request.items() if name != "catalogue"}
        raised = sum(drawer.locks[name] for name in way["locks"]) + drawer.retainers.get(way["retainer"], 0)
        longer = drawer.valves.get(way["other_valve"], 0)
        head["positions"] = [
            {
                "id": valve.name,
                "valve": "exhaust",
                "deduction": 0.0,
                "spring": "C01",
                "measured_height": (
                    valve.bare + raised + longer + valve.locator - drawer.locators.get(way["locator"], valve.locator)
                )
                / 1e4
                + line["pocket_depth"],
                "retainer_to_seal": None if valve.seal is None else (valve.seal + raised + longer) / 1e4,
            }
            for valve, line in zip(valves, way["positions"], strict=True)
        ]
        sheet = client.post("/v1/head-assembly", json=head).json()
        for line, expected in zip(way["positions"], sheet["positions"], strict=True):
            assert line["shims"] == expected["shims"]
            for name in ("installed_height", "seat_load", "open_load"):
                assert line[name] == pytest.approx(expected[name], abs=1e-9)
            for name in ("coil_bind_clearance_check", "retainer_to_seal_clearance_check"):
                assert line[name]["value"] == pytest.approx(expected[name]["value"], abs=1e-9)
            # a height that looks like a slip of its neighbors' is in doubt only as a reading
            assert line["coil_bind_clearance_check"]["verdict"] in {
                expected["coil_bind_clearance_check"]["verdict"], "accept",
            }  # fmt: skip
