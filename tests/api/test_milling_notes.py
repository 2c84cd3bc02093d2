"""POST /v1/milling: what else a cut moves, told with how much."""

from __future__ import annotations

from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job

Client = TestClient[ASGIApp]
PATH = "/v1/milling"


def told(client: Client, job: Job) -> dict[str, str]:
    response = client.post(PATH, json=job)
    assert response.status_code == 200, response.text
    return {note["code"]: note["detail"] for note in response.json()["notes"]}


def wedge(first: float, second: float, **more: Any) -> Job:
    """Two depths 6 in apart, the first at the deck's edge."""
    ends = ({"distance_across": place, "depth": depth} for place, depth in ((0.0, first), (6.0, second)))
    return {"cut": dict(zip(("kind", "first", "second"), ("two_depths", *ends), strict=True))} | more


def test_an_angle_cut_tells_from_how_much_to_how_much(client: Client) -> None:
    # by hand: 0.010 and 0.040 less a gasket 0.005 thicker
    notes = told(client, wedge(0.010, 0.040, gasket_thickness_change=0.005))
    assert "Head bolts go 0.005 to 0.035 in deeper" in notes["bolts_bottom"]
    assert "drop 0.005 to 0.035 in" in notes["exhaust_alignment"]
    # a gasket 0.020 thicker lifts the shallow side; nothing there goes deeper
    assert (
        "go 0.000 to 0.020 in deeper"
        in told(client, wedge(0.010, 0.040, gasket_thickness_change=0.020))["bolts_bottom"]
    )
    # a tilt from one place: the edge comes to 0.040 - 4 tan 0.2 deg = 0.0260
    tilt = {"kind": "tilt", "at": {"distance_across": 4.0, "depth": 0.040}, "tilt": 0.2}
    assert "go 0.026 to 0.040 in deeper" in told(client, {"cut": tilt})["bolts_bottom"]


def test_a_dome_comes_closer_to_its_chamber(client: Client) -> None:
    job = {"cut": {"kind": "flat", "depth": 0.030}, "block_decked": 0.005, "cylinder": {"dome_volume": 6.0}}
    assert "the dome comes 0.035 in closer" in told(client, job)["dome_closer"]
    assert "dome_closer" not in told(client, job | {"cylinder": {"dome_volume": 0.0}})
    assert "dome_closer" not in told(client, job | {"gasket_thickness_change": 0.035})


@pytest.mark.parametrize(("depth", "odd"), [(0.150, False), (0.760, True)])
def test_a_cut_no_bench_takes_is_questioned(client: Client, depth: float, *, odd: bool) -> None:
    notes = told(client, {"cut": {"kind": "flat", "depth": depth}})
    assert ("unusual_reading" in notes) is odd


def test_dowels_are_told_by_what_comes_off_head_and_block(client: Client) -> None:
    notes = told(client, {"cut": {"kind": "flat", "depth": 0.030}, "block_decked": 0.005})
    assert notes["dowels"].startswith(
        "Dowel holes in the head are 0.030 in shallower and dowels stand 0.005 in prouder"
    )
    notes = told(client, {"cut": {"kind": "flat", "depth": 0.0}, "block_decked": 0.005})
    assert notes["dowels"].startswith("Dowels stand 0.005 in prouder")
