"""Asking: an answer is waited for as long as its caller is there, and refused where too many wait."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest
from litestar.testing import TestClient
from tests.api.batches import REQUESTS, AtOnce, Given

from headbench.api.app import create_app
from headbench.api.exchange.asking import LEFT, Asked, Told, answered, too_busy

ASKED = Asked("valve-mass")
TOLD = Told(200, "text/plain", b"there")


class Slow(AtOnce):
    """An answerer who takes its time."""

    def __init__(self) -> None:
        super().__init__(answer=False)

    def begin(self, asked: Asked) -> Given:  # noqa: ARG002 - whatever is asked
        self.left.append(Given())
        return self.left[-1]


class Full(AtOnce):
    """An answerer who takes no more."""

    def is_full(self) -> bool:
        return True

    def retry_seconds(self) -> int:
        return 7

    def begin(self, asked: Asked) -> Given:  # noqa: ARG002 - whatever is asked
        raise too_busy(self.retry_seconds())


async def waits() -> Any:
    return await asyncio.Event().wait()


async def leaves() -> Any:
    return {"type": "http.disconnect"}


async def goes_on_sending() -> Any:
    return {"type": "http.request", "body": b"more", "more_body": True}


def answer_after(work: Given, seconds: float) -> None:
    asyncio.get_running_loop().call_later(seconds, work.future.set_result, TOLD)


def test_what_its_caller_no_longer_waits_for_is_given_up() -> None:
    slow = Slow()
    told = asyncio.run(answered(slow, ASKED, leaves))
    assert told.status == LEFT
    assert [work.is_abandoned for work in slow.left] == [True]


@pytest.mark.parametrize("receive", [waits, goes_on_sending])
def test_a_caller_who_stays_is_told_however_long_it_takes(receive: Any) -> None:
    async def run() -> Told:
        slow = Slow()
        asking = asyncio.create_task(answered(slow, ASKED, receive))
        await asyncio.sleep(0.01)
        answer_after(slow.left[0], 0.2)
        told = await asking
        assert not slow.left[0].is_abandoned
        return told

    assert asyncio.run(run()) == TOLD


def test_the_loop_goes_on_while_a_request_is_worked_out() -> None:
    async def run() -> int:
        slow, turns = Slow(), 0
        asking = asyncio.create_task(answered(slow, ASKED, waits))
        while turns < 100:
            await asyncio.sleep(0)
            turns += 1
        slow.left[0].future.set_result(TOLD)
        await asking
        return turns

    assert asyncio.run(run()) == 100


def test_what_is_cut_off_meanwhile_is_given_up_too() -> None:
    async def run() -> Given:
        slow = Slow()
        asking = asyncio.create_task(answered(slow, ASKED, waits))
        await asyncio.sleep(0.01)
        asking.cancel()
        with pytest.raises(asyncio.CancelledError):
            await asking
        return slow.left[0]

    assert asyncio.run(run()).is_abandoned


def test_a_service_that_is_full_says_so_and_when_to_come_back() -> None:
    with TestClient(create_app(Full())) as client:
        refused = client.post("/v1/valve-mass", json=REQUESTS["valve-mass"])
        ready, alive = client.get("/health/ready"), client.get("/health/live")
    assert (refused.status_code, refused.headers["retry-after"]) == (503, "7")
    assert refused.json()["type"] == "urn:headbench:problem:busy"
    assert (ready.status_code, ready.json()["type"]) == (503, "urn:headbench:problem:busy")
    assert alive.status_code == 200
