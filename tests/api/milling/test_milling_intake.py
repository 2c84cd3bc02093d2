"""POST /v1/milling: the intake of a V, beside hand arithmetic and rigid bodies."""

from __future__ import annotations

from dataclasses import replace
from math import cos, radians, sin
from typing import Any

import pytest
from tests.api.jobs import Job
from tests.api.milling_jobs import Client, ask, details, errors, flat
from tests.rigid_v import Head, V


def v_of(half_angle: float, tilt: float | None, **more: Any) -> Job:
    return {"bank_angle": 2.0 * half_angle, "face_tilt": tilt, **more}


@pytest.mark.parametrize(
    ("tilt", "face", "rail"),
    # own derivation by vectors, worked apart from the service, per unit of head drop
    [(10.0, 1.2328, 1.7170), (0.0, 1.0, 1.4142), (-3.0, 0.9515, 1.3438)],
)
def test_a_v_of_90_degrees_needs_the_cuts_of_its_geometry(
    client: Client, tilt: float, face: float, rail: float
) -> None:
    intake = ask(client, flat(2.0, intake_side=v_of(45.0, tilt)))["intake_side"]
    assert (intake["face_cut_factor"], intake["rail_cut_factor"]) == pytest.approx((face, rail), abs=5e-5)
    for head in ("this_head", "other_head"):
        assert intake["cuts"][head]["face_cut_top"] == pytest.approx(2.0 * face, abs=1e-4)
        assert intake["cuts"][head]["face_cut_bottom"] == pytest.approx(2.0 * face, abs=1e-4)
        assert intake["cuts"][head]["missing"] == 0.0
    assert intake["cuts"]["rail_cut"] == pytest.approx(2.0 * rail, abs=1e-4)
    assert intake["cuts"]["sideways"] == pytest.approx(0.0, abs=1e-9)
    assert intake["cuts_tilted"] is None


def test_uncut_it_opens_along_the_normal_and_is_out_along_the_face(client: Client) -> None:
    # n sin a and n cos a, by hand for 1 mm and 10 degrees
    intake = ask(client, flat(1.0, intake_side=v_of(45.0, 10.0)))["intake_side"]["uncut_in_place"]
    assert intake["this_head"]["gap_top"] == pytest.approx(sin(radians(10.0)), abs=1e-9)
    assert intake["this_head"]["misalignment"] == pytest.approx(cos(radians(10.0)), abs=1e-9)


def test_square_faces_open_no_gap_and_are_out_all_the_same(client: Client) -> None:
    answer = ask(client, flat(1.0, intake_side=v_of(45.0, 0.0)))
    face = answer["intake_side"]["uncut_in_place"]["this_head"]
    assert (face["gap_top"], face["gap_bottom"], face["misalignment"]) == (0.0, 0.0, 1.0)
    assert "feeler gauge finds nothing" in details(answer)["gauge_finds_nothing"]


def test_a_face_that_leans_in_makes_the_manifold_ride_up(client: Client) -> None:
    # faces overlap by n sin 3; the manifold rises by that over sin 42
    rest = ask(client, flat(1.0, intake_side=v_of(45.0, -3.0)))["intake_side"]["uncut_at_rest"]
    assert rest["manifold_drop"] == pytest.approx(-sin(radians(3.0)) / sin(radians(42.0)), abs=1e-9)
    assert rest["this_head"]["gap_top"] == pytest.approx(0.0, abs=1e-9)


def test_with_only_the_faces_cut_it_hangs_on_its_rails_and_the_gap_is_the_cut(client: Client) -> None:
    intake = ask(client, flat(1.0, intake_side=v_of(45.0, 0.0)))["intake_side"]["faces_cut_only"]
    assert intake["manifold_drop"] == 0.0
    assert intake["this_head"]["gap_top"] == pytest.approx(1.0, abs=1e-9)
    assert intake["this_head"]["misalignment"] == pytest.approx(1.0, abs=1e-9)
    # with room under the rails it comes all the way down
    intake = ask(client, flat(1.0, intake_side=v_of(45.0, 0.0, rail_room=5.0)))["intake_side"]["faces_cut_only"]
    assert intake["this_head"]["gap_top"] == pytest.approx(0.0, abs=1e-9)
    assert intake["this_head"]["misalignment"] == pytest.approx(0.0, abs=1e-9)


