"""POST /v1/spring-load: readings and ratings as a caller sees them."""

from __future__ import annotations

from typing import Any

import pytest
from tests.api.jobs import Job
from tests.api.spring_jobs import BENCH, PATH, Client, answer, errors, line


def test_loads_and_rates_between_two_readings_are_a_lines(client: Client) -> None:
    # hand arithmetic: 294 lbf/in; 117 + 294*0.49 = 261.06
    found = line(client, BENCH, heights=[1.75, 1.26])
    assert [point["load"] for point in found["loads_at_heights"]] == pytest.approx([117.0, 261.06])
    assert [point["rate"] for point in found["loads_at_heights"]] == pytest.approx([294.0, 294.0])
    assert found["mean_rate"] == pytest.approx(294.0)


def test_the_height_for_a_load_is_answered_and_marked_outside_the_readings(client: Client) -> None:
    # hand arithmetic: 150 lbf at 1.75 - 33/294 = 1.637755; 293.4 lbf 0.1 in below 1.25
    found = line(client, BENCH, loads=[150, 293.4])["heights_at_loads"]
    assert [point["height"] for point in found] == pytest.approx([1.637755102, 1.15])
    assert [point["beyond_readings"] for point in found] == pytest.approx([0.0, 0.1])


def test_a_load_below_the_coil_bind_height_is_not_given(client: Client) -> None:
    found = line(client, BENCH, heights=[1.10], loads=[310], spring={"coil_bind_height": 1.12})
    assert found["loads_at_heights"][0]["load"] is None
    assert found["heights_at_loads"][0]["height"] is None


def test_a_beehive_spring_has_the_mean_rate_the_trade_knows_it_by(client: Client) -> None:
    # common practice, no source: 150 lbf at 1.925 in, 390 to 395 lbf at 1.295 in: 381 to 389 lbf/in
    for load, rate in ((390, 381.0), (395, 389.0)):
        curve = {"kind": "bench", "readings": [{"height": 1.925, "load": 150}, {"height": 1.295, "load": load}]}
        assert line(client, curve, heights=[1.925, 1.295])["mean_rate"] == pytest.approx(rate, abs=0.5)


def test_a_line_of_least_squares_shows_its_residuals(client: Client) -> None:
    # hand arithmetic: through (1.7, 100), (1.5, 163), (1.3, 220) with mean 161 at 1.5: slope -300, residuals -1, 2, -1
    readings = [{"height": 1.7, "load": 100}, {"height": 1.5, "load": 163}, {"height": 1.3, "load": 220}]
    found = line(client, {"kind": "bench", "readings": readings, "fit": "line"}, heights=[1.5])
    assert found["loads_at_heights"][0]["load"] == pytest.approx(161.0)
    assert found["tested_springs"][0]["residuals"] == pytest.approx([-1.0, 2.0, -1.0])
    assert line(client, {"kind": "bench", "readings": readings})["tested_springs"][0]["residuals"] is None


def test_a_second_run_is_compared_with_the_first(client: Client) -> None:
    # hand arithmetic: the first run has 146.4 at 1.65 and 264 at 1.25
    run = [{"height": 1.65, "load": 145.0}, {"height": 1.25, "load": 264.5}]
    found = line(client, BENCH | {"second_run": run})["tested_springs"][0]
    assert found["second_run_differences"] == pytest.approx([-1.4, 0.5])
    assert found["largest_second_run_difference"] == pytest.approx(1.4)


@pytest.mark.parametrize(("load", "loss", "verdict"), [(108.0, 10.0, "accept"), (107.0, 10.8333333333, "borderline")])
def test_a_tenth_lost_is_the_published_service_limit(client: Client, load: float, loss: float, verdict: str) -> None:
    # hand arithmetic: 120 lbf rated at 1.75
    curve = {"kind": "bench", "readings": [{"height": 1.75, "load": load}, {"height": 1.25, "load": 264}]}
    rating = {"height": 1.75, "load": 120, "rate": 290, "load_tolerance": 8}
    found = line(client, curve, spring={"rating": rating})
    assert found["load_loss_check"]["value"] == pytest.approx(loss)
    assert found["load_loss_check"]["verdict"] == verdict
    assert found["rated_load_check"]["value"] == pytest.approx(-loss)
    assert found["verdict"] == "borderline"


def test_a_rating_is_never_compared_with_itself(client: Client) -> None:
    curve = {"kind": "rated", "height": 1.75, "load": 120, "rate": 290}
    found = line(client, curve, spring={"rating": {"height": 1.75, "load": 120, "rate": 290}})
    assert found["load_loss_check"] | {"limit": None} == {
        "value": None, "limit": None, "rule": "at_most", "to_spare": None, "check_class": "setting",
        "verdict": "not_measured", "counts_toward_verdict": True,
    }  # fmt: skip


def test_a_testers_known_loads_must_make_a_correction(client: Client) -> None:
    tester = {"calibration": [{"applied": 100, "indicated": 101}, {"applied": 150, "indicated": 99}]}
    assert set(errors(client, BENCH, tester=tester)) == {"/tester/calibration/0"}


