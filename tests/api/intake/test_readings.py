"""POST /v1/intake-fit: what the readings tell of heads and milling, and both ways to cut, against rigid bodies."""

from __future__ import annotations

from copy import deepcopy
from math import cos, radians, sin, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.api.intake_jobs import TIGHT, Client, ask, face, flat, measured, notes, v_of
from tests.api.jobs import Job, example
from tests.rigid_v import Head, V

EXAMPLE = example("intake-fit")


def test_square_faces_that_show_no_gap_are_cut_by_what_their_holes_are_out(client: Client) -> None:
    # 1 mm along square faces at 45 degrees: 1.4142 down, and 1 mm off each face (own derivation: 1/cos 45, 1)
    out = face((0.0, 0.0), (0.0, 0.0), 1.0)
    answer = ask(client, v_of(out, out))
    assert answer["cuts"]["rail_cut"] == pytest.approx(1.41421356, abs=1e-7)
    assert answer["cuts"]["sideways"] == 0.0
    for side in ("left", "right"):
        assert set(answer["cuts"][side]["face_cut"].values()) == {1.0}
        assert answer[side]["implied_head_drop"] == pytest.approx(1.0, abs=1e-9)


def test_one_head_down_and_one_up_come_back_from_a_manifold_at_rest(client: Client) -> None:
    # four readings, four unknowns, by rigid bodies: 90 degrees, faces 10 degrees back, 0.040 in down and 0.020 in up
    v = V(90.0, 10.0, Head(0.040), Head(-0.020)).at_rest(0.0)
    answer = ask(client, measured(v))
    assert answer["left"]["implied_head_drop"] == pytest.approx(0.040, abs=1e-7)
    assert answer["right"]["implied_head_drop"] == pytest.approx(-0.020, abs=1e-7)
    assert answer["manifold_as_measured"]["sideways"] == pytest.approx(v.sideways, abs=1e-7)
    assert answer["manifold_as_measured"]["manifold_drop"] == pytest.approx(0.0, abs=1e-7)


@pytest.mark.parametrize("gasket", [0.0, 0.060])
@pytest.mark.parametrize("tilt", [-5.0, 0.0, 10.0])
def test_milling_explains_what_it_left_wherever_the_manifold_was_put(
    client: Client, tilt: float, gasket: float
) -> None:
    cuts = {"left": 0.030, "right": 0.020}
    for sideways, drop in ((0.0, 0.0), (0.015, 0.0), (-0.010, -0.012)):
        v = V(72.0, tilt, Head(0.030), Head(0.020), gasket=gasket, sideways=sideways, drop=drop)
        job = measured(v)
        if min(job[side][end][edge] for side in cuts for end in ("front", "rear") for edge in ("top", "bottom")) < 0.0:
            continue
        for side, cut in cuts.items():
            job[side]["milling"] = flat(cut)
        answer = ask(client, job)
        assert answer["explained_by_milling"] is True
        for side, cut in cuts.items():
            assert answer[side]["implied_head_drop"] == pytest.approx(cut, abs=1e-9)
            assert answer[side]["against_milling"]["difference"] == pytest.approx(0.0, abs=1e-9)


def test_explained_by_milling_stands_apart_from_whether_it_seats(client: Client) -> None:
    # 1 mm off both heads with square faces: holes out by 1 mm, just as milled, and no bolt enters
    out = face((0.0, 0.0), (0.0, 0.0), 1.0, milling=flat(1.0))
    answer = ask(client, v_of(out, out))
    assert (answer["verdict"], answer["explained_by_milling"]) == ("reject", True)
    # nothing is out, though 1 mm was milled: it seats, and something else was cut
    tight = TIGHT | {"milling": flat(1.0)}
    answer = ask(client, v_of(tight, tight))
    assert (answer["verdict"], answer["explained_by_milling"]) == ("accept", False)
    assert "1.00 mm higher than entered" in notes(answer)["milling_disagrees"]


def test_a_head_milled_before_shows_as_lower_than_entered(client: Client) -> None:
    # square faces, 45 degrees: what the holes are out is the head drop, 0.8 for 0.5; 0.254 and 0.02 can be told
    out = face((0.0, 0.0), (0.0, 0.0), 0.8, milling=flat(0.5))
    answer = ask(client, v_of(out, out))
    assert answer["implied_head_drop_uncertainty"] == pytest.approx(0.274, abs=1e-9)
    for side in ("left", "right"):
        assert answer[side]["against_milling"]["difference"] == pytest.approx(0.3, abs=1e-9)
        assert answer[side]["against_milling"]["explained_by_milling"] is False
    told = (
        "Right head: gaps and bolt holes show it 0.80 mm lower than as made, 0.30 mm lower than entered: milled before?"
    )
    assert notes(answer)["milling_disagrees"].startswith(told)


