"""POST /v1/milling and its neighbors: sentences in the places a bench reads, with a unit and without field names."""

from __future__ import annotations

import re
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from msgspec import inspect
from tests.api.jobs import Job

from headbench.api.cylinders.chambers import Pour
from headbench.api.intake.answer import AlignedFace, ManifoldAsMeasured, MeasuredMove, SeatedManifold
from headbench.api.intake.manifold import FaceCuts, ManifoldMisfit, ManifoldMove
from headbench.api.milling.milling import MillingAnswer
from headbench.api.pistons.lines import ClearanceLine

Client = TestClient[ASGIApp]
FLAT: Job = {"cut": {"kind": "flat", "depth": 0.03}}
# a hair under nothing at the deck's edge
EDGE: Job = {"cut": {"kind": "tilt", "at": {"distance_across": 4.0, "depth": 0.01}, "tilt": 0.14324}}
NEVER = re.compile(r"\de[-+]\d|-0\.0+ |\b0\.0+ in deeper|\d\.\d{5,}|_(before|after)\b")


def sentences(client: Client, path: str, job: Job) -> list[str]:
    body: Any = client.post(path, json=job).json()
    return [one["detail"] for key in ("notes", "errors") for one in body.get(key, [])]


def dial(angle: float) -> Job:
    readings = [{"crank_angle": one, "clearance": 0.15} for one in (angle, 5.0, angle)]
    read = {"kind": "dial", "readings": readings}
    return FLAT | {
        "positions": [
            {"id": "1", "valve": "intake", "piston_to_valve": {"valve_angle": 18, "crown": "flat", "read": read}}
        ]
    }


@pytest.mark.parametrize(
    ("path", "job", "says"),
    [
        ("/v1/milling", EDGE, "cut 0.0001 in deeper all over"),
        ("/v1/milling", FLAT | {"intake_side": {"bank_angle": 0.00180223}}, "A V of 0 deg is rare"),
        ("/v1/milling", FLAT | {"intake_side": {"bank_angle": 53.27}}, "A V of 53.27 deg is rare"),
        ("/v1/milling", FLAT | {"intake_side": {"bank_angle": 1e-12}}, "bank angle of 0 deg is an in-line engine"),
        ("/v1/milling", FLAT | {"intake_side": {"bank_angle": 1e-4, "face_tilt": -1}}, "it must be 0 deg or more"),
        ("/v1/milling", FLAT | {"cut": {"kind": "tilt", "at": {"distance_across": 0, "depth": 0}, "tilt": 51.234567}},
         "a deck tilted by 51.23 deg"),
        ("/v1/milling", FLAT | {"targets": {"static_ratio": 1e-06}}, "a static ratio of 0.00:1 is none"),
        ("/v1/milling", FLAT | {"cylinder": {"stroke": 3.2, "rod_length": 6.1, "intake_closing": 200.123456}},
         "closes 200.12 deg after BDC"),
        ("/v1/milling", dial(1e-06), "readings 1 and 3 are both at 0 deg"),
        ("/v1/milling", FLAT | {"units": {"volume": "in3"}, "chamber_shape":
          {"kind": "first_cut", "depth": 0.01, "volume_before": 3.5, "volume_after": 58.0573}},
         "the chamber after the cut, 58.057 in3, must be less than before it, 3.5 in3"),
        ("/v1/milling", FLAT | {"cam_drive": {"pitch_radius": 1.375}}, "crank deg; advance it 2.5 crank deg"),
    ],
)  # fmt: skip
def test_sentences_keep_to_bench_places(client: Client, path: str, job: Job, says: str) -> None:
    told = sentences(client, path, job)
    assert any(says in detail for detail in told), told
    assert not [detail for detail in told if NEVER.search(detail)]


def described(struct: type[Any], name: str) -> str:
    (field,) = [one for one in inspect.type_info(struct).fields if one.name == name]  # type: ignore[attr-defined] # a struct has fields
    return str(field.type.extra_json_schema["description"])


@pytest.mark.parametrize(
    ("struct", "name"),
    [
        (ManifoldMove, "sideways"),
        (ManifoldMisfit, "sideways"),
        (MeasuredMove, "sideways"),
        (SeatedManifold, "sideways"),
        (ManifoldAsMeasured, "sideways"),
        (FaceCuts, "missing"),
        (AlignedFace, "missing"),
        (ClearanceLine, "lost"),
        (ClearanceLine, "gained"),
        (MillingAnswer, "tilt"),
        (Pour, "depth"),
    ],
)
def test_a_signed_number_says_what_its_sign_means(struct: type[Any], name: str) -> None:
    told = described(struct, name)
    assert "negative" in told.lower()
    # one rule for a manifold that goes aside, whichever work asks
    if name == "sideways":
        assert "from this head toward the other" in told


def test_a_manifold_goes_aside_by_one_rule(client: Client) -> None:
    # own derivation: this head, the left one, alone comes 1 mm down its bore, which points 45 degrees to the left on
    # its way up: it goes (0.7071, -0.7071), to the right, and with square faces the manifold follows it
    v = {"bank_angle": 90, "face_tilt": 0}
    milled = {"units": {"length": "mm"}, "cut": {"kind": "flat", "depth": 1.0}}
    other = {"intake_side": v | {"other_head": {"cut": {"kind": "flat", "depth": 0.0}}}}
    by_cut = client.post("/v1/milling", json=milled | other).json()["intake_side"]["cuts"]["sideways"]
    # and where it was measured: faces closed, bolt holes of the left head 1 mm below the manifold's
    shut = {"front": {"top": 0, "bottom": 0}, "rear": {"top": 0, "bottom": 0}}
    fit = v | {"units": {"length": "mm"}, "intake_gasket_thickness": 0, "rail_room": 0}
    fit |= {"left": shut | {"misalignment": 1.0}, "right": shut | {"misalignment": 0.0}}
    by_reading = client.post("/v1/intake-fit", json=fit).json()["cuts"]["sideways"]
    assert (by_cut, by_reading) == (pytest.approx(0.5**0.5, abs=1e-4), pytest.approx(0.5**0.5, abs=1e-4))
