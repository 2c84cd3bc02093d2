"""A file of jobs answered by many machines, on a cluster of dask.

What answers a line is what answers it in a batch and in `headbench recompute`: every machine needs headbench and
sees the files. The answers come as one file a block of jobs, each line with the number of the line it answers, so
that together, in the order of their names, they are what one machine would have written.

    pip install headbench 'dask[distributed]'
    python many_machines.py jobs.ndjson answers tcp://scheduler:8786
    cat answers/*.ndjson > answers.ndjson
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from itertools import accumulate
from pathlib import Path

import dask
import dask.bag
from dask.distributed import Client

from headbench.api.app import RESOURCES
from headbench.api.batch.jobs import Answering

BLOCK_BYTES = 8_000_000
"""How much of the file one machine takes at a time."""


def count(lines: Iterable[str]) -> list[int]:
    """How many lines a block has."""
    return [sum(1 for _ in lines)]


def answer(lines: Iterable[str], before: int, to: Path) -> int:
    """Answer the lines of a block into a file; `before` is how many lines stand before it. How many were answered."""
    answering = Answering(RESOURCES)
    answered = 0
    draft = to.with_suffix(".part")
    with draft.open("wb") as file:
        for number, line in enumerate(lines, start=before + 1):
            if line.strip():
                file.write(answering(number, line.encode()))
                answered += 1
    # whole or not at all: a block that is taken over by another machine is written anew
    draft.replace(to)
    return answered


def run(jobs: Path, folder: Path, client: Client, block_bytes: int = BLOCK_BYTES) -> int:
    """Answer a file of jobs into a folder; how many lines were answered."""
    folder.mkdir(parents=True, exist_ok=True)
    blocks = dask.bag.read_text(str(jobs), blocksize=block_bytes)
    lengths = blocks.map_partitions(count).compute(scheduler=client)
    befores = [0, *accumulate(lengths)]
    tasks = [
        dask.delayed(answer)(block, before, folder / f"{place:06d}.ndjson")
        for place, (block, before) in enumerate(zip(blocks.to_delayed(), befores, strict=False))
    ]
    return sum(client.gather(client.compute(tasks)))


if __name__ == "__main__":
    with Client(sys.argv[3]) as cluster:
        print(run(Path(sys.argv[1]).resolve(), Path(sys.argv[2]).resolve(), cluster), "lines answered")
