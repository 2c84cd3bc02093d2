"""Spring load and float at coil bind: coils that touch give no load, by a reading or by dimensions."""

from __future__ import annotations

from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import TABLE, Job, float_job
from tests.api.spring_jobs import BENCH, answer

Client = TestClient[ASGIApp]

METRIC = {"length": "mm", "force": "N", "stress": "MPa"}
# squared and ground, 6.5 coils of 4 mm: solid at 6.5 x 4 = 26 mm (Shigley's Mechanical Engineering Design, 9th ed.
# (2011), Table 10-1, squared and ground: total coils times wire diameter; from memory)
WOUND: Job = {
    "kind": "dimensioned",
    "wire": {"kind": "round", "diameter": 4},
    "shape": {"kind": "cylinder", "mean_diameter": 28},
    "ends": "squared_and_ground",
    "active_coils": 4.5,
    "free_height": 54,
    "total_coils": 6.5,
    "shear_modulus": 79300,
    "shear_modulus_source": "handbook value for steel",
    "material": "chrome_silicon_wire",
}
RATED: Job = {"kind": "rated", "height": 1.75, "load": 117, "rate": 294}


def bound(found: Any) -> list[tuple[str, str]]:
    return [(note["pointer"], note["detail"]) for note in found["notes"] if note["code"] == "coils_touch"]


def working(client: Client, lift: float, **spring: Any) -> Any:
    heights = {"installed_height": 36, "valve_lift": lift}
    job = {"units": METRIC, "working_heights": heights, "springs": [{"id": "S", "load_curve": WOUND} | spring]}
    return answer(client, job)


@pytest.mark.parametrize(("lift", "taller"), [(10.5, "2.024 mm"), (10, "1.524 mm")])
def test_an_open_height_in_coil_bind_has_no_stress_and_says_what_to_change(
    client: Client, lift: float, taller: str
) -> None:
    # by hand: solid at 26 mm; 0.060 in (1.524 mm) of clearance is the usual minimum, from memory
    found = working(client, lift)
    (coils,) = found["springs"][0]["dimensioned_springs"]
    assert (coils["stress_at_open"], coils["stress_mean"], coils["fatigue_factor_goodman"]) == (None, None, None)
    assert coils["stress_at_seat"] is not None
    assert bound(found) == [
        (
            "/working_heights/valve_lift",
            (
                f"Spring S: coil bind at 26.00 mm, its open height is {36 - lift:.2f} mm. Set it {taller} taller, cut "
                f"the lift as much, or fit one that binds {taller} lower."
            ),
        )
    ]
    assert bound(working(client, 8)) == []


def test_a_spring_bound_with_the_valve_closed_is_not_told_to_lift_less(client: Client) -> None:
    # by hand: 1 mm under 26 mm already, 3 mm of lift on top: 1 + 3 + 1.524 mm taller
    heights = {"installed_height": 25, "valve_lift": 3}
    job = {"units": METRIC, "working_heights": heights, "springs": [{"id": "S", "load_curve": WOUND}]}
    assert bound(answer(client, job)) == [
        (
            "/working_heights/installed_height",
            (
                "Spring S: coil bind at 26.00 mm, its installed height is 25.00 mm. Set it 5.524 mm taller, or fit one "
                "that binds 5.524 mm lower."
            ),
        )
    ]


def test_a_coil_bind_height_that_was_measured_counts_for_stress_too(client: Client) -> None:
    found = working(client, 8, coil_bind_height=28.5)
    assert found["springs"][0]["dimensioned_springs"][0]["stress_at_open"] is None
    assert len(bound(found)) == 1


@pytest.mark.parametrize(
    ("units", "spring", "height"),
    [
        (METRIC, {"load_curve": WOUND}, 26.0),
        ({}, {"load_curve": RATED, "coil_bind_height": 1.3}, 1.3),
        (
            {},
            {"load_curve": BENCH, "nested": [{"seat_rise": 0.05, "load_curve": BENCH, "coil_bind_height": 1.25}]},
            1.3,
        ),
    ],
)
def test_a_height_at_which_coils_just_touch_has_no_load(client: Client, units: Job, spring: Job, height: float) -> None:
    found = answer(client, {"units": units, "springs": [{"id": "S"} | spring], "heights": [height]})
    point = found["springs"][0]["loads_at_heights"][0]
    assert (point["load"], point["rate"]) == (None, None)
    ((pointer, detail),) = bound(found)
    assert pointer == "/springs/0"
    assert detail.startswith("Spring S: coil bind at ")
    assert "no load at " in detail


def test_the_curve_of_a_spring_still_ends_with_the_load_at_coil_bind(client: Client) -> None:
    # by hand: k = G d^4 / (8 D^3 n) = 79300 x 256 / (8 x 21952 x 4.5) = 25.688 N/mm over 54 - 26 mm
    job = {"units": METRIC, "springs": [{"id": "S", "load_curve": WOUND}], "curve_points": 5}
    curve = answer(client, job)["springs"][0]["curve"]
    solid = 79300 * 4**4 / (8 * 28**3 * 4.5) * (54 - 26)
    assert curve["heights"][-1] == pytest.approx(26.0, abs=1e-9)
    assert curve["loads"][-1] == pytest.approx(solid, rel=1e-9)
    assert [(mark["name"], mark["load"]) for mark in curve["marks"]] == [("coil_bind", pytest.approx(solid, rel=1e-9))]


def test_a_load_that_takes_coil_bind_is_said_so_without_any_height_asked(client: Client) -> None:
    spring = {"id": "S", "load_curve": BENCH, "coil_bind_height": 1.2}
    found = answer(client, {"springs": [spring], "loads": [400]})
    assert found["springs"][0]["heights_at_loads"][0]["height"] is None
    assert [pointer for pointer, _ in bound(found)] == ["/springs/0"]


@pytest.mark.parametrize("lift", [10.0, 10.5])
def test_float_tells_a_spring_of_known_dimensions_as_bound(client: Client, lift: float) -> None:
    job = float_job(TABLE | {"readings": [one | {"lift": one["lift"] * lift / 0.49} for one in TABLE["readings"]]})
    job["units"] = {"length": "mm", "force": "N", "stress": "MPa"}
    job["valvetrain"]["intake"]["valve_lift"] = lift
    job["springs"] = [{"id": "S1", "load_curve": WOUND, "mass": 90.0}]
    job["positions"][0]["installed_height"] = 36.0
    response = client.post("/v1/valve-float", json=job)
    assert response.status_code == 200, response.text
    found = response.json()
    assert found["verdict"] == "reject"
    ((pointer, detail),) = bound(found)
    assert pointer == "/positions/0"
    assert detail.endswith(
        f"Set the spring {lift - 10 + 1.524:.3f} mm taller, or fit one that binds {lift - 10 + 1.524:.3f} mm lower."
    )
