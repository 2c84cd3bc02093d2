"""Springs: what load curves add to a head of 32 positions, and one dimensioned beehive at 50 heights."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import msgspec
from tests.benchmarks.beside_echo import HEAD
from tests.benchmarks.table import Row, ratio_row, time_text
from tests.benchmarks.turns import Effort, take_turns, timed

from headbench.api.app import RESOURCES

SPRING_LOAD: Final = next(one for one in RESOURCES if one.kind == "spring-load")
PAIR: Final = [(1.8, 104.0), (1.5, 187.0), (1.15, 296.0)]


def curve(share: float, lower: float) -> Any:
    """Three readings of one spring."""
    readings = [{"height": height - lower, "load": share * load} for height, load in PAIR]
    return {"kind": "bench", "readings": readings}


def head(*, with_curves: bool) -> Any:
    """32 positions, a dual spring of its own in each."""
    springs: list[Any] = []
    for place in range(32):
        inner: Any = {"seat_rise": 0.06, "coil_bind_height": 1.02}
        spring: Any = {"id": f"S{place}", "coil_bind_height": 1.1, "mass": 90.0, "nested": [inner]}
        if with_curves:
            spring["load_curve"], inner["load_curve"] = curve(0.7, 0.0), curve(0.3, 0.06)
        springs.append(spring)
    positions = [
        {
            "id": f"{place}",
            "valve": "intake" if place % 2 else "exhaust",
            "measured_height": 1.885 + 0.001 * place,
            "deduction": 0.09,
            "spring": f"S{place}",
            "retainer_to_seal": 0.62,
            "masses": {"valve": 100.0, "retainer": 20.0, "locks": 5.0},
        }
        for place in range(32)
    ]
    lift = {"valve_lift": 0.55}
    target = {"installed_height": 1.75}
    return {
        "shims": {"thicknesses": [0.015, 0.030, 0.060]},
        "valvetrain": {"intake": lift, "exhaust": lift},
        "targets": {"intake": target, "exhaust": target},
        "springs": springs,
        "positions": positions,
    }


def beehive() -> Any:
    """One dimensioned beehive at 50 heights."""
    spring = SPRING_LOAD.example["springs"][1]
    return {"units": {"stress": "ksi"}, "springs": [spring], "heights": [2.0 - 0.015 * step for step in range(50)]}


def measure(effort: Effort) -> Iterator[Row]:
    """A line each."""
    with_curves, without = (msgspec.convert(head(with_curves=there), HEAD.request) for there in (True, False))
    hive = msgspec.convert(beehive(), SPRING_LOAD.request)
    turns = take_turns(
        {
            "with": timed(lambda: HEAD(with_curves)),
            "without": timed(lambda: HEAD(without)),
            "beehive": timed(lambda: SPRING_LOAD(hive)),
        },
        effort,
    )
    yield ratio_row(
        "32 dual springs of 3 readings each, over the same head without their curves",
        turns.ratio("with", "without"),
        f"{time_text(turns.least('with'))} over {time_text(turns.least('without'))}",
    )
    yield Row("a dimensioned beehive at 50 heights", time_text(turns.least("beehive")), "shortest turn")
