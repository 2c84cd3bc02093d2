"""POST /v1/pushrod-length: preload and its range, stock lengths and what to order, against hand arithmetic."""

from __future__ import annotations

from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job
from tests.api.pushrods.test_pushrod_length import RANGE, STRAIGHT, TRAVEL, ask, errors, line, one

Client = TestClient[ASGIApp]


def test_the_stock_length_nearest_the_wanted_preload_is_taken(client: Client) -> None:
    # by hand: 0.075 less two steps of 0.025 is the 0.025 wanted; one step leaves 0.050, nearer the middle of the range
    job = one(0.0, {"geometry": STRAIGHT, "preload": 0.075}, lifters={"target_preload": 0.025, "stock_step": 0.025})
    found = line(client, job)
    assert (found["stock_steps_shorter"], found["stock_preload"], found["stock_in_range"]) == (2, 0.025, True)
    assert found["length_to_order"] == 8.1


def notes_of(answer: Any) -> dict[str, str]:
    return {note["code"]: note["detail"] for note in answer["notes"]}


@pytest.mark.parametrize(
    ("preload", "travel", "verdict", "check_class"),
    [
        # 0.060 in at most, from memory, until the travel is known: 0.150 less 0.030 is 0.120. Shims can take out nearly
        # all of it (from memory), so that nothing is proven good before
        (0.065, None, "not_measured", "setting"),
        (0.055, None, "not_measured", "setting"),
        (0.031, None, "not_measured", "setting"),
        (0.018, None, "not_measured", "setting"),
        (0.065, 0.150, "accept", "setting"),
        (0.125, 0.150, "borderline", "setting"),
        (0.150, 0.150, "reject", "damage"),
        (0.000, None, "reject", "damage"),
        (-0.010, None, "reject", "damage"),
    ],
)
def test_a_preload_off_its_range_is_for_a_person_and_what_holds_the_valve_open_or_hammers_is_not(
    client: Client, preload: float, travel: float | None, verdict: str, check_class: str
) -> None:
    job = one(0.0, {"geometry": STRAIGHT, "preload": preload}, lifters={"plunger_travel": travel})
    answer = ask(client, job)
    check = answer["positions"][0]["preload_check"]
    assert (check["value"], check["verdict"], check["check_class"]) == (preload, verdict, check_class)
    assert answer["verdict"] == verdict
    assert answer["preload_maximum"] == (0.06 if travel is None else 0.12)
    asked = [item["needed_for"] for item in answer["open_items"] if item["pointer"] == TRAVEL]
    deep = ["preload_check"] if verdict == "not_measured" else []
    assert asked == ([["preload_maximum", *deep]] if travel is None else [])


@pytest.mark.parametrize("preload", [-0.010, 0.005, 0.018, 0.025, 0.0275, 0.031, 0.055, 0.070, 0.130])
def test_leaving_out_the_plunger_travel_never_betters_a_preload(client: Client, preload: float) -> None:
    good = ("accept", "borderline", "not_measured", "reject")

    def rank(travel: float | None) -> int:
        job = one(0.0, {"geometry": STRAIGHT, "preload": preload}, lifters={"plunger_travel": travel})
        verdict = ask(client, job)["verdict"]
        # not_measured and reject are both no good
        return min(good.index(verdict), 2)

    assert rank(None) >= max(rank(travel) for travel in (0.004, 0.024, 0.045, 0.050, 0.060, 0.080, 0.150))


