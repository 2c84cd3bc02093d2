"""Jobs: what is posted, all of it made from the demo of a pair of heads."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any, Final

ROOT: Final = Path(__file__).parent.parent.parent


def demo(checkout: Path = ROOT) -> Any:
    """The demo of a checkout as it is, some of its readings not taken yet."""
    return json.loads((checkout / "shared" / "demo" / "two-heads.json").read_text())


def whole_head(positions: int = 16, checkout: Path = ROOT) -> Any:
    """The demo with every reading taken, and as many positions as wanted, each with a spring of its own.

    The stock of shims grows with them: sharing one that is short is another job than the one meant here.
    """
    job = demo(checkout)
    job["shims"]["in_stock"] = [math.ceil(positions / 16) * count for count in job["shims"]["in_stock"]]
    # what one is missing it has from the first
    springs = [job["springs"][0] | one for one in job["springs"]]
    lines = [job["positions"][0] | one for one in job["positions"]]
    job["springs"], job["positions"] = [], []
    for place in range(positions):
        turn, seat = divmod(place, len(lines))
        suffix = f"-{turn}" if turn else ""
        spring = springs[seat] | {"id": f"{springs[seat]['id']}{suffix}"}
        line = lines[seat] | {"id": f"{lines[seat]['id']}{suffix}", "spring": spring["id"]}
        job["springs"].append(spring)
        job["positions"].append(line)
    return job


ODD_VALVE: Final = "S1E"
USUAL_VALVE: Final = 92.4
"""The demo has a valve that is not like the others; what it is compared with does not look for such [g]."""


def of_two_readings(job: Any) -> Any:
    """A job whose springs were read at two heights each, about closed and open: a straight line; no valve is odd."""
    springs = []
    positions = [
        one | {"masses": one["masses"] | {"valve": USUAL_VALVE}} if one["id"] == ODD_VALVE else one
        for one in job["positions"]
    ]
    for spring in job["springs"]:
        curve = spring.get("load_curve")
        two = (
            {} if curve is None else {"load_curve": curve | {"readings": [curve["readings"][1], curve["readings"][-1]]}}
        )
        springs.append(spring | two)
    return job | {"springs": springs, "positions": positions}
