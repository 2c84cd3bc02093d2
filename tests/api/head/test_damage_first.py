"""Damage first, setting second: what the sheet lays and says where no stack does both."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import DEMO, Job, whole_job

Client = TestClient[ASGIApp]


def sheet(client: Client, job: Job) -> Any:
    response = client.post("/v1/head-assembly", json=job)
    assert response.status_code == 200, response.text
    return response.json()


def test_a_stack_that_fails_coil_bind_gives_way_and_the_sheet_says_why(client: Client) -> None:
    # P2E of the demo: 0.060 leaves 0.0795 of the 0.080 wanted, 0.030 + 0.015 leaves 0.0945 and 111.6 lbf of 112.1
    job = deepcopy(DEMO)
    job["limits"]["coil_bind_clearance_minimum"] = 0.080
    answer = sheet(client, job)
    (line,) = [one for one in answer["positions"] if one["id"] == "P2E"]
    assert line["shims"] == [0.03, 0.015]
    assert line["coil_bind_clearance_check"]["value"] == 0.0945
    assert line["coil_bind_clearance_check"]["verdict"] == "accept"
    assert (line["seat_load_check"]["verdict"], line["verdict"]) == ("borderline", "borderline")
    assert line["runner_up"]["coil_bind_clearance"] >= 0.080


def test_the_note_names_the_stack_that_was_not_laid(client: Client) -> None:
    # bare 1.871 - 0.062 = 1.809 needs 0.059; 0.060 stands 1.749 and leaves 1.749 - 0.4875 - 1.190 = 0.0715 of 0.080,
    # 0.045 stands 1.764 and leaves 0.0865, 0.014 tall; 117 - 0.014 x 294 = 112.9 lbf is 4.3 % off
    job = whole_job()
    job["limits"]["seat_load_tolerance"] = 2
    job["limits"]["coil_bind_clearance_minimum"] = 0.080
    job["springs"][0]["coil_bind_height"] = 1.190
    job["positions"][0]["deduction"] = 0.062
    answer = sheet(client, job)
    (told,) = [note["detail"] for note in answer["notes"] if note["code"] == "off_target"]
    assert told == (
        "1I: needs 0.059 in of shim; 0.060 in would leave the coils too little room, 0.045 in leaves it 0.014 in above "
        "target. A spring that binds lower would take more shim."
    )


def test_no_shim_is_advised_that_would_bring_the_coils_too_near(client: Client) -> None:
    # S3E of the demo: 8.4 lbf under at some 248 lbf/in is 0.034 in of shim, and of the 0.0810 in
    # between its coils 0.047 would be left
    (told,) = [
        note["detail"]
        for note in sheet(client, DEMO)["notes"]
        if note["code"] == "load_off_target" and note["detail"].startswith("S3E: seat load")
    ]
    assert told.endswith(
        "8.4 lbf under. The 0.0333 in more shim for that would leave 0.0477 in before coil bind, 0.060 in is the "
        "minimum: change the spring."
    )
