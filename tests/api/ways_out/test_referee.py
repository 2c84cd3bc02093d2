"""Ways out against all choices tried one by one, and the laws that any catalogue keeps."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.ways_jobs import benches, drawers, inches, ways_job
from tests.ways_referee import Bench, Choice, Drawer, best_ways

Client = TestClient[ASGIApp]
PATH = "/v1/ways-out"


def group(client: Client, job: dict[str, Any]) -> Any:
    response = client.post(PATH, json=job)
    assert response.status_code == 200, response.text
    (only,) = response.json()["groups"]
    return only


def names(way: Any) -> tuple[str, ...]:
    return (
        "".join(way["locks"]),
        way["retainer"] or "",
        way["locator"] or "",
        way["other_valve"] or "",
        "pocket" if way["pockets_cut"] else "",
    )


def assert_same(way: Any, choice: Choice) -> None:
    assert names(way) == choice.names
    assert way["parts_changed"] == len(choice.changed)
    assert way["shim_count"] == sum(len(one.shims) for one in choice.valves)
    for line, own in zip(way["positions"], choice.valves, strict=True):
        assert line["shims"] == pytest.approx([inches(one) for one in own.shims], abs=1e-9)
        assert line["pocket_depth"] == pytest.approx(inches(own.depth), abs=1e-9)
        wanted = "reject" if own.breaks else "not_measured" if own.open else "borderline" if own.off else "accept"
        assert line["verdict"] == wanted


@given(valves=benches(), drawer=drawers())
@settings(max_examples=100)
def test_the_ways_are_the_best_of_all_choices_tried_one_by_one(
    client: Client, valves: list[Bench], drawer: Drawer
) -> None:
    found = group(client, ways_job(valves, drawer))
    expected = best_ways(valves, drawer)
    assert [names(way) for way in found["ways"]] == [one.names for one in expected]
    for way, choice in zip(found["ways"], expected, strict=True):
        assert_same(way, choice)
    assert found["choice_proven"]
    assert (found["none"] is None) == (
        not found["change_needed"] or bool(found["ways"] and found["ways"][0]["may_put_right"])
    )


def how_bad(found: Any) -> tuple[float, ...]:
    """What the best that is offered misses: the first way, or as it is."""
    best = found["ways"][0] if found["ways"] else found["as_it_is"]
    missed = best["missed"]
    worst = max((_past(line) for line in best["positions"]), default=0.0)
    breaks = len({one["position"] for one in missed if one["check"] != "installed_height_check"})
    off = len({one["position"] for one in missed if one["check"] == "installed_height_check"})
    return breaks, off, round(worst, 6)


def is_no_worse(found: Any, other: Any) -> bool:
    """Whether the best that is offered stands no lower: among ways that miss as many, what waits comes before how far.

    Ways are offered by what they miss, so that one may wait for more than as it is.
    """
    if not (found["ways"] and other["ways"]):
        return how_bad(found) <= how_bad(other)
    (breaks, off, worst), (breaks_there, off_there, worst_there) = how_bad(found), how_bad(other)
    waiting, waiting_there = (
        sum(any(_waits(one) for one in line.values()) for line in each["ways"][0]["positions"])
        for each in (found, other)
    )
    return (breaks, off, waiting, worst) <= (breaks_there, off_there, waiting_there, worst_there)


def _waits(value: Any) -> bool:
    return isinstance(value, dict) and value.get("verdict") == "not_measured"


def _past(line: Any) -> float:
    checks = [one for name, one in line.items() if name.endswith("_check") and one is not None]
    return max(
        [-one["to_spare"] / one["limit"] for one in checks if one["to_spare"] is not None and one["to_spare"] < -1e-12],
        default=0.0,
    )


@given(valves=benches(), drawer=drawers(), more=drawers())
@settings(max_examples=30)
def test_more_parts_in_the_catalogue_never_make_the_best_way_worse(
    client: Client, valves: list[Bench], drawer: Drawer, more: Drawer
) -> None:
    def both(name: str) -> dict[str, int]:
        own: dict[str, int] = getattr(drawer, name)
        return own | {f"other {one}": value for one, value in getattr(more, name).items()}

    wider = Drawer(both("locks"), both("retainers"), both("locators"), both("valves"), max(drawer.pocket, more.pocket))
    # a deeper pocket is cut no deeper than it was needed, so that more leave to cut is more parts, too
    assert is_no_worse(group(client, ways_job(valves, wider)), group(client, ways_job(valves, drawer)))


@given(
    valves=benches(),
    drawer=drawers(),
    name=st.sampled_from(
        ["coil_bind_clearance_minimum", "retainer_to_seal_clearance_minimum", "tip_above_retainer_minimum",
         "pocket_floor_minimum", "installed_height_tolerance"]
    ),
    by=st.sampled_from([0.005, 0.02, 0.04]),
)  # fmt: skip
@settings(max_examples=30)
def test_a_limit_that_is_relaxed_never_makes_the_best_way_worse(
    client: Client, valves: list[Bench], drawer: Drawer, name: str, by: float
) -> None:
    strict = {
        "coil_bind_clearance_minimum": 0.060,
        "retainer_to_seal_clearance_minimum": 0.050,
        "tip_above_retainer_minimum": 0.060,
        "pocket_floor_minimum": 0.150,
        "installed_height_tolerance": 0.010,
    }
    other = strict[name] + by if name == "installed_height_tolerance" else strict[name] - by
    before, after = (
        how_bad(group(client, ways_job(valves, drawer, limits=limits)))[:2]
        for limits in (strict, strict | {name: other})
    )
    assert after <= before


@given(valves=benches(), drawer=drawers(), order=st.randoms(use_true_random=False))
@settings(max_examples=30)
def test_the_order_of_the_catalogue_changes_nothing(
    client: Client, valves: list[Bench], drawer: Drawer, order: Any
) -> None:
    job = ways_job(valves, drawer)
    found = group(client, job)
    for parts in job["catalogue"].values():
        order.shuffle(parts)
    assert group(client, job) == found


@given(valves=benches(), drawer=drawers())
@settings(max_examples=30)
def test_millimeters_change_nothing(client: Client, valves: list[Bench], drawer: Drawer) -> None:
    job = ways_job(valves, drawer)

    def metric(value: Any, name: str = "") -> Any:
        if isinstance(value, dict):
            return {key: metric(one, key) for key, one in value.items()}
        if isinstance(value, list):
            return [metric(one, name) for one in value]
        return value * 25.4 if isinstance(value, float) and name != "load" else value

    inch, other = group(client, job), group(client, metric(job) | {"units": {"length": "mm"}})
    assert [names(way) for way in other["ways"]] == [names(way) for way in inch["ways"]]
    for one, two in zip(inch["ways"], other["ways"], strict=True):
        for line, same in zip(one["positions"], two["positions"], strict=True):
            assert same["shims"] == pytest.approx([25.4 * size for size in line["shims"]])
            assert same["verdict"] == line["verdict"]


@given(valves=benches(most=2), drawer=drawers(), stock=st.lists(st.integers(0, 2), min_size=3, max_size=3))
@settings(max_examples=30)
def test_a_limited_stock_is_shared_in_the_best_way_for_every_choice(
    client: Client, valves: list[Bench], drawer: Drawer, stock: list[int]
) -> None:
    endless = ways_job(valves, drawer)
    limited = endless | {"shims": endless["shims"] | {"in_stock": stock}}
    found = group(client, limited)
    for way in found["ways"]:
        laid = [size for line in way["positions"] for size in line["shims"]]
        for size, count in zip(limited["shims"]["thicknesses"], stock, strict=True):
            assert sum(math.isclose(size, one) for one in laid) <= count
    assert is_no_worse(group(client, endless), found)
    if found["choice_proven"]:
        expected = best_ways(valves, drawer, stock)
        assert [names(way) for way in found["ways"]] == [one.names for one in expected]
        assert [way["shim_count"] for way in found["ways"]] == [one.standing[6] for one in expected]
    enough = endless | {"shims": endless["shims"] | {"in_stock": [20, 20, 20]}}
    assert group(client, enough) == group(client, endless)


@given(valves=benches(), drawer=drawers())
@settings(max_examples=30)
def test_what_puts_valves_right_was_measured_wherever_parts_come_nearer(
    client: Client, valves: list[Bench], drawer: Drawer
) -> None:
    for way in group(client, ways_job(valves, drawer))["ways"]:
        if not way["puts_right"]:
            continue
        raised = sum(drawer.locks[name] for name in way["locks"]) + drawer.retainers.get(way["retainer"], 0)
        for one, line in zip(valves, way["positions"], strict=True):
            assert one.seal is not None
            assert raised <= 0 or None not in {one.tip, one.rocker}
            assert line["pocket_depth"] == 0.0 or one.floor is not None


def test_the_referee_finds_what_is_plain_by_hand() -> None:
    # 1.715 bare, 1.750 wanted, seal 0.5480 - 0.4800 = 0.0680: 0.035 short and nothing else
    short = Bench("3E", 17_150, 5_480, 1_580, 2_400, rocker=1_500)
    drawer = Drawer(locks={"tall": 500}, pocket=600)
    locks, pocket = best_ways([short], drawer)
    assert (locks.names[0], locks.valves[0].shims, pocket.valves[0].depth) == ("tall", (150,), 350)
    assert best_ways([replace(short, bare=17_500)], drawer) == []
