from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job

Client = TestClient[ASGIApp]
PATH = "/v1/spring-fit"
RANK = {"accept": 0, "borderline": 1, "not_measured": 2, "reject": 2}
# inside 1.437 - 2 x 0.187 = 1.063
OUTER: Job = {
    "outside_diameter": 1.437, "wire": 0.187, "pitch": 0.360, "locator_diameter": 1.053, "retainer_diameter": 1.053,
    "out_of_square": 0.020,
}  # fmt: skip
INNER: Job = {
    "outside_diameter": 1.043, "wire": 0.130, "pitch": 0.260, "out_of_square": 0.020, "centered_by_retainer": False,
}  # fmt: skip
DAMPER: Job = {
    "kind": "damper", "outside_diameter": 1.071, "wire": 0.060, "gap_minimum": -0.008, "gap_maximum": -0.002,
    "bind_height": 1.100,
}  # fmt: skip


def nest(*nested: Job, outer: Job | None = None, **others: Any) -> Job:
    return {
        "id": "intake",
        "outer": OUTER | (outer or {}),
        "nested": list(nested),
        "pocket_diameter": 1.570,
        "locator_outside_diameter": 1.560,
        "seal_diameter": 0.530,
        "open_height": 1.250,
    } | others


def ask(client: Client, *nests: Job, **others: Any) -> Any:
    response = client.post(PATH, json={"nests": list(nests)} | others)
    assert response.status_code == 200, response.text
    return response.json()


def refused(client: Client, *nests: Job) -> list[str]:
    response = client.post(PATH, json={"nests": list(nests)})
    assert response.status_code == 422, response.text
    return [error["pointer"] for error in response.json()["errors"]]


def gaps(answer: Any) -> dict[tuple[str, str | None], Any]:
    return {(gap["kind"], gap["coil"]): gap for gap in answer["nests"][0]["gaps"]}


def noted(answer: Any, code: str) -> list[str]:
    return [note["detail"] for note in answer["notes"] if note["code"] == code]


def held(answer: Any) -> dict[str, list[str]]:
    return {item["pointer"]: item["needed_for"] for item in answer["open_items"]}


# 0.010 in on locators, 0.050 in to the seal, 1.6 mm and 2.5 deg: from memory, no source at hand
def test_its_limits_stand_in_the_table_with_what_they_rest_on(client: Client) -> None:
    rows = {row["name"]: row for row in client.get("/v1/reference/limits").json()["rows"]}
    known = {
        "centering_gap_minimum": (0.0, "in", "damage"),
        "centering_gap_maximum": (0.010, "in", "setting"),
        "coil_to_coil_minimum": (0.005, "in", "damage"),
        "seal_to_spring_minimum": (0.050, "in", "damage"),
        "squareness_maximum": (pytest.approx(1.6 / 25.4, abs=1e-6), "in", "setting"),
        "squareness_angle": (2.5, "deg", None),
    }
    for name, (value, unit, check_class) in known.items():
        assert (rows[name]["values"], rows[name]["unit"], rows[name]["check_class"]) == ([value], unit, check_class)


def test_a_spring_that_fits_is_accepted_with_every_gap_told(client: Client) -> None:
    answer = ask(client, nest())
    found = gaps(answer)
    assert answer["verdict"] == "accept"
    assert {key: gap["gap"] for key, gap in found.items()} == {
        ("locator_in_pocket", None): pytest.approx(0.005),
        ("on_locator", "outer spring"): pytest.approx(0.005),
        ("on_retainer", "outer spring"): pytest.approx(0.005),
        ("over_seal", "outer spring"): pytest.approx(0.2665),
    }
    assert answer["open_items"] == []


@pytest.mark.parametrize(
    ("diameter", "verdict", "code"),
    [
        (1.063, "accept", None),
        (1.043, "accept", None),
        (1.0429, "borderline", "fit_too_loose"),
        (1.0631, "reject", "fit_too_tight"),
    ],
)
def test_a_locator_is_snug_from_nothing_to_ten_thousandths(
    client: Client, diameter: float, verdict: str, code: str | None
) -> None:
    answer = ask(client, nest(outer={"locator_diameter": diameter}))
    assert answer["verdict"] == verdict
    assert code is None or noted(answer, code)[0].startswith("intake, outer spring: ")