def test_one_head_alone_moves_the_manifold_sideways_and_cuts_the_other_face(client: Client) -> None:
    # by hand, 45 degrees, square faces, only the other head 1 mm down: its bore points at 45 degrees, so it moves by
    # (-0.7071, -0.7071); along both faces the manifold must go (-0.7071, -0.7071) too; square to this head's face
    # that is 1 mm, square to the other's nothing
    down = {"cut": {"kind": "flat", "depth": 1.0}}
    answer = ask(client, flat(0.0, intake_side=v_of(45.0, 0.0, other_head=down)))
    cuts = answer["intake_side"]["cuts"]
    assert cuts["this_head"]["face_cut_top"] == pytest.approx(1.0, abs=1e-9)
    assert cuts["other_head"]["face_cut_top"] == pytest.approx(0.0, abs=1e-9)
    assert cuts["sideways"] == pytest.approx(-0.707107, abs=1e-6)
    assert cuts["rail_cut"] == pytest.approx(0.707107, abs=1e-6)
    assert "0.707 mm to one side" in details(answer)["banks_unequal"]


def test_metal_that_would_have_to_be_added_is_said_to_be_missing(client: Client) -> None:
    # this head 1 mm away (thicker gasket): the face would have to grow by n sin b/cos(b + a) = 1 mm at a = 0
    answer = ask(client, flat(0.0, gasket_thickness_change=1.0, intake_side=v_of(45.0, 0.0)))
    assert answer["intake_side"]["cuts"]["this_head"]["missing"] == pytest.approx(1.0, abs=1e-9)
    assert "intake_cuts" not in details(answer)
    told = details(answer)["metal_missing"]
    assert "1.00 mm short; milling can't fix that" in told
    # both ways: a gasket to fill it, the heads brought back, or closed as it is with the ports out
    assert "thicker intake gaskets, by 1.00 mm at this head and 1.00 mm at the other head" in told
    assert "this head 1.00 mm further and the other head 1.00 mm further down" in told


def test_faces_that_stand_upright_are_a_fit(client: Client) -> None:
    # by hand, 90-degree V, 1 mm: each head comes sin 45 toward the valley, which its upright face must give, and cos 45
    # down, which the rails must; uncut the faces overlap by 2 sin 45 and the manifold does not go in
    answer = ask(client, flat(1.0, intake_side=v_of(45.0, -45.0)))
    intake = answer["intake_side"]
    assert (intake["face_cut_factor"], intake["rail_cut_factor"]) == pytest.approx((0.70710678, 0.70710678), abs=1e-8)
    assert intake["cuts"]["this_head"]["face_cut_top"] == pytest.approx(0.70710678, abs=1e-8)
    assert intake["cuts"]["rail_cut"] == pytest.approx(0.70710678, abs=1e-8)
    assert intake["uncut_at_rest"]["this_head"]["gap_top"] == pytest.approx(-0.70710678, abs=1e-8)
    assert "1.414 mm" in details(answer)["manifold_too_wide"]
    # and what to cut, where
    by_hand = "up to 0.707 mm off this head's face, up to 0.707 mm off the other head's face"
    assert f"Cut the faces first: {by_hand}" in details(answer)["manifold_too_wide"]
    assert details(answer)["intake_cuts"] == (
        f"To put ports and bolt holes in line, cut {by_hand}, 0.707 mm off the end rails (cuts)."
    )
    unlike = ask(client, flat(1.0, intake_side=v_of(45.0, -45.0, other_head={"cut": {"kind": "flat", "depth": 0.6}})))
    assert unlike["intake_side"]["cuts"]["rail_cut"] is None
    assert "another 0.40 mm" in details(unlike)["ports_out_of_reach"]


def test_the_bank_angle_is_the_whole_angle_of_the_v_and_is_repeated(client: Client) -> None:
    # a V6 of 60 degrees with square faces: 1/cos 30 = 1.1547 of rail per head drop (own derivation by vectors)
    answer = ask(client, flat(0.762, intake_side={"bank_angle": 60, "face_tilt": 0}))
    assert answer["intake_side"]["bank_angle"] == 60.0
    assert answer["intake_side"]["cuts"]["rail_cut"] == pytest.approx(0.762 * 1.154700538, abs=1e-8)
    assert "unusual_reading" not in details(answer)
    # half of it entered by mistake is computed, and said
    half = ask(client, flat(0.762, intake_side={"bank_angle": 30, "face_tilt": 0}))
    assert "A V of 30 deg is rare" in details(half)["unusual_reading"]


