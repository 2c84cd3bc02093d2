"""What the processes of a service hold and have used, as the kernel counts it."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

_TICKS: Final = os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True)
class Look:
    """What all processes of a service held at a time."""

    seconds: float
    megabytes: float
    descriptors: int
    processes: int


def family(pid: int) -> Iterator[int]:
    """A process and all that came of it."""
    yield pid
    # one that has just ended has no children
    with suppress(FileNotFoundError):
        for task in Path(f"/proc/{pid}/task").iterdir():
            for child in (task / "children").read_text().split():
                yield from family(int(child))


def megabytes(pid: int) -> float:
    """Memory of one process, each shared page divided among those that share it."""
    rollup = Path(f"/proc/{pid}/smaps_rollup").read_text()
    return int(next(line for line in rollup.splitlines() if line.startswith("Pss:")).split()[1]) / 1024


def look(pid: int, start: float = 0.0) -> Look:
    """Memory and open descriptors of all of them."""
    everybody = list(family(pid))
    descriptors = sum(len(list(Path(f"/proc/{one}/fd").iterdir())) for one in everybody)
    return Look(time.monotonic() - start, sum(map(megabytes, everybody)), descriptors, len(everybody))


def processor_seconds(pid: int) -> float:
    """Processor time of all of them."""
    ticks = 0
    for one in family(pid):
        fields = Path(f"/proc/{one}/stat").read_text().rpartition(")")[2].split()
        ticks += int(fields[11]) + int(fields[12])
    return ticks / _TICKS
