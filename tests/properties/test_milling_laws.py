"""Laws of milling, held through the API."""

from __future__ import annotations

import math
from collections.abc import Iterator
from copy import deepcopy
from functools import reduce
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job, example

EXAMPLE = example("milling")


Client = TestClient[ASGIApp]
PATH = "/v1/milling"

cuts = st.integers(0, 60).map(lambda thou: thou / 1000)
shapes = st.sampled_from(
    [
        {"kind": "area", "deck_area": 8.1},
        {"kind": "volume_per_depth", "volume_per_depth": 140.0},
        EXAMPLE["chamber_shape"],
    ]
)


def ask(client: Client, job: Job) -> Any:
    response = client.post(PATH, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def flat(depth: float, gasket_thickness_change: float = 0.0) -> Job:
    """The example with everything that can move, under a flat cut."""
    job = deepcopy(EXAMPLE)
    job |= {
        "cut": {"kind": "flat", "depth": depth},
        "block_decked": 0.0,
        "gasket_thickness_change": gasket_thickness_change,
    }
    job["intake_side"]["other_head"] = None
    del job["positions"][0]["seat_ground"]
    return job


def moved(answer: Any) -> Any:
    """Everything that depends on the head drop alone."""
    return {part: answer[part] for part in ("head_drop", "pushrods", "piston_to_valve", "cam_drive", "intake_side")}


def close(one: Any, other: Any) -> bool:
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(close(one[name], other[name]) for name in one)
    if isinstance(one, list):
        return len(one) == len(other) and all(map(close, one, other))
    if isinstance(one, float) and isinstance(other, int | float):
        return math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-9)
    return bool(one == other)


def test_no_cut_changes_nothing(client: Client) -> None:
    answer = ask(client, flat(0.0))
    assert [line["chamber_volume_after"] for line in answer["chambers"]] == [57.3, 56.8]
    before, after = (answer["compression"][state] for state in ("before", "after"))
    for line in (*before["chambers"], *after["chambers"]):
        # what is before the work decides nothing
        del line["quench_check"]["counts_toward_verdict"]
    assert before == after
    for line in answer["pushrods"]["positions"]:
        assert (line["shortening"], line["length_for_same_preload"]) == (0.0, line["length_before"])
    assert {line["lost"] for line in answer["piston_to_valve"]["positions"]} == {0.0}
    assert {answer["cam_drive"][part] for part in ("cam_retard", "advance_needed", "chain_slack")} == {0.0}
    for state in ("uncut_in_place", "uncut_at_rest", "faces_cut_only"):
        assert answer["intake_side"][state]["manifold_drop"] == 0.0
        for head in ("this_head", "other_head"):
            assert set(answer["intake_side"][state][head].values()) == {0.0}


@given(first=cuts, second=cuts)
def test_two_cuts_equal_one_of_both(client: Client, first: float, second: float) -> None:
    def chambers(depth: float, volumes: list[float]) -> Any:
        job = flat(depth) | {"chamber_shape": {"kind": "area", "deck_area": 8.1}}
        for chamber, volume in zip(job["chambers"], volumes, strict=True):
            chamber["chamber_volume"] = volume
        return [line["chamber_volume_after"] for line in ask(client, job)["chambers"]]

    assert chambers(second, chambers(first, [57.3, 56.8])) == pytest.approx(chambers(first + second, [57.3, 56.8]))
    parts = [ask(client, flat(depth)) for depth in (first, second, first + second)]

    def sums(*path: str) -> None:
        values = [reduce(lambda one, name: one[int(name) if isinstance(one, list) else name], path, p) for p in parts]
        assert values[0] + values[1] == pytest.approx(values[2], abs=1e-9), path

    sums("head_drop")
    sums("cam_drive", "cam_retard")
    sums("intake_side", "cuts", "rail_cut")
    sums("intake_side", "cuts", "this_head", "face_cut_top")
    sums("intake_side", "uncut_in_place", "this_head", "misalignment")
    sums("piston_to_valve", "positions", "0", "lost")


