"""Release: the main job here against another checkout of the service, each in a process of its own, turn by turn.

    git worktree add ../headbench-0.1.0 5aef210
    python -m tests.benchmarks.release --against ../headbench-0.1.0

Each posts the demo of its own checkout with every reading taken, since the names of fields have changed between
releases; what is measured and computed is the same. Both run in the environment that this is started with.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Final

from tests.benchmarks import asgi
from tests.benchmarks.jobs import ROOT, whole_head
from tests.benchmarks.table import Row, markdown, ratio_row, time_text
from tests.benchmarks.turns import Effort, Turn, take_turns

PATH: Final = "/v1/head-assembly"
POSITIONS: Final = (16, 1)


@contextmanager
def posting(checkout: Path) -> Iterator[Callable[[int], Turn]]:
    """Turns of posting so many positions to the service of a checkout, taken in a child process."""
    command = [sys.executable, "-m", "tests.benchmarks.release", "--turns", str(checkout.resolve())]
    path = os.pathsep.join([str(checkout.resolve() / "service"), str(ROOT)])
    with subprocess.Popen(  # noqa: S603 - our own
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=os.environ | {"PYTHONPATH": path}
    ) as child:
        asked, told = child.stdin, child.stdout
        if asked is None or told is None:
            raise OSError("the child has no pipes")

        def turn(positions: int, calls: int) -> float:
            print(positions, calls, file=asked, flush=True)
            return float(told.readline())

        # the child ends with its input
        yield lambda positions: partial(turn, positions)


def answer_turns(checkout: Path) -> None:
    """In the child: post as often as a line of the input says and tell the seconds that took, until the input ends."""
    # of the checkout that the path of this process names
    from tests.api.batches import AtOnce  # noqa: PLC0415

    from headbench.api import app as checked_out  # noqa: PLC0415

    # releases to 0.2.0 answered in the process that serves, later ones are held to it here
    here = [AtOnce()] if hasattr(checked_out, "desk") else []
    app, loop = checked_out.create_app(*here), asyncio.new_event_loop()
    bodies = {count: json.dumps(whole_head(count, checkout)).encode() for count in POSITIONS}
    for body in bodies.values():
        status, answer = loop.run_until_complete(asgi.post(app, PATH, body))
        if status != 200:
            sys.exit(f"{checkout} refuses its own demo: {answer.decode()}")
    turns = {count: asgi.posts(app, PATH, body, loop) for count, body in bodies.items()}
    for line in sys.stdin:
        count, calls = map(int, line.split())
        print(turns[count](calls), flush=True)
    loop.close()


def measure(effort: Effort, other: Path) -> Iterator[Row]:
    """A line per number of positions."""
    with posting(ROOT) as here, posting(other) as there:
        for count in POSITIONS:
            turns = take_turns({"here": here(count), "there": there(count)}, effort)
            times = [f"{time_text(turns.least(name))} {name}" for name in ("here", "there")]
            rates = [f"{1.0 / turns.least(name):.0f}" for name in ("here", "there")]
            yield ratio_row(
                f"`{PATH}`, {count} positions, one by one: jobs per second and core over those of {other.name}",
                turns.ratio("there", "here"),
                f"{' and '.join(times)}; {' and '.join(rates)} jobs/s",
            )


def main() -> None:
    """Measure, or take the turns of a child."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--against", type=Path, metavar="CHECKOUT", help="the other checkout")
    what.add_argument("--turns", type=Path, help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.turns:
        answer_turns(chosen.turns)
    else:
        print(markdown(measure(Effort(), chosen.against)))


if __name__ == "__main__":
    main()
