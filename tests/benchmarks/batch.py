"""A batch of many jobs through the live service: jobs a second and core, memory on the way, growth with the lines.

Processor time is read off the service's processes, so that the caller here and whatever else runs does not count;
what is compared runs in turns. Run with: python tests/benchmarks/batch.py [lines]
"""

from __future__ import annotations

import http.client
import json
import os
import socket
import statistics
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Iterable, Iterator
from itertools import cycle, islice
from pathlib import Path
from typing import Any, Final, Union

import msgspec
import numpy as np

from headbench.api.app import RESOURCES
from headbench.api.batch.jobs import Answering, BatchAnswered, job_types
from headbench.api.exchange.decoding import decode

ROOT: Final = Path(__file__).parent.parent.parent
TICK: Final = 1.0 / os.sysconf("SC_CLK_TCK")
PAGE: Final = os.sysconf("SC_PAGE_SIZE")
TURNS: Final = 5
TURN_LINES: Final = 1000
NDJSON: Final = {"Content-Type": "application/x-ndjson", "Transfer-Encoding": "chunked"}


def lines(positions: int) -> list[bytes]:
    """A hundred jobs that differ, each with that many positions."""
    job = json.loads((ROOT / "shared" / "demo" / "two-heads.json").read_text())
    made = []
    for number in range(100):
        rows = [
            row
            | (
                {"measured_height": round(row["measured_height"] + 0.0001 * number, 4)}
                if "measured_height" in row
                else {}
            )
            for row in job["positions"][:positions]
        ]
        line = {"kind": "head-assembly", "id": f"J-{number}", "request": job | {"positions": rows}}
        made.append(json.dumps(line).encode() + b"\n")
    return made


class Service:
    """The service as it is shipped, and its processes."""

    def __init__(self) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port: int = probe.getsockname()[1]
        command = [sys.executable, "-m", "headbench.cli", "serve", "--port", str(self.port)]
        self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # noqa: S603 - our own
        while True:
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{self.port}/health/ready", timeout=1.0).close()
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
                waiting += map(int, (task / "children").read_text().split())
        return found

    def seconds(self) -> float:
        """Processor time it has taken so far."""
        return sum(map(seconds_of, self.processes()))

    def memory(self) -> dict[int, float]:
        """Resident memory of each of its processes [MB]."""
        return {pid: int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * PAGE / 1e6 for pid in self.processes()}

    def batch(self, body: Iterable[bytes]) -> Iterator[bytes]:
        """Send lines in a thread, and give what comes back as it comes."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120.0)
        connection.putrequest("POST", "/v1/batch")
        for name, value in NDJSON.items():
            connection.putheader(name, value)
        connection.endheaders()

        def send() -> None:
            for block in body:
                connection.send(b"%x\r\n%b\r\n" % (len(block), block))
            connection.send(b"0\r\n\r\n")

        thread = threading.Thread(target=send)
        thread.start()
        response = connection.getresponse()
        while part := response.read1(1 << 18):
            yield part
        thread.join()
        connection.close()

    def one_by_one(self, bodies: Iterable[bytes]) -> None:
        """Post jobs by themselves over one connection."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120.0)
        for body in bodies:
            connection.request("POST", "/v1/head-assembly", body, {"Content-Type": "application/json"})
            connection.getresponse().read()
        connection.close()


def seconds_of(pid: int) -> float:
    """Processor time of a process, in nanosecond steps where the system keeps them."""
    try:
        total = sum(int((task / "schedstat").read_text().split()[0]) for task in Path(f"/proc/{pid}/task").glob("*"))
    except OSError:
        fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) * TICK
    return 1e-9 * total


def blocks(made: list[bytes], count: int) -> Iterator[bytes]:
    """So many lines, a hundred at a time."""
    every = cycle(made)
    for start in range(0, count, 100):
        yield b"".join(islice(every, min(100, count - start)))


def alone(made: list[bytes]) -> float:
    """Processor seconds a line to decode it and encode its answer, computed before."""
    types: Any = Union[tuple(job_types(RESOURCES))]  # noqa: UP007 - of types only known here
    answers = [msgspec.json.decode(Answering(RESOURCES)(1, raw), type=dict) for raw in made[:1]]
    jobs = [decode(raw, types) for raw in made]
    resource = next(one for one in RESOURCES if one.kind == "head-assembly")
    sheets = [resource(job.request) for job in jobs[:10]]
    assert answers[0]["status"] == 200  # noqa: S101 - else nothing is compared
    start = time.thread_time()
    for raw, sheet in zip(islice(cycle(made), TURN_LINES), cycle(sheets)):
        job = decode(raw, types)
        msgspec.json.encode(BatchAnswered(line=1, id=job.id, status=200, answer=sheet))
    return (time.thread_time() - start) / TURN_LINES
