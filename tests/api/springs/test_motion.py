"""Springs whose wire does not move alike: surge and moving mass as a caller sees them."""

from __future__ import annotations

import math
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job, float_job

Client = TestClient[ASGIApp]
INCH, POUND = 0.0254, 4.4482216152605


def ask(client: Client, path: str, job: Job, status: int = 200) -> Any:
    response = client.post(path, json=job)
    assert response.status_code == status, response.text
    return response.json()


def weigh(client: Client, job: Job) -> Any:
    return ask(client, "/v1/valve-mass", job)


def one_valve() -> Job:
    masses = {"valve": 104.5, "retainer": 19.8, "locks": 5.1}
    return {
        "springs": [{"id": "S1", "mass": 90.0}],
        "positions": [{"id": "1I", "valve": "intake", "spring": "S1", "masses": masses}],
    }


def test_a_beehive_without_dimensions_moves_an_estimated_share(client: Client) -> None:
    # own derivation: 0.36 to 0.40 of common beehives moves (tests/calc/test_spring_motion.py), so 0.38 of 90 g
    job = one_valve()
    job["springs"][0]["spring_shape"] = "beehive"
    answer = weigh(client, job)
    assert answer["positions"][0]["moving_mass_by_part"]["springs"] == pytest.approx(34.2, rel=1e-9)
    (told,) = [note for note in answer["notes"] if note["code"] == "share_estimated"]
    assert told["pointer"] == "/springs/0/spring_shape"
    assert (
        "Spring S1: moving mass counts 0.38 of the working coils, an estimate for a beehive, 0.36 to 0.40"
        in told["detail"]
    )


def dimensioned(**shape: Any) -> Job:
    return {
        "kind": "dimensioned",
        "wire": {"kind": "round", "diameter": 0.160},
        "shape": shape,
        "ends": "squared_and_ground",
        "active_coils": 4.5,
        "free_height": 2.0,
        "shear_modulus": 11.5e6,
        "shear_modulus_source": "made up",
    }


def test_a_cone_moves_the_share_of_its_static_shape(client: Client) -> None:
    # own derivation: the integral of u^2 dm over the wire, closed form in tests/calc/test_spring_motion.py: with a =
    # 1.2^4 and x = D^2 it is that of (a - x^2)^2/2 dx from 0.64 to 1.44, over (a - 0.8^4)^2 (1.44 - 0.64)/2
    a = 1.2**4

    def integral(x: float) -> float:
        return a * a * x - 2.0 * a * x**3 / 3.0 + x**5 / 5.0

    share = (integral(1.44) - integral(0.64)) / ((a - 0.8**4) ** 2 * 0.8)
    job = one_valve()
    job["springs"][0]["load_curve"] = dimensioned(kind="cone", seat_mean_diameter=1.2, retainer_mean_diameter=0.8)
    line = weigh(client, job)["positions"][0]
    assert line["moving_mass_by_part"]["springs"] == pytest.approx(90.0 * share, rel=1e-9)
    # beside an inner cylinder each counts its own share
    job["springs"][0]["nested"] = [{"mass": 30.0}]
    line = weigh(client, job)["positions"][0]
    assert line["moving_mass_by_part"]["springs"] == pytest.approx(90.0 * share + 10.0, rel=1e-9)


def test_a_shape_beside_dimensions_is_one_too_many(client: Client) -> None:
    job = one_valve()
    job["springs"][0] |= {
        "load_curve": dimensioned(kind="cylinder", mean_diameter=1.1),
        "spring_shape": "beehive",
    }
    errors = ask(client, "/v1/valve-mass", job, 422)["errors"]
    assert [error["pointer"] for error in errors] == ["/springs/0/spring_shape"]


def test_a_progressive_spring_surges_with_its_open_coils_alone(client: Client) -> None:
    # hand arithmetic: 6 coils of 90 g, 3 of which have closed at 1.45 in (their 0.08 in gaps at c = 8 D^3/(G d^4) per
    # coil are gone at 1.52 in): 3 coils of 45 g with a rate of 1/(3 c) are left, 1/2 sqrt(k/m)
    coil = 8.0 * 1.2**3 / (11.5e6 * 0.16**4)
    request = float_job()
    request["springs"][0]["mass"] = 90.0
    request["springs"][0]["load_curve"] = {
        "kind": "dimensioned",
        "wire": {"kind": "round", "diameter": 0.16},
        "shape": {
            "kind": "progressive",
            "mean_diameter": 1.2,
            "stretches": [{"coils": 3, "pitch": 0.24}, {"coils": 3, "pitch": 0.32}],
        },
        "ends": "squared_and_ground",
        "shear_modulus": 11.5e6,
        "shear_modulus_source": "made up",
    }
    request["positions"][0]["installed_height"] = 1.45
    rate = POUND / INCH / (3.0 * coil)
    surging = ask(client, "/v1/valve-float", request)["positions"][0]["valve_float"]
    assert surging["surge_frequency"] == pytest.approx(0.5 * math.sqrt(rate / 0.045), rel=1e-6)
