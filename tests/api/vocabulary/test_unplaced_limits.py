"""Limits of a kind of valve that the job has none of."""

from __future__ import annotations

from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job, whole_job

Client = TestClient[ASGIApp]
VALVETRAIN = {"valvetrain": {"intake": {"valve_lift": 0.488}}}
SPRING = {"springs": [{"id": "S1", "coil_bind_height": 1.12}]}
JOBS: dict[str, tuple[Job, str, str]] = {
    "/v1/head-assembly": (whole_job(), "installed_height_tolerance", "installed_height_check"),
    "/v1/installed-height": (
        {
            "targets": {"intake": {"installed_height": 1.75}},
            "positions": [{"id": "1I", "valve": "intake", "measured_height": 1.75, "deduction": 0}],
        },
        "installed_height_tolerance",
        "installed_height_check",
    ),
    "/v1/coil-bind": (
        VALVETRAIN
        | SPRING
        | {"positions": [{"id": "1I", "valve": "intake", "installed_height": 1.75, "spring": "S1"}]},
        "coil_bind_clearance_minimum",
        "coil_bind_clearance_check",
    ),
    "/v1/retainer-clearance": (
        VALVETRAIN | {"positions": [{"id": "1I", "valve": "intake", "retainer_to_seal": 0.602}]},
        "retainer_to_seal_clearance_minimum",
        "retainer_to_seal_clearance_check",
    ),
}


def ask(client: Client, path: str, job: Job) -> Any:
    response = client.post(path, json=job)
    assert response.status_code == 200, response.text
    return response.json()


@pytest.mark.parametrize("path", JOBS)
def test_a_limit_of_valves_that_are_not_listed_is_not_measured(client: Client, path: str) -> None:
    job, limit, check = JOBS[path]
    assert ask(client, path, job)["verdict"] == "accept"
    answer = ask(client, path, job | {"limits": {"exhaust": {limit: 0.01}}})
    assert answer["verdict"] == "not_measured"
    (item,) = answer["open_items"]
    assert (item["pointer"], item["needed_for"]) == (f"/limits/exhaust/{limit}", [check])
    assert item["detail"] == "A limit is set for the exhaust valves: list them, or leave it out."


def test_a_section_of_limits_with_nothing_in_it_asks_for_nothing(client: Client) -> None:
    job, _, _ = JOBS["/v1/installed-height"]
    answer = ask(client, "/v1/installed-height", job | {"limits": {"exhaust": {}}})
    assert (answer["verdict"], answer["open_items"]) == ("accept", [])


def test_the_head_is_not_measured_whatever_is_taken_on_trust(client: Client) -> None:
    job, limit, _ = JOBS["/v1/head-assembly"]
    answer = ask(client, "/v1/head-assembly", job | {"limits": {"exhaust": {limit: 0.01}}})
    assert answer["verdict_with_waivers"] == "not_measured"