@given(cut=st.integers(1, 60).map(lambda thou: thou / 1000), shape=shapes)
def test_the_depth_for_what_a_cut_gives_is_that_cut(client: Client, cut: float, shape: Job) -> None:
    job = flat(cut) | {"chamber_shape": shape, "limits": {}}
    job["targets"] = {}
    forward = ask(client, job)
    for place in range(len(job["chambers"])):
        job["targets"] = {
            "chamber_volume": forward["chambers"][place]["chamber_volume_after"],
            "static_ratio": forward["compression"]["after"]["chambers"][place]["static_ratio"],
        }
        line = ask(client, job)["for_targets"]["depths"][place]
        # twelve digits of 64 cc are answered: 1e-9 of the depth where the chamber loses 0.1 cc a thou
        assert line["depth_for_volume"]["depth"] == pytest.approx(cut, rel=1e-9, abs=1e-11)
        assert line["depth_for_ratio"]["depth"] == pytest.approx(cut, rel=1e-9, abs=1e-11)


@given(cut=st.integers(1, 60).map(lambda thou: thou / 1000))
def test_a_gasket_as_thick_as_the_cut_undoes_what_depends_on_the_head_drop_and_nothing_else(
    client: Client, cut: float
) -> None:
    undone, nothing, alone = ask(client, flat(cut, cut)), ask(client, flat(0.0)), ask(client, flat(cut))
    assert moved(undone) == moved(nothing)
    assert [line["chamber_volume_after"] for line in undone["chambers"]] == [
        line["chamber_volume_after"] for line in alone["chambers"]
    ]
    assert undone["chambers"][0]["chamber_volume_after"] < 57.3
    before, after = (undone["compression"][state]["chambers"][0]["quench"] for state in ("before", "after"))
    assert after - before == pytest.approx(cut, abs=1e-11)


@given(cut=cuts)
def test_the_quench_stays_whatever_comes_off_the_head(client: Client, cut: float) -> None:
    change = ask(client, flat(cut))["compression"]
    for before, after in zip(change["before"]["chambers"], change["after"]["chambers"], strict=True):
        assert before["quench"] == after["quench"]


@given(
    one=st.tuples(cuts, st.integers(-20, 20)),
    other=st.tuples(cuts, st.integers(-20, 20)),
    tilt=st.sampled_from([-5.0, 0.0, 10.0]),
)
def test_a_v_seen_from_its_other_end_is_its_mirror_image(
    client: Client, one: tuple[float, int], other: tuple[float, int], tilt: float
) -> None:
    def head(depth: float, tenths: int) -> Job:
        # as deep as the tilt needs, so that nothing runs out on the deck
        outer = depth + max(0.0, -6.2 * math.tan(math.radians(tenths / 10)))
        return {"cut": {"kind": "tilt", "at": {"distance_across": 0.0, "depth": outer}, "tilt": tenths / 10}}

    sizes = {"distance_across": 6.2, "face_spacing": 9.5, "face_width": 2.6, "face_height": 1.9}
    v = {"bank_angle": 90, "face_tilt": tilt, **sizes}
    seen = ask(client, head(*one) | {"intake_side": v | {"other_head": head(*other)}})["intake_side"]
    mirrored = ask(client, head(*other) | {"intake_side": v | {"other_head": head(*one)}})["intake_side"]
    for part in ("cuts", "cuts_tilted", "uncut_in_place", "uncut_at_rest", "faces_cut_only"):
        here, there = seen[part], mirrored[part]
        if here is None:
            assert there is None
            continue
        assert close(here["this_head"], there["other_head"])
        assert close(here["other_head"], there["this_head"])
        for name in ("sideways", "manifold_tilt"):
            if name in here:
                assert here[name] == pytest.approx(-there[name], abs=1e-9)
        for name in ("drop", "rail_cut"):
            if name in here:
                assert here[name] == pytest.approx(there[name], abs=1e-9)


