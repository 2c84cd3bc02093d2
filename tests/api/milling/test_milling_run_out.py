"""POST /v1/milling: angle cuts that run out before what they should reach."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest
from tests.api.jobs import Job
from tests.api.milling_jobs import Client, ask, errors, flat

# 0.1 mm at the edge and none 10 mm across: at 50 mm it would have to put 0.4 mm on
SHORT_WEDGE: Job = {
    "kind": "two_depths",
    "first": {"distance_across": 0.0, "depth": 0.1},
    "second": {"distance_across": 10.0, "depth": 0.0},
}


def test_a_wedge_that_ends_before_the_cam_it_moves_is_refused(client: Client) -> None:
    drive = {"pitch_radius": 50.0, "distance_across": 50.0}
    told = errors(client, flat(0.0) | {"cut": SHORT_WEDGE, "cam_drive": drive})
    assert "-0.40 mm" in told["/cam_drive/distance_across"]


def test_an_angle_cut_that_ends_before_the_intake_face_is_refused(client: Client) -> None:
    sizes = {"face_spacing": 200.0, "face_width": 60.0, "face_height": 50.0}

    def intake(distance_across: float, **more: Any) -> Job:
        return {"bank_angle": 90, "face_tilt": 5, "distance_across": distance_across} | sizes | more

    # by proportion 0.1 mm at the edge, none at 10 mm: at 50 mm the depth would be -0.4 mm
    told = errors(client, flat(0.0) | {"cut": SHORT_WEDGE, "intake_side": intake(50.0)})
    assert list(told) == ["/intake_side/distance_across"]
    assert "-0.40 mm" in told["/intake_side/distance_across"]
    told = errors(client, flat(0.0) | {"intake_side": intake(50.0, other_head={"cut": SHORT_WEDGE})})
    assert "the other head's intake face" in told["/intake_side/distance_across"]
    # where it ends just there it is cut to nothing
    ask(client, flat(0.0) | {"cut": SHORT_WEDGE, "intake_side": intake(10.0)})


@pytest.mark.parametrize(
    ("cut", "pointer"),
    [
        # by hand: 1 mm at 80 mm less 80 mm x tan 1 deg = 1.3964 mm leaves -0.396 mm at the edge
        ({"kind": "tilt", "at": {"distance_across": 80.0, "depth": 1.0}, "tilt": 1.0}, "/cut/tilt"),
        # 0.2 mm at 20 mm, 1.4 mm at 100 mm: 0.015 per mm, so -0.1 mm at the edge
        (
            {
                "kind": "two_depths",
                "first": {"distance_across": 20.0, "depth": 0.2},
                "second": {"distance_across": 100.0, "depth": 1.4},
            },
            "/cut/first/depth",
        ),
        (
            {
                "kind": "two_depths",
                "first": {"distance_across": 100.0, "depth": 1.4},
                "second": {"distance_across": 20.0, "depth": 0.2},
            },
            "/cut/second/depth",
        ),
    ],
)
def test_an_angle_cut_that_ends_before_the_decks_edge_is_refused(client: Client, cut: Job, pointer: str) -> None:
    told = errors(client, flat(0.0) | {"cut": cut})
    assert list(told) == [pointer]
    short = "0.396 mm" if cut["kind"] == "tilt" else "0.10 mm"
    assert f"comes to -{short}" in told[pointer]
    assert f"cut {short} deeper" in told[pointer]
    # as much deeper it just reaches
    deeper = deepcopy(cut)
    for at in ("at", "first", "second"):
        if at in deeper:
            deeper[at]["depth"] += 0.397 if cut["kind"] == "tilt" else 0.1
    assert ask(client, flat(0.0) | {"cut": deeper})["tilt"] > 0.0


def test_a_wedge_that_runs_out_before_a_chamber_is_refused(client: Client) -> None:
    job: Job = {
        "chambers": [{"id": "1", "chamber_volume": 57.3}, {"id": "3", "chamber_volume": 56.8}],
        "chamber_shape": {"kind": "area", "deck_area": 8.1},
    }
    job["cut"] = {"kind": "tilt", "at": {"distance_across": 2.0, "depth": 0.03}, "tilt": -1.0}
    job["chambers"][0]["distance_across"] = 3.0
    job["chambers"][1]["distance_across"] = 4.0
    found = errors(client, job)
    assert set(found) == {"/chambers/1/distance_across"}  # 0.03 - 2 tan 1 deg = -0.0049
    assert "-0.0049 in" in found["/chambers/1/distance_across"]
    assert "cut 0.0049 in deeper" in found["/chambers/1/distance_across"]
