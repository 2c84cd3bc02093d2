"""Which positions are named as the worst: verdict, then what breaks, then what touches, then how far it misses."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job, whole_job

Client = TestClient[ASGIApp]


def worst(client: Client, *positions: Job, **others: Any) -> list[str]:
    job = whole_job() | others
    job["positions"] = [
        deepcopy(job["positions"][0]) | {"id": str(place)} | one for place, one in enumerate(positions, start=1)
    ]
    response = client.post("/v1/head-assembly", json=job)
    assert response.status_code == 200, response.text
    named: list[str] = response.json()["worst_positions"]
    return named


def seal(clearance: float) -> Job:
    """Retainer to seal with the valve closed; the lift is 0.4875."""
    return {"retainer_to_seal": round(0.4875 + clearance, 4)}


def test_a_collision_is_named_before_what_is_merely_under_its_minimum(client: Client) -> None:
    # the minimum is 0.050
    assert worst(client, seal(0.04), seal(0.03), seal(0.045), seal(-0.15)) == ["4", "2", "1"]


def test_of_two_that_collide_the_deeper_is_named_first(client: Client) -> None:
    assert worst(client, seal(-0.01), seal(0.0), seal(-0.15), seal(0.04)) == ["3", "1", "2"]


def test_misses_are_compared_by_their_limits(client: Client) -> None:
    # 0.004 of 0.005 in the gap to the rocker is a larger miss than 0.010 of 0.050 at the seal: 80 % and 20 %
    limits = {"limits": {"retainer_to_rocker_minimum": 0.005, "retainer_to_seal_clearance_minimum": 0.050}}
    assert worst(client, seal(0.04), {"retainer_to_rocker": 0.001}, **limits) == ["2", "1"]


def test_what_breaks_parts_comes_before_a_setting_that_the_job_rejects(client: Client) -> None:
    # 0.139 of shim needed, 0.060 at most: a height 0.079 off is rejected only because the job asks for it
    limits = {"limits": {"off_target": "reject", "retainer_to_seal_clearance_minimum": 0.050}}
    assert worst(client, {"measured_height": 1.979}, seal(0.049), **limits) == ["2", "1"]


def test_what_misses_alike_keeps_the_order_of_the_list(client: Client) -> None:
    assert worst(client, seal(0.04), {}, seal(0.04), seal(0.04), seal(0.04)) == ["1", "3", "4"]


@pytest.mark.parametrize("factor", [1.0, 25.4], ids=["in", "mm"])
@pytest.mark.parametrize("order", [1, -1])
def test_what_misses_alike_by_different_readings_keeps_the_order_of_the_list_in_every_unit(
    client: Client, factor: float, order: int
) -> None:
    # all 0.040 in between retainer and seal, at lifts that no machine holds to the last digit
    lifts = (0.41, 0.4875, 0.49, 0.503, 0.537, 0.571)[::order]
    positions = [
        {
            "id": str(place), "valve": "intake", "valve_lift": lift * factor,
            "retainer_to_seal": round(lift + 0.04, 4) * factor,
        }
        for place, lift in enumerate(lifts, start=1)
    ]  # fmt: skip
    job = {
        "units": {"length": "in" if factor == 1.0 else "mm"},
        "limits": {"retainer_to_seal_clearance_minimum": 0.05 * factor},
        "positions": positions,
    }
    response = client.post("/v1/head-assembly", json=job)
    assert response.status_code == 200, response.text
    assert response.json()["worst_positions"] == ["1", "2", "3"]