def test_room_under_the_rails_is_taken_off_what_they_lose(client: Client) -> None:
    # 1 mm with square faces: the manifold comes 1.4142 mm down, by hand
    for room, cut in ((0.0, 1.41421356), (1.0, 0.41421356), (3.0, 0.0)):
        cuts = ask(client, flat(1.0, intake_side=v_of(45.0, 0.0, rail_room=room)))["intake_side"]["cuts"]
        assert cuts["manifold_drop"] == pytest.approx(1.41421356, abs=1e-8)
        assert cuts["rail_cut"] == pytest.approx(cut, abs=1e-8)


def test_decking_the_block_opens_nothing_at_square_faces_that_an_angle_cut_turned(client: Client) -> None:
    # the head slides down its bore, which is the manifold's face, whatever the angle cut
    sizes = {"distance_across": 6.2, "face_spacing": 9.5, "face_width": 2.6, "face_height": 1.9}
    wedge = {"kind": "tilt", "at": {"distance_across": 6.2, "depth": 0.15}, "tilt": 1.2}
    before, after = (
        ask(client, {"cut": wedge, "block_decked": decked, "intake_side": v_of(45.0, 0.0, **sizes)})["intake_side"]
        for decked in (0.0, 0.030)
    )
    for head in ("this_head", "other_head"):
        one, other = (answer["uncut_in_place"][head] for answer in (before, after))
        assert (other["gap_top"], other["gap_bottom"]) == pytest.approx((one["gap_top"], one["gap_bottom"]), abs=1e-12)
        assert other["misalignment"] - one["misalignment"] == pytest.approx(0.030, abs=1e-12)


@pytest.mark.parametrize("tilt", [-10.0, 0.0, 8.0])
def test_an_angle_cut_v_is_that_of_rigid_bodies(client: Client, tilt: float) -> None:
    # tests/rigid_v.py: points turned and moved
    v = V(72.0, tilt, Head(0.060, 0.005, 0.4), Head(0.010, 0.005, -0.7))
    # the left head of the cross-section is this one
    wedge, other = (
        {"kind": "tilt", "at": {"distance_across": 6.2, "depth": head.cut}, "tilt": head.wedge}
        for head in (v.left, v.right)
    )
    sizes = {"distance_across": 6.2, "face_spacing": v.spacing, "face_width": v.width, "face_height": v.height}
    intake = v_of(36.0, tilt, other_head={"cut": other, "block_decked": 0.005}, **sizes)
    answer = ask(client, {"cut": wedge, "block_decked": 0.005, "intake_side": intake})["intake_side"]
    for name, placed in (("uncut_in_place", v), ("uncut_at_rest", v.at_rest(0.0))):
        for bank, head in enumerate(("this_head", "other_head")):
            seen = answer[name][head]
            assert (seen["gap_top"], seen["gap_bottom"]) == pytest.approx(placed.gaps()[bank], abs=1e-8)
            assert seen["misalignment"] == pytest.approx(placed.holes()[bank], abs=1e-8)
    sealing = answer["sealing_first"]
    home = replace(v, sideways=sealing["sideways"], drop=sealing["manifold_drop"])
    for bank, head in enumerate(("this_head", "other_head")):
        cut = sealing[head]["face_cut_top"], sealing[head]["face_cut_bottom"]
        assert home.gaps()[bank] + cut == pytest.approx([0.0, 0.0], abs=1e-9)
        assert min(cut) == pytest.approx(0.0, abs=1e-12)
        assert sealing[head]["misalignment"] == pytest.approx(home.holes()[bank], abs=1e-9)
    aligned = answer["cuts"]
    home = replace(v, sideways=aligned["sideways"], drop=aligned["manifold_drop"])
    assert home.holes() == pytest.approx([0.0, 0.0], abs=1e-9)
    for bank, head in enumerate(("this_head", "other_head")):
        cut = aligned[head]["face_cut_top"], aligned[head]["face_cut_bottom"]
        assert home.gaps()[bank] + cut == pytest.approx([0.0, 0.0], abs=1e-9)


