"""POST /v1/milling: seats, valve train, cam drive, intake and what is wanted, beside hand arithmetic."""

from __future__ import annotations

from copy import deepcopy
from math import cos, radians, sin
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job

from headbench.api.milling import EXAMPLE
from headbench.api.piston_to_valve import EXAMPLE as CLEARANCES
from headbench.api.pushrod_length import EXAMPLE as PUSHRODS

Client = TestClient[ASGIApp]
PATH = "/v1/milling"


def ask(client: Client, job: Job, path: str = PATH) -> Any:
    response = client.post(path, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def errors(client: Client, job: Job) -> dict[str, str]:
    response = client.post(PATH, json=job)
    assert response.status_code == 422, response.text
    return {error["pointer"]: error["detail"] for error in response.json()["errors"]}


def details(answer: Any) -> dict[str, str]:
    return {note["code"]: note["detail"] for note in answer["notes"]}


def flat(depth: float, **more: Any) -> Job:
    return {"units": {"length": "mm"}, "cut": {"kind": "flat", "depth": depth}, **more}


def v_of(half_angle: float, tilt: float | None, **more: Any) -> Job:
    return {"bank_half_angle": half_angle, "face_tilt": tilt, **more}


@pytest.mark.parametrize(
    ("tilt", "face", "rail"),
    # the 90-degree V of the reference values, per unit of approach
    [(10.0, 1.2328, 1.7170), (0.0, 1.0, 1.4142), (-3.0, 0.9515, 1.3438)],
)
def test_a_v_of_90_degrees_needs_the_cuts_of_the_shop_card(
    client: Client, tilt: float, face: float, rail: float
) -> None:
    intake = ask(client, flat(2.0, intake=v_of(45.0, tilt)))["intake"]
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
    intake = ask(client, flat(1.0, intake=v_of(45.0, 10.0)))["intake"]["uncut_in_place"]
    assert intake["this_head"]["gap_top"] == pytest.approx(sin(radians(10.0)), abs=1e-9)
    assert intake["this_head"]["misalignment"] == pytest.approx(cos(radians(10.0)), abs=1e-9)


def test_square_faces_open_no_gap_and_are_out_all_the_same(client: Client) -> None:
    answer = ask(client, flat(1.0, intake=v_of(45.0, 0.0)))
    face = answer["intake"]["uncut_in_place"]["this_head"]
    assert (face["gap_top"], face["gap_bottom"], face["misalignment"]) == (0.0, 0.0, 1.0)
    assert "feeler gauge finds nothing" in details(answer)["gauge_finds_nothing"]


def test_a_face_that_leans_in_makes_the_manifold_ride_up(client: Client) -> None:
    # faces overlap by n sin 3; the manifold rises by that over sin 42
    rest = ask(client, flat(1.0, intake=v_of(45.0, -3.0)))["intake"]["uncut_at_rest"]
    assert rest["drop"] == pytest.approx(-sin(radians(3.0)) / sin(radians(42.0)), abs=1e-9)
    assert rest["this_head"]["gap_top"] == pytest.approx(0.0, abs=1e-9)


def test_with_only_the_faces_cut_it_hangs_on_its_rails_and_the_gap_is_the_cut(client: Client) -> None:
    intake = ask(client, flat(1.0, intake=v_of(45.0, 0.0)))["intake"]["faces_cut_only"]
    assert intake["drop"] == 0.0
    assert intake["this_head"]["gap_top"] == pytest.approx(1.0, abs=1e-9)
    assert intake["this_head"]["misalignment"] == pytest.approx(1.0, abs=1e-9)
    # with room under the rails it comes all the way down
    intake = ask(client, flat(1.0, intake=v_of(45.0, 0.0, rail_room=5.0)))["intake"]["faces_cut_only"]
    assert intake["this_head"]["gap_top"] == pytest.approx(0.0, abs=1e-9)
    assert intake["this_head"]["misalignment"] == pytest.approx(0.0, abs=1e-9)


def test_one_head_alone_moves_the_manifold_sideways_and_cuts_the_other_face(client: Client) -> None:
    # by hand, 45 degrees, square faces, only the other head 1 mm down: its bore points at 45 degrees, so it moves by
    # (-0.7071, -0.7071); along both faces the manifold must go (-0.7071, -0.7071) too; square to this head's face
    # that is 1 mm, square to the other's nothing
    down = {"cut": {"kind": "flat", "depth": 1.0}}
    answer = ask(client, flat(0.0, intake=v_of(45.0, 0.0, other_head=down)))
    cuts = answer["intake"]["cuts"]
    assert cuts["this_head"]["face_cut_top"] == pytest.approx(1.0, abs=1e-9)
    assert cuts["other_head"]["face_cut_top"] == pytest.approx(0.0, abs=1e-9)
    assert cuts["sideways"] == pytest.approx(-0.707107, abs=1e-6)
    assert cuts["rail_cut"] == pytest.approx(0.707107, abs=1e-6)
    assert "0.707 mm sideways" in details(answer)["banks_unequal"]


def test_metal_that_would_have_to_be_added_is_said_to_be_missing(client: Client) -> None:
    # this head 1 mm away (thicker gasket): the face would have to grow by n sin b/cos(b + a) = 1 mm at a = 0
    answer = ask(client, flat(0.0, gasket_change=1.0, intake=v_of(45.0, 0.0)))
    assert answer["intake"]["cuts"]["this_head"]["missing"] == pytest.approx(1.0, abs=1e-9)
    assert "1 mm would have to be added" in details(answer)["metal_missing"]


def test_a_wedge_tapers_the_faces_or_tilts_the_manifold(client: Client) -> None:
    tilt = {"cut": {"kind": "tilt", "at": {"distance_across": 0.0, "depth": 0.2}, "tilt": 0.5}}
    sizes = {"distance_across": 160.0, "face_spacing": 250.0, "face_width": 60.0, "face_height": 50.0}
    # both heads turned alike: mirror images; no tilt of the manifold would help, each face tapers by width tan(tilt)
    both = ask(client, {"units": {"length": "mm"}, **tilt, "intake": v_of(45.0, 0.0, **sizes)})["intake"]
    taper = [
        head["face_cut_top"] - head["face_cut_bottom"]
        for head in (both["cuts"]["this_head"], both["cuts"]["other_head"])
    ]
    assert taper == pytest.approx([60.0 * sin(radians(0.5))] * 2, abs=1e-9)
    assert both["cuts_tilted"] is None
    # one turned one way and the other as much the other way: the manifold turns with them and no face tapers
    back = {"cut": {"kind": "tilt", "at": {"distance_across": 0.0, "depth": 2.0}, "tilt": -0.5}}
    askew = ask(client, {"units": {"length": "mm"}, **tilt, "intake": v_of(45.0, 0.0, other_head=back, **sizes)})[
        "intake"
    ]
    tilted = askew["cuts_tilted"]
    assert tilted["manifold_tilt"] == pytest.approx(-0.5, abs=1e-9)
    for head in ("this_head", "other_head"):
        assert tilted[head]["face_cut_top"] == pytest.approx(tilted[head]["face_cut_bottom"], abs=1e-9)


def test_a_wedge_asks_for_the_faces_sizes_and_a_v_for_its_tilt(client: Client) -> None:
    tilt = {"kind": "tilt", "at": {"distance_across": 0.0, "depth": 0.2}, "tilt": 0.5}
    answer = ask(client, {"cut": tilt, "intake": v_of(45.0, None)})
    names = ("face_tilt", "distance_across", "face_spacing", "face_width", "face_height")
    assert [item["pointer"] for item in answer["open_items"]] == [f"/intake/{name}" for name in names]
    assert answer["intake"]["cuts"]["rail_cut"] is None
    assert answer["intake"]["rail_cut_factor"] is None


@pytest.mark.parametrize(
    ("intake", "pointers"),
    [
        (v_of(0.0, 0.0), {"/intake/bank_half_angle"}),
        (v_of(90.0, -10.0), {"/intake/bank_half_angle"}),
        (v_of(90.0, 5.0), {"/intake/bank_half_angle"}),
        (v_of(45.0, 45.0), {"/intake/face_tilt"}),
        (v_of(45.0, -45.0), {"/intake/face_tilt"}),
        (
            v_of(45.0, 0.0, other_head={"cut": {"kind": "tilt", "at": {"distance_across": 0, "depth": 0}, "tilt": 50}}),
            {"/intake/other_head/cut/tilt"},
        ),
    ],
)
def test_what_leaves_no_v_is_refused(client: Client, intake: Job, pointers: set[str]) -> None:
    assert set(errors(client, flat(1.0, intake=intake))) == pointers


def test_a_ground_seat_opens_its_chamber_and_lifts_stem_and_spring(client: Client) -> None:
    # 0.25 mm off a 60 degree seat sinks a 50 mm valve 0.5 mm: a disc of pi 50^2/4 by 0.5 = 981.7 mm3
    job = flat(0.0, chambers=[{"id": "1", "chamber_volume": 60.0}, {"id": "2", "chamber_volume": 60.0}])
    job["poured"] = "before_seats"
    job["positions"] = [
        {"id": "2E", "valve": "exhaust", "chamber": "2", "seat_ground": 0.25, "seat_angle": 60, "head_diameter": 50.0}
    ]
    answer = ask(client, job)
    seat = answer["seats"][0]
    assert (seat["sink"], seat["stem_height_change"], seat["installed_height_change"]) == (0.5, 0.5, 0.5)
    assert seat["sunk_volume"] == pytest.approx(0.9817, abs=5e-5)
    assert [line["chamber_volume"] for line in answer["chambers"]] == pytest.approx([60.0, 60.9817], abs=5e-5)
    assert "2E sits 0.50 mm deeper" in details(answer)["valves_sunk"]


@pytest.mark.parametrize("field", ["chamber", "head_diameter"])
def test_a_ground_seat_that_is_not_fully_known_leaves_its_chamber_open(client: Client, field: str) -> None:
    job = flat(0.0, chambers=[{"id": "1", "chamber_volume": 60.0}], poured="before_seats")
    job["positions"] = [{"id": "1E", "valve": "exhaust", "chamber": "1", "seat_ground": 0.25, "head_diameter": 50.0}]
    del job["positions"][0][field]
    answer = ask(client, job)
    assert [item["pointer"] for item in answer["open_items"]] == [f"/positions/0/{field}"]
    assert answer["chambers"][0]["chamber_volume"] is None


@pytest.mark.parametrize(
    ("path", "example", "part"),
    [("/v1/pushrod-length", PUSHRODS, "pushrods"), ("/v1/piston-to-valve", CLEARANCES, "piston_to_valve")],
)
def test_a_part_answered_alone_is_the_same_part_of_the_whole(
    client: Client, path: str, example: Job, part: str
) -> None:
    alone = ask(client, example, path)
    # of a whole engine the rods belong to its cylinders
    whole = ask(client, {name: value for name, value in example.items() if name != "rod_material"})[part]
    assert whole == {name: alone[name] for name in whole}


def test_the_worst_check_of_any_part_is_the_heads_verdict(client: Client) -> None:
    job = deepcopy(EXAMPLE)
    job["positions"].pop(1)
    del job["limits"]["piston_to_exhaust_valve_minimum"]
    assert ask(client, job)["verdict"] == "accept"
    for limit, value in (
        ("head_thickness_minimum", 5.08),
        ("quench_minimum", 0.08),
        ("piston_to_intake_valve_minimum", 0.2),
    ):
        worse = deepcopy(job)
        worse["limits"][limit] = value
        assert ask(client, worse)["verdict"] == "reject"
    worse = deepcopy(job)
    worse["lifters"] = {"preload_minimum": 0.010, "preload_maximum": 0.020}
    assert ask(client, worse)["verdict"] == "borderline"
    worse["limits"]["off_target"] = "reject"
    assert ask(client, worse)["verdict"] == "reject"


CHAMBERS = [{"id": name, "chamber_volume": volume} for name, volume in (("1", 64.0), ("2", 64.5), ("3", 63.5))]
AREA = {"kind": "area", "deck_area": 5000.0}


def test_depth_for_a_chamber_and_for_a_ratio(client: Client) -> None:
    # 50 cm2: 1 mm takes 5 cc; a bore of 100 by 80 mm sweeps 628.3185 cc, so 70 cc over it make a ratio of 9.97598
    job = flat(0.3, chambers=CHAMBERS[:1], chamber_shape=AREA)
    job["cylinder"] = {
        "bore": 100.0, "stroke": 80.0, "deck_clearance": 0.0, "dish_volume": 10.0,
        "gasket": {"compressed_thickness": 0.0, "gasket_bore": 100.0},
    }  # fmt: skip
    job["wanted"] = {"chamber_volume": 59.0, "static_ratio": 1 + 628.3185307 / 70.0}
    line = ask(client, job)["for_wanted"]["depths"][0]
    assert line["depth_for_volume"] == {"wanted": 59.0, "depth": 1.0, "nearest": 59.0}
    assert line["depth_for_ratio"]["depth"] == pytest.approx(0.8, abs=1e-6)


def test_equal_chambers_get_the_least_common_cut_and_what_stays_unequal(client: Client) -> None:
    # largest 64.5 down to smallest 63.5: 1 cc, 0.2 mm; all lose 1 cc
    answer = ask(client, flat(0.0, chambers=CHAMBERS, chamber_shape=AREA, wanted={"equal_chambers": True}))
    equal = answer["for_wanted"]["equal_chambers"]
    assert (equal["wanted"], equal["common_cut"], equal["spread"], equal["complete"]) == (63.5, 0.2, 1.0, True)
    assert [line["depth"] for line in equal["chambers"]] == [0.1, 0.2, 0.0]
    assert [line["to_open"] for line in equal["chambers"]] == [0.5, 0.0, 1.0]
    assert "1 cm3 apart" in details(answer)["stays_unequal"]
    assert "order_of_work" in details(answer)


def test_a_chamber_not_poured_may_hide_the_largest(client: Client) -> None:
    chambers = [*CHAMBERS, {"id": "4"}]
    answer = ask(client, flat(0.0, chambers=chambers, chamber_shape=AREA, wanted={"equal_chambers": True}))
    assert answer["for_wanted"]["equal_chambers"]["complete"] is False
    assert answer["for_wanted"]["equal_chambers"]["chambers"][3]["depth"] is None


def test_what_cannot_be_reached_is_null_with_the_nearest_and_the_reason(client: Client) -> None:
    # 5 mm of head over what must stay: 25 cc come off at most, 64 - 25 = 39
    chambers = [{"id": "1", "chamber_volume": 64.0, "head_thickness": 130.0}]
    job = flat(0.0, chambers=chambers, chamber_shape=AREA, limits={"head_thickness_minimum": 125.0})
    job["wanted"] = {"chamber_volume": 30.0, "equal_chambers": True}
    answer = ask(client, job)
    found = answer["for_wanted"]
    assert found["depths"][0]["depth_for_volume"] == {"wanted": 30.0, "depth": None, "nearest": 39.0}
    assert (found["equal_chambers"]["common_cut"], found["equal_chambers"]["nearest"]) == (None, 39.0)
    assert "leave the head too thin" in details(answer)["not_reachable"]
    job["wanted"] = {"chamber_volume": 70.0}
    answer = ask(client, job)
    assert answer["for_wanted"]["depths"][0]["depth_for_volume"] == {"wanted": 70.0, "depth": None, "nearest": 64.0}
    assert "only takes away" in details(answer)["not_reachable"]


def test_without_a_shape_a_depth_is_an_open_item(client: Client) -> None:
    wanted = {"chamber_volume": 60.0, "equal_chambers": True}
    answer = ask(client, flat(0.0, chambers=CHAMBERS, wanted=wanted))
    assert [item["pointer"] for item in answer["open_items"]] == ["/chamber_shape"]
    assert answer["for_wanted"]["depths"][0]["depth_for_volume"]["depth"] is None
    assert answer["for_wanted"]["equal_chambers"]["common_cut"] is None


def test_a_question_without_its_section_is_an_open_item(client: Client) -> None:
    answer = ask(client, flat(0.0, wanted={"static_ratio": 10.0}))
    assert [item["pointer"] for item in answer["open_items"]] == ["/chambers", "/cylinder"]
    assert answer["for_wanted"] == {"depths": [], "cylinders": None, "equal_chambers": None}
    answer = ask(client, flat(0.0, cylinder=EXAMPLE["cylinder"]))
    assert "/chambers" in {item["pointer"] for item in answer["open_items"]}


def test_every_contradiction_of_a_whole_head_is_named_at_once(client: Client) -> None:
    job = deepcopy(EXAMPLE)
    job["cut"] = {"kind": "flat", "depth": 5.1}
    job["chambers"][1]["id"] = "1"
    job["wanted"]["static_ratio"] = 0.9
    job["positions"][0] |= {"chamber": "9", "seat_angle": 90}
    job["positions"][0]["pushrod"]["geometry"]["length"] = 4.0
    job["positions"][1]["piston_to_valve"]["valve_angle"] = 90
    job["lifters"] = {"wanted_preload": 0.5}
    job["gasket_change"] = -0.1
    assert set(errors(client, job)) == {
        "/chambers/0/chamber_volume", "/chambers/0/head_thickness", "/chambers/1/chamber_volume",
        "/chambers/1/head_thickness", "/chambers/1/id", "/wanted/static_ratio", "/positions/0/chamber",
        "/positions/0/seat_angle", "/positions/0/pushrod/geometry", "/positions/1/piston_to_valve/valve_angle",
        "/lifters/wanted_preload", "/gasket_change",
    }  # fmt: skip


def test_bores_that_lie_flat_are_not_called_in_line(client: Client) -> None:
    told = errors(client, flat(1.0, intake=v_of(90.0, 0.0)))
    assert "oppose each other" in told["/intake/bank_half_angle"]
    assert "in-line" not in told["/intake/bank_half_angle"]
