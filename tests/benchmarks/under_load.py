"""Under load: the service as it ships, asked over HTTP for the demo's whole job at 70 % of what it can do.

The server runs on one core, what asks on another. First eight callers ask one after the other without a pause, which
gives the most the server can do; then jobs come at 70 % of that whether earlier ones are answered or not, each timed
from when it was due: at even intervals, where every wait is the service's own, and at random ones, where chance piles
jobs up as well. That is done a few times over, and the middle counts. It is wall clock, so the machine has to be
quiet; what the rounds run to says whether it was.
"""

from __future__ import annotations

import asyncio
import json
import os
import random
import signal
import socket
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from tests.benchmarks.jobs import ROOT, whole_head
from tests.benchmarks.table import Row, markdown, time_text

LOAD: Final = 0.7
ROUNDS: Final = 3
CALLERS: Final = 8
START_SECONDS: Final = 30.0

Streams = tuple[asyncio.StreamReader, asyncio.StreamWriter]


@contextmanager
def served() -> Iterator[tuple[int, int]]:
    """The service as it ships: its port and the process id of its command."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
    command = [sys.executable, "-m", "headbench.cli", "serve", "--port", str(port)]
    path = os.pathsep.join([str(ROOT / "service"), os.environ.get("PYTHONPATH", "")])
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL, env=os.environ | {"PYTHONPATH": path})  # noqa: S603
    try:
        for pid, core in zip((server.pid, 0), sorted(os.sched_getaffinity(0)), strict=False):
            os.sched_setaffinity(pid, {core})
        yield port, server.pid
    finally:
        server.send_signal(signal.SIGTERM)
        server.wait()


async def connect(port: int) -> Streams:
    """A connection, as soon as the server takes one."""
    until = time.monotonic() + START_SECONDS
    while True:
        with suppress(OSError):
            return await asyncio.open_connection("127.0.0.1", port)
        if time.monotonic() > until:
            sys.exit(f"the service did not start within {START_SECONDS:.0f} s")
        await asyncio.sleep(0.05)


async def ask(streams: Streams, message: bytes) -> bool:
    """Send one request and read its answer; False where the service is too busy and says so."""
    reader, writer = streams
    writer.write(message)
    head = await reader.readuntil(b"\r\n\r\n")
    status, _, rest = head.partition(b"\r\n")
    if not status.startswith((b"HTTP/1.1 200", b"HTTP/1.1 503")):
        raise RuntimeError(f"the service answered {status.decode()}")
    fields = dict(line.lower().split(b": ", 1) for line in rest.split(b"\r\n") if line)
    await reader.readexactly(int(fields[b"content-length"]))
    return b" 200" in status


async def capacity(port: int, message: bytes, seconds: float) -> float:
    """The most jobs per second the server answers."""
    connections = [await connect(port) for _ in range(CALLERS)]
    start = time.monotonic()

    async def caller(streams: Streams) -> int:
        answered = 0
        while not answered or time.monotonic() < start + seconds:
            if await ask(streams, message):
                answered += 1
        streams[1].close()
        return answered

    answered = await asyncio.gather(*map(caller, connections))
    return sum(answered) / (time.monotonic() - start)


async def waits(port: int, message: bytes, due: Sequence[float]) -> list[float]:
    """Seconds from when each job was due until its answer was there; none for those that were turned away."""
    idle: list[Streams] = []
    taken: list[float] = []
    start = time.monotonic() + 0.1

    async def job(at: float) -> None:
        streams = idle.pop() if idle else await connect(port)
        if await ask(streams, message):
            taken.append(time.monotonic() - start - at)
        idle.append(streams)

    tasks = []
    for at in due:
        await asyncio.sleep(start + at - time.monotonic())
        tasks.append(asyncio.create_task(job(at)))
    await asyncio.gather(*tasks)
    for _, writer in idle:
        writer.close()
    return taken


def memory(server: int) -> float:
    """Resident memory of the largest process below the server's: its worker [MB]; Linux alone tells it so."""
    children = Path(f"/proc/{server}/task/{server}/children").read_text().split()
    sizes = [
        int(line.split()[1])
        for child in children
        for line in Path(f"/proc/{child}/status").read_text().splitlines()
        if line.startswith("VmRSS:")
    ]
    return max(sizes) / 1024.0


def paced(rate: float, seconds: float, pause: Callable[[], float]) -> list[float]:
    """When jobs are due: so many per second on average, for so long."""
    due, at = [], 0.0
    while at < seconds:
        due.append(at)
        at += pause() / rate
    return due


@dataclass(frozen=True, slots=True)
class Round:
    """Jobs that came in one way for a while.

    half, nearly_all : seconds within which that part of them, and 99 of 100, were answered [s]
    jobs, turned_away : how many came, and how many of them the service was too busy for [-]
    """

    half: float
    nearly_all: float
    jobs: int
    turned_away: int


async def rounds_at(port: int, seconds: float) -> tuple[dict[str, list[Round]], list[float]]:
    """The rounds of each way in which jobs come, and the most jobs per second before each."""
    body = json.dumps(whole_head()).encode()
    head = f"POST /v1/head-assembly HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nContent-Type: application/json\r\n"
    message = f"{head}Content-Length: {len(body)}\r\n\r\n".encode() + body
    chance = random.Random(16)  # noqa: S311 - when jobs come is no secret
    pauses: dict[str, Callable[[], float]] = {"even": lambda: 1.0, "random": lambda: chance.expovariate(1.0)}
    rounds: dict[str, list[Round]] = {name: [] for name in pauses}
    most: list[float] = []
    # the first calls warm up
    await capacity(port, message, seconds / 4.0)
    for _ in range(ROUNDS):
        most.append(await capacity(port, message, seconds / 4.0))
        for name, pause in pauses.items():
            due = paced(LOAD * most[-1], seconds, pause)
            taken = await waits(port, message, due)
            half, nearly_all = np.quantile(taken, [0.5, 0.99]).tolist()
            rounds[name].append(Round(half, nearly_all, len(due), len(due) - len(taken)))
    return rounds, most


def load_row(name: str, rounds: Sequence[Round]) -> Row:
    """A line about jobs that come in one way."""
    by_ratio = sorted(rounds, key=lambda one: one.nearly_all / one.half)
    low, middle, high = (one.nearly_all / one.half for one in (by_ratio[0], by_ratio[len(rounds) // 2], by_ratio[-1]))
    usual = by_ratio[len(rounds) // 2]
    away = sum(one.turned_away for one in rounds)
    return Row(
        f"99th over 50th percentile at {100 * LOAD:.0f} % load, jobs at {name} intervals",
        f"{middle:.3g} ({time_text(usual.nearly_all)} over {time_text(usual.half)})",
        f"{low:.3g} to {high:.3g}; {away} of {sum(one.jobs for one in rounds)} jobs turned away",
    )


def measure(seconds: float = 3.0) -> list[Row]:
    """Start the service, ask for so long in every round, stop it."""
    cores = os.sched_getaffinity(0)
    try:
        with served() as (port, server):
            rounds, most = asyncio.run(rounds_at(port, seconds))
            size = memory(server)
    finally:
        os.sched_setaffinity(0, cores)
    return [
        Row(
            "jobs per second of a worker over HTTP, 16 positions",
            f"{statistics.median(most):.0f}",
            f"{min(most):.0f} to {max(most):.0f}",
        ),
        *(load_row(name, each) for name, each in rounds.items()),
        Row("memory of a worker after that", f"{size:.0f} MB", "resident"),
    ]


if __name__ == "__main__":
    print(markdown(measure()))