@pytest.mark.parametrize(
    ("lifters", "low", "high"),
    [
        # by hand: a third of the travel at either end
        ({"plunger_travel": 0.045}, 0.015, 0.030),
        ({"plunger_travel": 0.060}, 0.020, 0.040),
        # a default is no reason to refuse what was entered
        ({"preload_maximum": 0.010}, 0.010, 0.010),
        ({"preload_minimum": 0.080}, 0.080, 0.080),
        ({"target_preload": 0.100}, 0.020, 0.100),
        ({"target_preload": 0.010}, 0.010, 0.060),
        ({"target_preload": -0.020}, -0.020, -0.020),
        ({"plunger_travel": 0.045, "preload_minimum": 0.035}, 0.035, 0.035),
    ],
)
def test_a_default_range_gives_way_to_what_is_entered(client: Client, lifters: Job, low: float, high: float) -> None:
    answer = ask(client, one(0.0, {"geometry": STRAIGHT, "preload": 0.025}, lifters=lifters))
    assert (answer["preload_minimum"], answer["preload_maximum"]) == (low, high)
    # lash is told as lash, and a solid lifter has no plunger to measure
    taken = f"{low:.3f} in to {high:.3f} in" if high > 0.0 else f"{-high:.3f} in to {-low:.3f} in of lash"
    assert f"{taken} is taken" in notes_of(answer)["preload_range_fitted"]
    if high <= 0.0:
        assert TRAVEL not in {item["pointer"] for item in answer["open_items"]}


def test_a_short_travel_lifter_refuses_no_milling_job(client: Client) -> None:
    job = {
        "cut": {"kind": "flat", "depth": 0.01},
        "lifters": {"plunger_travel": 0.045},
        "chambers": [{"id": "1", "chamber_volume": 64}],
    }
    response = client.post("/v1/milling", json=job)
    assert response.status_code == 200, response.text


def test_a_mock_up_of_a_pushrod_that_nobody_measured_leaves_its_preload_open(client: Client) -> None:
    # nothing moved and 0.030 read before, but what the checking pushrod shows may be worse
    job = one(0.0, {"preload": 0.030, "mock_up": {"length": 8.10, "preload": 0.015}})
    answer = ask(client, job)
    assert (answer["positions"][0]["preload_after"], answer["verdict"]) == (0.03, "not_measured")


def test_a_preload_or_a_mock_up_is_asked_for_once_for_all_that_either_fills(client: Client) -> None:
    job = one(0.010, {"geometry": STRAIGHT}, lifters={"plunger_travel": 0.150})
    (item,) = ask(client, job)["open_items"]
    assert item["pointer"] == "/positions/0/pushrod/preload"
    for reading, fields in (
        ({"preload": 0.030}, {"preload_before", "preload_after", "stock_preload", "preload_check"}),
        ({"mock_up": {"length": 8.1, "preload": 0.03}}, {"preload_by_mock_up", "length_by_mock_up", "preload_check"}),
    ):
        assert fields <= set(item["needed_for"])
        filled = line(client, one(0.010, {"geometry": STRAIGHT, **reading}, lifters={"plunger_travel": 0.150}))
        assert all(filled[field] is not None for field in fields)


def test_a_mock_up_within_a_thousandth_bears_the_readings_out(client: Client) -> None:
    for preload, told in ((0.0309, False), (0.0311, True)):
        pushrod = {"geometry": STRAIGHT, "preload": 0.030, "mock_up": {"length": 8.15, "preload": preload}}
        assert ("mock_up_disagrees" in notes_of(ask(client, one(0.0, pushrod)))) == told


def test_a_ten_thousandth_short_of_the_range_is_no_custom_pushrod(client: Client) -> None:
    # by hand: 0.0698 - 0.050 = 0.0198
    answer = ask(client, one(0.0, {"geometry": STRAIGHT, "preload": 0.0698}))
    found = answer["positions"][0]
    assert (found["stock_preload"], found["stock_in_range"], found["length_to_order"]) == (0.0198, True, 8.1)
    assert "no_stock_length" not in notes_of(answer)


