"""Dimensions of a spring that cannot be true: each said once, where it is."""

from __future__ import annotations

from litestar.testing import TestClient
from litestar.types import ASGIApp

Client = TestClient[ASGIApp]


def test_one_fault_of_both_ends_of_a_stretch_is_said_once(client: Client) -> None:
    shape = {"kind": "progressive", "mean_diameter": 0.15, "stretches": [{"coils": 3, "pitch": 0.1}]}
    curve = {
        "kind": "dimensioned",
        "wire": {"kind": "round", "diameter": 0.2},
        "shape": shape,
        "ends": "squared",
        "free_height": 2,
        "shear_modulus": 1e7,
        "shear_modulus_source": "made up",
    }
    response = client.post("/v1/spring-load", json={"springs": [{"id": "S1", "load_curve": curve}], "heights": [1]})
    assert response.status_code == 422
    errors = [(error["pointer"], error["detail"]) for error in response.json()["errors"]]
    assert len(set(errors)) == len(errors)
    # the pitches give the free height, so nothing but its being there is wrong with it
    assert [pointer for pointer, _ in errors].count("/springs/0/load_curve/free_height") == 1
