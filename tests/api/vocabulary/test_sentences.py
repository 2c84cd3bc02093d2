"""Sentences: parts that touch are said to touch, every amount is one a bench reads, and each ends in what to change."""

from __future__ import annotations

from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import TABLE, Job, float_job
from tests.api.pistons.test_piston_to_valve import clay, job_of
from tests.api.spring_jobs import coils, errors

from headbench.api.valve_float.notes import small
from headbench.api.vocabulary.saying import said_in
from headbench.units import scales_for

Client = TestClient[ASGIApp]


def told(client: Client, path: str, job: Job, code: str) -> str:
    response = client.post(path, json=job)
    assert response.status_code == 200, response.text
    (detail,) = [note["detail"] for note in response.json()["notes"] if note["code"] == code]
    return str(detail)


def valve(**readings: Any) -> Job:
    return {"positions": [{"id": "1I", "valve": "intake", "valve_lift": 0.5} | readings]}


# without a limit of its own the way back is told by the usual 0.060, 0.050 and 0.080 in: from memory
@pytest.mark.parametrize(("limit", "taller"), [({"coil_bind_clearance_minimum": 0}, "0.060 in"), ({}, "0.060 in")])
def test_coils_that_touch_are_said_to_touch(client: Client, limit: Job, taller: str) -> None:
    job = valve(installed_height=1.7, spring="S1") | {"springs": [{"id": "S1", "coil_bind_height": 1.2}]}
    detail = told(client, "/v1/coil-bind", job | {"limits": limit}, "coils_touch")
    assert detail == (
        "1I: the coils touch at full lift. Do not turn this engine over. "
        f"Set the spring {taller} taller, or fit one that binds {taller} lower."
    )


def test_a_retainer_that_touches_its_seal_is_said_to_touch(client: Client) -> None:
    job = valve(retainer_to_seal=0.5) | {"limits": {"retainer_to_seal_clearance_minimum": 0}}
    detail = told(client, "/v1/retainer-clearance", job, "retainer_strikes_seal")
    assert detail.startswith("1I: the retainer touches the seal at full lift. Do not turn this engine over.")
    assert "It needs 0.050 in more room" in detail


@pytest.mark.parametrize(
    ("gap", "start"),
    [("retainer_to_rocker", "1I: retainer and rocker touch."), ("seal_to_spring", "1I: seal and spring touch.")],
)
def test_a_gap_that_is_closed_stops_the_engine(client: Client, gap: str, start: str) -> None:
    detail = told(client, "/v1/retainer-clearance", valve(retainer_to_seal=0.7, **{gap: 0.0}), "gap_close")
    assert detail.startswith(f"{start} Do not turn this engine over.")
    assert "0.050 in more room" in detail
    open_gap = told(client, "/v1/retainer-clearance", valve(retainer_to_seal=0.7, **{gap: 0.02}), "gap_close")
    assert "0.020 in, 0.030 in under the minimum" in open_gap


def test_a_valve_that_touches_its_piston_says_how_much_room_to_make(client: Client) -> None:
    # 0.080 in is 2.032 mm
    job = job_of(1.0, clay(1.0)) | {"limits": {"piston_to_intake_valve_minimum": 0.0}}
    assert "Raise the head 2.032 mm" in told(client, "/v1/piston-to-valve", job, "valve_meets_piston")


@pytest.mark.parametrize(
    ("unit", "inches", "text"),
    [
        ("in", 0.00063, "under 0.001 in"),
        ("mm", 0.00004 / 25.4, "under 0.01 mm"),
        ("in", 0.0042, "0.0042 in"),
        ("mm", 0.5 / 25.4, "0.50 mm"),
    ],
)
def test_a_harmonic_too_small_to_read_is_told_as_less_than_a_reading(unit: Any, inches: float, text: str) -> None:
    with said_in(scales_for(length=unit)):
        assert small(inches * 0.0254) == text


def test_a_table_with_one_reading_on_the_lobe_is_told_in_good_grammar(client: Client) -> None:
    table = TABLE | {"readings": [{"angle": at, "lift": 0.3 if at == 0 else 0.0} for at in range(-80, 81, 20)]}
    response = client.post("/v1/valve-float", json=float_job(table))
    assert "1 reading is off the base circle" in response.text


def test_coils_in_a_fault_are_counted_to_a_hundredth(client: Client) -> None:
    shape = {"kind": "beehive", "mean_diameter": 0.4, "small_mean_diameter": 0.3, "tapered_coils": 3.0}
    (detail,) = errors(client, coils(shape=shape, total_coils=2.220251)).values()
    assert "more than the 0.22 active coils" in detail
