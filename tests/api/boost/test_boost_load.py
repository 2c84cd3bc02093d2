from __future__ import annotations

from copy import deepcopy
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job, example

Client = TestClient[ASGIApp]
PATH = "/v1/boost-load"
RANK = {"accept": 0, "borderline": 1, "not_measured": 2, "reject": 3}
SPRING: Job = {
    "id": "S1",
    "load_curve": {"kind": "bench", "readings": [{"height": 1.85, "load": 128}, {"height": 1.35, "load": 318}]},
    "coil_bind_height": 1.10,
}
# the same line, read no lower than 1.840 in, so that its coils may touch anywhere below
TALL: Job = SPRING | {
    "load_curve": {"kind": "bench", "readings": [{"height": 1.85, "load": 128}, {"height": 1.84, "load": 131.8}]}
}


def job(*positions: Job, **others: Any) -> Job:
    """15 psi under an intake valve of 2.02 in that wants 75 lbf without it, 500 thousandths of lift."""
    return {
        "pressures": {"boost": 15, "back_pressure": 15},
        "seats": {kind: {"head_diameter": 2.02, "seat_load_unboosted": 75} for kind in ("intake", "exhaust")},
        "valvetrain": {kind: {"valve_lift": 0.500} for kind in ("intake", "exhaust")},
        "springs": [SPRING],
        "positions": list(positions) or [valve("1I")],
    } | others


def valve(name: str, **readings: Any) -> Job:
    return {"id": name, "valve": "intake", "installed_height": 1.850, "spring": "S1"} | readings


def seats(**changes: Any) -> Job:
    return {"intake": {"head_diameter": 2.02, "seat_load_unboosted": 75} | changes}


def ask(client: Client, request: Job) -> Any:
    response = client.post(PATH, json=request)
    assert response.status_code == 200, response.text
    return response.json()


def line(client: Client, *positions: Job, **others: Any) -> Any:
    return ask(client, job(*positions, **others))["positions"][0]


def refused(client: Client, request: Job) -> list[str]:
    response = client.post(PATH, json=request)
    assert response.status_code == 422, response.text
    return [error["pointer"] for error in response.json()["errors"]]


def noted(answer: Any, code: str) -> list[str]:
    return [note["detail"] for note in answer["notes"] if note["code"] == code]


def held(answer: Any) -> dict[str, list[str]]:
    return {item["pointer"]: item["needed_for"] for item in answer["open_items"]}


# 15 psi x 2.02^2 x pi/4 = 48.07108 lbf by hand; 75 + 48.07108 = 123.07108 of 128
def test_a_spring_that_holds_is_accepted_and_needs_no_shim(client: Client) -> None:
    found = line(client)
    assert found["pressure_load"] == pytest.approx(48.07108, rel=1e-8)
    assert found["seat_load_needed"] == pytest.approx(123.07108, rel=1e-8)
    assert found["held_shut_check"]["value"] == pytest.approx(79.92892, rel=1e-8)
    assert (found["shim_needed"], found["short_by"], found["coil_bind_with_shim_check"]) == (0.0, 0.0, None)
    assert found["verdict"] == "accept"


def test_the_seat_counts_before_the_head_and_the_stem_comes_off(client: Client) -> None:
    found = line(client, seats=seats(seat_diameter=1.98, stem_diameter=0.3415))
    # (1.98^2 - 0.3415^2) x 0.785398163 x 15
    assert found["pressure_load"] == pytest.approx(44.8122, abs=1e-4)
    answer = ask(client, job(seats=seats(seat_diameter=1.98, stem_diameter=0.3415)))
    assert noted(answer, "seat_area_on_safe_side") == []
    (detail,) = noted(ask(client, job()), "seat_area_on_safe_side")
    assert detail.startswith("Intake: the head's diameter stands in for the seat's and nothing is taken off")