def test_what_the_milling_should_have_left_is_told(client: Client) -> None:
    # 1 mm at 10 degrees: gap sin 10, holes out by cos 10; by hand
    gap, out = sin(radians(10.0)), cos(radians(10.0))
    cut = {"cut": {"kind": "flat", "depth": 0.8}, "block_decked": 0.5, "gasket_thickness_change": 0.3}
    one = face((gap, gap), (gap, gap), out, milling=cut)
    answer = ask(client, v_of(one, one, 10.0))
    known = answer["left"]["against_milling"]
    assert known["head_drop"] == pytest.approx(1.0, abs=1e-9)
    assert (known["expected_gap"], known["expected_misalignment"]) == pytest.approx((gap, out), abs=1e-9)
    assert answer["explained_by_milling"] is True


def test_the_milling_of_one_head_alone_explains_nothing(client: Client) -> None:
    out = face((0.0, 0.0), (0.0, 0.0), 1.0)
    answer = ask(client, v_of(out | {"milling": flat(1.0)}, out))
    assert answer["explained_by_milling"] is None
    assert answer["left"]["against_milling"]["explained_by_milling"] is None
    (item,) = answer["open_items"]
    assert (item["pointer"], item["needed_for"][0]) == ("/right/milling", "explained_by_milling")


def test_tapered_faces_are_told_both_ways(client: Client) -> None:
    # 90 degrees, square faces, 0.2 mm further open at the top, holes in line: ports in line takes 0.2 mm of metal that
    # is not there at the top edge; sealing first cuts 0.2 mm at the bottom, lets the manifold down 0.2 sqrt 2 and
    # leaves the ports 0.2 mm high
    tapered = face((0.2, 0.0), (0.2, 0.0))
    answer = ask(client, v_of(tapered, tapered))
    assert answer["cuts"]["left"]["missing"] == pytest.approx(0.2, abs=1e-9)
    sealing = answer["sealing_first"]
    for side in ("left", "right"):
        assert sealing[side]["face_cut"] == {
            "front_top": 0.0, "front_bottom": 0.2, "rear_top": 0.0, "rear_bottom": 0.2,
        }  # fmt: skip
        assert sealing[side]["misalignment"] == pytest.approx(-0.2, abs=1e-9)
    assert sealing["rail_cut"] == pytest.approx(0.2 * sqrt(2.0), abs=1e-9)
    told = notes(answer)["metal_missing"]
    assert "up to 0.20 mm short; milling can't fix that" in told
    assert "seal first: cut up to 0.20 mm off the left head's face" in told
    assert "0.283 mm off the end rails" in told
    assert "0.20 mm high at the left head" in told


def test_faces_open_at_opposite_edges_may_be_a_cocked_manifold(client: Client) -> None:
    answer = ask(client, v_of(face((0.2, 0.0), (0.2, 0.0)), face((0.0, 0.2), (0.0, 0.2))))
    assert answer["face_out_of_true"] == "both"
    assert answer["manifold_cocked_by"] == -0.2
    told = notes(answer)["manifold_cocked"]
    assert "a cocked manifold accounts for 0.20 mm; level it and re-measure before cutting" in told
    # and no cut is told from readings that are to be taken again
    assert not {"face_out_of_true", "bolt_holes_off", "metal_missing"} & set(notes(answer))


@given(cock=st.floats(0.1, 0.5), down=st.floats(0.0, 0.03))
def test_a_cocked_manifold_tells_of_no_head(client: Client, cock: float, down: float) -> None:
    # rigid bodies: half a degree lifts one face's holes and drops the other's by far more than can be told
    v = V(90.0, 5.0, Head(down), Head(down), cock=cock, drop=-0.1)
    job = measured(v)
    job["left"]["milling"] = job["right"]["milling"] = flat(down)
    answer = ask(client, job)
    assert "manifold_cocked" in notes(answer)
    assert answer["left"]["implied_head_drop"] is None
    assert answer["explained_by_milling"] is None


def test_an_angle_cut_is_not_held_against_flat_milling(client: Client) -> None:
    job = deepcopy(EXAMPLE)
    job["left"]["milling"]["cut"] = {"kind": "tilt", "at": {"distance_across": 0.0, "depth": 0.01}, "tilt": 0.4}
    answer = ask(client, job)
    assert answer["left"]["against_milling"]["expected_gap"] is None
    assert answer["right"]["implied_head_drop"] is None
    assert answer["explained_by_milling"] is None
    assert "wedge_turns_face" in notes(answer)


