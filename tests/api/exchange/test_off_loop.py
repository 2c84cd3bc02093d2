"""Off the loop: long requests do not hold up short ones, and too many are sent away."""

from __future__ import annotations

import asyncio
import threading

import pytest

from headbench.api.exchange.off_loop import MOST_WAITING, THREADS, off_loop
from headbench.errors import Contradiction, Pointed, RefusedRequest


def test_the_loop_goes_on_while_a_request_is_computed() -> None:
    go_on = threading.Event()

    async def both() -> str:
        long = asyncio.create_task(off_loop(lambda _: go_on.wait(10.0), None))
        await asyncio.sleep(0.01)
        go_on.set()  # reached only because the loop was free
        return "done" if await long else "timed out"

    assert asyncio.run(both()) == "done"


def test_one_request_too_many_is_told_to_come_back() -> None:
    go_on = threading.Event()

    async def many() -> RefusedRequest | None:
        tasks = [asyncio.create_task(off_loop(lambda _: go_on.wait(10.0), None)) for _ in range(THREADS + MOST_WAITING)]
        await asyncio.sleep(0.01)
        try:
            await off_loop(lambda _: None, None)
        except RefusedRequest as refusal:
            return refusal
        finally:
            go_on.set()
            await asyncio.gather(*tasks)
        return None

    refusal = asyncio.run(many())
    assert refusal is not None
    assert (refusal.code, refusal.status, refusal.headers) == ("busy", 503, {"Retry-After": "1"})


def test_what_goes_wrong_in_a_thread_is_raised_and_frees_its_place() -> None:
    def contradict(_: None) -> None:
        raise Contradiction([Pointed("/a", "b")])

    async def again() -> None:
        for _ in range(THREADS + MOST_WAITING + 1):
            with pytest.raises(Contradiction):
                await off_loop(contradict, None)

    asyncio.run(again())