@pytest.mark.parametrize(
    ("preload", "step", "code", "told"),
    [
        # by hand from 8.150: one step shorter; two steps longer for lash of 0.060; custom: 8.150 + 0.040 - 0.066
        (0.090, 0.050, "preload_off", "Order a pushrod 8.100 in, 1 stock step shorter."),
        (-0.060, 0.050, "preload_off", "Order a pushrod 8.250 in, 2 stock steps longer."),
        (0.066, 0.200, "no_stock_length", "No stock length gives preload in range; order a custom length, 8.124 in."),
        (-0.010, 0.200, "no_stock_length", "order a custom length, 8.200 in."),
    ],
)
def test_a_preload_off_its_range_ends_in_the_length_to_order(
    client: Client, preload: float, step: float, code: str, told: str
) -> None:
    job = one(0.0, {"geometry": STRAIGHT, "preload": preload}, lifters={"stock_step": step} | RANGE)
    answer = ask(client, job)
    assert notes_of(answer)[code].endswith(told)
    # and as it says: that pushrod is in range
    length = answer["positions"][0]["length_to_order"]
    order = one(0.0, {"geometry": STRAIGHT | {"length": length}, "preload": preload + length - 8.150}, lifters=RANGE)
    assert ask(client, order)["verdict"] == "accept"


def test_what_is_in_range_is_not_told_to_be_off_it(client: Client) -> None:
    # by hand: 0.030 + 0.010 after an angle cut that only a mock-up can prove
    job = one(0.0, {"geometry": STRAIGHT, "preload": 0.030, "distance_across": 3.0})
    job |= {"cut": {"kind": "tilt", "at": {"distance_across": 3.0, "depth": 0.010}, "tilt": 0.1}}
    answer = ask(client, job)
    assert (answer["positions"][0]["preload_after"], answer["verdict"]) == (
        pytest.approx(0.040, abs=1e-6),
        "not_measured",
    )
    assert not {"preload_off", "no_stock_length"} & set(notes_of(answer))


def test_a_preload_a_hair_off_its_range_keeps_its_pushrod(client: Client) -> None:
    answer = ask(client, one(0.0, {"geometry": STRAIGHT, "preload": 0.0195}, lifters={"plunger_travel": 0.150}))
    assert answer["verdict"] == "borderline"
    assert notes_of(answer)["preload_off"].endswith("within 0.001 in of it: the present pushrod will do.")


def test_what_lash_and_a_bottomed_plunger_do_is_said(client: Client) -> None:
    lash = ask(client, one(0.0, {"geometry": STRAIGHT, "preload": -0.010}))
    assert "lash 0.010 in, range 0.020 in to 0.060 in. The lifter has no preload" in notes_of(lash)["preload_off"]
    bottomed = one(0.0, {"geometry": STRAIGHT, "preload": 0.160}, lifters={"plunger_travel": 0.150})
    told = notes_of(ask(client, bottomed))["preload_off"]
    assert "The valve can't seat: do not run it." in told


def test_the_lash_of_a_solid_lifter_is_told_as_lash(client: Client) -> None:
    lifters = {"preload_minimum": -0.026, "preload_maximum": -0.018, "target_preload": -0.022}
    job = one(0.0, {"geometry": STRAIGHT, "preload": -0.012}, lifters=lifters, adjuster={"thread_pitch": 0.05})
    # by hand: 0.010 in more lash at 0.050 in a turn
    told = notes_of(ask(client, job))["preload_off"]
    assert told == "1I: lash 0.012 in, range 0.018 in to 0.026 in of lash. Back the nut off 0.20 turns."


def test_on_adjustable_rockers_the_sweep_sets_the_length_and_the_nut_the_preload(client: Client) -> None:
    # by hand: 0.090 - 0.040 in are 0.050 too much; 1/20 in a turn and an adjuster over the pushrod: 1 turn
    job = one(0.0, {"geometry": STRAIGHT, "preload": 0.090}, adjuster={"thread_pitch": 0.05})
    answer = ask(client, job)
    assert answer["positions"][0]["length_to_order"] is None
    told = notes_of(answer)
    assert "sweep" in told["sweep_sets_length"]
    assert "/adjuster" in {note["pointer"] for note in answer["notes"]}
    assert told["preload_off"].endswith("Back the nut off 1.00 turns.")
    assert "no_stock_length" not in told


