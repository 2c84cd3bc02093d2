"""What a start costs beside importing the framework and numpy alone, and what a worker holds in memory.

Every start is a process of its own, in turns with the one it is compared with; what counts is processor time, the least
of all turns, and the ratio. Code is compiled beforehand, as it is where the package was installed.
"""

from __future__ import annotations

import os
import resource
import socket
import statistics
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from tests.benchmarks.table import Row, time_text

from headbench.api.head import head_assembly

ALONE: Final = "import litestar, numpy"
STARTS: Final = {
    "start until the app stands": "from headbench.api.app import create_app; create_app()",
    "start of what computes, warmed up": "import headbench.api.app as a, headbench.api.computing.starting as s\n"
    "s.warm_up(a.RESOURCES)",
}


def processor_seconds(code: str) -> float:
    """User and system time of one Python process that runs this and ends."""
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-c", code], check=True, env=environment)  # noqa: S603 - our own
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def starts(turns: int) -> Iterator[Row]:
    """Each start over importing the two alone."""
    codes = [ALONE, *STARTS.values()]
    for code in codes:
        processor_seconds(code)
    seconds = [[processor_seconds(code) for code in codes] for _ in range(turns)]
    for place, name in enumerate(STARTS, 1):
        ratios = [each[place] / each[0] for each in seconds]
        alone, whole = (min(each[of] for each in seconds) for of in (0, place))
        yield Row(
            f"{name}, over importing litestar and numpy",
            f"{statistics.median(ratios):.3g} ({time_text(whole)} over {time_text(alone)})",
            f"{min(ratios):.3g} to {max(ratios):.3g}",
        )


def megabytes(process: int, what: str) -> float:
    """Memory of a process by its name in /proc: Rss is all it can reach, Pss counts by shares what others hold, too."""
    lines = Path(f"/proc/{process}/smaps_rollup").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith(f"{what}:")) / 1024.0


def measure_memory() -> dict[str, float]:
    """Memory of the one worker of a live service when it is ready, and after a head."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "headbench.cli", "serve", "--port", str(port)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as server:  # noqa: S603 - our own
        try:
            while server.poll() is None:
                try:
                    urllib.request.urlopen(f"http://127.0.0.1:{port}/health/ready", timeout=1.0).close()
                    break
                except OSError:
                    time.sleep(0.02)
            worker = int(Path(f"/proc/{server.pid}/task/{server.pid}/children").read_text().split()[0])
            memory = {"when ready": megabytes(worker, "Rss")}
            job = head_assembly.RESOURCE.example_file.read_bytes()
            address = f"http://127.0.0.1:{port}{head_assembly.RESOURCE.path}"
            request = urllib.request.Request(address, job, {"Content-Type": "application/json"})
            urllib.request.urlopen(request).close()  # noqa: S310 - our own
            memory["after a head"] = megabytes(worker, "Rss")
            memory["the same, what is shared counted by shares"] = megabytes(worker, "Pss")
        finally:
            server.terminate()
    return memory


def measure(turns: int = 9) -> Iterator[Row]:
    """So many turns of each start, then the memory of one worker."""
    yield from starts(turns)
    for name, size in measure_memory().items():
        yield Row(f"memory of a worker, {name}", f"{size:.0f} MB")
