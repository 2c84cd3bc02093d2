"""Jobs of ways out, made of what the referee reads."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from hypothesis import strategies as st
from tests import ways_referee as by_hand
from tests.ways_referee import Bench, Drawer

Job = dict[str, Any]
SPRING: Job = {
    "id": "C01",
    "load_curve": {"kind": "bench", "readings": [{"height": 1.75, "load": 118}, {"height": 1.25, "load": 262}]},
    "coil_bind_height": by_hand.BIND / 1e4,
}


def inches(value: int | None) -> float | None:
    return None if value is None else value / 1e4


def position(valve: Bench, kind: str = "exhaust") -> Job:
    return {
        "id": valve.name,
        "valve": kind,
        "measured_height": inches(valve.bare),
        "deduction": 0.0,
        "locator_thickness": inches(valve.locator) or None,
        "locator_in_place": True if valve.locator else None,
        "spring": "C01",
        "retainer_to_seal": inches(valve.seal),
        "tip_above_retainer": inches(valve.tip),
        "retainer_to_rocker": inches(valve.rocker),
        "pocket_floor": inches(valve.floor),
    }


def catalogue(drawer: Drawer) -> Job:
    listed = (
        ("locks", "offset", drawer.locks),
        ("retainers", "offset", drawer.retainers),
        ("locators", "thickness", drawer.locators),
        ("valves", "length_change", drawer.valves),
    )
    found: Job = {
        name: [{"id": own, number: inches(value)} for own, value in parts.items()] for name, number, parts in listed
    }
    return found | {"pocket_cuts": [{"depth_maximum": inches(drawer.pocket)}] if drawer.pocket else []}


def ways_job(valves: Sequence[Bench], drawer: Drawer, **others: Any) -> Job:
    return {
        "shims": {"thicknesses": [inches(size) for size in by_hand.SIZES]},
        "valvetrain": {"exhaust": {"valve_lift": inches(by_hand.LIFT)}},
        "targets": {"exhaust": {"installed_height": inches(by_hand.TARGET)}},
        "springs": [SPRING],
        "positions": [position(valve) for valve in valves],
        "catalogue": catalogue(drawer),
    } | others


@st.composite
def benches(draw: st.DrawFn, most: int = 3) -> list[Bench]:
    """Valves that are short, tall, near their seals, and some readings not taken."""

    def read(low: int, high: int, unread: int) -> int | None:
        return None if draw(st.integers(1, 10)) <= unread else draw(st.integers(low // 10, high // 10)) * 10

    locator, rockers = draw(st.sampled_from([0, 0, 300])), draw(st.booleans())
    return [
        Bench(
            f"{place + 1}E",
            draw(st.integers(1_690, 1_830)) * 10,
            read(5_200, 6_000, unread=1),
            read(700, 1_800, unread=1),
            read(1_600, 2_800, unread=2),
            locator,
            read(500, 1_500, unread=2) if rockers else None,
        )
        for place in range(draw(st.integers(1, most)))
    ]


def _parts(name: str, low: int, high: int, most: int) -> st.SearchStrategy[dict[str, int]]:
    numbers = st.integers(low // 10, high // 10).map(lambda one: one * 10)
    return st.lists(numbers, max_size=most).map(lambda found: {f"{name}{at}": one for at, one in enumerate(found)})


def drawers() -> st.SearchStrategy[Drawer]:
    """Some parts of every kind."""
    return st.builds(
        Drawer,
        locks=_parts("lock ", -700, 700, 3),
        retainers=_parts("retainer ", -400, 400, 1),
        locators=_parts("locator ", 0, 600, 1),
        valves=_parts("valve ", -500, 1_200, 2),
        pocket=st.sampled_from([0, 250, 600]),
    )
