"""POST /v1/intake-fit against hand arithmetic."""

from __future__ import annotations

from copy import deepcopy
from math import cos, radians, sin
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job

from headbench.api.intake_fit import EXAMPLE

Client = TestClient[ASGIApp]
PATH = "/v1/intake-fit"


def ask(client: Client, job: Job) -> Any:
    response = client.post(PATH, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def face(front: tuple[float, float], rear: tuple[float, float], misalignment: float = 0.0, **more: Any) -> Job:
    return {
        "front": {"top": front[0], "bottom": front[1]},
        "rear": {"top": rear[0], "bottom": rear[1]},
        "misalignment": misalignment,
        **more,
    }


def v_of(left: Job, right: Job, tilt: float = 0.0, **more: Any) -> Job:
    return {
        "units": {"length": "mm"},
        "bank_half_angle": 45.0,
        "face_tilt": tilt,
        "gauge_step": 0.02,
        "left": left,
        "right": right,
        **more,
    }


TIGHT = face((0.0, 0.0), (0.0, 0.0))


def test_four_corners_are_gap_taper_twist_and_warp(client: Client) -> None:
    # by hand: mean 0.25; top mean 0.35 less bottom mean 0.15; front mean 0.30 less rear 0.20; the rest is 0.025
    answer = ask(client, v_of(face((0.425, 0.175), (0.275, 0.125)), TIGHT))
    left = answer["left"]
    assert (left["gap"], left["taper"], left["twist"], left["warp"]) == (0.25, 0.2, 0.1, 0.025)
    assert (left["out_of_true"], answer["right"]["out_of_true"], answer["which_face"]) == (True, False, "left")
    # the plane at the corners: 0.40, 0.20, 0.30, 0.10
    assert left["cut_to_parallel"] == {"front_top": 0.0, "front_bottom": 0.2, "rear_top": 0.1, "rear_bottom": 0.3}
    assert left["parallel_gap"] == 0.4
    assert "face_warped" in {note["code"] for note in answer["notes"]}
    assert "order_of_work" in {note["code"] for note in answer["notes"]}


def test_square_faces_that_show_no_gap_are_cut_by_what_their_holes_are_out(client: Client) -> None:
    # 1 mm along square faces at 45 degrees: 1.4142 down, and 1 mm off each face (the reference values' a = 0)
    out = face((0.0, 0.0), (0.0, 0.0), 1.0)
    answer = ask(client, v_of(out, out))
    assert answer["rail_cut"] == pytest.approx(1.41421356, abs=1e-7)
    assert answer["sideways"] == 0.0
    for side in ("left", "right"):
        assert set(answer[side]["face_cut"].values()) == {1.0}
        assert answer[side]["implied_approach"] == 1.0
        assert answer[side]["out_of_true"] is False


def test_what_the_milling_opens_is_checked_against_what_was_read(client: Client) -> None:
    # 1 mm at 10 degrees: gap sin 10, holes out by cos 10; by hand
    gap, out = sin(radians(10.0)), cos(radians(10.0))
    cut = {"cut": {"kind": "flat", "depth": 0.8}, "block_decked": 0.5, "gasket_change": 0.3}
    left = face((gap, gap), (gap, gap), out, milling=cut)
    right = face((gap + 0.05, gap + 0.05), (gap + 0.05, gap + 0.05), out, milling=cut)
    answer = ask(client, v_of(left, right, 10.0))
    known = answer["left"]["against_milling"]
    assert known["net_approach"] == pytest.approx(1.0, abs=1e-9)
    assert (known["expected_gap"], known["expected_misalignment"]) == pytest.approx((gap, out), abs=1e-9)
    assert known["gap_excess"]["value"] == pytest.approx(0.0, abs=1e-9)
    assert known["gap_excess"]["verdict"] == "accept"
    assert answer["left"]["implied_approach"] == pytest.approx(1.0, abs=1e-9)
    assert answer["left"]["unexplained"] == pytest.approx(0.0, abs=1e-9)
    # 0.05 mm more along the normal is sin 10 of it along the bore and cos 10 square to it
    assert answer["right"]["against_milling"]["gap_excess"]["verdict"] == "reject"
    assert answer["right"]["implied_approach"] == pytest.approx(1.0 + 0.05 * gap, abs=1e-9)
    assert answer["right"]["unexplained"] == pytest.approx(0.05 * out, abs=1e-9)
    assert answer["verdict"] == "reject"


def test_square_faces_are_held_against_the_milling_by_their_holes(client: Client) -> None:
    # no gap is expected and none is read: only the holes, 0.3 mm further out than 0.5 mm of milling, tell
    cut = {"cut": {"kind": "flat", "depth": 0.5}}
    out = face((0.0, 0.0), (0.0, 0.0), 0.8, milling=cut)
    answer = ask(client, v_of(out, out))
    known = answer["left"]["against_milling"]
    assert known["gap_excess"]["verdict"] == "accept"
    assert known["misalignment_excess"] == {
        "value": 0.3, "limit": 0.254, "rule": "within", "to_spare": -0.046, "verdict": "reject",
    }  # fmt: skip
    assert known["verdict"] == "reject"
    told = [note["detail"] for note in answer["notes"] if note["code"] == "milling_disagrees"]
    assert len(told) == 2
    assert "tell of 0.8 mm nearer" in told[0]
    del out["misalignment"]
    assert ask(client, v_of(out, TIGHT))["verdict"] == "not_measured"


def test_faces_open_at_opposite_edges_may_be_a_manifold_that_sits_askew(client: Client) -> None:
    answer = ask(client, v_of(face((0.2, 0.0), (0.2, 0.0)), face((0.0, 0.2), (0.0, 0.2))))
    assert answer["which_face"] == "both"
    assert answer["manifold_askew"] == -0.2
    assert "feel again" in next(note["detail"] for note in answer["notes"] if note["code"] == "manifold_askew")


def test_a_face_that_would_have_to_grow_is_said_so(client: Client) -> None:
    answer = ask(client, v_of(face((0.3, 0.3), (0.3, 0.3)), TIGHT))
    assert answer["left"]["missing"] == pytest.approx(0.3, abs=1e-9)
    assert "metal_missing" in {note["code"] for note in answer["notes"]}


def test_one_end_speaks_for_the_taper_and_the_rest_stays_open(client: Client) -> None:
    half = face((0.3, 0.1), (0.0, 0.0))
    del half["rear"]
    answer = ask(client, v_of(half, TIGHT))
    assert (answer["left"]["taper"], answer["left"]["twist"], answer["left"]["warp"]) == (0.2, None, None)
    assert answer["left"]["out_of_true"] is True
    assert [item["pointer"] for item in answer["open_items"]] == ["/left/rear/top", "/left/rear/bottom"]
    half["front"] = {"top": 0.1, "bottom": 0.1}
    assert ask(client, v_of(half, TIGHT))["which_face"] is None


def test_nothing_read_is_all_open_items(client: Client) -> None:
    answer = ask(client, {"bank_half_angle": 45})
    assert len(answer["open_items"]) == 11
    assert answer["verdict"] is None
    assert answer["rail_cut"] is None


def test_a_gap_not_felt_never_agrees_with_the_milling(client: Client) -> None:
    job = deepcopy(EXAMPLE)
    del job["left"]["front"]
    del job["left"]["rear"]
    answer = ask(client, job)
    assert answer["left"]["against_milling"]["gap_excess"]["verdict"] == answer["verdict"] == "not_measured"


def test_an_angle_cut_is_not_held_against_flat_milling(client: Client) -> None:
    job = deepcopy(EXAMPLE)
    job["left"]["milling"]["cut"] = {"kind": "tilt", "at": {"distance_across": 0.0, "depth": 0.01}, "tilt": 0.4}
    answer = ask(client, job)
    assert answer["left"]["against_milling"]["expected_gap"] is None
    assert "wedge_turns_face" in {note["code"] for note in answer["notes"]}


@pytest.mark.parametrize(
    ("change", "pointers"),
    [
        ({"bank_half_angle": 0.0}, {"/bank_half_angle"}),
        ({"face_tilt": 60.0}, {"/face_tilt"}),
        (
            {"right": {"milling": {"cut": {"kind": "tilt", "at": {"distance_across": 0, "depth": 0}, "tilt": 80}}}},
            {"/right/milling/cut/tilt"},
        ),
    ],
)
def test_angles_that_leave_nothing_to_fit_are_refused(client: Client, change: Job, pointers: set[str]) -> None:
    response = client.post(PATH, json=deepcopy(EXAMPLE) | change)
    assert response.status_code == 422
    assert {error["pointer"] for error in response.json()["errors"]} == pointers


def test_half_a_face_never_agrees_with_the_milling(client: Client) -> None:
    # at 10 degrees 1 mm opens sin 10; the front says just that, the rear was not felt
    gap, out = sin(radians(10.0)), cos(radians(10.0))
    half = face((gap, gap), (gap, gap), out, milling={"cut": {"kind": "flat", "depth": 1.0}})
    del half["rear"]
    answer = ask(client, v_of(half, TIGHT, 10.0))
    left = answer["left"]
    assert (answer["verdict"], left["gap"], left["parallel_gap"], left["missing"]) == ("not_measured", None, None, None)
    assert set(left["cut_to_parallel"].values()) == set(left["face_cut"].values()) == {None}
    held = next(item["needed_for"] for item in answer["open_items"] if item["pointer"] == "/left/rear/top")
    assert {"gap_excess", "parallel_gap", "missing"} <= set(held)


def test_a_manifold_at_rest_on_faces_that_meet_early_agrees_with_its_milling(client: Client) -> None:
    # by hand: 0.030 in at a = -5: in place the faces overlap by 0.030 sin 5 = 0.002615; rising by 0.002615/sin 40 =
    # 0.004068 frees them and puts the holes out by 0.030 cos 5 + 0.004068 cos 40 = 0.029886 + 0.003116 = 0.033002
    milling = {"cut": {"kind": "flat", "depth": 0.030}}
    v = {"bank_half_angle": 45, "face_tilt": -5}
    rest = ask_milling(client, milling | {"intake": v})["uncut_at_rest"]["this_head"]
    assert rest["gap_top"] == pytest.approx(0.0, abs=1e-9)
    assert rest["misalignment"] == pytest.approx(0.033002, abs=1e-6)
    felt = face((0.0, 0.0), (0.0, 0.0), rest["misalignment"], milling=milling)
    answer = ask(client, v | {"left": felt, "right": felt})
    assert answer["verdict"] == "accept"
    for side in ("left", "right"):
        assert answer[side]["implied_approach"] == pytest.approx(0.030, abs=1e-9)
        assert answer[side]["against_milling"]["misalignment_excess"]["value"] == pytest.approx(0.0, abs=1e-9)


def ask_milling(client: Client, job: Job) -> Any:
    response = client.post("/v1/milling", json=job)
    assert response.status_code == 200, response.text
    return response.json()["intake"]


def test_the_note_follows_which_way_the_readings_miss(client: Client) -> None:
    # square faces: holes out by 0.2 mm tell of 0.2 mm where 1 mm is known, and by 1.8 mm of 1.8
    for out, words in ((0.2, "0.2 mm nearer, which is less"), (1.8, "1.8 mm nearer, which is more")):
        felt = face((0.0, 0.0), (0.0, 0.0), out, milling={"cut": {"kind": "flat", "depth": 1.0}})
        answer = ask(client, v_of(felt, TIGHT))
        (told,) = [note["detail"] for note in answer["notes"] if note["code"] == "milling_disagrees"]
        assert words in told


def test_the_intake_gasket_is_taken_off_every_gap(client: Client) -> None:
    # 1.5 mm felt all over for a gasket of 1.2 mm: 0.3 mm stays open
    felt = face((1.5, 1.5), (1.5, 1.5))
    left = ask(client, v_of(felt, felt, intake_gasket=1.2))["left"]
    assert (left["gap"], left["parallel_gap"]) == (0.3, 0.3)


def test_a_taper_of_exactly_the_gauges_step_is_in_true(client: Client) -> None:
    # 0.12 - 0.10 = 0.02, the step
    answer = ask(client, v_of(face((0.12, 0.10), (0.12, 0.10)), face((0.10, 0.12), (0.10, 0.12))))
    assert answer["which_face"] == "neither"
    assert not {"manifold_askew", "face_warped"} & {note["code"] for note in answer["notes"]}


def test_a_wedge_without_a_slope_is_held_against_as_a_flat_cut(client: Client) -> None:
    ends = [{"distance_across": place, "depth": 1.0} for place in (0.0, 150.0)]
    cut = {"kind": "two_depths", "first": ends[0], "second": ends[1]}
    felt = face((0.0, 0.0), (0.0, 0.0), 1.0, milling={"cut": cut})
    answer = ask(client, v_of(felt, TIGHT))
    assert answer["verdict"] == "accept"
    assert "wedge_turns_face" not in {note["code"] for note in answer["notes"]}


def test_heads_that_both_moved_away_need_thinner_gaskets(client: Client) -> None:
    answer = ask(client, v_of(face((0.3, 0.3), (0.3, 0.3)), face((0.3, 0.3), (0.3, 0.3))))
    (told,) = [note["detail"] for note in answer["notes"] if note["code"] == "metal_missing"]
    assert "thinner head gaskets" in told
    assert "bring the other head down" not in told
    job = {"gasket_change": 0.5, "cut": {"kind": "flat", "depth": 0.0}}
    v = {"bank_half_angle": 45, "face_tilt": 10}
    response = client.post("/v1/milling", json=job | {"intake": v}).json()
    (told,) = [note["detail"] for note in response["notes"] if note["code"] == "metal_missing"]
    assert "thinner head gaskets" in told
    # only the other head came down, by 0.5 mm at 30 degrees with square faces: its own face would have to grow by
    # 0.5 (cot 30 - tan 30)/2 = 0.2887 mm, and this head must follow
    other = {"cut": {"kind": "flat", "depth": 0.5}}
    one: Job = {"bank_half_angle": 30, "face_tilt": 0, "other_head": other}
    job = {"units": {"length": "mm"}, "cut": {"kind": "flat", "depth": 0.0}, "intake": one}
    response = client.post("/v1/milling", json=job).json()
    assert response["intake"]["cuts"]["other_head"]["missing"] == pytest.approx(0.288675, abs=1e-6)
    (told,) = [note["detail"] for note in response["notes"] if note["code"] == "metal_missing"]
    assert "Bring this head down" in told
