"""Jobs for the tests: one whole, and any admissible one."""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from headbench.api.head_job import EXAMPLE

Job = dict[str, Any]

ROOT = Path(__file__).parent.parent.parent
DEMO: Job = json.loads((ROOT / "shared" / "demo" / "two-heads.json").read_text())


def whole_job() -> Job:
    """One position with every reading there is."""
    job = deepcopy(EXAMPLE)
    job["springs"][0]["mass"] = 88.2
    return job


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    """A head of 1 to 6 positions in inches, pounds-force and grams; readings may be missing, none contradict."""
    springs = [_spring(draw, place) for place in range(draw(st.integers(0, 3)))]
    names = [spring["id"] for spring in springs]
    kinds = ("intake", "exhaust")
    job: Job = {
        "units": {"length": "in", "force": "lbf", "mass": "g"},
        "shims": {"thicknesses": [0.015, 0.030, 0.060]},
        "valvetrain": {kind: _lift(draw) for kind in kinds if draw(st.booleans())},
        "targets": {
            kind: {"installed_height": _thou(draw, 1600, 1900), "seat_load": _thou(draw, 90_000, 150_000)}
            for kind in kinds
            if draw(st.booleans())
        },
        "springs": springs,
        "positions": [
            _position(draw, f"{place}{kind[0].upper()}", kind, names)
            for place in range(1, draw(st.integers(2, 4)))
            for kind in kinds
        ],
    }
    return job


def _thou(draw: st.DrawFn, low: int, high: int) -> float:
    return draw(st.integers(low, high)) / 1000


def _lift(draw: st.DrawFn) -> Job:
    if draw(st.booleans()):
        return {"valve_lift": _thou(draw, 300, 700)}
    return {"lobe_lift": _thou(draw, 250, 400), "rocker_ratio": draw(st.sampled_from([1.5, 1.6, 1.7])), "lash": 0.018}


def _spring(draw: st.DrawFn, place: int) -> Job:
    spring: Job = {"id": f"S{place}"}
    if draw(st.booleans()):
        readings = [{"height": 1.8, "load": _thou(draw, 90_000, 110_000)}]
        for height in (1.5, 1.2, 1.1)[: draw(st.integers(1, 3))]:
            readings.append({"height": height, "load": readings[-1]["load"] + _thou(draw, 20_000, 120_000)})
        spring["load_curve"] = {"kind": "bench", "readings": readings}
    if draw(st.booleans()):
        spring["coil_bind_height"] = _thou(draw, 900, 1099)
    if draw(st.booleans()):
        spring["mass"] = _thou(draw, 60_000, 120_000)
    if draw(st.booleans()):
        inner: Job = {"seat_step": _thou(draw, 0, 100)}
        if draw(st.booleans()):
            inner["coil_bind_height"] = _thou(draw, 800, 1100)
        if draw(st.booleans()):
            inner["load_curve"] = {"kind": "rated", "height": 1.6, "load": 40, "rate": _thou(draw, 50_000, 90_000)}
        spring["nested"] = [inner]
    return spring


def _position(draw: st.DrawFn, name: str, kind: str, springs: list[str]) -> Job:
    position: Job = {"id": name, "valve": kind, "deduction": _thou(draw, 0, 100)}
    if draw(st.booleans()):
        position["measured_height"] = _thou(draw, 1700, 2000)
    has_spring = draw(st.booleans())
    if springs and has_spring:
        position["spring"] = draw(st.sampled_from(springs))
    if draw(st.booleans()):
        position["retainer_to_seal"] = _thou(draw, 400, 800)
    position["masses"] = {
        part: _thou(draw, 5_000, 120_000) for part in ("valve", "retainer", "locks") if draw(st.booleans())
    }
    return position
