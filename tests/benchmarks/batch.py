"""A batch of many jobs through the live service: jobs a second and core, growth with the lines, memory on the way.

Processor time is read off the service's processes, so that the caller here and whatever else runs does not count;
what is compared runs in turns. Run with: python -m tests.benchmarks.batch [lines, 100000 unless named]
"""

from __future__ import annotations

import http.client
import json
import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterable, Iterator
from contextlib import suppress
from itertools import cycle, islice
from pathlib import Path
from typing import Any, Final, Union

import msgspec
import numpy as np
from tests.streaming import streamed

from headbench.api.app import RESOURCES
from headbench.api.batch.jobs import BatchAnswered, job_types
from headbench.api.exchange.decoding import decode

ROOT: Final = Path(__file__).parent.parent.parent
MEGABYTE: Final = 1e6
TURNS: Final = 5
TURN_LINES: Final = 500
SAMPLES: Final = 100
POSITIONS: Final = (16, 1)


class Service:
    """The service as it is shipped, and its processes."""

    def __init__(self) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port: int = probe.getsockname()[1]
        self.address = f"http://127.0.0.1:{port}"
        command = [sys.executable, "-m", "headbench.cli", "serve", "--port", str(port)]
        self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL)  # noqa: S603 - our own
        while True:
            try:
                urllib.request.urlopen(f"{self.address}/health/ready", timeout=1.0).close()  # noqa: S310 - our own
                break
            except OSError:
                time.sleep(0.1)

    def processes(self) -> list[int]:
        """It and all that it started, by their ids."""
        found, waiting = [], [self.process.pid]
        while waiting:
            pid = waiting.pop()
            found.append(pid)
            for task in Path(f"/proc/{pid}/task").glob("*"):
                with suppress(OSError):
                    waiting += map(int, (task / "children").read_text().split())
        return found

    def seconds(self) -> float:
        """Processor time it has taken so far, to the nanosecond."""
        tasks = (task for pid in self.processes() for task in Path(f"/proc/{pid}/task").glob("*"))
        return 1e-9 * sum(int((task / "schedstat").read_text().split()[0]) for task in tasks)

    def memory(self) -> dict[int, float]:
        """Resident memory of each of its processes [bytes]."""
        page = os.sysconf("SC_PAGE_SIZE")
        return {pid: int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * page for pid in self.processes()}

    def batch(self, lines: list[bytes], count: int) -> Iterator[int]:
        """Have so many lines answered; how many are, as they come."""
        answered = 0
        for part in streamed(self.address, blocks(lines, count)):
            answered += part.count(b"\n")
            yield answered
        if answered != count:
            sys.exit(f"{count} lines got {answered} answers")

    def one_by_one(self, bodies: Iterable[bytes]) -> None:
        """Post jobs by themselves, all over one connection."""
        connection = http.client.HTTPConnection(self.address.removeprefix("http://"), timeout=120.0)
        for body in bodies:
            connection.request("POST", "/v1/head-assembly", body, {"Content-Type": "application/json"})
            connection.getresponse().read()
        connection.close()

    def end(self) -> None:
        """Stop it."""
        self.process.terminate()
        self.process.wait()


def jobs(positions: int) -> list[Any]:
    """A hundred jobs that differ, each with so many positions of the demo's."""
    job = json.loads((ROOT / "shared" / "demo" / "two-heads.json").read_text())
    rows = job["positions"][:positions]
    return [job | {"positions": [higher(row, 0.0001 * number) for row in rows]} for number in range(100)]


def higher(row: Any, by: float) -> Any:
    """A position whose spring space, if anybody measured it, is so much higher."""
    read = row.get("measured_height")
    return row if read is None else row | {"measured_height": round(read + by, 4)}


def as_lines(requests: list[Any]) -> list[bytes]:
    """The same as lines of a batch."""
    named = ({"kind": "head-assembly", "id": f"J-{n}", "request": one} for n, one in enumerate(requests))
    return [json.dumps(one).encode() + b"\n" for one in named]


