"""Springs that are to be tested: each is asked for once, at the curve that wants it, and by its name."""

from __future__ import annotations

from typing import Any

from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import TABLE, Job, whole_job
from tests.api.spring_jobs import BENCH, answer, coils

Client = TestClient[ASGIApp]
RATING = {"height": 1.75, "load": 120, "rate": 290}


def items(found: Any) -> list[tuple[str, str]]:
    return [(item["pointer"], item["detail"]) for item in found["open_items"]]


def sheet(client: Client, job: Job) -> Any:
    response = client.post("/v1/head-assembly", json=job)
    assert response.status_code == 200, response.text
    return response.json()


def test_a_load_far_outside_the_readings_is_asked_for_at_the_curve_that_was_tested(client: Client) -> None:
    job = {
        "targets": {"intake": {"installed_height": 1.75, "seat_load": 118}},
        "springs": [
            {
                "id": "S1",
                "load_curve": {"kind": "rated", "height": 1.75, "load": 118, "rate": 294},
                "nested": [
                    {
                        "seat_rise": 0.06,
                        "load_curve": {
                            "kind": "bench",
                            "readings": [{"height": 1.4, "load": 20}, {"height": 1.1, "load": 40}],
                        },
                    }
                ],
            }
        ],
        "positions": [{"id": "1I", "valve": "intake", "measured_height": 1.84, "deduction": 0.09, "spring": "S1"}],
    }
    found = [item for item in sheet(client, job)["open_items"] if "near" in item["detail"]]
    # by hand: the inner one stands 1.750 - 0.060 tall, 0.29 in outside its readings
    assert [(item["pointer"], item["needed_for"], item["detail"]) for item in found] == [
        (
            "/springs/0/nested/0/load_curve/readings",
            ["seat_load_check"],
            "Spring S1, inner spring: test its load near 1.690 in (installed, 1I).",
        )
    ]


def test_a_spring_is_asked_for_once_however_many_positions_and_fields_wait_for_it(client: Client) -> None:
    job = whole_job()
    job["intended_speed"] = 4000
    job["valvetrain"]["intake"] = {
        "drive": "bucket", "lifter_mass": 60.0, "valve_lift": 0.49, "motion": TABLE,
    }  # fmt: skip
    job["springs"][0]["load_curve"] = {
        "kind": "bench",
        "readings": [{"height": 1.85, "load": 90}, {"height": 1.8, "load": 104.7}],
    }
    job["positions"].append(job["positions"][0] | {"id": "2I"})
    near = [item for item in sheet(client, job)["open_items"] if "near" in item["detail"]]
    assert [item["pointer"] for item in near] == ["/springs/0/load_curve/readings"]
    assert near[0]["detail"].count("(open, 1I)") == near[0]["detail"].count("(open, 2I)") == 1
    assert {"open_load_check", "valve_float"} <= set(near[0]["needed_for"])


def test_an_untested_spring_with_a_rating_is_asked_for_once(client: Client) -> None:
    found = answer(client, {"springs": [{"id": "S1", "rating": RATING}], "heights": [1.75]})
    (item,) = found["open_items"]
    assert item["pointer"] == "/springs/0/load_curve"
    assert {"load", "load_loss_check"} <= set(item["needed_for"])
    assert "two heights or more" in item["detail"]
    assert "height of its rating" in item["detail"]


def test_nested_wires_without_a_material_are_told_apart(client: Client) -> None:
    curve = coils(material=None)
    pair = {"id": "Pair", "load_curve": curve, "nested": [{"load_curve": curve}]}
    found = answer(client, {"springs": [pair]})
    assert items(found) == [
        ("/springs/0/load_curve/material", "Spring Pair: enter the material of its wire."),
        ("/springs/0/nested/0/load_curve/material", "Spring Pair, inner spring: enter the material of its wire."),
    ]


def test_a_height_asked_twice_is_told_once(client: Client) -> None:
    spring = {"id": "S1", "load_curve": BENCH, "coil_bind_height": 1.2}
    found = answer(client, {"springs": [spring], "heights": [1.1, 1.1, 2.9, 2.9, 1.95, 1.95], "loads": [900, 900]})
    details = [note["detail"] for note in found["notes"]]
    assert len(details) == len(set(details))
    (outside,) = [note["detail"] for note in found["notes"] if note["code"] == "beyond_readings"]
    assert outside.count("1.950 in") == 1


def test_a_spring_whose_two_runs_disagree_at_its_rating_is_to_be_tested_again(client: Client) -> None:
    curve = BENCH | {"second_run": [{"height": 1.75, "load": 105.0}]}
    found = answer(client, {"springs": [{"id": "S1", "load_curve": curve, "rating": RATING}]})
    (item,) = found["open_items"]
    assert item["pointer"] == "/springs/0/load_curve/second_run"
    assert item["detail"].lower().count("test it again") == 1
    assert {"load_loss_check", "load"} <= set(item["needed_for"])


def test_a_height_asked_of_an_untested_spring_is_not_measured(client: Client) -> None:
    found = answer(client, {"springs": [{"id": "S1"}, {"id": "S2", "load_curve": BENCH}], "heights": [1.75]})
    assert found["springs"][0]["verdict"] == found["verdict"] == "not_measured"
    assert found["springs"][1]["verdict"] is None
    assert [pointer for pointer, _ in items(found)] == ["/springs/0/load_curve"]
    assert answer(client, {"springs": [{"id": "S1"}]})["verdict"] is None
