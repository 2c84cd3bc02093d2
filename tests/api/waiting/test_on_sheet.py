"""Outstanding parts on the sheet of a head: what is open says which part it waits for, and sheets list the parts."""

from __future__ import annotations

import json
from copy import deepcopy
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import DEMO, ROOT, Job, jobs, whole_job
from tests.sheets import printed, sheet

from headbench.sheet.model import Table

Client = TestClient[ASGIApp]
PATH = "/v1/head-assembly"
TODAY = "2026-03-09"
RANGE = {"promised_on": "2026-03-16", "promised_latest": "2026-03-20"}


def ask(client: Client, request: Job) -> Any:
    response = client.post(PATH, json=request)
    assert response.status_code == 200, response.text
    return response.json()


def head(*parts: Job, positions: Any = None) -> Job:
    """A head of an intake and an exhaust valve of which nothing is measured."""
    bare = [{"id": "1I", "valve": "intake"}, {"id": "1E", "valve": "exhaust"}]
    return {"positions": positions or bare, "outstanding": {"as_of": TODAY, "parts": list(parts)}}


def waits(answer: Any) -> dict[str, list[str]]:
    """What each open item waits for, where it waits."""
    return {
        item["pointer"]: [one["part"] for one in item["waits_for"]]
        for item in answer["open_items"]
        if item["waits_for"]
    }


def test_an_open_item_names_the_part_it_waits_for_and_its_days(client: Client) -> None:
    answer = ask(client, head({"id": "seals", "kind": "seals", **RANGE}))
    waiting = [item for item in answer["open_items"] if item["waits_for"]]
    assert {item["pointer"] for item in waiting} == {f"/positions/{place}/retainer_to_seal" for place in (0, 1)}
    assert waiting[0]["waits_for"] == [{"part": "seals", "soonest": "2026-03-16", "latest": "2026-03-20"}]
    (line,) = answer["parts_outstanding"]
    assert (line["id"], line["missing"], line["latest"]) == ("seals", 1, "2026-03-20")


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        ("valves", {"measured_height", "retainer_to_seal", "masses"}),
        ("retainers_and_locks", {"measured_height", "retainer_to_seal", "masses"}),
        ("springs", {"spring"}),
        ("cam_card", {"valve_lift"}),
        ("heads", {"measured_height", "retainer_to_seal"}),
        ("manifold", set()),
    ],
)
def test_each_kind_of_part_holds_up_what_is_read_with_it(client: Client, kind: str, fields: set[str]) -> None:
    found = waits(ask(client, head({"id": "x", "kind": kind, **RANGE})))
    assert {pointer.split("/")[-1] for pointer in found} == fields


def test_a_part_for_one_kind_of_valve_or_with_some_in_hand_holds_up_no_more_than_the_rest(client: Client) -> None:
    exhaust = {"id": "x", "kind": "valves", "valve": "exhaust", **RANGE}
    assert all(pointer.startswith("/positions/1/") for pointer in waits(ask(client, head(exhaust))))
    some = {"id": "x", "kind": "valves", "needed": 2, "in_hand": 1, "in_hand_for": ["1E"], **RANGE}
    found = waits(ask(client, head(some)))
    assert found
    assert all(pointer.startswith("/positions/0/") for pointer in found)
    card = {"id": "x", "kind": "cam_card", "valve": "intake", **RANGE}
    assert list(waits(ask(client, head(card)))) == ["/valvetrain/intake/valve_lift"]


def test_springs_in_hand_are_known_by_their_own_ids_or_their_positions(client: Client) -> None:
    job = head({"id": "x", "kind": "springs", "needed": 3, "in_hand": 2, "in_hand_for": ["S1", "2I"], **RANGE})
    job["springs"] = [{"id": name} for name in ("S1", "S2", "S3")]
    job["positions"] = [{"id": f"{at}I", "valve": "intake", "spring": f"S{at}"} for at in (1, 2, 3)]
    found = waits(ask(client, job))
    assert found
    assert all(pointer.startswith("/springs/2/") for pointer in found)


def test_fields_named_by_pointer_wait_with_all_below_them_and_no_others(client: Client) -> None:
    found = waits(ask(client, head({"id": "x", "feeds": ["/positions/1", "/targets/intake"], **RANGE})))
    assert all(one.startswith(("/positions/1/", "/targets/intake/")) for one in found)
    assert "/targets/intake/installed_height" in found
    # /positions/1 is not /positions/10
    many = [{"id": str(at), "valve": "intake"} for at in range(11)]
    found = waits(ask(client, head({"id": "x", "feeds": ["/positions/1"], **RANGE}, positions=many)))
    assert {pointer.split("/")[2] for pointer in found} == {"1"}


def test_readings_named_in_place_of_the_table_count_in_its_place(client: Client) -> None:
    found = waits(ask(client, head({"id": "x", "kind": "valves", "feeds": ["spring_matching"], **RANGE})))
    assert set(found) == {"/positions/0/spring", "/positions/1/spring"}


def test_a_reading_to_be_taken_again_waits_for_nothing(client: Client) -> None:
    job = whole_job()
    # its decimal point slipped: it was read, so the parts are here
    job["positions"][0]["retainer_to_seal"] = 6.02
    job["outstanding"] = {"as_of": TODAY, "parts": [{"id": "seals", "kind": "seals", **RANGE}]}
    answer = ask(client, job)
    assert "/positions/0/retainer_to_seal" in [item["pointer"] for item in answer["open_items"]]
    assert waits(answer) == {}


