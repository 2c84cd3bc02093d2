"""Growth: what a request of the main job costs with 1 to 48 positions, and how near that is to a straight line."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterator
from typing import Final

import numpy as np
from tests.api.batches import AtOnce
from tests.benchmarks import asgi
from tests.benchmarks.jobs import whole_head
from tests.benchmarks.table import Row, time_text
from tests.benchmarks.turns import Effort, take_turns

from headbench.api.app import create_app

POSITIONS: Final = (1, 2, 4, 8, 16, 32, 48)


def measure(effort: Effort, loop: asyncio.AbstractEventLoop) -> Iterator[Row]:
    """What is fixed, what a position adds, and the largest deviation from the line through all."""
    service = create_app(AtOnce())
    bodies = {str(count): json.dumps(whole_head(count)).encode() for count in POSITIONS}
    turns = take_turns(
        {count: asgi.posts(service, "/v1/head-assembly", body, loop) for count, body in bodies.items()}, effort
    )
    seconds = np.array([turns.least(count) for count in bodies])
    each, fixed = np.polyfit(POSITIONS, seconds, 1).tolist()
    off = seconds / (fixed + each * np.array(POSITIONS)) - 1.0
    worst = int(np.abs(off).argmax())
    each_time = ", ".join(f"{count}: {time_text(one)}" for count, one in zip(POSITIONS, seconds.tolist(), strict=True))
    yield Row(
        f"`/v1/head-assembly` with 1 to {POSITIONS[-1]} positions, a straight line",
        f"{time_text(fixed)} and {time_text(each)} a position ({each_time})",
        f"off the line by {100.0 * off[worst]:+.1f} % at most, with {POSITIONS[worst]}",
    )
