from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job, example

Client = TestClient[ASGIApp]
PATH = "/v1/guide-boss"


def job(**parts: Any) -> Job:
    """One valve of the example, worked by hand in tests/calc/guide_boss, with its parts changed."""
    request = example("guide-boss")
    request["positions"] = request["positions"][:1]
    request["parts"]["intake"] |= parts
    return request


def ask(client: Client, request: Job) -> Any:
    response = client.post(PATH, json=request)
    assert response.status_code == 200, response.text
    return response.json()


def line(client: Client, request: Job) -> Any:
    return ask(client, request)["positions"][0]


def refused(client: Client, request: Job) -> list[str]:
    response = client.post(PATH, json=request)
    assert response.status_code == 422, response.text
    return [error["pointer"] for error in response.json()["errors"]]


def noted(answer: Any, code: str) -> list[str]:
    return [note["detail"] for note in answer["notes"] if note["code"] == code]


def held(answer: Any) -> dict[str, list[str]]:
    return {item["pointer"]: item["needed_for"] for item in answer["open_items"]}


# the trade's own numbers, from memory, as no source is known
def test_its_limits_stand_in_the_table_with_what_they_rest_on(client: Client) -> None:
    rows = {row["name"]: row for row in client.get("/v1/reference/limits").json()["rows"]}
    known = {
        "pocket_floor_minimum": ([0.150], "damage"),
        "locator_room_minimum": ([0.005], "setting"),
        "prediction_tolerance": ([0.010], "setting"),
        "locator_room": ([0.005, 0.010], None),
    }
    for name, (values, check_class) in known.items():
        assert (rows[name]["values"], rows[name]["check_class"]) == (values, check_class)


def test_a_plan_stands_before_the_parts_are_there_and_proves_nothing(client: Client) -> None:
    answer = ask(client, job())
    assert (answer["plan_verdict"], answer["verdict"]) == ("accept", "not_measured")
    assert held(answer) == {
        "/positions/0/retainer_to_seal": ["retainer_to_seal_difference_check", "retainer_to_seal_clearance_check"]
    }
    assert noted(answer, "guides_to_cut") == ["Cut guide tops: 1I 0.100 in, to stand 0.830 in over its pocket."]
    (sizes,) = noted(answer, "boss_to_turn")
    assert sizes == (
        "Intake valves: cut guide or boss to 0.530 in, the seal's size, and the pocket to 1.555 in to 1.560 in for the "
        "locator."
    )


def test_guides_are_cut_for_the_minimum_where_no_more_is_wanted(client: Client) -> None:
    assert line(client, job(clearance_wanted=None))["guide_cut"] == pytest.approx(0.090)
    request = job(clearance_wanted=None)
    request["limits"]["retainer_to_seal_clearance_minimum"] = 0.070
    assert line(client, request)["guide_cut"] == pytest.approx(0.110)


@pytest.mark.parametrize(
    ("read", "difference", "verdicts"),
    [
        (0.657, -0.003, ("accept", "accept")),
        (0.650, -0.010, ("accept", "accept")),
        (0.649, -0.011, ("borderline", "reject")),
        (0.672, 0.012, ("borderline", "accept")),
    ],
)
def test_what_is_read_afterward_is_held_against_what_was_figured(
    client: Client, read: float, difference: float, verdicts: tuple[str, str]
) -> None:
    request = job()
    request["positions"][0]["retainer_to_seal"] = read
    answer = ask(client, request)
    own = answer["positions"][0]
    checks = own["retainer_to_seal_difference_check"], own["retainer_to_seal_clearance_check"]
    assert checks[0]["value"] == pytest.approx(difference)
    # 0.600 of lift, 0.050 is the minimum
    assert checks[1]["value"] == pytest.approx(read - 0.600)
    assert tuple(check["verdict"] for check in checks) == verdicts
    told = noted(answer, "prediction_differs")
    assert len(told) == (verdicts[0] == "borderline")
    if told:
        assert ("0.011 in less than figured: look whether the seal is pushed home" in told[0]) == (difference < 0)
    assert bool(noted(answer, "seal_close")) == (verdicts[1] == "reject")


def test_a_floor_that_gets_too_thin_is_rejected_and_says_how_deep_may_be_cut(client: Client) -> None:
    request = job()
    request["positions"][0]["pocket_floor"] = 0.170
    answer = ask(client, request)
    check = answer["positions"][0]["pocket_floor_check"]
    # 0.030 is wanted, 0.140 would be left
    assert (check["value"], check["verdict"], check["check_class"]) == (pytest.approx(0.140), "reject", "damage")
    assert "Cut 0.020 in at most" in noted(answer, "pocket_floor_thin")[0]
    assert (answer["plan_verdict"], answer["verdict"]) == ("reject", "reject")


