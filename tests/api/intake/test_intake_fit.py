"""POST /v1/intake-fit against hand arithmetic and rigid bodies."""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from math import sqrt
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.api.intake_jobs import PATH, TIGHT, Client, ask, face, flat, measured, notes, v_of
from tests.api.jobs import Job, example
from tests.rigid_v import V

EXAMPLE = example("intake-fit")


CHECKS = (
    "face_gap_check",
    "face_taper_check",
    "face_twist_check",
    "face_warp_check",
    "misalignment_check",
    "bolt_entry_check",
)


def test_four_corners_are_gap_taper_twist_and_warp(client: Client) -> None:
    # by hand: mean 0.25; top mean 0.35 less bottom mean 0.15; front mean 0.30 less rear 0.20; the rest is 0.025
    answer = ask(client, v_of(face((0.425, 0.175), (0.275, 0.125)), TIGHT))
    left = answer["left"]
    assert (left["face_gap"], left["face_taper"], left["face_twist"], left["face_warp"]) == (0.25, 0.2, 0.1, 0.025)
    assert answer["face_out_of_true"] == "left"
    # the plane at the corners: 0.40, 0.20, 0.30, 0.10
    trued = answer["sealing_first"]["left"]["face_cut"]
    assert trued == {"front_top": 0.0, "front_bottom": 0.2, "rear_top": 0.1, "rear_bottom": 0.3}
    assert "0.20 mm further open at the top edge" in notes(answer)["face_out_of_true"]
    assert "cut 0.30 mm at the rear, bottom edge" in notes(answer)["face_out_of_true"]
    assert "order_of_work" in notes(answer)


def test_a_manifold_that_lies_on_both_faces_with_its_holes_in_line_seats(client: Client) -> None:
    answer = ask(client, v_of(TIGHT, TIGHT))
    assert answer["verdict"] == "accept"
    assert answer["explained_by_milling"] is None
    assert answer["face_out_of_true"] == "neither"
    assert answer["bank_angle"] == 90.0


@pytest.mark.parametrize(
    ("left", "check"),
    [
        # 0.3 mm open on this face alone: evened out to 0.15 on each, over 0.127
        (face((0.3, 0.3), (0.3, 0.3)), "face_gap_check"),
        # 0.16 mm further open at the top, over 0.127
        (face((0.16, 0.0), (0.16, 0.0)), "face_taper_check"),
        # 0.16 mm further open at the front, over 0.1524
        (face((0.16, 0.16), (0.0, 0.0)), "face_twist_check"),
        # two opposite corners 0.1 mm off the plane, over 0.0762
        (face((0.2, 0.0), (0.0, 0.2)), "face_warp_check"),
        # holes 0.4 mm out, over 0.381, and under the 0.787 at which a bolt still enters
        (face((0.0, 0.0), (0.0, 0.0), 0.4), "misalignment_check"),
    ],
)
def test_whatever_keeps_a_manifold_from_seating_is_for_a_person_to_decide(
    client: Client, left: Job, check: str
) -> None:
    answer = ask(client, v_of(left, TIGHT))
    assert answer["left"][check]["verdict"] == "borderline"
    assert answer["left"][check]["check_class"] == "setting"
    assert answer["verdict"] == "borderline"
    assert {"faces_open", "face_out_of_true", "face_warped", "bolt_holes_off"} & set(notes(answer))
    strict = ask(client, v_of(left, TIGHT, limits={"off_target": "reject"}))
    assert strict["left"][check]["verdict"] == strict["verdict"] == "reject"


def test_bolts_that_cannot_enter_are_rejected(client: Client) -> None:
    # 1 mm out, over 0.7874
    answer = ask(client, v_of(face((0.0, 0.0), (0.0, 0.0), 1.0), TIGHT))
    check = answer["left"]["bolt_entry_check"]
    assert (check["verdict"], check["check_class"], check["limit"]) == ("reject", "damage", pytest.approx(0.7874))
    assert answer["verdict"] == "reject"
    assert "don't enter" in notes(answer)["bolt_holes_off"]
    # and what to do: half of 1 mm over cos 45 down and over sin 45 left, 1 mm off the right face along its normal
    assert "0.707 mm off the end rails" in notes(answer)["bolt_holes_off"]