def blocks(lines: list[bytes], count: int) -> Iterator[bytes]:
    """So many lines, a hundred at a time."""
    every = cycle(lines)
    for start in range(0, count, 100):
        yield b"".join(islice(every, min(100, count - start)))


def alone(lines: list[bytes]) -> float:
    """Seconds a line takes to be decoded and its answer, made before, to be encoded; nothing is computed."""
    types: Any = Union[tuple(job_types(RESOURCES))]  # noqa: UP007 - of types that are only known here
    compute = next(one for one in RESOURCES if one.kind == "head-assembly")
    sheets = [compute(decode(raw, types).request) for raw in lines]
    start = time.thread_time()
    for number in range(TURN_LINES):
        job = decode(lines[number % len(lines)], types)
        msgspec.json.encode(BatchAnswered(line=number, id=job.id, status=200, answer=sheets[number % len(sheets)]))
    return (time.thread_time() - start) / TURN_LINES


def compare(service: Service, positions: int) -> None:
    """Print what a job costs in a batch, by itself, and where it is only decoded and encoded."""
    requests = jobs(positions)
    lines, bodies = as_lines(requests), [json.dumps(one).encode() for one in requests]
    turns: dict[str, list[float]] = {"batch": [], "one by one": [], "decode and encode": []}
    for _ in range(TURNS):
        before = service.seconds()
        list(service.batch(lines, TURN_LINES))
        between = service.seconds()
        service.one_by_one(islice(cycle(bodies), TURN_LINES))
        turns["batch"].append((between - before) / TURN_LINES)
        turns["one by one"].append((service.seconds() - between) / TURN_LINES)
        turns["decode and encode"].append(alone(lines))
    least = {name: min(seconds) for name, seconds in turns.items()}
    print(f"{positions} positions, {len(lines[0])} bytes a line (least of {TURNS} turns of {TURN_LINES})")
    for name, seconds in least.items():
        times = least["batch"] / seconds
        print(f"  {name:18} {1e6 * seconds:7.0f} us a job, {1 / seconds:6.0f} jobs a second and core, {times:5.2f}")


def grow(service: Service, most: int) -> None:
    """Print processor time over the number of lines, and how it fits a straight line."""
    lines = as_lines(jobs(1))
    counts = [count for count in (1_000, 3_000, 10_000, 30_000, 100_000) if count <= most]
    seconds = []
    for count in counts:
        before = service.seconds()
        list(service.batch(lines, count))
        seconds.append(service.seconds() - before)
    slope = float(np.dot(counts, seconds) / np.dot(counts, counts))
    print("growth, 1 position")
    for count, took in zip(counts, seconds, strict=True):
        print(f"  {count:7} lines {took:8.2f} s, {took / (slope * count):.3f} of the straight line")


def watch(service: Service, count: int) -> None:
    """Print the memory of each process over a long batch, from a tenth of it on."""
    lines = [
        line for pair in zip(*(as_lines(jobs(positions)) for positions in POSITIONS), strict=True) for line in pair
    ]
    curve: list[tuple[int, dict[int, float]]] = []
    start = time.perf_counter()
    for answered in service.batch(lines, count):
        if answered >= (len(curve) + 1) * count // SAMPLES:
            curve.append((answered, service.memory()))
    print(f"memory, {count} lines of 16 positions and of 1 in turn, {time.perf_counter() - start:.0f} s")
    curve = curve[SAMPLES // 10 :]
    for pid in sorted(set.intersection(*(set(memory) for _, memory in curve))):
        at = [answered for answered, _ in curve]
        sizes = [memory[pid] / MEGABYTE for _, memory in curve]
        slope = np.polyfit(at, sizes, 1)[0] * (at[-1] - at[0])
        print(
            f"  process {pid}: {min(sizes):6.1f} to {max(sizes):6.1f} MB, {slope:+.2f} MB from end to end by its slope"
        )


def main(most: int) -> None:
    """Measure all of it."""
    service = Service()
    try:
        list(service.batch(as_lines(jobs(1)), 200))  # starts the workers
        for positions in POSITIONS:
            compare(service, positions)
        grow(service, most)
        watch(service, most)
    finally:
        service.end()


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 100_000)