def test_a_pocket_that_is_not_cut_asks_for_no_floor(client: Client) -> None:
    request = job()
    request["positions"][0] |= {"bare_height": 1.990, "pocket_floor": None}
    answer = ask(client, request)
    assert answer["positions"][0]["pocket_depth"] == pytest.approx(0.0)
    assert answer["positions"][0]["pocket_floor_check"] is None
    assert "/positions/0/pocket_floor" not in held(answer)
    request["positions"][0]["bare_height"] = 1.960
    assert ask(client, request)["positions"][0]["pocket_floor_check"]["verdict"] == "not_measured"
    assert "/positions/0/pocket_floor" in held(ask(client, request))


def test_too_little_guide_in_the_seal_and_too_near_a_spring_are_rejected(client: Client) -> None:
    answer = ask(client, job(guide_in_seal_minimum=0.470, spring_inside_diameter=0.680))
    own = answer["positions"][0]
    assert (own["guide_in_seal_check"]["verdict"], own["seal_to_spring_check"]["verdict"]) == ("reject", "reject")
    assert "Cut the boss 0.020 in lower" in noted(answer, "guide_short_in_seal")[0]
    # (0.680 - 0.600)/2 is 0.010 a side too little
    assert "0.040 in a side" in noted(answer, "boss_near_spring")[0]
    assert "0.020 in wider inside" in noted(answer, "boss_near_spring")[0]


def test_a_narrow_pocket_is_for_a_person_to_decide_unless_the_job_rejects(client: Client) -> None:
    request = job(pocket_diameter=1.553)
    answer = ask(client, request)
    assert answer["positions"][0]["locator_room_check"]["verdict"] == "borderline"
    assert noted(answer, "pocket_narrow") == ["1I: cut the pocket 0.002 in wider, or the locator does not seat."]
    request["limits"]["off_target"] = "reject"
    assert ask(client, request)["plan_verdict"] == "reject"
    assert line(client, job(pocket_diameter=None))["locator_room_check"] is None
    assert line(client, job(locator_thickness=0.0))["locator_room_check"] is None


def test_every_dimension_that_is_missing_is_asked_for_and_nothing_passes_without(client: Client) -> None:
    request = {"positions": [{"id": "1I", "valve": "intake"}]}
    answer = ask(client, request)
    asked = set(held(answer))
    assert {f"/parts/intake/{name}" for name in ("installed_height", "valve_lift", "seal_height")} <= asked
    assert {f"/positions/0/{name}" for name in ("bare_height", "guide_height", "guide_in_seal")} <= asked
    assert (answer["plan_verdict"], answer["verdict"]) == ("not_measured", "not_measured")
    full = job()
    for name in full["parts"]["intake"]:
        without = deepcopy(full)
        without["parts"]["intake"][name] = None if name != "shim_wish" else 0.0
        if name in {"clearance_wanted", "fit_diameter", "pocket_diameter", "shim_wish"}:
            continue
        answer = ask(client, without)
        assert answer["plan_verdict"] == "not_measured", name
        assert f"/parts/intake/{name}" in held(answer)


def test_a_bare_height_nobody_knows_is_taken_from_the_target_and_told(client: Client) -> None:
    request = job()
    request["positions"][0]["bare_height"] = None
    answer = ask(client, request)
    assert answer["positions"][0]["guide_cut"] == pytest.approx(0.070)
    assert answer["positions"][0]["pocket_depth"] is None
    assert len(noted(answer, "bare_height_assumed")) == 1
    assert answer["plan_verdict"] == "not_measured"


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("bare_height", 19.6),
        ("guide_height", 9.0),
        ("guide_in_seal", 5.5),
        ("pocket_floor", 3.0),
        ("retainer_to_seal", 6.6),
    ],
)
def test_a_decimal_point_that_slipped_counts_as_not_measured(client: Client, field: str, value: float) -> None:
    request = job()
    request["positions"][0][field] = value
    answer = ask(client, request)
    assert answer["verdict"] == "not_measured"
    (detail,) = [item["detail"] for item in answer["open_items"] if item["pointer"] == f"/positions/0/{field}"]
    assert "a decimal point may have slipped" in detail


@pytest.mark.parametrize("field", ["bare_height", "guide_height"])
def test_a_height_that_slipped_cuts_no_guide(client: Client, field: str) -> None:
    request = job()
    request["positions"][0][field] *= 10.0
    answer = ask(client, request)
    assert answer["positions"][0]["guide_cut"] is None
    assert noted(answer, "guides_to_cut") == []
    # nothing is assumed for what was entered wrong
    assert noted(answer, "bare_height_assumed") == []