def test_a_gap_that_no_milling_was_entered_for_is_no_accept(client: Client) -> None:
    # 0.9 in of gap on one face: the manifold shifted half way is still open by 0.45 on both, its holes 0.45 out; set
    # over against the right face its bolts enter
    answer = ask(client, v_of(face((0.9, 0.9), (0.9, 0.9)), TIGHT, units={"length": "in"}, gauge_step=0.001))
    assert answer["left"]["face_gap_check"]["value"] == pytest.approx(0.45, abs=1e-12)
    assert answer["left"]["bolt_entry_check"]["value"] == pytest.approx(0.0, abs=1e-12)
    # no intake is open so far: the reading or the manifold is wrong, and no cut is to be told from it
    assert answer["verdict"] == "not_measured"
    assert "can't be right" in notes(answer)["unusual_reading"]
    assert "0.900 in" in notes(answer)["unusual_reading"]
    assert not {"faces_open", "face_out_of_true", "bolt_holes_off", "metal_missing", "order_of_work"} & set(
        notes(answer)
    )
    assert (answer["cuts"]["rail_cut"], answer["sealing_first"]["rail_cut"]) == (None, None)
    asked = [item["pointer"] for item in answer["open_items"]]
    assert asked == [f"/left/{end}/{edge}" for end in ("front", "rear") for edge in ("top", "bottom")]


def test_gaps_that_no_intake_leaves_are_never_accepted(client: Client) -> None:
    # 0.9 in open on both sides and free to come down: it would close, were it true. The most, common practice, no
    # source: 0.250 in
    wide = face((0.9, 0.9), (0.9, 0.9), 0.9)
    free: dict[str, Any] = {"units": {"length": "in"}, "gauge_step": 0.001, "rail_room": 5.0}
    assert ask(client, v_of(wide, wide, **free))["verdict"] == "not_measured"
    holes = face((0.0, 0.0), (0.0, 0.0), 0.9)
    answer = ask(client, v_of(holes, holes, **free))
    assert answer["verdict"] in ("not_measured", "reject")
    assert "bolt holes" in notes(answer)["unusual_reading"].lower()
    # a gasket in the other unit makes every gap odd, and is what to check
    thick = ask(client, v_of(TIGHT, TIGHT, intake_gasket_thickness=1.5, units={"length": "in"}))
    assert thick["verdict"] in ("not_measured", "reject")
    assert {note["pointer"] for note in thick["notes"] if note["code"] == "unusual_reading"} == {
        "/intake_gasket_thickness"
    }
    assert [item["pointer"] for item in thick["open_items"]] == ["/intake_gasket_thickness"]
    usual = face((0.249, 0.249), (0.249, 0.249))
    assert "unusual_reading" not in notes(ask(client, v_of(usual, usual, **free)))


def test_a_face_nobody_measured_never_seats(client: Client) -> None:
    answer = ask(client, v_of(TIGHT, {}))
    assert answer["verdict"] == "not_measured"
    assert {answer["right"][check]["verdict"] for check in CHECKS} == {"not_measured"}
    pointers = [item["pointer"] for item in answer["open_items"]]
    assert pointers == [
        *(f"/right/{end}/{edge}" for end in ("front", "rear") for edge in ("top", "bottom")),
        "/right/misalignment",
    ]
    assert answer["open_items"][0]["detail"] == "Measure the gap with feeler gauges: right face, front, top edge."
    told = "Measure how far the right head's bolt holes sit below the manifold's, along the face."
    assert answer["open_items"][4]["detail"] == told