def test_a_wedge_tapers_the_faces_or_tilts_the_manifold(client: Client) -> None:
    tilt = {"cut": {"kind": "tilt", "at": {"distance_across": 0.0, "depth": 0.2}, "tilt": 0.5}}
    sizes = {"distance_across": 160.0, "face_spacing": 250.0, "face_width": 60.0, "face_height": 50.0}
    # both heads turned alike: mirror images; no tilt of the manifold would help, each face tapers by width tan(tilt)
    both = ask(client, {"units": {"length": "mm"}, **tilt, "intake_side": v_of(45.0, 0.0, **sizes)})["intake_side"]
    taper = [
        head["face_cut_top"] - head["face_cut_bottom"]
        for head in (both["cuts"]["this_head"], both["cuts"]["other_head"])
    ]
    assert taper == pytest.approx([60.0 * sin(radians(0.5))] * 2, abs=1e-9)
    assert both["cuts_tilted"] is None
    # one turned one way and the other as much the other way: the manifold turns with them and no face tapers
    back = {"cut": {"kind": "tilt", "at": {"distance_across": 0.0, "depth": 2.0}, "tilt": -0.5}}
    askew = ask(client, {"units": {"length": "mm"}, **tilt, "intake_side": v_of(45.0, 0.0, other_head=back, **sizes)})[
        "intake_side"
    ]
    tilted = askew["cuts_tilted"]
    assert tilted["manifold_tilt"] == pytest.approx(-0.5, abs=1e-9)
    for head in ("this_head", "other_head"):
        assert tilted[head]["face_cut_top"] == pytest.approx(tilted[head]["face_cut_bottom"], abs=1e-9)


def test_a_wedge_asks_for_the_faces_sizes_and_a_v_for_its_tilt(client: Client) -> None:
    tilt = {"kind": "tilt", "at": {"distance_across": 0.0, "depth": 0.2}, "tilt": 0.5}
    answer = ask(client, {"cut": tilt, "intake_side": v_of(45.0, None)})
    names = ("face_tilt", "distance_across", "face_spacing", "face_width", "face_height")
    assert [item["pointer"] for item in answer["open_items"]] == [f"/intake_side/{name}" for name in names]
    assert answer["intake_side"]["cuts"]["rail_cut"] is None
    assert answer["intake_side"]["rail_cut_factor"] is None


@pytest.mark.parametrize(
    ("intake", "pointers"),
    [
        (v_of(0.0, 0.0), {"/intake_side/bank_angle"}),
        (v_of(90.0, -10.0), {"/intake_side/bank_angle"}),
        (v_of(90.0, 5.0), {"/intake_side/bank_angle"}),
        (v_of(45.0, 45.0), {"/intake_side/face_tilt"}),
        (v_of(45.0, -45.1), {"/intake_side/face_tilt"}),
        (
            v_of(45.0, 0.0, other_head={"cut": {"kind": "tilt", "at": {"distance_across": 0, "depth": 0}, "tilt": 50}}),
            {"/intake_side/other_head/cut/tilt"},
        ),
    ],
)
def test_what_leaves_no_v_is_refused(client: Client, intake: Job, pointers: set[str]) -> None:
    assert set(errors(client, flat(1.0, intake_side=intake))) == pointers


def test_bores_that_lie_flat_are_not_called_in_line(client: Client) -> None:
    told = errors(client, flat(1.0, intake_side=v_of(90.0, 0.0)))
    assert "opposed" in told["/intake_side/bank_angle"]
    assert "in-line" not in told["/intake_side/bank_angle"]


def test_faces_that_close_as_they_are_are_not_told_to_be_cut_by_nothing(client: Client) -> None:
    # square faces, both heads 1 mm up: they close all the same, the ports 1 mm high
    told = details(ask(client, flat(0.0, gasket_thickness_change=1.0, intake_side=v_of(45.0, 0.0))))["metal_missing"]
    assert "0.00 mm" not in told
    assert "Or cut nothing: both faces close as they are" in told
    assert "1.00 mm high at this head" in told


def test_an_angle_cut_that_leaves_a_face_short_is_told_both_ways(client: Client) -> None:
    # 2 degrees the wrong way round: 60 sin 2 = 2.094 mm of taper, which a flat 0.2 mm cannot give at the top
    cut = {"kind": "tilt", "at": {"distance_across": 160.0, "depth": 0.2}, "tilt": -2.0}
    sizes = {"distance_across": 160.0, "face_spacing": 250.0, "face_width": 60.0, "face_height": 50.0}
    answer = ask(client, {"units": {"length": "mm"}, "cut": cut, "intake_side": v_of(45.0, 0.0, **sizes)})
    sealing = answer["intake_side"]["sealing_first"]["this_head"]
    assert (sealing["face_cut_top"], sealing["face_cut_bottom"]) == pytest.approx((0.0, 60.0 * sin(radians(2.0))))
    told = details(answer)["metal_missing"]
    assert "milling can't fix that" in told
    assert "seal first: cut up to 2.094 mm off this head's face" in told