@pytest.mark.parametrize(("field", "value"), [("valve_lift", 6.0), ("retainer_underside", -1.5), ("seal_height", 3.5)])
def test_a_part_that_slipped_cuts_nothing(client: Client, field: str, value: float) -> None:
    answer = ask(client, job(**{field: value}))
    assert answer["positions"][0]["guide_cut"] is None
    (detail,) = [item["detail"] for item in answer["open_items"] if item["pointer"] == f"/parts/intake/{field}"]
    assert "a decimal point may have slipped" in detail


# 0.600 for 0.060
def test_a_locator_that_slipped_deepens_no_pocket(client: Client) -> None:
    answer = ask(client, job(locator_thickness=0.6))
    assert answer["positions"][0]["pocket_depth"] is None
    assert noted(answer, "pockets_to_deepen") == []
    assert "/parts/intake/locator_thickness" in held(answer)


def test_a_lift_or_a_guide_that_is_no_less_than_the_height_is_refused(client: Client) -> None:
    request = job(valve_lift=1.9)
    request["positions"][0] |= {"guide_height": 1.96, "guide_in_seal": 1.961}
    assert refused(client, request) == [
        "/parts/intake/valve_lift",
        "/positions/0/guide_in_seal",
        "/positions/0/guide_height",
    ]
    request = job(valve_lift=1.899)
    request["positions"][0] |= {"guide_height": 1.959}
    ask(client, request)


def test_what_is_cut_and_assembled_is_not_ordered_again(client: Client) -> None:
    answer = ask(client, example("guide-boss"))
    # 2I reads 0.657, figured 0.660
    assert noted(answer, "already_cut") == ["2I: cut and assembled; nothing more to cut."]
    assert noted(answer, "guides_to_cut") == ["Cut guide tops: 1I 0.100 in, to stand 0.830 in over its pocket."]
    assert "2I" not in noted(answer, "pockets_to_deepen")[0]
    assert len(noted(answer, "boss_to_turn")) == len(noted(answer, "cut_then_check")) == 1
    request = job()
    request["positions"][0]["retainer_to_seal"] = 0.660
    after = ask(client, request)
    assert after["verdict"] == "accept"
    assert {note["code"] for note in after["notes"]} == {"plain_comparison", "already_cut"}
    # 0.640 leaves 0.040 of 0.050: there is more to cut, and the note of the seal says so
    request["positions"][0]["retainer_to_seal"] = 0.640
    near = ask(client, request)
    assert noted(near, "already_cut") == noted(near, "guides_to_cut") == []
    assert "cut the guide 0.010 in lower" in noted(near, "seal_close")[0]


@pytest.mark.parametrize(
    ("own", "parts", "why"),
    [
        # 0.030 of 0.170 leaves 0.140 of 0.150
        ({"pocket_floor": 0.170}, {}, "pocket_floor_thin"),
        # 0.550 - 0.100 is 0.450 of 0.470
        ({}, {"guide_in_seal_minimum": 0.470}, "guide_short_in_seal"),
    ],
)
def test_a_cut_that_breaks_something_is_not_ordered(
    client: Client, own: dict[str, float], parts: dict[str, float], why: str
) -> None:
    request = job(**parts)
    request["positions"][0] |= own
    answer = ask(client, request)
    assert noted(answer, "not_as_planned") == ["1I: don't cut as planned, see below."]
    assert noted(answer, "pockets_to_deepen") == noted(answer, "guides_to_cut") == []
    (told,) = noted(answer, why)
    assert ("if the casting is thick enough (measure it)" in told) == (why == "guide_short_in_seal")
    # once it is cut all the same, there is no telling how deep to go
    request["positions"][0]["retainer_to_seal"] = 0.660
    after = ask(client, request)
    assert noted(after, "not_as_planned") == noted(after, "already_cut") == []
    assert not any("at most" in told for told in noted(after, why))


def test_a_guide_that_would_end_under_its_seat_is_not_ordered(client: Client) -> None:
    # 1.960 - 0.150 - 1.500 - 0.060 - 0.350: the guide's top 0.100 under the seat
    answer = ask(client, job(valve_lift=1.5, guide_in_seal_minimum=None))
    assert answer["positions"][0]["guide_height_after"] == pytest.approx(-0.100)
    assert noted(answer, "guides_to_cut") == []
    assert len(noted(answer, "not_as_planned")) == 1


def test_what_contradicts_itself_is_refused_all_at_once(client: Client) -> None:
    request = job(seal_outside_diameter=0.5, locator_outside_diameter=0.5, clearance_wanted=0.02)
    request["parts"]["exhaust"] = {"valve_lift": 0.6}
    request["positions"].append(request["positions"][0] | {"guide_in_seal": 0.95})
    assert refused(client, request) == [
        "/positions/1/id",
        "/parts/intake/seal_outside_diameter",
        "/parts/intake/locator_outside_diameter",
        "/parts/intake/clearance_wanted",
        "/parts/exhaust",
        "/positions/1/guide_in_seal",
    ]