def test_contradicting_readings_of_a_second_run_are_named_there(client: Client) -> None:
    run = [{"height": 1.65, "load": 145.0}, {"height": 1.25, "load": 140.0}]
    assert set(errors(client, BENCH | {"second_run": run})) == {"/load_curve/second_run/1"}


def codes(found: Any) -> list[str]:
    return [note["code"] for note in found["notes"]]


def test_a_rating_far_outside_the_readings_proves_no_loss(client: Client) -> None:
    # read at 1.2 and 1.25 only; the rating stands half an inch away
    curve = {"kind": "bench", "readings": [{"height": 1.2, "load": 270}, {"height": 1.25, "load": 264}]}
    rating = {"height": 1.75, "load": 204, "rate": 120}
    assert line(client, curve, spring={"rating": rating})["load_loss_check"]["verdict"] == "not_measured"


def test_an_unknown_inner_spring_is_not_called_solid(client: Client) -> None:
    found = answer(client, {"springs": [{"id": "S1", "load_curve": BENCH, "nested": [{}]}], "heights": [1.5]})
    assert found["springs"][0]["loads_at_heights"][0]["load"] is None
    assert "coils_touch" not in codes(found)


def test_coils_that_touch_are_said_so_for_ratings_too(client: Client) -> None:
    rated = {"kind": "rated", "height": 1.75, "load": 117, "rate": 294}
    spring = {"id": "S1", "load_curve": rated, "coil_bind_height": 1.12}
    found = answer(client, {"springs": [spring], "heights": [1.1]})
    assert {"coils_touch", "known_by_rating"} <= set(codes(found))


def test_a_load_the_spring_cannot_push_has_a_reason(client: Client) -> None:
    spring = {"id": "S1", "load_curve": BENCH, "coil_bind_height": 1.12}
    found = answer(client, {"springs": [spring], "heights": [1.5], "loads": [310]})
    assert found["springs"][0]["heights_at_loads"][0]["height"] is None
    assert "coils_touch" in codes(found)


def test_a_line_may_scatter_but_must_rise(client: Client) -> None:
    readings = [{"height": 1.75, "load": 117}, {"height": 1.75, "load": 118}, {"height": 1.25, "load": 264}]
    assert line(client, {"kind": "bench", "readings": readings, "fit": "line"}, heights=[1.75])["loads_at_heights"][0][
        "load"
    ] == (pytest.approx(117.5))
    falling = [{"height": 1.75, "load": 117}, {"height": 1.25, "load": 100}]
    assert set(errors(client, {"kind": "bench", "readings": falling, "fit": "line"})) == {"/load_curve/readings"}


def test_a_lift_that_leaves_nothing_of_the_spring_is_refused(client: Client) -> None:
    response = client.post(
        PATH, json={"springs": [{"id": "S1"}], "working_heights": {"installed_height": 1, "valve_lift": 2}}
    )
    assert [error["pointer"] for error in response.json()["errors"]] == ["/working_heights/valve_lift"]


@pytest.mark.parametrize(
    "curve",
    [
        {
            "kind": "bench",
            "readings": [{"height": 1.8, "load": 0}, {"height": 1.5, "load": 5e-324}, {"height": 1.2, "load": 9}],
        },
        {"kind": "bench", "readings": [{"height": 1.8, "load": 100}, {"height": 1.2, "load": 100.00000000000003}]},
    ],
)
def test_loads_no_tester_tells_apart_are_one_load(client: Client, curve: Job) -> None:
    assert errors(client, curve, loads=[50])


def test_a_known_load_that_shows_nothing_is_no_scale(client: Client) -> None:
    tester = {"calibration": [{"applied": 100, "indicated": 1e-310}]}
    assert set(errors(client, BENCH, tester=tester)) == {"/tester/calibration/0"}


def test_a_loss_past_its_limit_is_for_a_person_to_decide_unless_the_job_rejects_it(client: Client) -> None:
    # hand arithmetic: 107 of 120 lbf is 10.8 % lost, more than 10 (from memory: a service limit in print)
    curve = {"kind": "bench", "readings": [{"height": 1.75, "load": 107}, {"height": 1.25, "load": 264}]}
    rating = {"height": 1.75, "load": 120, "rate": 290, "load_tolerance": 8}
    found = line(client, curve, spring={"rating": rating})
    assert (found["load_loss_check"]["verdict"], found["rated_load_check"]["verdict"]) == ("borderline", "borderline")
    found = line(client, curve, spring={"rating": rating}, limits={"off_target": "reject"})
    assert (found["load_loss_check"]["verdict"], found["verdict"]) == ("reject", "reject")


def test_a_loss_limit_without_a_rating_is_not_measured_and_asks_for_one(client: Client) -> None:
    job = {"springs": [{"id": "S1", "load_curve": BENCH}], "limits": {"load_loss_maximum": 5}}
    found = answer(client, job)
    check = found["springs"][0]["load_loss_check"]
    assert (check["value"], check["limit"], check["verdict"]) == (None, 5.0, "not_measured")
    assert found["verdict"] == "not_measured"
    (item,) = [item for item in found["open_items"] if item["pointer"] == "/springs/0/rating"]
    assert item["needed_for"] == ["load_loss_check"]
