"""Jobs for the tests: one whole, and any admissible one."""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from headbench.api.app import RESOURCES

Job = dict[str, Any]

ROOT = Path(__file__).parent.parent.parent


def example(kind: str) -> Job:
    """The job that a resource shows in the schema."""
    job: Job = next(resource.example for resource in RESOURCES if resource.kind == kind)
    return deepcopy(job)


DEMO: Job = json.loads((ROOT / "shared" / "demo" / "two-heads.json").read_text())


WHOLE: Job = {
    "units": {"length": "in", "force": "lbf", "mass": "g"},
    "job": {"reference": "KW-0317", "head": "port side"},
    "limits": {
        "installed_height_tolerance": 0.005,
        "coil_bind_clearance_minimum": 0.060,
        "retainer_to_seal_clearance_minimum": 0.050,
        "seat_load_tolerance": 5,
    },
    "shims": {"thicknesses": [0.015, 0.030, 0.060]},
    "valvetrain": {"intake": {"lobe_lift": 0.325, "rocker_ratio": 1.5, "lash": 0.0}, "exhaust": {"valve_lift": 0.490}},
    "targets": {
        "intake": {"installed_height": 1.750, "seat_load": 118, "open_load": 262},
        "exhaust": {"installed_height": 1.750},
    },
    "springs": [
        {
            "id": "S1",
            "load_curve": {"kind": "bench", "readings": [{"height": 1.75, "load": 117}, {"height": 1.25, "load": 264}]},
            "coil_bind_height": 1.12,
            "mass": 88.2,
        }
    ],
    "positions": [
        {
            "id": "1I",
            "valve": "intake",
            "measured_height": 1.871,
            "deduction": 0.090,
            "spring": "S1",
            "retainer_to_seal": 0.602,
            "masses": {"valve": 104.5, "retainer": 19.8, "locks": 5.1},
        }
    ],
}


def whole_job() -> Job:
    """One position with every reading there is."""
    return deepcopy(WHOLE)


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    """A head of 1 to 6 positions in inches, pounds-force and grams; readings may be missing, none contradict."""
    springs = [_spring(draw, place) for place in range(draw(st.integers(0, 3)))]
    names = [spring["id"] for spring in springs]
    kinds = ("intake", "exhaust")
    job: Job = {
        "units": {"length": "in", "force": "lbf", "mass": "g"},
        "shims": {"thicknesses": [0.015, 0.030, 0.060]},
        "valvetrain": {kind: _train(draw) for kind in kinds if draw(st.booleans())},
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
    if draw(st.booleans()):
        job["intended_speed"] = draw(st.integers(2000, 9000))
    return job


def lobe_readings(lift: float, half_width: int = 72, step: int = 4) -> list[Job]:
    """A lobe of lift (1 - x^2)^4 over so many cam degrees either side, read to a tenth of a thousandth."""
    angles = range(-half_width - 8, half_width + 9, step)
    return [{"angle": at, "lift": round(lift * max(1 - (at / half_width) ** 2, 0) ** 4, 4)} for at in angles]


def _train(draw: st.DrawFn) -> Job:
    train = _lift(draw)
    match draw(st.sampled_from(["unknown", "textbook", "table"])):
        case "textbook":
            profile = draw(
                st.sampled_from(["harmonic", "cycloidal", "polynomial_345", "polynomial_4567", "modified_sine"])
            )
            train["motion"] = {"kind": "textbook", "profile": profile, "shaft": "crank", "rise": 140, "fall": 150}
        case "table":
            side = "lobe" if "lobe_lift" in train else "valve"
            readings = lobe_readings(train[f"{side}_lift"])
            train["motion"] = {
                "kind": "table", "side": side, "shaft": "cam", "readings": readings, "lift_uncertainty": 0.00003,
            }  # fmt: skip
        case _:
            pass
    drives = ["bucket", "rocker_and_pushrod", None] if "valve_lift" in train else ["rocker_and_pushrod", None]
    train["drive"] = draw(st.sampled_from(drives))
    if draw(st.booleans()):
        train["lifter_mass"] = _thou(draw, 50_000, 120_000)
    return train


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
        inner: Job = {"seat_rise": _thou(draw, 0, 100)}
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


STAND_IN: Job = {"kind": "textbook", "profile": "harmonic", "shaft": "crank", "rise": 140, "fall": 140}
TABLE: Job = {
    "kind": "table", "side": "valve", "shaft": "cam", "readings": lobe_readings(0.49), "lift_uncertainty": 0.00003,
}  # fmt: skip


def float_job(motion: Job | None = None, **more: Any) -> Job:
    """One intake valve of 155 g on a spring of 294 lbf/in that pushes 117 lbf closed and 261.06 lbf at 0.49 in."""
    return {
        "intended_speed": 6000,
        "valvetrain": {
            "intake": {
                "drive": "bucket",
                "lifter_mass": 0.0,
                "valve_lift": 0.49,
                "motion": deepcopy(STAND_IN if motion is None else motion),
            }
        },
        "springs": [
            {
                "id": "S1",
                "load_curve": {
                    "kind": "bench",
                    "readings": [{"height": 1.75, "load": 117}, {"height": 1.25, "load": 264}],
                },
                "coil_bind_height": 1.12,
                "mass": 90.0,
            }
        ],
        "positions": [
            {
                "id": "1I",
                "valve": "intake",
                "installed_height": 1.75,
                "spring": "S1",
                "masses": {"valve": 100.0, "retainer": 20.0, "locks": 5.0},
            }
        ],
    } | more
