"""Bytes of bodies in flight, by callers who send much at once and do not finish."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

import pytest

from headbench.api.listening.bodies import Bodies
from headbench.errors import RefusedRequest

MOST = 1000


class Request:
    """A request that arrives in the parts it is given."""

    def __init__(self, bodies: Bodies) -> None:
        self.parts: asyncio.Queue[Any] = asyncio.Queue()
        self.answered: asyncio.Queue[Any] = asyncio.Queue()
        scope: Any = {"type": "http"}
        self.task = asyncio.ensure_future(bodies(scope, self.parts.get, self.answered.put))

    async def send(self, size: int, *, more: bool = True) -> None:
        self.parts.put_nowait({"type": "http.request", "body": b"x" * size, "more_body": more})
        await settled()


async def settled() -> None:
    """Let everybody have their turns."""
    for _ in range(20):
        await asyncio.sleep(0)


async def collected(_: Any, receive: Any, send: Any) -> None:
    """An application that reads all of a body, and answers when it is told to."""
    while (await receive()).get("more_body"):
        pass
    await receive()
    await send({"type": "http.response.start"})


async def streamed(_: Any, receive: Any, send: Any) -> None:
    """An application that answers while it reads."""
    await receive()
    await send({"type": "http.response.start"})
    while (await receive())["more_body"]:
        pass


def run(application: Any, story: Callable[[Bodies], Awaitable[None]]) -> None:
    async def told() -> None:
        await story(Bodies(application, MOST))

    asyncio.run(told())


def refused(request: Request) -> bool:
    """Whether it was told to come back, and its connection ended."""
    error = request.task.exception() if request.task.done() else None
    if error is None:
        return False
    assert isinstance(error, RefusedRequest)
    assert (error.status, error.code) == (503, "busy")
    assert error.headers == {"Retry-After": "1", "Connection": "close"}
    return True


def test_whose_body_has_been_arriving_longest_makes_room() -> None:
    async def story(bodies: Bodies) -> None:
        slow = [Request(bodies) for _ in range(10)]
        for one in slow:
            await one.send(90)
        late = Request(bodies)
        await late.send(90, more=False)
        assert not any(map(refused, slow))
        later = Request(bodies)
        await later.send(90)
        assert [refused(one) for one in slow] == [True] + [False] * 9
        assert not refused(late)
        assert not refused(later)
        for one in (*slow[1:], late, later):
            one.task.cancel()

    run(collected, story)


def test_where_all_are_whole_the_one_that_comes_is_refused_until_one_is_answered() -> None:
    async def story(bodies: Bodies) -> None:
        whole = [Request(bodies) for _ in range(10)]
        for one in whole:
            await one.send(100, more=False)
        more = Request(bodies)
        await more.send(1, more=False)
        assert refused(more)
        assert not any(map(refused, whole))
        await whole[0].send(0)
        assert whole[0].answered.qsize() == 1
        again = Request(bodies)
        await again.send(100, more=False)
        assert not refused(again)
        for one in (*whole, again):
            one.task.cancel()

    run(collected, story)


@pytest.mark.parametrize("count", [3, 30])
def test_of_a_body_that_is_answered_while_it_arrives_nothing_is_counted(count: int) -> None:
    async def story(bodies: Bodies) -> None:
        batch = Request(bodies)
        for _ in range(count):
            await batch.send(900)
        other = Request(bodies)
        await other.send(900)
        assert not refused(batch)
        assert not refused(other)
        batch.task.cancel()
        other.task.cancel()

    run(streamed, story)


def test_a_caller_who_leaves_makes_room() -> None:
    async def story(bodies: Bodies) -> None:
        gone = Request(bodies)
        await gone.send(1000)
        gone.parts.put_nowait({"type": "http.disconnect"})
        await settled()
        assert not gone.task.done()
        # what ends a body need not say that it does (ASGI, HTTP 2.5: more_body is false, body empty where left out)
        gone.parts.put_nowait({"type": "http.request"})
        await settled()
        assert gone.answered.qsize() == 1
        one = Request(bodies)
        await one.send(1000)
        assert not refused(one)
        one.task.cancel()

    run(collected, story)