def test_a_cup_holds_the_spring_by_its_outside(client: Client) -> None:
    answer = ask(client, nest(outer={"located_by": "outside", "locator_diameter": 1.447}))
    assert gaps(answer)["on_locator", "outer spring"]["gap"] == pytest.approx(0.005)


def test_a_loose_gap_is_a_setting_that_a_job_may_reject(client: Client) -> None:
    loose = nest(outer={"locator_diameter": 1.040})
    assert ask(client, loose)["verdict"] == "borderline"
    assert ask(client, loose, limits={"off_target": "reject"})["verdict"] == "reject"
    assert ask(client, loose, limits={"centering_gap_maximum": 0.012})["verdict"] == "accept"


def test_an_inner_spring_is_centered_by_its_own_step_of_the_retainer(client: Client) -> None:
    # 1.043 - 0.260 = 0.783 inside
    answer = ask(client, nest(INNER | {"centered_by_retainer": True, "retainer_diameter": 0.755}))
    assert gaps(answer)["on_retainer", "inner spring"]["gap"] == pytest.approx(0.014)
    (detail,) = noted(answer, "fit_too_loose")
    assert "inner spring: 0.014 in per side on the retainer's step, 0.010 in per side is the most" in detail


# free 0.5 (1.063 - 1.043) = 0.010; by the printed formulas (from memory) the outer grows
# 0.1 (0.1296 - 0.8 x 0.36 x 0.187 - 0.2 x 0.034969)/1.25 = 0.0055, the inner
# 0.1 (0.0676 - 0.8 x 0.26 x 0.13 - 0.2 x 0.0169)/0.913 = 0.0041
def test_nested_springs_keep_apart_free_and_closed(client: Client) -> None:
    answer = ask(client, nest(INNER))
    gap = gaps(answer)["coil_to_coil", "inner spring"]
    assert gap["gap"] == pytest.approx(0.010)
    assert gap["closed_gap"] == pytest.approx(0.010 + 0.5 * (0.0055 - 0.0041), abs=2e-4)
    assert gap["minimum_check"]["value"] == pytest.approx(0.010)
    assert gap["maximum_check"] is None
    assert answer["verdict"] == "accept"
    close = ask(client, nest(INNER | {"outside_diameter": 1.055}))
    assert close["verdict"] == "reject"
    assert (
        "0.004 in per side inside the spring around it, 0.005 in per side is the least"
        in noted(close, "fit_too_tight")[0]
    )


def test_coils_that_clear_free_and_not_closed_are_told_apart(client: Client) -> None:
    # in a pocket that is 0.004 in wider than the spring, which grows 0.0055 in
    bare = nest(outer={"located_by": "pocket"}, pocket_diameter=1.441)
    answer = ask(client, bare)
    assert answer["verdict"] == "reject"
    (detail,) = noted(answer, "grows_into")
    assert "0.002 in per side in its pocket free" in detail
    assert "per side of interference with coils closed, because they grow" in detail
    assert ask(client, nest(outer={"located_by": "pocket"}, pocket_diameter=1.450))["verdict"] == "accept"
    # ends held grow half as much: 0.05 (0.1296 - 0.034969)/1.25 = 0.0038 on the diameter
    held_ends = ask(client, nest(outer={"located_by": "pocket", "ends_held": True}, pocket_diameter=1.441))
    assert held_ends["verdict"] == "accept"


