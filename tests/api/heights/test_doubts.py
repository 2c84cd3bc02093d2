"""Heights that are not known for sure: figured with, never accepted, and asked for once."""

from __future__ import annotations

from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job, whole_job
from tests.properties.full_jobs import full_head

Client = TestClient[ASGIApp]
HEIGHT, HEAD = "/v1/installed-height", "/v1/head-assembly"
PATHS = [HEIGHT, HEAD]


def ask(client: Client, path: str, job: Job) -> Any:
    response = client.post(path, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def notes(answer: Any, code: str) -> list[str]:
    return [note["detail"] for note in answer["notes"] if note["code"] == code]


def heights(*positions: Job | float | list[float], target: float = 1.75, **others: Any) -> Job:
    return {
        "height_corrections": {"intake": {"deduction": 0.062}},
        "targets": {"intake": {"installed_height": target}},
        "positions": [
            {"id": str(place), "valve": "intake"} | (one if isinstance(one, dict) else {"measured_height": one})
            for place, one in enumerate(positions, start=1)
        ],
        **others,
    }


def asked(answer: Any, field: str) -> list[tuple[str, str | None]]:
    return [(item["pointer"], item["position"]) for item in answer["open_items"] if field in item["needed_for"]]


def installed_check(answer: Any, place: int = 0) -> str:
    return str(answer["positions"][place]["installed_height_check"]["verdict"])


WITH_LOCATOR = {"height_corrections": {"intake": {"deduction": 0.062, "locator_thickness": 0.06}}}


@pytest.mark.parametrize("path", PATHS)
def test_a_locator_nobody_says_was_in_place_is_never_taken_as_in_place(client: Client, path: str) -> None:
    # in place: 1.855 - 0.062 = 1.793, 0.043 of shim, 0.045 laid, 0.002 short; out: 1.733, 0.017 short with no shims
    answer = ask(client, path, heights(1.855) | WITH_LOCATOR)
    assert installed_check(answer) == "not_measured"
    (item,) = [item for item in answer["open_items"] if item["pointer"] == "/positions/0/locator_in_place"]
    assert item["detail"] == "1: enter whether the locator was in place when the height was measured."
    assert asked(answer, "installed_height_check") == [("/positions/0/locator_in_place", "1")]
    assert "0.060 in less" in notes(answer, "locator_assumed")[0]


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize(("in_place", "off", "verdict"), [(True, -0.002, "accept"), (False, -0.017, "borderline")])
def test_a_locator_of_which_it_is_said_is_judged(
    client: Client, path: str, *, in_place: bool, off: float, verdict: str
) -> None:
    answer = ask(client, path, heights({"measured_height": 1.855, "locator_in_place": in_place}) | WITH_LOCATOR)
    check = answer["positions"][0]["installed_height_check"]
    assert (check["value"], check["verdict"]) == (off, verdict)
    assert asked(answer, "installed_height_check") == []


@pytest.mark.parametrize("path", PATHS)
def test_a_locator_that_was_out_is_asked_for_its_thickness(client: Client, path: str) -> None:
    answer = ask(client, path, heights({"measured_height": 1.855, "locator_in_place": False}))
    assert installed_check(answer) == "not_measured"
    (item,) = [item for item in answer["open_items"] if item["pointer"] == "/positions/0/locator_thickness"]
    assert item["detail"] == "1: enter the thickness of the locator that was not in place."


@pytest.mark.parametrize("path", PATHS)
def test_an_unclear_height_that_the_job_rejects_stays_rejected(client: Client, path: str) -> None:
    # 1.955 - 0.062 - 1.750 = 0.143 of shim, 0.060 at most: 0.083 tall
    job = heights(1.955, limits={"off_target": "reject"}) | WITH_LOCATOR
    assert installed_check(ask(client, path, job)) == "reject"


def test_nothing_that_rests_on_an_unclear_height_is_accepted(client: Client) -> None:
    job = full_head()
    job["intended_speed"], job["limits"]["surge_ratio_minimum"] = 2500, 3
    before = ask(client, HEAD, job)["positions"]
    job["height_corrections"] = {"intake": {"locator_thickness": 0.015}, "exhaust": {"locator_thickness": 0.015}}
    answer = ask(client, HEAD, job)
    rests = [
        "installed_height_check", "seat_load_check", "open_load_check", "coil_bind_clearance_check", "valve_float",
    ]  # fmt: skip
    for was, line in zip(before, answer["positions"], strict=True):
        assert [was[name]["verdict"] for name in rests] == ["accept"] * 5
        assert [line[name]["verdict"] for name in rests] == ["not_measured"] * 5
        assert line["valve_float"]["float_reserve_check"]["verdict"] == "not_measured"
        # the retainer is measured from its seal, whatever the height
        assert line["retainer_to_seal_clearance_check"]["verdict"] == "accept"
    items = [item for item in answer["open_items"] if item["pointer"].endswith("/locator_in_place")]
    assert [item["position"] for item in items] == ["1I", "2I", "1E"]
    assert all(set(rests) <= set(item["needed_for"]) for item in items)


def test_a_height_measured_after_assembly_needs_no_word_of_the_locator(client: Client) -> None:
    # 1.812 - 0.062 = 1.750
    answer = ask(client, HEIGHT, heights({"measured_height": 1.855, "height_with_shims": 1.812}) | WITH_LOCATOR)
    assert installed_check(answer) == "accept"
    assert answer["open_items"] == []


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("field", ["measured_height", "height_with_shims"])
def test_readings_of_a_height_that_disagree_are_never_accepted(client: Client, path: str, field: str) -> None:
    # mean 1.830 - 0.062 = 1.768 stands 0.003 short on a 0.015 shim, but 0.060 apart is more than 0.005
    apart = {"measured_height": [1.80, 1.86], "height_with_shims": [1.79, 1.834]}[field]
    answer = ask(client, path, heights({"measured_height": 1.812, field: apart}))
    assert installed_check(answer) == "not_measured"
    assert asked(answer, "installed_height_check") == [(f"/positions/0/{field}", "1")]
    assert len(notes(answer, "repeats_disagree")) == 1
    (item,) = [item for item in answer["open_items"] if item["pointer"] == f"/positions/0/{field}"]
    assert "measure" in item["detail"]


def test_loads_and_clearances_on_readings_that_disagree_are_never_accepted(client: Client) -> None:
    job = whole_job()
    assert ask(client, HEAD, job)["verdict"] == "accept"
    job["positions"][0]["measured_height"] = [1.841, 1.901]
    line = ask(client, HEAD, job)["positions"][0]
    assert {
        line[f"{name}_check"]["verdict"]
        for name in ("installed_height", "seat_load", "open_load", "coil_bind_clearance")
    } == {"not_measured"}


def test_a_seat_load_read_on_the_head_stands_whatever_the_height(client: Client) -> None:
    # the figured seat load is 116.706 lbf at 1.751
    job = whole_job()
    job["positions"][0] |= {"measured_height": [1.841, 1.901], "seat_load_with_shims": 117.0}
    answer = ask(client, HEAD, job)
    line = answer["positions"][0]
    assert line["seat_load_check"]["verdict"] == "accept"
    assert line["installed_height_check"]["verdict"] == line["open_load_check"]["verdict"] == "not_measured"
    assert line["installed_height_check"]["counts_toward_verdict"] is True
    (item,) = answer["open_items"]
    assert "seat_load_check" not in item["needed_for"]


# --------------------------------------------------------------------------------------------- slips and wrong units

ADVICE = {"stack_limit_reached", "short_of_height", "off_target", "shims_ran_out"}


def advice(answer: Any, place: int) -> list[str]:
    return [
        note["detail"]
        for note in answer["notes"]
        if note["code"] in ADVICE and (f"/positions/{place}/" in note["pointer"] or f"{place + 1}: " in note["detail"])
    ]


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("off_target", ["borderline", "reject"])
def test_a_height_that_looks_like_a_slip_gets_no_advice_and_is_measured_again(
    client: Client, path: str, off_target: str
) -> None:
    # 2.885 among 1.885 is a misread digit: 1.073 of shim would be nonsense
    answer = ask(client, path, heights(1.884, 1.885, 2.885, 1.886, 1.883, limits={"off_target": off_target}))
    assert installed_check(answer, 2) == ("reject" if off_target == "reject" else "not_measured")
    assert advice(answer, 2) == []
    # the others need 0.073 where 0.060 may go in
    assert advice(answer, 0)
    (item,) = [item for item in answer["open_items"] if item["pointer"] == "/positions/2/measured_height"]
    assert item["detail"] == "3: measure the height again; 2.885 in looks like a slip."
    assert "installed_height_check" in item["needed_for"]


def test_a_digit_misread_twice_is_no_slip(client: Client) -> None:
    answer = ask(client, HEIGHT, heights(1.884, 1.885, [1.985, 1.986], 1.886, 1.883))
    assert notes(answer, "reading_slip") == []
    assert installed_check(answer, 2) == "borderline"
    assert advice(answer, 2)


def test_a_slip_that_was_measured_after_assembly_is_settled(client: Client) -> None:
    # 1.812 - 0.062 = 1.750
    slip = {"measured_height": 2.885, "height_with_shims": 1.812}
    answer = ask(client, HEIGHT, heights(1.884, 1.885, slip, 1.886, 1.883))
    assert installed_check(answer, 2) == "accept"


@pytest.mark.parametrize("path", PATHS)
def test_heights_in_another_unit_are_asked_for_once_and_get_no_advice(client: Client, path: str) -> None:
    answer = ask(client, path, heights(47.9, 47.8, 47.85, 47.9))
    assert [line["installed_height_check"]["verdict"] for line in answer["positions"]] == ["not_measured"] * 4
    (item,) = [item for item in answer["open_items"] if "installed_height_check" in item["needed_for"]]
    assert (item["pointer"], item["position"]) == ("/units/length", None)
    assert item["detail"] == "Check units.length: the heights look like millimeters. If they are not, measure again."
    assert [note for note in answer["notes"] if note["code"] in ADVICE] == []


@pytest.mark.parametrize("path", PATHS)
def test_one_height_in_another_unit_gets_no_advice_and_is_measured_again(client: Client, path: str) -> None:
    # 47.8 mm is 1.882 in
    answer = ask(client, path, heights(1.884, 47.8))
    assert installed_check(answer, 1) == "not_measured"
    assert advice(answer, 1) == []
    (item,) = [item for item in answer["open_items"] if item["pointer"] == "/positions/1/measured_height"]
    assert item["detail"] == "2: measure the height again, in inches; 47.800 in looks like millimeters."


def test_a_spring_that_is_merely_large_is_judged(client: Client) -> None:
    # 3.7 in is more than valve springs usually stand, and nothing in millimeters; 3.700 - 0.062 - 0.030 = 3.608
    answer = ask(client, HEIGHT, heights(3.7, target=3.608))
    assert installed_check(answer) == "accept"
    assert len(notes(answer, "unusual_reading")) == 1


@pytest.mark.parametrize("path", PATHS)
def test_a_deduction_in_another_unit_is_told_once_where_it_stands(client: Client, path: str) -> None:
    # 1.575 mm is 0.062 in
    job = heights(1.884, 1.885) | {"height_corrections": {"intake": {"deduction": 1.575}}}
    answer = ask(client, path, job)
    pointer = "/height_corrections/intake/deduction"
    assert [note["pointer"] for note in answer["notes"] if note["code"] == "unusual_reading"] == [pointer]
    assert [line["installed_height_check"]["verdict"] for line in answer["positions"]] == ["not_measured"] * 2
    assert asked(answer, "installed_height_check") == [(pointer, None)]
    assert [note for note in answer["notes"] if note["code"] in ADVICE] == []


def test_a_deduction_of_one_position_is_told_at_that_position(client: Client) -> None:
    answer = ask(client, HEIGHT, heights(1.884, {"measured_height": 1.885, "deduction": 1.575}))
    pointer = "/positions/1/deduction"
    assert [note["pointer"] for note in answer["notes"] if note["code"] == "unusual_reading"] == [pointer]
    assert asked(answer, "installed_height_check") == [(pointer, "2")]