def test_after_an_angle_cut_only_a_mock_up_shows_a_preload_to_be_good(client: Client) -> None:
    # own derivation: a rocker end 6 in over the deck swings 6 sin 1 = 0.105 in sideways, and a pushrod that leans 8
    # degrees that way comes 0.105 sin 8 = 0.0146 in nearer or further: what is figured without it proves nothing
    leaning = {"kind": "length_and_angle", "length": 8.150, "angle": 8}
    job = one(0.0, {"geometry": leaning, "preload": 0.030, "distance_across": 3.0})
    job |= {"cut": {"kind": "tilt", "at": {"distance_across": 3.0, "depth": 0.010}, "tilt": 1.0}}
    job |= {"lifters": {"plunger_travel": 0.150}}
    answer = ask(client, job)
    assert answer["verdict"] == "not_measured"
    assert [item["pointer"] for item in answer["open_items"]] == ["/positions/0/pushrod/mock_up"]
    assert answer["positions"][0]["length_to_order"] is None
    assert {note["code"]: note["pointer"] for note in answer["notes"]}["pushrods_swing"] == "/cut"
    # off its range too, and a stock length would do if the rockers had not swung: none is ordered yet
    job["positions"][0]["pushrod"]["preload"] = 0.150
    assert (line(client, job)["stock_in_range"], line(client, job)["length_to_order"]) == (True, None)
    job["positions"][0]["pushrod"]["mock_up"] = {"length": 8.150, "preload": 0.045}
    assert ask(client, job)["verdict"] == "accept"


@pytest.mark.parametrize(
    ("lifters", "pointer", "told"),
    [
        (
            {"preload_minimum": 0.020, "preload_maximum": 0.010},
            "preload_maximum",
            "maximum preload 0.010 in is below minimum 0.020 in",
        ),
        ({"plunger_travel": 0.1, "preload_maximum": 0.1}, "preload_maximum", "bottoms a plunger that travels 0.100 in"),
        ({"plunger_travel": 0.1, "preload_minimum": 0.1}, "preload_minimum", "bottoms a plunger that travels 0.100 in"),
        ({"plunger_travel": 0.1, "target_preload": 0.1}, "target_preload", "bottoms a plunger that travels 0.100 in"),
        (
            {"preload_maximum": 0.06, "target_preload": 0.1},
            "target_preload",
            "wanted preload 0.100 in is outside its range, 0.020 in to 0.060",
        ),
    ],
)
def test_ranges_of_preload_that_are_none_are_refused(client: Client, lifters: Job, pointer: str, told: str) -> None:
    found = errors(client, one(0.0, {"preload": 0.030}, lifters=lifters))
    assert list(found) == [f"/lifters/{pointer}"]
    assert told in found[f"/lifters/{pointer}"]


def test_lash_under_a_hydraulic_range_asks_whether_the_lifter_is_solid(client: Client) -> None:
    told = notes_of(ask(client, one(0.0, {"geometry": STRAIGHT, "preload": -0.020})))["preload_off"]
    assert "lash 0.020 in" in told
    assert "Is it a solid lifter?" in told
    hydraulic = {"preload_minimum": 0.020, "preload_maximum": 0.060}
    named = ask(client, one(0.0, {"geometry": STRAIGHT, "preload": -0.020}, lifters=hydraulic))
    assert "solid" not in notes_of(named)["preload_off"]
    # and lash is told as lash where a mock-up shows it
    pushrod = {"geometry": STRAIGHT, "preload": 0.010, "mock_up": {"length": 8.15, "preload": -0.020}}
    detail = notes_of(ask(client, one(0.0, pushrod)))["mock_up_disagrees"]
    assert "it has preload 0.010 in, the mock-up shows lash 0.020 in" in detail