def test_intended_interference_is_held_against_what_its_maker_states(client: Client) -> None:
    answer = ask(client, nest(DAMPER))
    gap = gaps(answer)["coil_to_coil", "damper"]
    assert gap["gap"] == pytest.approx(-0.004)
    assert (gap["minimum_check"]["verdict"], gap["maximum_check"]["verdict"]) == ("accept", "accept")
    assert gap["minimum_check"]["check_class"] == "setting"
    assert answer["verdict"] == "accept"
    loose = ask(client, nest(DAMPER | {"outside_diameter": 1.060}))
    assert loose["verdict"] == "borderline"
    assert "it does not damp" in noted(loose, "interference_off")[0]
    tight = ask(client, nest(DAMPER | {"outside_diameter": 1.085}))
    assert tight["verdict"] == "borderline"
    assert (
        "0.011 in per side of interference where 0.008 in per side of interference is the most"
        in noted(tight, "interference_off")[0]
    )


# the damper is 0.008 in too large for the outer's 1.063, and wound up by as much: 1.071 - 0.120 - 0.008 = 0.943 inside.
# closed, by the printed formulas (from memory) outer and damper grow 0.0055, the inner, of 0.8145 in mean,
# 0.1 (0.0676 - 0.8 x 0.26 x 0.118 - 0.2 x 0.013924)/0.8145 = 0.0049
def test_a_damper_that_presses_grows_with_the_outer_spring(client: Client) -> None:
    inside = INNER | {"wire": 0.118, "outside_diameter": 0.9325}
    answer = ask(client, nest(DAMPER, inside))
    gap = gaps(answer)["coil_to_coil", "inner spring"]
    assert gap["gap"] == pytest.approx(0.00525)
    assert gap["closed_gap"] == pytest.approx(0.00525 + 0.5 * (0.0055 - 0.0049), abs=2e-4)
    assert answer["verdict"] == "accept"
    # 0.003 in are left of the 0.007 that the damper has out of the nest
    close = ask(client, nest(DAMPER, inside | {"outside_diameter": 0.937}))
    assert close["verdict"] == "reject"
    assert gaps(close)["coil_to_coil", "inner spring"]["gap"] == pytest.approx(0.003)
    assert "0.003 in per side inside the damper, as it sits in its spring, 0.005" in noted(close, "fit_too_tight")[0]
    # a seal has to pass the damper as it is in the nest: 0.5 (0.943 - 0.844) = 0.0495
    alone = ask(client, nest(DAMPER, seal_diameter=0.844))
    assert gaps(alone)["over_seal", "damper"]["gap"] == pytest.approx(0.0495)
    assert alone["verdict"] == "reject"


def test_a_damper_of_which_nothing_is_stated_has_to_press(client: Client) -> None:
    unstated = DAMPER | {"gap_minimum": None, "gap_maximum": None}
    answer = ask(client, nest(unstated))
    assert answer["verdict"] == "accept"
    assert gaps(answer)["coil_to_coil", "damper"]["minimum_check"] is None
    loose = ask(client, nest(unstated | {"outside_diameter": 1.060}))
    assert loose["verdict"] == "borderline"
    assert "0.0015 in per side to the spring around it, it has to press" in noted(loose, "interference_off")[0]
    # a spring that is to press has no least unless its maker states one
    pressed = ask(client, nest(INNER | {"outside_diameter": 1.069, "gap_maximum": -0.002}))
    assert pressed["verdict"] == "accept"


def test_a_damper_must_not_bottom_before_full_lift(client: Client) -> None:
    answer = ask(client, nest(DAMPER | {"bind_height": 1.200}))
    assert answer["verdict"] == "reject"
    assert answer["nests"][0]["coils"][1]["damper_bind_check"]["value"] == pytest.approx(0.050)
    (detail,) = noted(answer, "damper_bottoms")
    assert "bottoms 0.050 in past full lift, 0.060 in to spare is the minimum" in detail
    # a nest that is made for a damper and runs without it surges, and breaks: 0.060 - 0.050 in is to come off
    assert detail.endswith(
        "Shorten the damper 0.010 in, or fit the one its maker sells for this lift; don't run the nest without it."
    )
    risen = ask(client, nest(DAMPER | {"seat_rise": 0.100}))
    assert risen["nests"][0]["coils"][1]["damper_bind_check"]["value"] == pytest.approx(0.050)
    first = ask(client, nest(DAMPER, outer={"bind_height": 1.060}))
    assert "bottoms 0.040 in before the coils around it" in noted(first, "damper_before_coils")[0]


