"""What load curves cost: a head of 32 positions with and without them, and one dimensioned beehive.

Both heads are answered in turns in one process; the ratio is what counts. Run with: make bench
"""

from __future__ import annotations

import statistics
import time
from typing import Any, Final

import msgspec

from headbench.api.head import head_assembly
from headbench.api.head.job import HeadAssemblyRequest
from headbench.api.springs import spring_load
from headbench.api.springs.spring_load import SpringLoadRequest

ROUNDS: Final = 200
PAIR: Final = [(1.8, 104.0), (1.5, 187.0), (1.15, 296.0)]


def curve(share: float, lower: float) -> Any:
    """Three readings of one spring."""
    readings = [{"height": height - lower, "load": share * load} for height, load in PAIR]
    return {"kind": "bench", "readings": readings}


def head(*, with_curves: bool) -> HeadAssemblyRequest:
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
    job = {
        "shims": {"thicknesses": [0.015, 0.030, 0.060]},
        "valvetrain": {"intake": lift, "exhaust": lift},
        "targets": {"intake": target, "exhaust": target},
        "springs": springs,
        "positions": positions,
    }
    return msgspec.convert(job, HeadAssemblyRequest)


def beehive() -> SpringLoadRequest:
    """One dimensioned beehive at 50 heights."""
    spring = spring_load.RESOURCE.example["springs"][1]
    job = {"units": {"stress": "ksi"}, "springs": [spring], "heights": [2.0 - 0.015 * step for step in range(50)]}
    return msgspec.convert(job, SpringLoadRequest)


def main() -> None:
    """Print the medians and what the curves add."""
    with_curves, without, hive = head(with_curves=True), head(with_curves=False), beehive()
    added, hives = [], []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        head_assembly.RESOURCE(without)
        middle = time.perf_counter()
        head_assembly.RESOURCE(with_curves)
        end = time.perf_counter()
        added.append((end - middle) / (middle - start) - 1.0)
        start = time.perf_counter()
        spring_load.RESOURCE(hive)
        hives.append(time.perf_counter() - start)
    print(f"32 dual springs of 3 readings add {100 * statistics.median(added):.0f} % to the head (median of {ROUNDS})")
    print(f"a dimensioned beehive at 50 heights takes {1e3 * statistics.median(hives):.2f} ms (median of {ROUNDS})")


if __name__ == "__main__":
    main()
