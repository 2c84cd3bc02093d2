"""The log, where its reader stalls or is gone."""

from __future__ import annotations

import json
import logging
import os
import re
from pathlib import Path

from tests.live import Service, gone

from headbench.api.listening.logs import MOST_BYTES, Written

REQUESTS = 600
"""More lines than a pipe holds (64 kB)."""


def lines_of(descriptor: int) -> list[bytes]:
    """Everything that arrives."""
    with os.fdopen(descriptor, "rb") as stream:
        return stream.read().splitlines()


def test_a_reader_who_stalls_holds_up_nobody_and_is_told_how_many_lines_he_missed() -> None:
    dropped: list[None] = []
    reader, writer = os.pipe()
    log = logging.getLogger("stalled")
    log.setLevel(logging.INFO)
    log.propagate = False
    written = Written(writer, lambda: dropped.append(None))
    log.addHandler(written)
    line = "x" * 10_000
    count = 3 * MOST_BYTES // len(line)
    for _ in range(count):
        log.info(line)
    # what is held, and what a pipe may hold besides
    assert len(dropped) >= count - (MOST_BYTES + 1_100_000) // len(line)
    with os.fdopen(reader, "rb") as stream:
        taken = [stream.readline() for _ in range(count - len(dropped) + 1)]
        log.info("after")
        last = stream.readline()
        written.close()
        os.close(writer)
        rest = stream.read()
    told = [json.loads(one)["log_lines_dropped"] for one in [*taken, last] if one.startswith(b"{")]
    assert told == [len(dropped)]
    assert sum(one == line.encode() + b"\n" for one in taken) == count - len(dropped)
    assert b"after\n" in last + rest


def test_a_reader_who_is_gone_ends_the_writing_quietly() -> None:
    dropped: list[None] = []
    reader, writer = os.pipe()
    os.close(reader)
    log = logging.getLogger("gone")
    log.setLevel(logging.INFO)
    log.propagate = False
    written = Written(writer, lambda: dropped.append(None))
    log.addHandler(written)
    log.info("first")
    while not dropped:
        log.info("more")
    written.close()
    os.close(writer)


def test_a_service_whose_output_stalls_or_is_gone_answers_and_ends(tmp_path: Path) -> None:
    shop = Service(tmp_path, GRACE_SECONDS="60")
    reader, writer = os.pipe()
    try:
        shop.start(writer)
        os.close(writer)
        assert [shop.status() for _ in range(REQUESTS)] == [200] * REQUESTS
        os.close(reader)
        assert [shop.status("/metrics") for _ in range(10)] == [200] * 10
        (counted,) = re.findall(rb"^headbench_log_lines_dropped_total (.*)$", shop.say(METRICS), re.MULTILINE)
        assert float(counted) > 0
        assert shop.stop() == 0
        assert shop.errors.count("\n") == 1
    finally:
        gone(shop)


METRICS = b"GET /metrics HTTP/1.1\r\nHost: bench\r\nConnection: close\r\n\r\n"