def test_the_seal_needs_its_room_in_the_innermost_spring(client: Client) -> None:
    # 1.043 - 0.260 = 0.783 inside
    assert ask(client, nest(INNER, seal_diameter=0.683))["verdict"] == "accept"
    answer = ask(client, nest(INNER, seal_diameter=0.700))
    assert answer["verdict"] == "reject"
    assert gaps(answer)["over_seal", "inner spring"]["gap"] == pytest.approx(0.0415)
    assert "over seal or guide boss" in noted(answer, "fit_too_tight")[0]


def test_a_spring_out_of_square_is_told_with_its_angle(client: Client) -> None:
    assert ask(client, nest(outer={"out_of_square": 1.6 / 25.4}))["verdict"] == "accept"
    answer = ask(client, nest(outer={"out_of_square": 0.080, "free_height": 2.0}))
    assert answer["verdict"] == "borderline"
    # atan(0.080 / 2.0) = 2.29 deg
    assert "0.080 in out of square, 2.29 deg; 0.063 in is the most" in noted(answer, "spring_out_of_square")[0]


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        (nest(pocket_diameter=None), "/nests/0/pocket_diameter"),
        (nest(locator_outside_diameter=None), "/nests/0/locator_outside_diameter"),
        (nest(seal_diameter=None), "/nests/0/seal_diameter"),
        (nest(outer={"locator_diameter": None}), "/nests/0/outer/locator_diameter"),
        (nest(outer={"retainer_diameter": None}), "/nests/0/outer/retainer_diameter"),
        (nest(outer={"out_of_square": None}), "/nests/0/outer/out_of_square"),
        (nest(outer={"wire": None}), "/nests/0/outer/wire"),
        (nest(outer={"outside_diameter": None}), "/nests/0/outer/outside_diameter"),
        (nest(INNER, outer={"pitch": None}), "/nests/0/outer/pitch"),
        (nest(INNER | {"pitch": None}), "/nests/0/nested/0/pitch"),
        (nest(INNER | {"centered_by_retainer": True}), "/nests/0/nested/0/retainer_diameter"),
        (nest(INNER | {"centered_by_locator": True}), "/nests/0/nested/0/locator_diameter"),
        (nest(DAMPER | {"bind_height": None}), "/nests/0/nested/0/bind_height"),
        (nest(DAMPER, open_height=None), "/nests/0/open_height"),
    ],
)
def test_a_missing_dimension_is_asked_for_and_nothing_is_accepted(client: Client, changed: Job, pointer: str) -> None:
    answer = ask(client, changed)
    assert list(held(answer)) == [pointer]
    assert answer["verdict"] == "not_measured"


@pytest.mark.parametrize(
    ("changed", "pointer", "reading"),
    [
        # a decimal point a place off, of readings that fit where they are right
        (nest(DAMPER | {"bind_height": 0.110}), "/nests/0/nested/0/bind_height", "0.110 in"),
        (nest(DAMPER, open_height=12.5), "/nests/0/open_height", "12.500 in"),
        (nest(seal_diameter=0.053), "/nests/0/seal_diameter", "0.053 in"),
        (nest(INNER | {"outside_diameter": 0.1043, "wire": 0.013, "pitch": 0.026}), "", ""),
        (nest(pocket_diameter=15.7), "/nests/0/pocket_diameter", "15.700 in"),
        (nest(locator_outside_diameter=0.156), "/nests/0/locator_outside_diameter", "0.156 in"),
        (nest(outer={"locator_diameter": 0.1053}), "/nests/0/outer/locator_diameter", "0.1053 in"),
        (nest(outer={"retainer_diameter": 0.1053}), "/nests/0/outer/retainer_diameter", "0.1053 in"),
        (nest(outer={"outside_diameter": 14.37}), "/nests/0/outer/outside_diameter", "14.370 in"),
        (nest(outer={"wire": 0.0187}), "/nests/0/outer/wire", "0.0187 in"),
    ],
)
def test_a_decimal_point_that_slipped_leaves_nothing_accepted_and_nothing_rejected(
    client: Client, changed: Job, pointer: str, reading: str
) -> None:
    answer = ask(client, changed)
    assert answer["verdict"] == "not_measured"
    assert [one["code"] for one in answer["notes"] if one["code"].startswith(("fit_", "damper_", "grows"))] == []
    details = {item["pointer"]: item["detail"] for item in answer["open_items"]}
    if pointer:
        assert f"{reading} can't be right, a decimal point may have slipped." in details[pointer]
    else:
        assert set(details) == {"/nests/0/nested/0/outside_diameter", "/nests/0/nested/0/wire"}


