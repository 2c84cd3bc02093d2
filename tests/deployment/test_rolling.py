"""Two replicas behind the balancer, restarted in turn, killed and overrun while callers keep asking."""

from __future__ import annotations

import asyncio
import itertools
import json
import shutil
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final

import httpx
import pytest
from tests.deployment.replicas import SECONDS, Pair, balanced

pytestmark = pytest.mark.deployment

CALLERS: Final = 12
LINES: Final = 40
PAUSE: Final = 0.02
DEDUCTION: Final = 0.062


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
    return one["id"] == f"{number}I" and one["bare_height"] == pytest.approx(bare_height, abs=1e-9)


@dataclass
class Told:
    """What callers were told: how many jobs by what came of them."""

    counts: Counter[str] = field(default_factory=Counter)
    over: asyncio.Event = field(default_factory=asyncio.Event)


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


async def asked_meanwhile(pair: Pair, *what: Any) -> Counter[str]:
    """What callers are told while things are done to the replicas, one after the other."""
    told, numbers = Told(), itertools.count()
    limits = httpx.Limits(max_connections=None, max_keepalive_connections=CALLERS)
    async with httpx.AsyncClient(base_url=pair.address, timeout=SECONDS, limits=limits) as client:
        callers = [asyncio.create_task(ask_singly(client, numbers, told)) for _ in range(CALLERS)]
        callers.append(asyncio.create_task(ask_by_batches(client, numbers, told)))
        for one in what:
            before = told.counts["right"]
            await asyncio.to_thread(one)
            # what was done is over only once callers were answered after it
            while told.counts["right"] < before + 10 * CALLERS and not all(caller.done() for caller in callers):
                await asyncio.sleep(PAUSE)
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
    print(dict(told))
    assert set(told) == {"right", "right batch"}
    assert statuses == [0, 0, 0]
