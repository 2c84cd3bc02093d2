"""Job notes: remarks, parts, and what is taken on trust."""

from __future__ import annotations

import json
import logging
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job, whole_job

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
