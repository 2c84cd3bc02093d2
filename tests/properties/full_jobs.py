"""Full jobs: a request to every endpoint with every reading taken that it can use."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

from tests.api.jobs import Job, lobe_readings, whole_job

from headbench.api.app import RESOURCES

EXAMPLES: dict[str, Job] = {resource.path: resource.example for resource in RESOURCES}


def full_head() -> Job:
    """Two intake valves and an exhaust valve with everything read, nested springs, float and gaps among it."""
    job = whole_job()
    job["intended_speed"] = 4000
    job["limits"] |= {"float_reserve_minimum": 5, "surge_ratio_minimum": 5}
    train = {
        "drive": "rocker_and_pushrod", "lobe_lift": 0.325, "rocker_ratio": 1.5,
        "rocker": {"kind": "scale", "tip": 40.0, "tail": 30.0}, "pushrod_mass": 45.0, "lifter_mass": 90.0,
        "motion": {
            "kind": "table", "side": "lobe", "shaft": "cam", "readings": lobe_readings(0.325),
            "lift_uncertainty": 0.00003,
        },
    }  # fmt: skip
    job["valvetrain"] = {"intake": train, "exhaust": deepcopy(train)}
    job["targets"]["exhaust"] = deepcopy(job["targets"]["intake"])
    spring = job["springs"][0]
    spring["rating"] = {"height": 1.75, "load": 122, "rate": 302, "load_tolerance": 8}
    spring["nested"] = [
        {
            "seat_rise": 0.06, "mass": 30.0, "coil_bind_height": 1.0,
            "load_curve": {"kind": "bench", "readings": [{"height": 1.69, "load": 4}, {"height": 1.19, "load": 8}]},
        }
    ]  # fmt: skip
    job["springs"] = [deepcopy(spring) | {"id": f"S{place}"} for place in (1, 2, 3)]
    valve = job["positions"][0] | {"retainer_to_rocker": 0.07, "seal_to_spring": 0.06}
    job["positions"] = [
        deepcopy(valve) | {"id": name, "valve": kind, "spring": spring}
        for name, kind, spring in (("1I", "intake", "S1"), ("2I", "intake", "S2"), ("1E", "exhaust", "S3"))
    ]
    return job


def jobs_by_path() -> list[tuple[str, Job]]:
    """Every endpoint with its published example, the head with a full job, with rejected ones and with locators."""
    head = full_head()
    tight = full_head()
    tight["springs"][0]["coil_bind_height"] = 1.24
    tight["positions"][1]["retainer_to_seal"] = 0.51
    off = full_head()
    off["positions"][0]["measured_height"] = 1.815
    off["targets"]["intake"]["open_load"] = 300
    located = full_head()
    located["positions"][0] |= {"locator_thickness": 0.030, "locator_in_place": True}
    located["positions"][1] |= {"locator_thickness": 0.030, "locator_in_place": False}
    located["positions"][1]["measured_height"] += 0.030
    return [
        *EXAMPLES.items(),
        ("/v1/head-assembly", head),
        ("/v1/head-assembly", tight),
        ("/v1/head-assembly", off),
        ("/v1/head-assembly", located),
    ]


Path = tuple[str | int, ...]


def at(part: Any, path: Path) -> Any:
    """What stands at a path."""
    for key in path:
        part = part[key]
    return part


def without(job: Job, path: Path) -> Job:
    """The job with one field left out."""
    less = deepcopy(job)
    del at(less, path[:-1])[path[-1]]
    return less