@given(
    angle=st.tuples(st.floats(50.0, 110.0), st.floats(-10.0, 15.0)),
    drops=st.tuples(st.floats(0.0, 0.04), st.floats(0.0, 0.04)),
    put=st.tuples(st.floats(-0.02, 0.02), st.floats(-0.2, -0.1)),
    room=st.floats(0.0, 0.3),
)
def test_where_it_seats_and_what_both_ways_take_is_what_rigid_bodies_show(
    client: Client,
    angle: tuple[float, float],
    drops: tuple[float, float],
    put: tuple[float, float],
    room: float,
) -> None:
    v = V(*angle, Head(drops[0]), Head(drops[1]), gasket=0.05, sideways=put[0], drop=put[1])
    answer = ask(client, measured(v, rail_room=room))
    home = v.at_rest(put[1] + room)
    for bank, side in enumerate(("left", "right")):
        assert answer[side]["face_gap_check"]["value"] == pytest.approx(home.gaps()[bank].mean(), abs=1e-7)
        assert answer[side]["misalignment_check"]["value"] == pytest.approx(home.holes()[bank], abs=1e-7)
    aligned = V(
        *angle, v.left, v.right, gasket=0.05, sideways=put[0] + answer["cuts"]["sideways"],
        drop=put[1] + answer["cuts"]["manifold_drop"],
    )  # fmt: skip
    assert aligned.holes() == pytest.approx([0.0, 0.0], abs=1e-9)
    sealed = V(
        *angle, v.left, v.right, gasket=0.05, sideways=put[0] + answer["sealing_first"]["sideways"],
        drop=put[1] + answer["sealing_first"]["manifold_drop"],
    )  # fmt: skip
    for bank, side in enumerate(("left", "right")):
        cut = answer["cuts"][side]["face_cut"]
        assert aligned.gaps()[bank] + [cut["front_top"], cut["front_bottom"]] == pytest.approx([0.0, 0.0], abs=1e-9)
        cut = answer["sealing_first"][side]["face_cut"]
        assert sealed.gaps()[bank] + [cut["front_top"], cut["front_bottom"]] == pytest.approx([0.0, 0.0], abs=1e-9)
        out = answer["sealing_first"][side]["misalignment"]
        assert out == pytest.approx(sealed.holes()[bank], abs=1e-9)


def test_heads_that_both_moved_away_are_told_how_far_to_bring_back(client: Client) -> None:
    # square faces, 45 degrees: 0.3 mm open with the holes in line tells of both heads 0.3 mm up (four readings)
    open_face = face((0.3, 0.3), (0.3, 0.3))
    told = notes(ask(client, v_of(open_face, open_face)))["metal_missing"]
    assert "bring the left head 0.30 mm further and the right head 0.30 mm further down" in told
    # only the other head came down, by 0.5 mm at 30 degrees with square faces: its own face would have to grow by
    # 0.5 (cot 30 - tan 30)/2 = 0.2887 mm, and this head must follow
    one: Job = {"bank_angle": 60, "face_tilt": 0, "other_head": flat(0.5)}
    job = {"units": {"length": "mm"}, "cut": {"kind": "flat", "depth": 0.0}, "intake_side": one}
    response = client.post("/v1/milling", json=job).json()
    assert response["intake_side"]["cuts"]["other_head"]["missing"] == pytest.approx(0.288675, abs=1e-6)
    (told,) = [note["detail"] for note in response["notes"] if note["code"] == "metal_missing"]
    assert "bring this head 0.50 mm further down" in told


def test_a_flat_cut_explains_no_taper(client: Client) -> None:
    # square faces, 1 mm off both heads, holes out by 1 mm: all as milled, but the left face is 0.2 mm further open at
    # the top, where a flat cut leaves it parallel
    out = face((0.0, 0.0), (0.0, 0.0), 1.0, milling=flat(1.0))
    tapered = face((0.2, 0.0), (0.2, 0.0), 1.0, milling=flat(1.0))
    assert ask(client, v_of(out, out))["explained_by_milling"] is True
    answer = ask(client, v_of(tapered, out))
    assert answer["left"]["against_milling"]["explained_by_milling"] is False
    assert answer["right"]["against_milling"]["explained_by_milling"] is True
    assert answer["explained_by_milling"] is False
    assert "Left face: not parallel to the manifold's" in notes(answer)["milling_disagrees"]


def test_where_it_seats_nothing_is_said_to_be_short_of_metal(client: Client) -> None:
    # a thousandth open all over, holes in line: nobody adds metal for that
    close = face((0.02, 0.02), (0.02, 0.02))
    answer = ask(client, v_of(close, close))
    assert answer["verdict"] == "accept"
    assert not {"metal_missing", "order_of_work", "faces_open"} & set(notes(answer))


def test_a_head_no_lower_than_can_be_told_is_not_to_be_brought_down(client: Client) -> None:
    # 0.2 mm open on the left: within the 0.274 that readings tell, so no head is said to be high
    answer = ask(client, v_of(face((0.26, 0.26), (0.26, 0.26)), TIGHT))
    assert answer["verdict"] == "borderline"
    assert "further down" not in notes(answer)["metal_missing"]
