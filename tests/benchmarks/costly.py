"""Costly: the costliest jobs that the schema takes, what each costs, and how health checks fare meanwhile.

    python -m tests.benchmarks.costly

Processor time of one job in a process of its own kind, in JSON and in each form; then the service as it ships, asked
for all of them by eight callers without a pause, while somebody else asks whether it is alive, one after the other.
"""

from __future__ import annotations

import asyncio
import json
import sys
import time
from collections.abc import Iterator
from typing import Any, Final

import numpy as np
from tests.benchmarks.table import Row, markdown, time_text
from tests.benchmarks.under_load import connect, served

from headbench.api.app import RESOURCES, desk
from headbench.api.computing.starting import warm_up
from headbench.api.exchange.asking import JSON, Asked, Told
from headbench.api.matching.wish import MOST_MATCHED, MOST_SPRINGS
from headbench.api.springs.spring import MOST_DIMENSIONED
from headbench.sheet.forms import FORMS

CALLERS: Final = 8
CHECKS: Final = 2_000
_SIZES: Final = [0.0018, 0.0037, 0.0049, 0.0084, 0.0136, 0.0140, 0.0154, 0.0199, 0.0231, 0.0239, 0.0252, 0.0256]
"""Sizes that add up to thousands of different thicknesses."""


def wire_table(place: int) -> Any:
    """The dimensions of a spring like no other: ovate wire, and a table of as many points as one may have."""
    points = [
        {"turn": round(6.0 * at / 23, 5), "mean_diameter": round(1.6 - 0.0478 * at, 4), "pitch": 0.25 + 0.02 * (at % 4)}
        for at in range(24)
    ]
    wire = {"kind": "ovate", "radial": round(0.150 + 0.0001 * place, 4), "axial": 0.130}
    return {
        "kind": "dimensioned",
        "wire": wire,
        "shape": {"kind": "table", "points": points},
        "ends": "squared_and_ground",
        "total_coils": 8.5,
        "shear_modulus": 11500,
        "shear_modulus_source": "certificate",
        "telescoping": True,
        "material": "chrome_silicon_wire",
    }