def readings_of(job: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Every reading of a job, as the names that lead to it; settings and statements left out."""
    for name, value in job.items():
        if name in ("units", "limits", "bank_angle", "gauge_step", "misalignment_step"):
            continue
        if isinstance(value, dict) and name != "milling":
            yield from readings_of(value, (*path, name))
        else:
            yield (*path, name)


def verdicts_of(answer: Any) -> dict[str, str]:
    sides = {f"{side}/{check}": answer[side][check]["verdict"] for side in ("left", "right") for check in CHECKS}
    return sides | {
        "verdict": answer["verdict"],
        "left": answer["left"]["verdict"],
        "right": answer["right"]["verdict"],
    }


RANK = ("accept", "borderline", "not_measured", "reject")
thousandths = st.integers(0, 12).map(lambda thou: thou / 1000)
corner_pairs = st.tuples(thousandths, thousandths)
any_face = st.tuples(corner_pairs, corner_pairs, st.integers(-40, 60).map(lambda thou: thou / 1000), thousandths)


@given(left=any_face, right=any_face, gasket=st.sampled_from([0.0, 0.004, 0.060]), room=st.sampled_from([0.0, 0.03]))
def test_leaving_out_a_reading_betters_no_verdict(
    client: Client, left: tuple[Any, ...], right: tuple[Any, ...], gasket: float, room: float
) -> None:
    left_face, right_face = (face(*one[:3], milling=flat(one[3])) for one in (left, right))
    more = {"units": {"length": "in"}, "gauge_step": 0.001, "intake_gasket_thickness": gasket, "rail_room": room}
    job = v_of(left_face, right_face, 8.0, **more)
    whole = ask(client, job)
    before = verdicts_of(whole)
    for path in readings_of(job):
        less = deepcopy(job)
        inner = less
        for name in path[:-1]:
            inner = inner[name]
        del inner[path[-1]]
        answer = ask(client, less)
        for name, verdict in verdicts_of(answer).items():
            # not_measured and reject are both not good
            worse = min(RANK.index(before[name]), RANK.index("not_measured"))
            assert RANK.index(verdict) >= worse, (path, name)
        told = answer["explained_by_milling"]
        assert told is None or told == whole["explained_by_milling"], path
        pointer = "/" + "/".join(path)
        assert [item["pointer"] for item in answer["open_items"]].count(pointer) == 1


def test_a_thick_gasket_lifts_the_manifold_and_takes_its_bolt_holes_along(client: Client) -> None:
    # faces touch and holes line up as measured, without the 1.5 mm gaskets; by hand at 45 degrees: up 1.5 sqrt 2, the
    # holes 1.5 out, so that no bolt enters; the end rails are left 2.12 open
    answer = ask(client, v_of(TIGHT, TIGHT, intake_gasket_thickness=1.5))
    assert answer["seated"]["manifold_drop"] == pytest.approx(-1.5 * sqrt(2.0), abs=1e-9)
    assert answer["seated"]["rail_gap"] == pytest.approx(1.5 * sqrt(2.0), abs=1e-9)
    assert answer["left"]["face_gap_check"]["value"] == pytest.approx(0.0, abs=1e-9)
    assert answer["left"]["misalignment_check"]["value"] == pytest.approx(1.5, abs=1e-9)
    assert answer["verdict"] == "reject"
    # measured without its gaskets on the heads as made it is 1.5 mm too low on each face, and seats
    v = V(90.0, 0.0, gasket=0.060).at_rest(1.0, gasket_in=False)
    answer = ask(client, measured(v))
    assert answer["manifold_as_measured"]["manifold_drop"] == pytest.approx(0.060 * sqrt(2.0), abs=1e-7)
    assert answer["verdict"] == "accept"
    assert "0.0849 in at the end rails" in notes(answer)["manifold_lifted"]


def test_rails_that_keep_the_faces_open_are_told_with_what_comes_off(client: Client) -> None:
    # 0.2 mm open on both faces at 45 degrees: 0.2 sqrt 2 down closes them
    open_face = face((0.2, 0.2), (0.2, 0.2))
    answer = ask(client, v_of(open_face, open_face))
    assert answer["verdict"] == "borderline"
    assert "0.283 mm off the end rails" in notes(answer)["faces_open"]
    assert "gaskets 0.20 mm thicker" in notes(answer)["faces_open"]
    # with room under the rails it comes down and closes
    answer = ask(client, v_of(open_face, open_face, rail_room=1.0))
    assert answer["left"]["face_gap_check"]["value"] == pytest.approx(0.0, abs=1e-9)
    assert answer["left"]["misalignment_check"]["value"] == pytest.approx(-0.2, abs=1e-9)
    assert answer["verdict"] == "accept"
    assert answer["sealing_first"]["rail_cut"] == 0.0


def test_one_end_speaks_for_the_taper_and_the_rest_stays_open(client: Client) -> None:
    half = face((0.3, 0.1), (0.0, 0.0))
    del half["rear"]
    answer = ask(client, v_of(half, TIGHT))
    left = answer["left"]
    assert (left["face_taper"], left["face_gap"], left["face_twist"], left["face_warp"]) == (0.2, None, None, None)
    assert left["face_taper_check"]["verdict"] == answer["verdict"] == "not_measured"
    assert set(answer["cuts"]["left"]["face_cut"].values()) == {None}
    assert [item["pointer"] for item in answer["open_items"]] == ["/left/rear/top", "/left/rear/bottom"]
    assert answer["face_out_of_true"] is None


def test_nothing_measured_is_all_open_items(client: Client) -> None:
    answer = ask(client, {"bank_angle": 90})
    assert [item["pointer"] for item in answer["open_items"]][:3] == [
        "/face_tilt",
        "/intake_gasket_thickness",
        "/rail_room",
    ]
    assert len(answer["open_items"]) == 13
    assert (answer["verdict"], answer["explained_by_milling"]) == ("not_measured", None)
    assert answer["cuts"]["rail_cut"] is None
    assert answer["open_items"][0]["detail"] == "Measure the intake face angle, degrees off square to the deck."


@pytest.mark.parametrize(
    ("change", "pointers"),
    [
        ({"bank_angle": 0.0}, {"/bank_angle"}),
        ({"bank_angle": 180.0}, {"/bank_angle"}),
        ({"face_tilt": 60.0}, {"/face_tilt"}),
        ({"face_tilt": -36.1}, {"/face_tilt"}),
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


def test_between_upright_faces_a_manifold_too_wide_is_rejected(client: Client) -> None:
    # gaskets of 1 mm a side where 0.6 mm is open: 0.4 mm too wide a side
    open_face = face((0.6, 0.6), (0.6, 0.6))
    answer = ask(client, v_of(open_face, open_face, -45.0, intake_gasket_thickness=1.0))
    check = answer["left"]["face_gap_check"]
    assert (check["value"], check["verdict"], check["check_class"]) == (pytest.approx(-0.4), "reject", "damage")
    assert "0.40 mm a side" in notes(answer)["manifold_too_wide"]
    # and where 0.2 mm stays open only thicker gaskets close it
    answer = ask(client, v_of(open_face, open_face, -45.0, intake_gasket_thickness=0.4))
    assert answer["verdict"] == "borderline"
    assert "gaskets 0.20 mm thicker" in notes(answer)["faces_open"]
    assert "rails" not in notes(answer)["faces_open"].split(":")[1]
    # holes of one side 0.3 mm lower than the other's: no place serves both
    answer = ask(client, v_of(face((0.0, 0.0), (0.0, 0.0), 0.9), face((0.0, 0.0), (0.0, 0.0), 0.6), -45.0))
    assert answer["cuts"]["rail_cut"] is None
    assert "0.30 mm" in notes(answer)["bolt_holes_off"]


def test_every_note_that_something_is_off_ends_in_what_to_do(client: Client) -> None:
    out = face((0.5, 0.1), (0.3, 0.2), 1.2, milling=flat(0.2))
    answer = ask(client, v_of(out, TIGHT | {"milling": flat(0.2)}))
    told = notes(answer)
    assert {"face_out_of_true", "bolt_holes_off", "milling_disagrees", "metal_missing"} <= set(told)
    for code, words in (("face_out_of_true", "cut "), ("bolt_holes_off", "cut "), ("metal_missing", "Fit thicker ")):
        assert words in told[code]
    assert all(" mm" in told[code] for code in ("face_out_of_true", "bolt_holes_off", "milling_disagrees"))