# 100 + 48.07108 - 128 = 20.07108 lbf at 380 lbf/in: 0.052818632 in; 0.250 in of coil-bind clearance less that
def test_what_is_short_is_told_with_its_shim_and_what_that_leaves(client: Client) -> None:
    answer = ask(client, job(seats=seats(seat_load_unboosted=100)))
    found = answer["positions"][0]
    assert found["short_by"] == pytest.approx(20.07108, rel=1e-7)
    assert found["shim_needed"] == pytest.approx(0.052818632, rel=1e-7)
    assert found["coil_bind_with_shim_check"]["value"] == pytest.approx(0.197181368, rel=1e-7)
    assert not found["coil_bind_with_shim_check"]["counts_toward_verdict"]
    assert (found["needed_load_check"]["verdict"], found["verdict"]) == ("borderline", "borderline")
    (detail,) = noted(answer, "load_short_of_pressure")
    assert (
        "128 lbf, 148.1 lbf needed (100 lbf without pressure, 48.1 lbf against it): at least 20.1 lbf short" in detail
    )
    assert detail.endswith("0.0529 in more shim gives it and leaves 0.1972 in before coil bind, open load 338.1 lbf.")
    strict = ask(client, job(seats=seats(seat_load_unboosted=100), limits={"off_target": "reject"}))
    assert strict["verdict"] == "reject"


def test_a_shim_that_the_coils_the_pocket_or_the_curve_forbid_is_not_advised(client: Client) -> None:
    short = {"seats": seats(seat_load_unboosted=100)}
    for bind, told in (
        (1.250, "would leave 0.0472 in before coil bind, 0.060 in is the minimum. Change the spring."),
        (1.310, "would let its coils touch before full lift. Change the spring."),
        (1.800, "No shim gives that: its coils touch first. Change the spring."),
    ):
        answer = ask(client, job(springs=[TALL | {"coil_bind_height": bind}], **short))
        assert noted(answer, "load_short_of_pressure")[0].endswith(told)
    in_pocket = ask(client, job(valve("1I", shim_stack=0.015), **short))
    assert "make 0.0678 in in all, 0.060 in is the limit per pocket" in noted(in_pocket, "load_short_of_pressure")[0]
    more = ask(client, job(valve("1I", shim_stack=0.015), limits={"stack_maximum": 0.075}, **short))
    assert "0.0529 in more shim gives it" in noted(more, "load_short_of_pressure")[0]
    unread = ask(client, job(springs=[SPRING | {"coil_bind_height": None}], **short))
    assert noted(unread, "load_short_of_pressure")[0].endswith("fit it once coil bind is known to allow it.")
    assert held(unread)["/springs/0/coil_bind_height"] == ["coil_bind_clearance_check", "coil_bind_with_shim_check"]


def test_a_valve_pushed_off_its_seat_is_rejected_whatever_is_wanted(client: Client) -> None:
    # 40 psi x 3.204738666 in2 = 128.19 lbf against 128
    answer = ask(client, job(pressures={"boost": 40}, seats=seats(seat_load_unboosted=None)))
    assert answer["verdict"] == "reject"
    assert answer["positions"][0]["held_shut_check"]["check_class"] == "damage"
    (detail,) = noted(answer, "pushed_off_seat")
    assert "128.2 lbf against a seat load of 128 lbf" in detail
    assert "Do not run it under boost" in detail
    assert "/seats/intake/seat_load_unboosted" in held(answer)


def test_an_exhaust_valve_is_lifted_by_what_its_port_has_over_the_cylinder(client: Client) -> None:
    exhaust = valve("1E", valve="exhaust")
    found = line(client, exhaust, pressures={"back_pressure": 15})
    assert found["pressure_load"] == pytest.approx(48.07108, rel=1e-8)
    shut = line(client, exhaust, pressures={"back_pressure": 7, "cylinder_on_intake_stroke": -8})
    assert shut["pressure_load"] == pytest.approx(48.07108, rel=1e-8)
    answer = ask(client, job(exhaust, pressures={"back_pressure": 15}))
    # twice 15 psi: 96.14216 lbf, and 75 wanted
    (detail,) = noted(answer, "back_pressure_pulses_above_mean")
    assert "pushes 96.1 lbf at the exhaust valves: 171.1 lbf of seat load; the weakest here has 128 lbf" in detail
    assert "from memory" in detail
    boosted = line(client, exhaust, pressures={"back_pressure": 15, "cylinder_on_intake_stroke": 20})
    assert boosted["seat_load_needed"] == pytest.approx(75.0)


