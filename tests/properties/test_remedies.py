"""What a rejected job is told to do, done as it is told: the next answer is good."""

from __future__ import annotations

import re
from copy import deepcopy

from hypothesis import given
from hypothesis import strategies as st
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job

Client = TestClient[ASGIApp]
lengths = st.floats(0.0, 0.3)
units = st.sampled_from([("in", 1.0), ("mm", 25.4)])


def told(client: Client, path: str, job: Job, *codes: str) -> list[str]:
    response = client.post(path, json=job)
    assert response.status_code == 200, response.text
    return [note["detail"] for note in response.json()["notes"] if note["code"] in codes]


def number(pattern: str, detail: str) -> float:
    found = re.search(pattern.replace("#", r"(\d+\.\d+)"), detail)
    assert found, detail
    return float(found[1])


def dial(smallest: float) -> Job:
    ends = smallest + 0.01
    readings = [(0.0, ends), (10.0, smallest), (20.0, ends)]
    return {"kind": "dial", "readings": [{"crank_angle": at, "clearance": one} for at, one in readings]}


@given(
    unit=units,
    smallest=lengths,
    minimum=st.floats(0.0, 0.2) | st.just(0.0),
    cut=lengths,
    angle=st.floats(0.0, 60.0),
    tilt=st.floats(0.0, 0.5) | st.just(0.0),
    way=st.sampled_from([("flat", "clay"), ("pocket", "clay"), ("flat", "dial"), ("pocket", "dial")]),
)
def test_a_head_raised_as_told_clears_its_valves(
    client: Client,
    unit: tuple[str, float],
    smallest: float,
    minimum: float,
    cut: float,
    angle: float,
    tilt: float,
    way: tuple[str, str],
) -> None:
    name, scale = unit
    crown, kind = way
    read = {"kind": "clay", "thinnest_clay": smallest * scale} if kind == "clay" else dial(smallest * scale)
    valve = {"valve_angle": angle, "stem_leans": "toward_intake", "crown": crown, "read": read}
    at = {"distance_across": 1.0 * scale, "depth": (cut + 0.01) * scale}
    job: Job = {
        "units": {"length": name},
        "cut": {"kind": "tilt", "at": at, "tilt": tilt} if tilt else {"kind": "flat", "depth": cut * scale},
        "limits": {"piston_to_intake_valve_minimum": minimum * scale},
        "positions": [
            {
                "id": "1",
                "valve": "intake",
                "distance_across": 2.0 * scale,
                "head_diameter": 1.9 * scale,
                "piston_to_valve": valve,
            }
        ],
    }
    details = told(client, "/v1/piston-to-valve", job, "piston_to_valve_low", "valve_meets_piston")
    if not details:
        return
    raised = number(f"Raise the head # {name}", details[0])
    higher = client.post("/v1/piston-to-valve", json=job | {"gasket_thickness_change": raised}).json()
    assert higher["verdict"] == "accept", (details[0], higher["positions"])
    if kind == "clay":
        deeper = deepcopy(job)
        pocket = number(f"valve pocket # {name} deeper", details[0])
        deeper["positions"][0]["piston_to_valve"]["read"]["thinnest_clay"] += pocket
        assert client.post("/v1/piston-to-valve", json=deeper).json()["verdict"] == "accept", details[0]


@given(unit=units, quench=st.floats(-0.05, 0.1), minimum=st.floats(0.0, 0.08) | st.just(0.0))
def test_a_gasket_as_thick_as_told_gives_the_quench(
    client: Client, unit: tuple[str, float], quench: float, minimum: float
) -> None:
    name, scale = unit
    gasket = {"compressed_thickness": 0.2 * scale, "gasket_bore": 4.0 * scale}
    cylinder: Job = {"bore": 4.0 * scale, "stroke": 3.0 * scale, "deck_clearance": (quench - 0.2) * scale}
    job: Job = {
        "units": {"length": name},
        "limits": {"quench_minimum": minimum * scale},
        "cylinder": cylinder | {"gasket": gasket},
        "chambers": [{"id": "1", "chamber_volume": 64.0}],
    }
    details = told(client, "/v1/compression-ratio", job, "quench_too_small", "piston_meets_head")
    if not details:
        return
    gasket["compressed_thickness"] += number(f"gasket # {name} thicker", details[0])
    assert client.post("/v1/compression-ratio", json=job).json()["verdict"] == "accept", details[0]


@given(unit=units, thickness=st.floats(0.1, 0.5), cut=st.floats(0.005, 0.09), share=st.floats(0.01, 0.9))
def test_a_cut_as_deep_as_told_leaves_enough_head(
    client: Client, unit: tuple[str, float], thickness: float, cut: float, share: float
) -> None:
    name, scale = unit
    job: Job = {
        "units": {"length": name},
        "cut": {"kind": "flat", "depth": cut * scale},
        # too thin by a share of the cut
        "limits": {"head_thickness_minimum": (thickness - cut + share * cut) * scale},
        "chambers": [{"id": "1", "head_thickness": thickness * scale}],
    }
    details = told(client, "/v1/milling", job, "head_too_thin")
    job["cut"]["depth"] = number(f"Cut # {name} at most there", details[0])
    assert client.post("/v1/milling", json=job).json()["verdict"] == "accept", details[0]


@given(preload=st.floats(-0.1, 0.3), travel=st.floats(0.03, 0.25), step=st.sampled_from([0.05, 0.2]))
def test_a_pushrod_ordered_as_told_has_its_preload(client: Client, preload: float, travel: float, step: float) -> None:
    def job_of(length: float, reading: float) -> Job:
        geometry = {"kind": "length_and_angle", "length": length, "angle": 0}
        pushrod = {"geometry": geometry, "preload": reading}
        return {
            "cut": {"kind": "flat", "depth": 0.0},
            "lifters": {"plunger_travel": travel, "stock_step": step},
            "positions": [{"id": "1", "valve": "intake", "pushrod": pushrod}],
        }

    details = told(client, "/v1/pushrod-length", job_of(8.15, preload), "preload_off", "no_stock_length")
    if not details or "present pushrod will do" in details[0]:
        return
    length = number("(?:Order a pushrod|order a custom length,) # in", details[0])
    after = client.post("/v1/pushrod-length", json=job_of(length, preload + length - 8.15)).json()
    check = after["positions"][0]["preload_check"]
    # within the thousandth of grace of a stock length a range is met as well as anybody reads it
    assert after["verdict"] == "accept" or -0.0011 < check["to_spare"] < 0.0, details[0]
