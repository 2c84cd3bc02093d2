"""Slips on a head: a length with its decimal point a place off counts as not measured, and is asked for again."""

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


def asked(answer: Any) -> dict[str, str]:
    return {item["pointer"]: item["detail"] for item in answer["open_items"]}


def told(answer: Any) -> str:
    return " ".join(note["detail"] for note in answer["notes"])


@pytest.mark.parametrize("odd", [0.112, 11.2])
def test_a_slipped_coil_bind_height_proves_no_clearance(client: Client, odd: float) -> None:
    # 1.751 - 0.4875 - 0.112 = 1.1515 in would be left between the coils; 1.12 leaves 0.1435
    job = whole_job()
    job["springs"][0]["coil_bind_height"] = odd
    answer = sheet(client, job)
    line = answer["positions"][0]
    assert (line["verdict"], line["decided_by"]) == ("not_measured", ["coil_bind_clearance_check"])
    assert line["coil_bind_clearance_check"]["value"] is None
    assert line["seat_load_check"]["verdict"] == "accept"
    assert asked(answer)["/springs/0/coil_bind_height"] == (
        f"Spring S1: measure its coil-bind height again; {odd:.3f} in can't be right, a decimal point may have slipped."
    )
    assert "coil_bind_height" not in {note["code"] for note in answer["notes"]}
    assert f"S1: coil bind height {odd:.3f} in is outside the usual 0.400 in to 2.000 in" in told(answer)


def test_a_slipped_distance_to_the_seal_proves_no_clearance(client: Client) -> None:
    # 6.02 - 0.4875 = 5.5325 in would be left at full lift; 0.602 leaves 0.1145
    job = whole_job()
    job["positions"][0]["retainer_to_seal"] = 6.02
    answer = sheet(client, job)
    line = answer["positions"][0]
    assert (line["verdict"], line["decided_by"]) == ("not_measured", ["retainer_to_seal_clearance_check"])
    assert (line["retainer_to_seal"], line["retainer_to_seal_clearance_check"]["value"]) == (6.02, None)
    assert asked(answer)["/positions/0/retainer_to_seal"] == (
        "1I: measure retainer to seal again; 6.020 in can't be right, a decimal point may have slipped."
    )


def test_a_retainer_that_stands_on_its_seal_is_no_slip(client: Client) -> None:
    # 0.0602 - 0.4875 = -0.4273 in
    job = whole_job()
    job["positions"][0]["retainer_to_seal"] = 0.0602
    line = sheet(client, job)["positions"][0]
    assert line["retainer_to_seal_clearance_check"]["verdict"] == line["verdict"] == "reject"


@pytest.mark.parametrize("odd", [18.71, 0.187, [1.871, 18.71]])
def test_a_slipped_height_lays_no_shims_and_mends_nothing(client: Client, odd: float | list[float]) -> None:
    job = whole_job()
    job["positions"][0]["measured_height"] = odd
    answer = sheet(client, job)
    line = answer["positions"][0]
    nothing = ("bare_height", "shim_stack", "installed_height", "seat_load", "open_height", "open_load", "runner_up")
    assert [line[field] for field in nothing] == [None] * len(nothing)
    assert (line["shims"], line["coil_bind_clearance_check"]["verdict"]) == ([], "not_measured")
    assert {total["count"] for total in answer["shim_totals"]} == {0}
    shown = odd[1] if isinstance(odd, list) else odd
    assert asked(answer)["/positions/0/measured_height"] == (
        f"1I: measure the height again; {shown:.3f} in can't be right, a decimal point may have slipped."
    )
    # no shim, no lock, no height to test at is advised
    codes = {note["code"] for note in answer["notes"]}
    assert not codes & {"stack_limit_reached", "off_target", "load_off_target", "beyond_readings", "coil_bind_close"}
    assert [item for item in answer["open_items"] if item["pointer"].startswith("/springs")] == []


def test_a_slipped_height_after_assembly_is_never_accepted_nor_is_the_figured_one_for_it(client: Client) -> None:
    # figured 1.871 - 0.090 - 0.030 = 1.751; read 18.41 for 1.841 less 0.090
    job = whole_job()
    job["positions"][0]["height_with_shims"] = 18.41
    answer = sheet(client, job)
    line = answer["positions"][0]
    assert (line["installed_height"], line["installed_height_check"]["verdict"]) == (1.751, "not_measured")
    assert line["coil_bind_clearance_check"]["verdict"] == "not_measured"
    assert asked(answer)["/positions/0/height_with_shims"] == (
        "1I: measure the height with shims again; 18.410 in can't be right, a decimal point may have slipped."
    )


@pytest.mark.parametrize(
    ("unit", "height", "deduction", "again"),
    [
        # 47.5 + 16.0 = 63.5 mm bare, 1.5 mm of shims at most; in inches 0.62 may as well be millimeters
        ("mm", 47.5, -16.0, "again; -16.00 mm can't be right, a decimal point may have slipped."),
        ("in", 1.871, -0.62, "in inches; it looks like millimeters."),
    ],
)
def test_a_slipped_deduction_accepts_no_height(
    client: Client, unit: str, height: float, deduction: float, again: str
) -> None:
    job = {
        "units": {"length": unit},
        "targets": {"intake": {"installed_height": height - deduction}},
        "positions": [{"id": "1I", "valve": "intake", "measured_height": height, "deduction": deduction}],
    }
    answer = client.post("/v1/installed-height", json=job).json()
    assert answer["verdict"] == "not_measured"
    assert asked(answer)["/positions/0/deduction"] == f"1I: enter the deduction {again}"


def test_a_reading_that_is_merely_unusual_is_noted_and_used(client: Client) -> None:
    # 1.751 - 0.4875 - 0.39 = 0.8735; 1.6 - 0.4875 = 1.1125
    job = whole_job()
    job["springs"][0]["coil_bind_height"] = 0.39
    job["positions"][0]["retainer_to_seal"] = 1.6
    answer = sheet(client, job)
    line = answer["positions"][0]
    assert line["coil_bind_clearance_check"]["value"] == 0.8735
    assert line["retainer_to_seal_clearance_check"]["value"] == 1.1125
    assert line["verdict"] == "accept"
    assert [note["code"] for note in answer["notes"]].count("unusual_reading") == 2