@given(depths=st.tuples(cuts, cuts), width=st.sampled_from([5.0, 6.0, 7.5]))
def test_a_wedge_measured_from_the_other_depth_first_is_the_same_wedge(
    client: Client, depths: tuple[float, float], width: float
) -> None:
    ends = [{"distance_across": place, "depth": depth} for place, depth in zip((0.0, width), depths, strict=True)]
    job = flat(0.0)
    job["intake_side"]["distance_across"] = width
    one = ask(client, job | {"cut": {"kind": "two_depths", "first": ends[0], "second": ends[1]}})
    other = ask(client, job | {"cut": {"kind": "two_depths", "first": ends[1], "second": ends[0]}})
    # sentences round, and a tie may fall either way: of them the codes alone
    codes = [[note["code"] for note in answer.pop("notes")] for answer in (one, other)]
    assert codes[0] == codes[1]
    assert close(one, other)


def _leaves(part: Any, place: tuple[str | int, ...]) -> Iterator[tuple[str | int, ...]]:
    """Every reading under a place of the job."""
    items = part.items() if isinstance(part, dict) else enumerate(part) if isinstance(part, list) else ()
    for name, inner in items:
        if isinstance(inner, dict | list):
            yield from _leaves(inner, (*place, name))
        elif name not in {"id", "kind"}:
            yield (*place, name)


READINGS = [
    place
    for part in ("chambers", "cylinder", "chamber_shape", "cam_drive", "chambers_measured")
    for place in (_leaves(EXAMPLE[part], (part,)) if part != "chambers_measured" else [(part,)])
    # a cylinder without a deck clearance of its own takes the one measured for all
    if place != ("chambers", 1, "deck_clearance")
]


def _verdicts(part: Any, place: str = "") -> Iterator[tuple[str, str | None]]:
    """Every verdict of an answer, by its place."""
    items = part.items() if isinstance(part, dict) else enumerate(part) if isinstance(part, list) else ()
    for name, inner in items:
        if name == "verdict":
            yield place, inner
        else:
            yield from _verdicts(inner, f"{place}/{name}")


def _nulls(part: Any) -> Iterator[str]:
    """The names of every field that is null."""
    for inner in part if isinstance(part, list) else part.values():
        if isinstance(inner, dict | list):
            yield from _nulls(inner)
    if isinstance(part, dict):
        yield from (name for name, inner in part.items() if inner is None)


@pytest.mark.parametrize("strict", [False, True])
@pytest.mark.parametrize("reading", READINGS, ids=lambda place: "/".join(map(str, place)))
def test_leaving_out_a_reading_betters_no_verdict_and_is_asked_for_once(
    client: Client, reading: tuple[str | int, ...], *, strict: bool
) -> None:
    job = deepcopy(EXAMPLE)
    if strict:
        job["limits"] |= {"head_thickness_minimum": 5.07, "quench_minimum": 0.05}
    whole = dict(_verdicts(ask(client, job)))
    holder: Any = job
    for name in reading[:-1]:
        holder = holder[name]
    del holder[reading[-1]]
    response = client.post(PATH, json=job)
    if response.status_code != 200:
        # what a section cannot do without, or what then contradicts the rest, is refused and no verdict given
        assert response.status_code in {400, 422}
        return
    answer = response.json()
    for place, verdict in _verdicts(answer):
        assert verdict != "accept" or whole.get(place, "accept") == "accept", place
    pointers = [item["pointer"] for item in answer["open_items"]]
    assert len(pointers) == len(set(pointers))
    waiting = {field for item in answer["open_items"] for field in item["needed_for"]}
    asked = [answer["chambers"], answer["seats"], answer["cam_drive"]]
    asked += [answer["compression"][state] for state in ("before", "after")]
    # every null of these but for what was never asked, and inside checks that are named whole, is waited for by name
    silent = {"quench_check", "intake_closing_lift", "value", "to_spare"}
    if reading == ("cylinder", "intake_closing"):
        silent.add("effective_ratio")
    assert set(_nulls(asked)) - silent <= waiting