def springs() -> list[Any]:
    """As many of them as one job may have, three to a valve."""
    return [
        {
            "id": f"S{valve}",
            "load_curve": wire_table(3 * valve),
            "nested": [{"seat_rise": 0.01, "load_curve": wire_table(3 * valve + inner)} for inner in (1, 2)],
        }
        for valve in range(MOST_DIMENSIONED // 3)
    ]


def jobs() -> Iterator[tuple[str, Any]]:
    """What is asked, by kind."""
    units = {"stress": "ksi"}
    yield (
        "spring-load",
        {
            "units": units,
            "springs": springs(),
            "heights": [round(2.0 - 0.015 * step, 4) for step in range(50)],
            "loads": [50.0 + 25.0 * step for step in range(10)],
            "working_heights": {"installed_height": 1.75, "valve_lift": 0.49},
            "curve_points": 100,
        },
    )
    positions = [
        {"id": f"{place}", "valve": "intake" if place % 2 else "exhaust", "measured_height": 1.80 + 0.001 * place}
        for place in range(128)
    ]
    shims = {"thicknesses": _SIZES, "shim_count_maximum": 6, "stack_maximum": 1, "in_stock": [40] * 12}
    targets = {kind: {"installed_height": 1.75} for kind in ("intake", "exhaust")}
    trains = {kind: {"valve_lift": 0.55} for kind in ("intake", "exhaust")}
    yield (
        "head-assembly",
        {
            "units": units,
            "shims": shims,
            "targets": targets,
            "valvetrain": trains,
            "springs": springs(),
            "positions": [
                one | {"spring": f"S{place % (MOST_DIMENSIONED // 3)}"} for place, one in enumerate(positions)
            ],
        },
    )
    yield "installed-height", {"shims": shims, "targets": targets, "positions": positions}
    yield "spring-matching", _matching(trains)


def _matching(trains: Any) -> Any:
    """As many springs and positions as are matched at once, and too few shims of every size."""

    def curve(closed: float) -> Any:
        heights = [round(1.85 - 0.03 * place, 4) for place in range(24)]
        loads = [round(closed + 100.0 * (1.75 - height), 3) for height in heights]
        return {
            "kind": "bench",
            "readings": [{"height": at, "load": load} for at, load in zip(heights, loads, strict=True)],
        }

    inner = [{"load_curve": curve(39.0), "coil_bind_height": 0.95} for _ in range(2)]
    wanted = {"installed_height": 1.75, "seat_load": 118.0, "open_load": 280.0}
    return {
        "shims": {"thicknesses": _SIZES, "shim_count_maximum": 6, "stack_maximum": 0.1, "in_stock": [2] * 12},
        "targets": {"intake": wanted, "exhaust": wanted},
        "valvetrain": trains,
        "match_springs": {"equalize": "both"},
        "springs": [
            {"id": f"S{place}", "load_curve": curve(39.0 + 0.1 * place), "coil_bind_height": 1.0, "nested": inner}
            for place in range(MOST_SPRINGS)
        ],
        "positions": [
            {
                "id": f"{place}",
                "valve": "intake" if place % 2 else "exhaust",
                "measured_height": round(1.75 + 0.0025 * place, 4),
                "deduction": 0,
                "spring": f"S{place}",
            }
            for place in range(MOST_MATCHED)
        ],
    }


def measure() -> Iterator[Row]:
    """A line for each job and form, then one for the health checks."""
    at = desk()
    warm_up(RESOURCES)
    worst: list[tuple[str, bytes]] = []
    for kind, job in jobs():
        body = json.dumps(job).encode()
        worst.append((kind, body))
        for form in (JSON, *(form.media_type for form in FORMS)):
            begin = time.process_time()
            told = at(Asked(kind, body, accept=form))
            seconds = time.process_time() - begin
            status = told.status if isinstance(told, Told) else 0
            if status not in {200, 422}:
                sys.exit(f"{kind} is refused with {status}: its cost means nothing")
            yield Row(f"costliest {kind} of {len(body) // 1000} kB, {form}", time_text(seconds), f"status {status}")
    waits = np.array(asyncio.run(_checked(worst)))
    middle, late, latest = (time_text(float(np.percentile(waits, share))) for share in (50.0, 99.9, 100.0))
    what = f"/health/live while {CALLERS} callers ask for these: the middle, 999 of 1,000, the latest"
    yield Row(what, f"{middle}, {late}", latest)


async def _checked(worst: list[tuple[str, bytes]]) -> list[float]:
    """How long each health check took."""
    with served() as (port, _):
        asking = [asyncio.create_task(_ask_on(port, *worst[place % len(worst)])) for place in range(CALLERS)]
        reader, writer = await connect(port)
        waits = []
        await asyncio.sleep(2.0)
        for _ in range(CHECKS):
            begin = time.perf_counter()
            writer.write(b"GET /health/live HTTP/1.1\r\nHost: bench\r\n\r\n")
            await reader.readuntil(b'{"status":"ok"}')
            waits.append(time.perf_counter() - begin)
            await asyncio.sleep(0.005)
        for one in asking:
            one.cancel()
        await asyncio.gather(*asking, return_exceptions=True)
        return waits


async def _ask_on(port: int, kind: str, body: bytes) -> None:
    head = f"POST /v1/{kind} HTTP/1.1\r\nHost: bench\r\nContent-Type: {JSON}\r\nContent-Length: {len(body)}\r\n\r\n"
    reader, writer = await connect(port)
    while True:
        writer.write(head.encode() + body)
        fields = await reader.readuntil(b"\r\n\r\n")
        size = next(line for line in fields.lower().split(b"\r\n") if line.startswith(b"content-length:"))
        await reader.readexactly(int(size.partition(b":")[2]))


if __name__ == "__main__":
    print(markdown(list(measure())))