def test_a_cylinder_is_never_above_the_boost_that_fills_it(client: Client) -> None:
    exhaust = valve("1E", valve="exhaust")
    slipped = {"boost": 30, "back_pressure": 30, "cylinder_on_intake_stroke": 200}
    answer = ask(client, job(exhaust, pressures=slipped))
    # nothing comes off the back pressure: 30 psi on 2.02 in is 96.14216 lbf
    assert answer["positions"][0]["pressure_load"] == pytest.approx(96.14216, rel=1e-8)
    assert "/pressures/cylinder_on_intake_stroke" in held(answer)
    assert "200 psi is above the boost of 30 psi" in noted(answer, "unusual_reading")[0]
    (detail,) = noted(answer, "back_pressure_pulses_above_mean")
    assert "a pulse of 2 times pushes 192.3 lbf" in detail
    # a throttle that is shut makes no boost, and takes nothing to be above
    open_air = ask(client, job(exhaust, pressures={"boost": -8, "back_pressure": 5}))
    assert noted(open_air, "unusual_reading") == []
    assert "/pressures/cylinder_on_intake_stroke" not in held(open_air)
    # no engine fills its cylinders with 200 psi, whatever its boost
    unknown = ask(client, job(exhaust, pressures={"back_pressure": 15, "cylinder_on_intake_stroke": 200}))
    assert unknown["positions"][0]["pressure_load"] == pytest.approx(48.07108, rel=1e-8)
    assert "/pressures/cylinder_on_intake_stroke" in held(unknown)


def test_a_pulse_that_does_not_lift_the_valve_is_not_told(client: Client) -> None:
    request = job(
        valve("1E", valve="exhaust"), pressures={"boost": 40, "back_pressure": 15, "cylinder_on_intake_stroke": 35}
    )
    # twice 15 psi is less than the 35 in the cylinder
    assert noted(ask(client, request), "back_pressure_pulses_above_mean") == []


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"seats": seats(seat_diameter=0.16, stem_diameter=0.11, head_diameter=None)}, "/seats/intake/seat_diameter"),
        ({"seats": seats(head_diameter=20.2)}, "/seats/intake/head_diameter"),
        ({"seats": seats(seat_load_unboosted=1200)}, "/seats/intake/seat_load_unboosted"),
        ({"positions": [valve("1I", seat_load=1280)]}, "/positions/0/seat_load"),
        ({"positions": [valve("1I", seat_load=12.8)]}, "/positions/0/seat_load"),
        # less than half of what the spring's own curve shows
        ({"positions": [valve("1I", seat_load=63)]}, "/positions/0/seat_load"),
    ],
)
def test_a_decimal_point_that_slipped_leaves_nothing_accepted_and_nothing_rejected(
    client: Client, changes: Job, pointer: str
) -> None:
    answer = ask(client, job() | changes)
    assert pointer in held(answer)
    assert answer["verdict"] == "not_measured"
    assert any("can't be right" in item["detail"] for item in answer["open_items"])
    for code in ("read_back_differs", "load_short_of_pressure", "pushed_off_seat"):
        assert noted(answer, code) == []


def test_a_seat_that_slipped_leaves_the_head_and_a_stem_that_slipped_nothing_off(client: Client) -> None:
    answer = ask(client, job(seats=seats(seat_diameter=0.198, stem_diameter=0.03415)))
    assert answer["positions"][0]["pressure_load"] == pytest.approx(48.07108, rel=1e-8)
    assert {"/seats/intake/seat_diameter", "/seats/intake/stem_diameter"} <= held(answer).keys()
    assert noted(answer, "seat_area_on_safe_side")[0].startswith("Intake: the head's diameter stands in for the seat's")


def test_a_seat_load_that_slipped_still_tells_what_the_curve_is_short_of(client: Client) -> None:
    # 100 + 48.07108 lbf wanted, 128 by the curve
    answer = ask(client, job(valve("1I", seat_load=1280), seats=seats(seat_load_unboosted=100)))
    assert answer["positions"][0]["seat_load"] == pytest.approx(128.0)
    assert answer["positions"][0]["short_by"] == pytest.approx(20.07108, rel=1e-7)
    assert answer["verdict"] == "not_measured"
    (detail,) = noted(answer, "load_short_of_pressure")
    assert detail.endswith("Measure its seat load again before anything is changed.")
    # without a curve there is nothing to go by
    bare = ask(client, job(valve("1I", seat_load=1280), springs=[{"id": "S1", "coil_bind_height": 1.1}]))
    assert bare["positions"][0]["seat_load"] is None
    assert "1280 lbf can't be right" in next(
        item["detail"] for item in bare["open_items"] if item["pointer"] == "/positions/0/seat_load"
    )


