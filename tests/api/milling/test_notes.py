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


BOLTS_AND_DOWELS = ("bolts_bottom", "dowels")
"""The first note on the head's drop, and the one on the depth of cut: each tells where its amount is largest."""


@pytest.mark.parametrize(
    ("more", "deepest"),
    [
        # by hand: 0.020 + 3 tan 1.2 deg = 0.0828, 0.020 + 5 tan 1.2 deg = 0.1247, 0.020 + 6 tan 1.2 deg = 0.1457
        ({"chambers": [{"id": "1", "distance_across": 3.0}]}, "0.0828 in at 3.000 in across"),
        ({"positions": [{"id": "1", "valve": "intake", "distance_across": 5.0}]}, "0.1247 in at 5.000 in across"),
        (
            {"positions": [{"id": "1", "valve": "intake", "pushrod": {"distance_across": 5.0}}]},
            "0.1247 in at 5.000 in across",
        ),
        ({"cam_drive": {"distance_across": 3.0}}, "0.0828 in at 3.000 in across"),
        (
            {
                "chambers": [{"id": "1", "distance_across": 3.0}],
                "intake_side": {"bank_angle": 90, "distance_across": 6},
            },
            "0.1457 in at 6.000 in across",
        ),
    ],
)
def test_an_angle_cut_tells_the_deepest_place_the_job_knows(client: Client, more: Job, deepest: str) -> None:
    cut = {"kind": "tilt", "tilt": 1.2, "at": {"distance_across": 0, "depth": 0.02}}
    notes = told(client, {"cut": cut} | more)
    amount = deepest.partition(" ")[0]
    assert f"Head bolts go 0.020 to {amount} in deeper" in notes["bolts_bottom"]
    for code in BOLTS_AND_DOWELS:
        assert f"{deepest} and more beyond" in notes[code], code
        assert "deepening toward the intake face" in notes[code], code
    # once for each amount
    assert sum("deepening toward the intake face" in detail for detail in notes.values()) == len(BOLTS_AND_DOWELS)


def test_an_angle_cut_deepest_at_the_deck_edge_has_nothing_beyond(client: Client) -> None:
    # by hand: 0.010 + 4 tan 0.2 deg = 0.0240 at the deck's edge opposite the intake face
    cut = {"kind": "tilt", "tilt": -0.2, "at": {"distance_across": 4.0, "depth": 0.010}}
    notes = told(client, {"cut": cut})
    assert "Head bolts go 0.010 to 0.024 in deeper" in notes["bolts_bottom"]
    for code in BOLTS_AND_DOWELS:
        assert "0.024 in at the deck's edge opposite the intake face" in notes[code], code
        assert "beyond" not in notes[code], code


def test_an_angle_cut_known_at_the_deck_edge_alone_goes_on_deepening(client: Client) -> None:
    cut = {"kind": "tilt", "tilt": 1.2, "at": {"distance_across": 0, "depth": 0.02}}
    notes = told(client, {"cut": cut})
    for code in BOLTS_AND_DOWELS:
        assert "0.020 in at the deck's edge opposite the intake face and more beyond" in notes[code], code


def test_two_depths_are_followed_to_the_deck_edge(client: Client) -> None:
    # by hand: 0.040 at 1 in, 0.010 at 4 in: 0.050 at the deck's edge
    ends = [{"distance_across": 1.0, "depth": 0.040}, {"distance_across": 4.0, "depth": 0.010}]
    notes = told(client, {"cut": {"kind": "two_depths", "first": ends[0], "second": ends[1]}})
    assert "Head bolts go 0.010 to 0.050 in deeper" in notes["bolts_bottom"]


@pytest.mark.parametrize("limits", [{}, {"head_thickness_minimum": 0.0}, {"head_thickness_minimum": 0.010}])
def test_a_head_of_which_nothing_is_left_is_rejected_whatever_the_limit(client: Client, limits: Job) -> None:
    chambers = [{"id": "1", "head_thickness": 0.0300000001}]
    job = {"cut": {"kind": "flat", "depth": 0.03}, "limits": limits, "chambers": chambers}
    answer = client.post(PATH, json=job).json()
    check = answer["chambers"][0]["head_thickness_check"]
    assert (answer["verdict"], check["verdict"], check["check_class"]) == ("reject", "reject", "damage")
    detail = told(client, job)["head_too_thin"]
    assert "leaves nothing of the head" in detail
    # by hand: 0.030 - 0.010; and with nothing to leave, no cut that was just rejected is told
    if limits.get("head_thickness_minimum"):
        assert detail.endswith("Cut 0.020 in at most there.")
    else:
        assert "0.030 in at most" not in detail
        assert "head_thickness_minimum" in detail


def test_a_chamber_of_a_head_that_keeps_its_thickness_has_no_check_without_a_limit(client: Client) -> None:
    chambers = [{"id": "1", "head_thickness": 0.0300000001}, {"id": "2", "head_thickness": 5.0}, {"id": "3"}]
    answer = client.post(PATH, json={"cut": {"kind": "flat", "depth": 0.03}, "chambers": chambers}).json()
    assert [line["head_thickness_check"] is None for line in answer["chambers"]] == [False, True, True]
