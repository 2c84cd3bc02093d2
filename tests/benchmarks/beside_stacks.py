"""Beside other stacks: the same subset of the main job as a team would otherwise write it, answering the same numbers.

Installed heights, shims, loads by two readings a spring, coil bind, retainer to seal, moving masses and verdicts. The
service does that and the rest of the sheet (stock, runners-up, spreads, notes, open items, cautions, a strict door with
counts and log lines); the others do that alone. See stacks/.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterator
from typing import Any, Final

from tests.api.batches import AtOnce
from tests.benchmarks import asgi
from tests.benchmarks.jobs import of_two_readings, whole_head
from tests.benchmarks.stacks import plain, with_pint
from tests.benchmarks.table import Row, ratio_row, time_text
from tests.benchmarks.turns import Effort, take_turns

from headbench.api.app import create_app

PATH: Final = "/v1/head-assembly"
STACKS: Final[dict[str, asgi.App]] = {
    "FastAPI, pydantic, pint on every value": with_pint.app,
    "FastAPI, pydantic, plain floats": plain.app,
}


def answers(app: asgi.App, job: Any, loop: asyncio.AbstractEventLoop) -> Any:
    """What an application answers to a job."""
    _, answer = loop.run_until_complete(asgi.post(app, PATH, json.dumps(job).encode()))
    return json.loads(answer)


def measure(effort: Effort, loop: asyncio.AbstractEventLoop) -> Iterator[Row]:
    """A line per stack."""
    body = json.dumps(of_two_readings(whole_head())).encode()
    apps: dict[str, asgi.App] = {"headbench": create_app(AtOnce()), **STACKS}
    turns = take_turns({name: asgi.posts(app, PATH, body, loop) for name, app in apps.items()}, effort)
    for name in STACKS:
        times = f"{time_text(turns.least(name))} of {time_text(turns.least('headbench'))}"
        yield ratio_row(
            f"the subset of 16 positions in {name}: its time over the whole sheet's here",
            turns.ratio(name, "headbench"),
            times,
        )