# 300 psi on 1.6 in: 603.18579 lbf; with 128 of spring 731.18579; over 1.5 1096.77868, and both 1827.96447
def test_what_opening_takes_is_told_from_valve_to_pivot(client: Client) -> None:
    request = job(
        valve("1E", valve="exhaust"),
        pressures={"back_pressure": 5, "cylinder_at_exhaust_opening": 300},
        seats={"exhaust": {"head_diameter": 1.6, "seat_load_unboosted": 75}},
        valvetrain={"exhaust": {"drive": "rocker_and_pushrod", "lobe_lift": 0.333, "rocker_ratio": 1.5}},
    )
    answer = ask(client, request)
    told = list(answer["positions"][0]["opening"].values())
    assert told == pytest.approx([603.1857895, 731.1857895, 1096.7786842, 1827.9644737], rel=1e-8)
    (detail,) = noted(answer, "opens_against_pressure")
    assert "603.2 lbf of cylinder pressure" in detail
    assert "1096.8 lbf at lobe and pushrod, 1828 lbf at the rocker's pivot" in detail
    finger = deepcopy(request)
    finger["valvetrain"]["exhaust"]["drive"] = "finger"
    # 1096.77868 less 731.18579
    assert (
        "1096.8 lbf at the lobe, 365.6 lbf at the finger's pivot"
        in noted(ask(client, finger), "opens_against_pressure")[0]
    )
    request["valvetrain"] = {"exhaust": {"valve_lift": 0.5}}
    unknown = ask(client, request)
    assert unknown["positions"][0]["opening"]["lobe_load"] is None
    assert held(unknown)["/valvetrain/exhaust/rocker_ratio"] == ["opening"]
    assert ask(client, job())["positions"][0]["opening"] is None


def test_a_seat_load_that_is_not_that_of_the_spring_is_told(client: Client) -> None:
    # 2 percent of 128 lbf is 2.56
    assert noted(ask(client, job(valve("1I", seat_load=130.5))), "read_back_differs") == []
    (detail,) = noted(ask(client, job(valve("1I", seat_load=110))), "read_back_differs")
    assert detail.startswith("1I: seat load 110 lbf measured on the head, 128 lbf figured")


def test_a_load_that_nobody_tested_is_not_accepted(client: Client) -> None:
    rated = SPRING | {"load_curve": {"kind": "rated", "height": 1.85, "load": 128, "rate": 380}}
    answer = ask(client, job(springs=[rated]))
    assert answer["verdict"] == "not_measured"
    assert "/springs/0/load_curve" in held(answer)
    on_head = ask(client, job(valve("1I", seat_load=125), springs=[rated]))
    assert on_head["verdict"] == "accept"
    assert on_head["open_items"] == []


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"pressures": {}}, "/pressures/boost"),
        ({"seats": seats(head_diameter=None)}, "/seats/intake/seat_diameter"),
        ({"seats": seats(seat_load_unboosted=None)}, "/seats/intake/seat_load_unboosted"),
        ({"positions": [valve("1I", spring=None)]}, "/positions/0/spring"),
        ({"positions": [valve("1I", installed_height=None)]}, "/positions/0/installed_height"),
        ({"positions": [valve("1I", installed_height=18.5)]}, "/positions/0/installed_height"),
        ({"springs": [{"id": "S1"}]}, "/springs/0/load_curve"),
        ({"springs": [SPRING | {"coil_bind_height": None}]}, "/springs/0/coil_bind_height"),
        ({"valvetrain": {}}, "/valvetrain/intake/valve_lift"),
    ],
)
def test_what_is_missing_is_asked_for_and_never_accepted(client: Client, changes: Job, pointer: str) -> None:
    answer = ask(client, job() | changes)
    assert pointer in held(answer)
    assert answer["verdict"] == "not_measured"