def test_a_late_part_and_one_without_a_date_are_asked_for_and_give_no_date(client: Client) -> None:
    late = {
        "id": "seals",
        "kind": "seals",
        "needed": 16,
        "in_hand": 10,
        "in_hand_for": ["1E"],
        "promised_on": "2026-02-23",
    }
    answer = ask(client, head({"id": "springs", "kind": "springs"}, late))
    details = [item["detail"] for item in answer["open_items"] if item["pointer"].startswith("/outstanding")]
    assert details == [
        "Seals: ask for a new date.",
        "Springs: ask when it comes, or order and enter the lead time; no date is known.",
    ]
    assert [note["detail"] for note in answer["notes"] if note["code"] == "part_late"] == [
        "Seals: 6 of 16 missing, promised for Feb 23, 2026, 2 weeks ago: ask."
    ]
    (item,) = (one for one in answer["open_items"] if one["pointer"] == "/positions/0/retainer_to_seal")
    assert item["waits_for"] == [{"part": "seals", "soonest": None, "latest": None}]


def test_a_part_that_is_here_or_that_nothing_waits_for_is_told_so(client: Client) -> None:
    answer = ask(
        client, head({"id": "manifold", "kind": "manifold", **RANGE}, {"id": "seals", "kind": "seals", "in_hand": 1})
    )
    assert [line["id"] for line in answer["parts_outstanding"]] == ["manifold"]
    assert [note["detail"] for note in answer["notes"] if note["code"] == "part_feeds_nothing"] == [
        "Manifold: nothing that is open on this sheet waits for it."
    ]


def test_what_contradicts_itself_is_refused_where_it_stands(client: Client) -> None:
    job = head({"id": "a", "ordered_on": "2026-03-02", "promised_on": "2026-03-01"}, {"id": "a"})
    response = client.post(PATH, json=job)
    assert response.status_code == 422
    assert [error["pointer"] for error in response.json()["errors"]] == [
        "/outstanding/parts/1/id",
        "/outstanding/parts/0/promised_on",
    ]


kinds = st.sampled_from(
    ["heads", "valves", "springs", "retainers_and_locks", "seals", "cam_card", "rockers", "pushrods"]
)


@settings(max_examples=30)
@given(job=jobs(), kind=kinds)
def test_parts_outstanding_change_no_number_no_verdict_and_no_item_that_was_open(
    client: Client, job: Job, kind: str
) -> None:
    more = deepcopy(job) | {"outstanding": {"as_of": TODAY, "parts": [{"id": "x", "kind": kind, **RANGE}]}}
    plain, told = ask(client, job), ask(client, more)
    own = {"open_items", "notes", "parts_outstanding"}
    assert told.keys() == plain.keys()
    assert {name: told[name] for name in told if name not in own} == {
        name: plain[name] for name in plain if name not in own
    }
    assert [item | {"waits_for": []} for item in told["open_items"]] == plain["open_items"]
    assert told["notes"][: len(plain["notes"])] == plain["notes"]


AWAITING: Job = json.loads((ROOT / "shared" / "demo" / "parts-outstanding.json").read_text())
"""The demo's heads with two exhaust valves, their springs, some seals and the manifold not here."""


@pytest.mark.parametrize("which", ["bench", "customer"])
def test_the_sheets_list_the_parts_the_late_first_and_say_of_each_item_what_it_waits_for(which: str) -> None:
    told = " ".join(printed(AWAITING, "text", which).decode().split())
    assert "Parts outstanding, as of Mar 9, 2026 (4)" in told
    late = "springs 2 of 16 no date no date LATE by 2 weeks: ask P3E and P4E"
    coming = "exhaust valves, 8 mm stem 2 of 8 Mar 16, 2026 Mar 23, 2026 by lead time P3E and P4E"
    assert told.index(late) < told.index(coming)
    assert "P3E: enter the id of the spring that goes here. Waits for springs (no date)." in told
    assert "no shims. Waits for exhaust valves, 8 mm stem (Mar 16 to Mar 23, 2026)." in told


def test_a_head_of_a_pair_names_its_own_positions_alone() -> None:
    waiting = []
    for leaf in sheet(AWAITING, "customer").leaves:
        (section,) = (one for one in leaf.in_turn() if one.title.startswith("Parts outstanding"))
        (table,) = section.blocks
        assert isinstance(table, Table)
        waiting.append({row[0].text: row[-1].text for row in table.rows})
    assert waiting == [
        {
            "manifold": "nothing open here",
            "springs": "P3E and P4E",
            "exhaust valves, 8 mm stem": "P3E and P4E",
            "seals": "P3E and P4E",
        },
        {
            "manifold": "nothing open here",
            "springs": "nothing open here",
            "exhaust valves, 8 mm stem": "nothing open here",
            "seals": "S3I and S4I",
        },
    ]


def test_without_parts_there_is_no_list_of_them() -> None:
    assert "Parts outstanding" not in printed(DEMO, "text", "customer").decode()
    job = deepcopy(DEMO) | {"outstanding": {"as_of": TODAY, "parts": [{"id": "seals", "in_hand": 1}]}}
    assert "Parts outstanding" not in printed(job, "text", "customer").decode()
