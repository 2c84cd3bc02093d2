"""Jobs: what is posted, all of it made from the demo of a pair of heads."""

from __future__ import annotations

import json
import math
from copy import deepcopy
from pathlib import Path
from typing import Any, Final

_DEMO: Final = Path(__file__).parent.parent.parent / "shared" / "demo" / "two-heads.json"


def demo() -> Any:
    """The demo as it is, some of its readings not taken yet."""
    return json.loads(_DEMO.read_text())


def whole_head(positions: int = 16) -> Any:
    """The demo with every reading taken, and as many positions as wanted, each with a spring of its own.

    The stock of shims grows with them: sharing one that is short is another job than the one meant here.
    """
    job = demo()
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


def of_two_readings(job: Any) -> Any:
    """A job whose springs were read at two heights each, about closed and open: a straight line."""
    job = deepcopy(job)
    for spring in job["springs"]:
        if "load_curve" in spring:
            readings = spring["load_curve"]["readings"]
            spring["load_curve"]["readings"] = [readings[1], readings[-1]]
    return job
