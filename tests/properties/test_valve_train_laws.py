"""Laws of piston-to-valve clearance and pushrods, held through the API."""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job

Client = TestClient[ASGIApp]
CLEARANCES, PUSHRODS = "/v1/piston-to-valve", "/v1/pushrod-length"

# accept is best, then borderline; not_measured and reject are both not good
GOOD = {"accept": 0, "borderline": 1, "not_measured": 2, "reject": 2}


def maybe(value: Any) -> Any:
    return st.one_of(st.none(), value if isinstance(value, st.SearchStrategy) else st.just(value))


def thou(low: int, high: int) -> Any:
    return st.integers(low, high).map(lambda count: count / 1000)


cuts = st.one_of(
    st.builds(lambda depth: {"kind": "flat", "depth": depth}, thou(0, 50)),
    st.builds(
        lambda depth, tenths: {"kind": "tilt", "at": {"distance_across": 3.0, "depth": depth}, "tilt": tenths / 10},
        thou(40, 60),
        st.integers(-12, 12),
    ),
)
dials = st.builds(
    lambda low, count: {
        "kind": "dial",
        "readings": [{"crank_angle": 5 * n, "clearance": round(low + 0.003 * (n - 2) ** 2, 4)} for n in range(count)],
    },
    thou(60, 180),
    st.integers(1, 5),
)
clays = st.builds(lambda thinnest: {"kind": "clay", "thinnest_clay": thinnest}, thou(0, 200))
clearances = st.fixed_dictionaries(
    {
        "crown": st.sampled_from(["flat", "pocket"]),
        "valve_angle": maybe(st.sampled_from([0, 15, 23])),
        "stem_leans": maybe(st.sampled_from(["toward_intake", "away_from_intake"])),
        "read": maybe(st.one_of(dials, clays)),
    }
)
pushrods = st.fixed_dictionaries(
    {
        "geometry": maybe({"kind": "length_and_angle", "length": 8.15, "angle": 8}),
        "preload": maybe(thou(-10, 100)),
        "mock_up": maybe(st.builds(lambda preload: {"length": 8.1, "preload": preload}, thou(-10, 100))),
    }
)
places = {
    "distance_across": maybe(st.sampled_from([2.0, 4.0])),
    "seat_ground": st.sampled_from([0.0, 0.006]),
}


def jobs_of(part: str, own: Any, more: Job) -> Any:
    position = st.fixed_dictionaries({**places, part: own, **more, "valve": st.sampled_from(["intake", "exhaust"])})
    return st.builds(
        lambda cut, gasket, positions: {
            "cut": cut,
            "gasket_thickness_change": gasket,
            "positions": [{"id": str(n), **one} for n, one in enumerate(positions)],
        },
        cuts,
        thou(-20, 40),
        st.lists(position, min_size=1, max_size=2),
    )


JOBS = st.one_of(
    jobs_of("piston_to_valve", clearances, {"head_diameter": maybe(2.02)}).map(lambda job: (CLEARANCES, job)),
    jobs_of("pushrod", pushrods, {"rocker_ratio": maybe(1.5)}).map(lambda job: (PUSHRODS, job)),
)
READINGS = (
    "distance_across", "head_diameter", "rocker_ratio", "piston_to_valve/valve_angle", "piston_to_valve/stem_leans",
    "piston_to_valve/read", "pushrod/geometry", "pushrod/preload",
)  # fmt: skip


def ask(client: Client, path: str, job: Job) -> Any:
    response = client.post(path, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def without_one(job: Job) -> Iterator[tuple[str, Job]]:
    """The job without each reading it has. A mock-up is none of them: it stands in place of a preload that was read."""
    for place in range(len(job["positions"])):
        for reading in READINGS:
            less = deepcopy(job)
            holder = less["positions"][place]
            *parents, last = reading.split("/")
            for parent in parents:
                holder = holder.get(parent, {})
            if holder.get(last) is not None:
                holder[last] = None
                yield f"/positions/{place}/{reading}", less


@given(asked=JOBS)
def test_leaving_out_a_reading_never_betters_a_verdict(client: Client, asked: tuple[str, Job]) -> None:
    path, job = asked
    whole = ask(client, path, job)
    for reading, less in without_one(job):
        answer = ask(client, path, less)
        assert GOOD[answer["verdict"]] >= GOOD[whole["verdict"]], reading


@given(asked=JOBS)
def test_every_open_item_names_a_reading_that_is_not_there_and_fields_that_wait(
    client: Client, asked: tuple[str, Job]
) -> None:
    path, job = asked
    answer = ask(client, path, job)
    pointers = [item["pointer"] for item in answer["open_items"]]
    assert len(set(pointers)) == len(pointers)
    for item in answer["open_items"]:
        if item["position"] is None:
            continue
        number, _, reading = item["pointer"].removeprefix("/positions/").partition("/")
        holder: Any = job["positions"][int(number)]
        *parents, last = reading.split("/")
        for parent in parents:
            holder = holder[parent]
        # a run of a dial is there, and asked to go on
        assert holder.get(last) is None or last == "readings"
        line = answer["positions"][int(number)]
        for field in item["needed_for"]:
            value = line[field]
            waits = value is None or (isinstance(value, dict) and value["verdict"] in {"not_measured", "reject"})
            assert waits, (item["pointer"], field)


@given(asked=JOBS)
def test_every_note_points_to_what_is_in_the_request(client: Client, asked: tuple[str, Job]) -> None:
    path, job = asked
    for note in ask(client, path, job)["notes"]:
        holder: Any = job
        for step in note["pointer"].split("/")[1:]:
            holder = holder[int(step)] if isinstance(holder, list) else holder[step]
        assert holder is not None
        if note["pointer"].startswith("/positions/"):
            assert f"Position {holder_of(job, note['pointer'])['id']}:" in note["detail"]


def holder_of(job: Job, pointer: str) -> Job:
    """The position that a pointer is about."""
    position: Job = job["positions"][int(pointer.split("/")[2])]
    return position


@pytest.mark.parametrize("limit", [0.0, 0.05])
@given(gap=st.integers(-50, 50), angle=st.sampled_from([0, 15]), crown=st.sampled_from(["flat", "pocket"]))
def test_a_valve_that_touches_its_piston_is_rejected_whatever_the_minimum(
    client: Client, limit: float, gap: int, angle: int, crown: str
) -> None:
    # a head that stays leaves the clay as it was: 0 touches, below is brought about by a valve along the bore
    job = {
        "cut": {"kind": "flat", "depth": max(-gap, 0) / 1000},
        "limits": {"piston_to_intake_valve_minimum": limit},
        "positions": [
            {
                "id": "1I",
                "valve": "intake",
                "piston_to_valve": {
                    "crown": crown,
                    "valve_angle": angle,
                    "read": {"kind": "clay", "thinnest_clay": max(gap, 0) / 1000},
                },
            }
        ],
    }
    verdict = ask(client, CLEARANCES, job)["verdict"]
    assert (verdict == "reject") == (gap <= 0 or gap / 1000 < limit)