def test_a_spring_too_near_to_coil_bind_at_full_lift_is_rejected_whatever_it_holds(client: Client) -> None:
    answer = ask(client, job(springs=[TALL | {"coil_bind_height": 1.30}]))
    assert answer["positions"][0]["coil_bind_clearance_check"]["verdict"] == "reject"
    assert answer["verdict"] == "reject"
    assert "Do not turn this engine over" not in noted(answer, "coil_bind_close")[0]
    unread = ask(client, job(springs=[SPRING | {"coil_bind_height": None}]))
    assert unread["verdict"] == "not_measured"


def test_a_depression_is_told_and_not_counted(client: Client) -> None:
    answer = ask(client, job(pressures={"boost": -10}))
    assert answer["positions"][0]["seat_load_needed"] == pytest.approx(75.0)
    assert noted(answer, "depression_not_counted")[0].startswith("1I: the port's pressure holds the valve shut with 32")


def test_an_absolute_pressure_or_another_unit_is_pointed_at(client: Client) -> None:
    answer = ask(client, job(pressures={"boost": 101.3}))
    assert "not an absolute one" in noted(answer, "unusual_reading")[0]
    # 15 psi is 103.42136 kPa and 1.0342136 bar (NIST SP 811, 2008)
    for unit, boost in (("kPa", 103.42135938), ("bar", 1.0342135938)):
        found = line(client, units={"pressure": unit}, pressures={"boost": boost})
        assert found["pressure_load"] == pytest.approx(48.07108, rel=1e-8)


def test_contradictions_are_refused_together(client: Client) -> None:
    bad = job(
        valve("1I"),
        valve("1I", spring="S9"),
        seats={"intake": {"seat_diameter": 2.1, "head_diameter": 2.0, "stem_diameter": 2.1}},
    )
    assert set(refused(client, bad)) == {
        "/positions/1/id", "/positions/1/spring", "/seats/intake/seat_diameter", "/seats/intake/stem_diameter",
    }  # fmt: skip


def test_a_limit_for_valves_that_are_not_there_is_pointed_at(client: Client) -> None:
    answer = ask(client, job(limits={"exhaust": {"coil_bind_clearance_minimum": 0.05}}))
    assert answer["verdict"] == "not_measured"
    assert "/limits/exhaust/coil_bind_clearance_minimum" in held(answer)


def test_a_boosted_engine_is_cautioned_of(client: Client) -> None:
    assert any("under boost" in caution for caution in ask(client, example("boost-load"))["cautions"])


@given(boost=st.integers(0, 40), more=st.integers(0, 20), wanted=st.integers(40, 160))
def test_more_boost_never_betters_a_verdict(client: Client, boost: int, more: int, wanted: int) -> None:
    less, greater = (
        ask(client, job(pressures={"boost": psi}, seats=seats(seat_load_unboosted=wanted)))["verdict"]
        for psi in (boost, boost + more)
    )
    assert RANK[greater] >= RANK[less]


@given(order=st.randoms(use_true_random=False))
def test_the_order_of_positions_changes_no_line(client: Client, order: Random) -> None:
    request = example("boost-load")
    mixed = deepcopy(request)
    order.shuffle(mixed["positions"])
    by_id = {one["id"]: one for one in ask(client, request)["positions"]}
    assert {one["id"]: one for one in ask(client, mixed)["positions"]} == by_id


@given(boost=st.integers(0, 60), wanted=st.integers(40, 250), bind=st.sampled_from([None, 1.1, 1.29, 1.4]))
def test_every_miss_has_its_sentence(client: Client, boost: int, wanted: int, bind: float | None) -> None:
    springs = [TALL | {"coil_bind_height": bind}]
    answer = ask(client, job(pressures={"boost": boost}, seats=seats(seat_load_unboosted=wanted), springs=springs))
    codes = {note["code"] for note in answer["notes"]}
    found = answer["positions"][0]
    if found["held_shut_check"]["verdict"] == "reject":
        assert "pushed_off_seat" in codes
    elif found["needed_load_check"]["verdict"] == "borderline":
        assert "load_short_of_pressure" in codes
    if found["coil_bind_clearance_check"]["verdict"] == "reject":
        assert codes & {"coils_touch", "coil_bind_close"}
