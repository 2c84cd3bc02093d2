"""Two replicas behind the balancer, restarted in turn, killed and overrun while callers keep asking."""

from __future__ import annotations

import asyncio
import itertools
import json
import random
import shutil
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import httpx
import pytest
from tests.deployment.replicas import SECONDS, Pair, balanced

pytestmark = pytest.mark.deployment

CALLERS: Final = 12
LINES: Final = 40
PAUSE: Final = 0.02
DEDUCTION: Final = 0.062
CROWD: Final = 1500
"""Callers at once: more than both replicas take."""
MOST_TRIES: Final = 60
ROOT: Final = Path(__file__).parents[2]


@pytest.fixture
def pair() -> Iterator[Pair]:
    if shutil.which("haproxy") is None:
        pytest.skip("no replica was restarted: there is no haproxy here (on Debian: apt install haproxy)")
    with balanced() as found:
        yield found


def job(number: int) -> tuple[dict[str, Any], float]:
    """A job that no other is like, and the bare height of its one position."""
    measured = round(1.700 + number % 3000 / 10_000, 4)
    return {
        "shims": {"thicknesses": [0.015, 0.030, 0.060]},
        "height_corrections": {"intake": {"deduction": DEDUCTION}},
        "targets": {"intake": {"installed_height": 1.600}},
        "positions": [{"id": f"{number}I", "valve": "intake", "measured_height": measured}],
    }, measured - DEDUCTION


def is_answer(answer: dict[str, Any], number: int, bare_height: float) -> bool:
    (one,) = answer["positions"]
    return bool(one["id"] == f"{number}I" and one["bare_height"] == pytest.approx(bare_height, abs=1e-9))


@dataclass
class Told:
    """What callers were told: how many jobs by what came of them."""

    counts: Counter[str] = field(default_factory=Counter)
    over: asyncio.Event = field(default_factory=asyncio.Event)

    async def answered(self, count: int) -> None:
        """Wait until so many were answered as they should, or were not for a long time."""
        end = asyncio.get_running_loop().time() + SECONDS
        while self.counts["right"] < count and asyncio.get_running_loop().time() < end:  # noqa: ASYNC110 - counted by many
            await asyncio.sleep(PAUSE)


async def ask_singly(client: httpx.AsyncClient, numbers: Iterator[int], told: Told) -> None:
    while not told.over.is_set():
        number = next(numbers)
        body, bare_height = job(number)
        try:
            answer = await client.post("/v1/installed-height", json=body)
        except httpx.HTTPError as error:
            told.counts[type(error).__name__] += 1
            continue
        if answer.status_code != httpx.codes.OK:
            told.counts[f"{answer.status_code}: {answer.json()['detail']}"] += 1
        else:
            told.counts["right" if is_answer(answer.json(), number, bare_height) else "wrong"] += 1
        await asyncio.sleep(PAUSE)


async def ask_by_batches(client: httpx.AsyncClient, numbers: Iterator[int], told: Told) -> None:
    headers = {"Content-Type": "application/x-ndjson"}
    while not told.over.is_set():
        jobs = [(number, *job(number)) for number in itertools.islice(numbers, LINES)]
        lines = [{"kind": "installed-height", "id": str(number), "request": body} for number, body, _ in jobs]
        try:
            content = "".join(json.dumps(line) + "\n" for line in lines)
            answer = await client.post("/v1/batch", content=content, headers=headers)
            if answer.status_code != httpx.codes.OK:
                told.counts[f"batch {answer.status_code}: {answer.json()['detail']}"] += 1
                continue
            answers = [json.loads(line) for line in answer.text.splitlines()]
        except (httpx.HTTPError, ValueError) as error:
            told.counts[f"batch {type(error).__name__}"] += 1
            continue
        right = len(answers) == LINES and all(
            one["status"] == httpx.codes.OK and is_answer(one["answer"], number, bare_height)
            for one, (number, _, bare_height) in zip(answers, jobs, strict=True)
        )
        told.counts["right batch" if right else f"batch of {len(answers)} answers"] += 1
        await asyncio.sleep(PAUSE)


def ids_of(said: dict[str, Any]) -> list[str]:
    return [one["id"] for one in said["positions"]]


async def asked_meanwhile(pair: Pair, *what: Callable[[], object]) -> Counter[str]:
    """What callers are told while things are done to the replicas, one after the other."""
    told, numbers = Told(), itertools.count()
    limits = httpx.Limits(max_connections=None, max_keepalive_connections=CALLERS)
    async with httpx.AsyncClient(base_url=pair.address, timeout=SECONDS, limits=limits) as client:
        callers = [asyncio.create_task(ask_singly(client, numbers, told)) for _ in range(CALLERS)]
        callers.append(asyncio.create_task(ask_by_batches(client, numbers, told)))
        for one in (*what, lambda: None):
            before = told.counts["right"]
            await asyncio.to_thread(one)
            # what was done is over only once callers were answered after it
            await told.answered(before + 10 * CALLERS)
        told.over.set()
        await asyncio.gather(*callers)
    return told.counts


def test_two_replicas_restarted_in_turn_lose_nothing(pair: Pair) -> None:
    one, two = pair.replicas
    statuses: list[int] = []
    told = asyncio.run(
        asked_meanwhile(
            pair,
            *(
                do
                for replica in (one, two, one)
                for do in (lambda replica=replica: statuses.append(replica.stop()), replica.start)
            ),
        )
    )
    assert set(told) == {"right", "right batch"}, told
    assert statuses == [0, 0, 0]


def test_a_replica_that_is_killed_costs_nobody_but_whoever_was_reading_from_it(pair: Pair) -> None:
    one, _ = pair.replicas
    told = asyncio.run(asked_meanwhile(pair, one.kill, one.start))
    # a job that had no answer yet is asked of the other replica; an answer that has begun ends where it ends, and
    # whoever reads it sees that it is not whole
    assert {what for what in told if what != "batch RemoteProtocolError"} == {"right", "right batch"}, told


def test_callers_beyond_what_it_takes_are_told_to_come_back_and_answered_when_they_do(pair: Pair) -> None:
    body = (ROOT / "shared" / "demo" / "two-heads.json").read_bytes()
    headers = {"Content-Type": "application/json"}

    async def overrun() -> tuple[Counter[str], set[bool]]:
        statuses: Counter[str] = Counter()
        limits = httpx.Limits(max_connections=None)
        async with httpx.AsyncClient(base_url=pair.address, timeout=SECONDS, limits=limits, headers=headers) as client:

            async def insist() -> bool:
                for _ in range(MOST_TRIES):
                    try:
                        answer = await client.post("/v1/head-assembly", content=body)
                    except httpx.HTTPError as error:
                        statuses[type(error).__name__] += 1
                        return False
                    statuses[str(answer.status_code)] += 1
                    if answer.status_code != httpx.codes.SERVICE_UNAVAILABLE:
                        return answer.status_code == httpx.codes.OK and ids_of(answer.json()) == ids_of(
                            json.loads(body)
                        )
                    assert answer.headers["content-type"].startswith("application/problem+json")
                    await asyncio.sleep(int(answer.headers["retry-after"]) * random.uniform(1.0, 2.0))  # noqa: S311 - not to come back all at once
                return False

            return statuses, set(await asyncio.gather(*(insist() for _ in range(CROWD))))

    statuses, answered = asyncio.run(overrun())
    assert set(statuses) == {"200", "503"}, statuses
    assert answered == {True}, statuses
    # and it is as before once they are gone
    assert set(asyncio.run(asked_meanwhile(pair))) <= {"right", "right batch"}
