"""What is measured at the intake faces of a V, for the tests."""

from __future__ import annotations

from typing import Any

from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job
from tests.rigid_v import V

Client = TestClient[ASGIApp]
PATH = "/v1/intake-fit"


def ask(client: Client, job: Job) -> Any:
    response = client.post(PATH, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def face(front: tuple[float, float], rear: tuple[float, float], misalignment: float = 0.0, **more: Any) -> Job:
    return {
        "front": {"top": front[0], "bottom": front[1]},
        "rear": {"top": rear[0], "bottom": rear[1]},
        "misalignment": misalignment,
        **more,
    }


def v_of(left: Job, right: Job, tilt: float = 0.0, **more: Any) -> Job:
    """A 90-degree V in mm, its manifold on its end rails, metal to metal."""
    return {
        "units": {"length": "mm"},
        "bank_angle": 90.0,
        "face_tilt": tilt,
        "gauge_step": 0.02,
        "intake_gasket_thickness": 0.0,
        "rail_room": 0.0,
        "left": left,
        "right": right,
        **more,
    }


def flat(depth: float) -> Job:
    return {"cut": {"kind": "flat", "depth": depth}}


def measured(v: V, **more: Any) -> Job:
    """What is measured on a V of rigid bodies, its manifold where it was put and its gaskets out, in inches."""
    gaps, holes = v.gaps() + v.gasket, v.holes()
    left, right = (face(tuple(gap), tuple(gap), hole) for gap, hole in zip(gaps.tolist(), holes.tolist(), strict=True))
    seat = {"bank_angle": v.bank_angle, "face_tilt": v.face_tilt, "intake_gasket_thickness": v.gasket, "rail_room": 0.0}
    return seat | {"left": left, "right": right} | more


def notes(answer: Any) -> dict[str, str]:
    return {note["code"]: note["detail"] for note in answer["notes"]}


TIGHT = face((0.0, 0.0), (0.0, 0.0))
"""A face that touches all over with its holes in line."""