def test_a_reading_that_is_only_odd_is_judged_as_it_stands(client: Client) -> None:
    # 1.250 less 0.250 in leaves 1 in: odd, and possible
    assert ask(client, nest(DAMPER | {"bind_height": 0.250}))["verdict"] == "accept"
    assert ask(client, nest(seal_diameter=0.300))["verdict"] == "accept"


def test_what_does_not_depend_on_growth_asks_for_no_pitch(client: Client) -> None:
    answer = ask(client, nest(outer={"pitch": None}))
    assert (answer["verdict"], answer["open_items"]) == ("accept", [])
    assert ask(client, nest(pocket="none", pocket_diameter=None))["verdict"] == "accept"


def test_contradictions_are_refused_together(client: Client) -> None:
    wrong = nest(
        INNER | {"inside_diameter": 1.100},
        DAMPER | {"gap_minimum": -0.001, "gap_maximum": -0.004},
        outer={"inside_diameter": 1.000, "pitch": 0.1},
    )
    assert set(refused(client, wrong, nest())) == {
        "/nests/1/id", "/nests/0/outer/wire", "/nests/0/outer/pitch", "/nests/0/nested/0/inside_diameter",
        "/nests/0/nested/1/gap_minimum",
    }  # fmt: skip
    told = client.post(PATH, json={"nests": [wrong]}).json()["errors"]
    assert [error["detail"].count("intake") for error in told] == [1] * len(told)
    assert refused(client, nest(outer={"pitch": 1.26})) == ["/nests/0/outer/pitch"]
    assert refused(client, nest(outer={"wire": 0.8})) == ["/nests/0/outer/wire", "/nests/0/outer/pitch"]


@given(
    locator=st.integers(1030, 1070),
    inner=st.integers(1000, 1070),
    less=st.sampled_from(["seal_to_spring_minimum", "coil_to_coil_minimum", "squareness_maximum"]),
)
def test_asking_for_less_never_worsens_a_verdict(client: Client, locator: int, inner: int, less: str) -> None:
    one = nest(INNER | {"outside_diameter": inner / 1000}, outer={"locator_diameter": locator / 1000})
    relaxed = {less: 0.1 if less == "squareness_maximum" else 0.0}
    assert RANK[ask(client, one, limits=relaxed)["verdict"]] <= RANK[ask(client, one)["verdict"]]


@given(locator=st.integers(1030, 1070), inner=st.integers(1000, 1070), square=st.integers(0, 100))
def test_every_miss_has_its_sentence(client: Client, locator: int, inner: int, square: int) -> None:
    one = nest(
        INNER | {"outside_diameter": inner / 1000, "out_of_square": square / 1000},
        outer={"locator_diameter": locator / 1000},
    )
    answer = ask(client, one)
    codes = {note["code"] for note in answer["notes"]}
    for gap in answer["nests"][0]["gaps"]:
        if gap["minimum_check"]["verdict"] == "reject":
            assert codes & {"fit_too_tight", "grows_into"}
        if gap["maximum_check"] is not None and gap["maximum_check"]["verdict"] == "borderline":
            assert "fit_too_loose" in codes
    if answer["nests"][0]["coils"][1]["squareness_check"]["verdict"] == "borderline":
        assert "spring_out_of_square" in codes
