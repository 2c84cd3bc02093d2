"""Job notes: remarks, parts, and what is taken on trust."""

from __future__ import annotations

import json
import logging
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job, whole_job
from tests.properties.full_jobs import full_head

Client = TestClient[ASGIApp]
RATED = {"kind": "rated", "height": 1.75, "load": 117, "rate": 294}
WAIVER = {"check": "seat_load_check", "accepted_by": "shop foreman", "reason": "loads as the maker's sheet prints them"}


def sheet(client: Client, job: Job) -> Any:
    response = client.post("/v1/head-assembly", json=job)
    assert response.status_code == 200, response.text
    return response.json()


def rated_job(*waivers: Job) -> Job:
    job = whole_job()
    job["springs"][0]["load_curve"] = RATED
    return job | {"waivers": list(waivers)}


def test_a_job_on_data_sheet_loads_is_accepted_but_for_what_is_taken_on_trust(client: Client) -> None:
    plain = sheet(client, rated_job())
    assert (plain["verdict"], plain["verdict_with_waivers"], plain["waived_checks"]) == (
        "not_measured",
        "not_measured",
        [],
    )
    answer = sheet(client, rated_job(WAIVER, WAIVER | {"check": "open_load_check"}))
    assert answer["verdict"] == "not_measured"
    assert answer["verdict_with_waivers"] == "accept"
    assert answer["waived_checks"] == [
        {"position": "1I", "check": check, "verdict": "not_measured"}
        | {name: WAIVER[name] for name in ("accepted_by", "reason")}
        for check in ("seat_load_check", "open_load_check")
    ]


def test_a_waiver_of_one_check_leaves_the_others_open(client: Client) -> None:
    answer = sheet(client, rated_job(WAIVER))
    assert (len(answer["waived_checks"]), answer["verdict_with_waivers"]) == (1, "not_measured")


def test_a_check_that_is_accepted_is_taken_on_nobodys_trust(client: Client) -> None:
    answer = sheet(client, whole_job() | {"waivers": [WAIVER]})
    assert (answer["waived_checks"], answer["verdict_with_waivers"]) == ([], "accept")


def test_what_would_break_parts_is_never_taken_on_trust(client: Client) -> None:
    job = whole_job() | {"waivers": [WAIVER | {"check": "retainer_to_seal_clearance_check", "position": "1I"}]}
    job["positions"][0]["retainer_to_seal"] = 0.45
    answer = sheet(client, job)
    assert (answer["verdict"], answer["verdict_with_waivers"], answer["waived_checks"]) == ("reject", "reject", [])
    assert [note["pointer"] for note in answer["notes"] if note["code"] == "waiver_refused"] == ["/waivers/0"]


def test_a_waiver_of_a_position_there_is_not_is_refused(client: Client) -> None:
    response = client.post("/v1/head-assembly", json=rated_job(WAIVER | {"position": "9X"}))
    assert response.status_code == 422
    assert [error["pointer"] for error in response.json()["errors"]] == ["/waivers/0/position"]


def test_remarks_and_parts_come_back_as_entered_and_are_never_logged(
    client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    job = whole_job()
    job["job"] |= {"customer": "harbor launch club", "engine": "launch V8", "remarks": "new guides", "parts": ["seals"]}
    job["positions"][0] |= {"remarks": "seat recut", "parts": ["locks, plus 0.050"]}
    with caplog.at_level(logging.DEBUG):
        answer = sheet(client, job)
    assert answer["job"] == job["job"]
    assert (answer["positions"][0]["remarks"], answer["positions"][0]["parts"]) == ("seat recut", ["locks, plus 0.050"])
    assert not any(word in caplog.text for word in ("harbor", "new guides", "seat recut"))


@pytest.mark.parametrize("text", ["", "a" * 501, "two\nlines", "bell\u0007"])
def test_text_is_bounded_and_plain(client: Client, text: str) -> None:
    job = whole_job()
    job["job"]["remarks"] = text
    response = client.post("/v1/head-assembly", content=json.dumps(job), headers={"Content-Type": "application/json"})
    assert response.status_code == 400
    assert [error["pointer"] for error in response.json()["errors"]] == ["/job/remarks"]


def floating(limits: Job, *waivers: Job) -> Job:
    """A position whose float and surge are judged at 9000 rpm, which its springs do not reach."""
    job = full_head() | {"intended_speed": 9000, "waivers": list(waivers)}
    job["limits"] = {"float_reserve_minimum": 5, "surge_ratio_minimum": 1} | limits
    job["positions"] = job["positions"][:1]
    return job


def test_float_and_surge_are_named_by_their_own_checks(client: Client) -> None:
    answer = sheet(client, floating({}))
    assert answer["positions"][0]["decided_by"] == ["float_reserve_check"]
    answer = sheet(client, floating({"surge_ratio_minimum": 90}))
    assert answer["positions"][0]["decided_by"] == ["float_reserve_check", "surge_ratio_check"]


def test_float_and_surge_are_waived_by_their_own_checks(client: Client) -> None:
    # a surge ratio of a set that is not weighed is not measured
    job = floating({}, WAIVER | {"check": "surge_ratio_check"}) | {"intended_speed": 2500}
    del job["springs"][0]["mass"]
    answer = sheet(client, job)
    assert [one["check"] for one in answer["waived_checks"]] == ["surge_ratio_check"]


def notes(answer: Any, code: str) -> list[Any]:
    return [(note["pointer"], note["detail"]) for note in answer["notes"] if note["code"] == code]


def test_a_refusal_is_true_of_what_is_merely_under_its_minimum(client: Client) -> None:
    # 0.530 - 0.4875 = 0.0425: nothing hits
    job = whole_job() | {"waivers": [WAIVER | {"check": "retainer_to_seal_clearance_check"}]}
    job["positions"][0]["retainer_to_seal"] = 0.53
    told = "1I: retainer to seal clearance is rejected; what can break parts can't be taken on trust. Fix it."
    assert notes(sheet(client, job), "waiver_refused") == [("/waivers/0", told)]


def test_a_waiver_that_waives_nothing_is_told(client: Client) -> None:
    answer = sheet(client, whole_job() | {"waivers": [WAIVER, WAIVER | {"check": "seal_to_spring_check"}]})
    detail = "{} is accepted or not judged at every position; this waiver does nothing. Leave it out."
    assert notes(answer, "waiver_unused") == [
        ("/waivers/0", detail.format("Seat load")),
        ("/waivers/1", detail.format("Seal to spring")),
    ]


def test_a_spring_that_pushes_nothing_stays_rejected_whatever_is_taken_on_trust(client: Client) -> None:
    # free at 1.7 in, shorter than it stands
    job = whole_job() | {"waivers": [WAIVER, WAIVER | {"check": "open_load_check"}]}
    job["springs"][0]["load_curve"]["readings"] = [{"height": 1.6, "load": 20}, {"height": 1.2, "load": 100}]
    answer = sheet(client, job)
    assert answer["waived_checks"]
    assert answer["verdict_with_waivers"] == "reject"
