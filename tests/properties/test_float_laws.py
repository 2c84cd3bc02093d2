"""Laws of float: less known is never better, everything missing is asked for once, where it can be given."""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import TABLE, Job, float_job, lobe_readings

Client = TestClient[ASGIApp]
PATH = "/v1/valve-float"
Path = tuple[str | int, ...]

# accept is best, then borderline; what is not measured is no better than what is rejected
RANK = {"accept": 0, "borderline": 1, "not_measured": 2, "reject": 2}
# what a job asks for, and what it says of its own readings, is no reading
NO_READING = {"intended_speed", "limits", "id", "valve", "kind", "side", "angle", "lift", "lift_uncertainty"}


def rocker_job() -> Job:
    """Two intake valves behind rockers, everything measured, one inner spring."""
    job = float_job(TABLE)
    job["valvetrain"]["intake"] = {
        "drive": "rocker_and_pushrod", "lobe_lift": 0.325, "rocker_ratio": 1.5, "lash": 0.006,
        "rocker": {"kind": "scale", "tip": 40.0, "tail": 30.0}, "pushrod_mass": 45.0, "lifter_mass": 90.0,
        "motion": {
            "kind": "table", "side": "lobe", "shaft": "cam", "readings": lobe_readings(0.325), "lift_uncertainty": 0.00003,
        },
    }  # fmt: skip
    inner = {
        "seat_rise": 0.06, "mass": 30.0, "coil_bind_height": 1.0,
        "load_curve": {"kind": "bench", "readings": [{"height": 1.69, "load": 40}, {"height": 1.19, "load": 85}]},
    }  # fmt: skip
    job["springs"][0]["nested"] = [inner]
    job["positions"].append(deepcopy(job["positions"][0]) | {"id": "2I", "valve_lift": 0.48})
    job["positions"][1]["masses"] |= {"lash_cap": 1.5, "lifter": 91.0}
    return job


def bucket_job() -> Job:
    return float_job(TABLE)


def coil_bound_job() -> Job:
    """Open at 1.74 - 0.49 = 1.25, where the coils touch."""
    job = float_job(TABLE)
    job["springs"][0]["coil_bind_height"] = 1.25
    job["positions"][0] |= {"installed_height": 1.74, "valve_lift": 0.49}
    return job


def readings_in(part: Any, path: Path = ()) -> Iterator[Path]:
    """Where everything stands that was read."""
    entries: Any = part.items() if isinstance(part, dict) else enumerate(part) if isinstance(part, list) else ()
    for key, inner in entries:
        whole_position = path == ("positions",)
        # of the lobe's fifty readings a few will do
        skipped = key in NO_READING or (path[-2:] == ("motion", "readings") and key % 6 != 0)
        if not whole_position and not skipped:
            yield (*path, key)
        if not skipped:
            yield from readings_in(inner, (*path, key))


def without(job: Job, path: Path) -> Job:
    less = deepcopy(job)
    holder: Any = less
    for key in path[:-1]:
        holder = holder[key]
    del holder[path[-1]]
    return less


def could_be_there(pointer: str, job: Job) -> bool:
    """Whether what a pointer's last name belongs to is in the request; the valve train may be left out whole."""
    part: Any = job | {"valvetrain": {"intake": {}} | job.get("valvetrain", {})}
    for name in pointer.split("/")[1:-1]:
        try:
            part = part[int(name)] if isinstance(part, list) else part[name]
        except (KeyError, IndexError):
            return False
    return isinstance(part, dict | list)


@pytest.mark.parametrize("limits", [{}, {"float_reserve_minimum": 10, "surge_ratio_minimum": 7}])
@pytest.mark.parametrize("speed", [3000, 4400, 5200, 9000])
@pytest.mark.parametrize("job", [rocker_job(), bucket_job(), coil_bound_job()], ids=["rocker", "bucket", "coil bound"])
def test_leaving_out_a_reading_betters_no_verdict_and_is_asked_for_once(
    client: Client, job: Job, speed: float, limits: Job
) -> None:
    job = job | {"intended_speed": speed, "limits": limits}
    whole = client.post(PATH, json=job).json()
    assert whole["verdict"] != "not_measured"
    tried = 0
    for path in readings_in(job):
        less = without(job, path)
        response = client.post(PATH, json=less)
        # what contradicts itself without a reading, or is no request any more, has no verdict
        if response.status_code != 200:
            assert response.status_code in {400, 422}, (path, response.text)
            continue
        tried += 1
        answer = response.json()
        for one, other in zip(whole["positions"], answer["positions"], strict=True):
            assert RANK[other["verdict"]] >= RANK[one["verdict"]], (path, one["verdict"], other["verdict"])
        asked = [(item["pointer"], item["position"]) for item in answer["open_items"]]
        assert len(asked) == len(set(asked)), (path, asked)
        if answer["verdict"] == "not_measured":
            assert any("valve_float" in item["needed_for"] for item in answer["open_items"]), path
        for found in (*answer["open_items"], *answer["notes"]):
            assert could_be_there(found["pointer"], less), (path, found)
    assert tried > 8
