"""Shims that are fitted already: they count as they are, whatever would be chosen."""

from __future__ import annotations

from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job, whole_job

Client = TestClient[ASGIApp]


def sheet(client: Client, job: Job) -> Any:
    response = client.post("/v1/head-assembly", json=job)
    assert response.status_code == 200, response.text
    return response.json()


def fitted(*shims: float) -> Job:
    job = whole_job()
    job["positions"][0]["shims_fitted"] = list(shims)
    return job


@pytest.mark.parametrize(
    ("shims", "stack", "height", "clearance"),
    [
        # bare 1.871 - 0.090 = 1.781, open 0.4875 less, coils touch at 1.12
        ([0.045], 0.045, 1.736, 0.1285),
        ([], 0.0, 1.781, 0.1735),
        # more than a pocket may hold by the job, and of sizes it does not have: it was done
        ([0.05, 0.04], 0.09, 1.691, 0.0835),
    ],
)
def test_shims_that_are_fitted_count_as_they_are(
    client: Client, shims: list[float], stack: float, height: float, clearance: float
) -> None:
    answer = sheet(client, fitted(*shims))
    line = answer["positions"][0]
    assert (line["shims"], line["shim_stack"], line["figured_height"]) == (shims, stack, height)
    assert line["coil_bind_clearance_check"]["value"] == clearance
    assert line["runner_up"] is None
    assert {total["count"] for total in answer["shim_totals"]} == {0}


def test_a_height_off_its_target_on_fitted_shims_is_no_choice_of_shims(client: Client) -> None:
    job = fitted(0.045)
    # 117 + 0.014 x 294 = 121.1 lbf would carry the height
    del job["targets"]["intake"]["seat_load"]
    del job["limits"]["seat_load_tolerance"]
    (told,) = [note for note in sheet(client, job)["notes"] if note["code"] == "off_target"]
    assert told["pointer"] == "/positions/0/shims_fitted"
    assert told["detail"] == (
        "1I: 0.014 in below target with the shims that are fitted; change its shims, or check the reading."
    )


def test_a_height_read_after_assembly_counts_before_that_of_fitted_shims(client: Client) -> None:
    job = fitted(0.045)
    job["positions"][0]["height_with_shims"] = 1.841
    line = sheet(client, job)["positions"][0]
    assert (line["figured_height"], line["installed_height"]) == (1.736, 1.751)


def test_fitted_shims_are_not_taken_from_the_stock(client: Client) -> None:
    job = fitted(0.03)
    job["shims"]["in_stock"] = [0, 1, 0]
    job["positions"].append(whole_job()["positions"][0] | {"id": "2I"})
    answer = sheet(client, job)
    assert [line["shims"] for line in answer["positions"]] == [[0.03], [0.03]]
    assert [total["count"] for total in answer["shim_totals"]] == [0, 1, 0]


def test_shims_thicker_than_their_space_are_refused(client: Client) -> None:
    response = client.post("/v1/head-assembly", json=fitted(0.9, 0.9))
    assert response.status_code == 422
    (error,) = response.json()["errors"]
    assert error["pointer"] == "/positions/0/shims_fitted"
    assert error["detail"] == ("1I: the shims fitted, 1.800 in, must be less than its height without shims, 1.781 in")
