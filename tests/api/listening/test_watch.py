"""Bounds on connections, with a server in this process: too many at once, and callers who take nothing."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

import pytest
from tests.live import get, post, problem
from uvicorn import Config

from headbench.api.listening.connection import Connection, State
from headbench.api.listening.watch import Watch

Streams = tuple[asyncio.StreamReader, asyncio.StreamWriter]
LARGE = 30_000_000
"""More than a system holds for a caller."""


class Shop:
    """A server of an application that answers /large with much, /wait when told to, and all else at once."""

    def __init__(self, watch: Watch) -> None:
        self.state = State(watch)
        self.asked = asyncio.Semaphore(0)
        self.answer = asyncio.Event()
        self.port = 0

    async def __call__(self, scope: Any, _: Any, send: Any) -> None:
        if scope["path"] == "/wait":
            self.asked.release()
            await self.answer.wait()
        body = b"x" * (LARGE if scope["path"] == "/large" else 1)
        headers = [(b"content-length", b"%d" % len(body))]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": body, "more_body": False})

    async def connect(self, raw: bytes = b"") -> Streams:
        """A connection, and something said on it."""
        streams = await asyncio.open_connection("127.0.0.1", self.port, limit=1000)
        streams[1].write(raw)
        await streams[1].drain()
        return streams

    @property
    def connections(self) -> int:
        return len(self.state.connections)


async def until(happened: Callable[[], bool]) -> None:
    """Wait until something has happened."""
    async with asyncio.timeout(60.0):
        while not happened():  # noqa: ASYNC110 - nobody tells
            await asyncio.sleep(0.01)


def run(story: Callable[[Shop], Awaitable[None]], most: int = 100, taking: float = 60.0) -> None:
    async def told() -> None:
        watch = Watch(60.0, 60.0, most, taking)
        shop = Shop(watch)
        config = Config(shop, http=Connection, lifespan="off", ws="none", log_config=None, access_log=False)
        config.load()
        loop = asyncio.get_running_loop()
        server = await loop.create_server(lambda: Connection(config, shop.state, {}), "127.0.0.1", 0)
        shop.port = server.sockets[0].getsockname()[1]
        keeping = asyncio.create_task(watch.keep())
        await story(shop)
        keeping.cancel()
        server.close()
        shop.answer.set()
        for one in list(shop.state.connections):
            assert isinstance(one, Connection)
            one.transport.abort()
        await until(lambda: not shop.connections)

    asyncio.run(told())


def test_the_connection_that_rests_longest_gives_way() -> None:
    async def story(shop: Shop) -> None:
        busy = await shop.connect(get("/wait"))
        await shop.asked.acquire()
        silent = await shop.connect()
        await until(lambda: shop.connections == 2)
        resting = await shop.connect(get("/"))
        await resting[0].readuntil(b"\r\n\r\nx")
        late = await shop.connect(get("/"))
        await late[0].readuntil(b"\r\n\r\nx")
        assert await silent[0].read() == b""
        assert not resting[0].at_eof()
        shop.answer.set()
        await busy[0].readuntil(b"\r\n\r\nx")
        for one in (busy, silent, resting, late):
            one[1].close()

    run(story, most=3)


def test_where_none_rests_the_one_that_comes_is_refused_at_once() -> None:
    async def story(shop: Shop) -> None:
        busy = [await shop.connect(get("/wait")) for _ in range(3)]
        for _ in busy:
            await shop.asked.acquire()
        late = await shop.connect()
        answer = await late[0].read()
        assert problem(answer) == (503, "busy")
        assert b"\r\nRetry-After: " in answer
        shop.answer.set()
        for one in busy:
            await one[0].readuntil(b"\r\n\r\nx")
        for one in (*busy, late):
            one[1].close()

    run(story, most=3)


def test_a_body_that_has_not_gone_on_for_longest_gives_way_where_none_rests() -> None:
    async def story(shop: Shop) -> None:
        halves = [await shop.connect(post("/wait", 100) + b"x") for _ in range(3)]
        for _ in halves:
            await shop.asked.acquire()
        halves[0][1].write(b"x")
        await asyncio.sleep(0.01)
        late = await shop.connect(get("/"))
        await late[0].readuntil(b"\r\n\r\nx")
        assert await halves[1][0].read() == b""
        shop.answer.set()
        for one in (halves[0], halves[2]):
            one[1].write(b"x" * 99)
            await one[0].readuntil(b"\r\n\r\nx")
        for one in (*halves, late):
            one[1].close()

    run(story, most=3)


@pytest.mark.parametrize("head", [get("/large"), get("/large", close=True)], ids=["kept alive", "closed"])
def test_a_caller_who_takes_nothing_is_cut_off(head: bytes) -> None:
    async def story(shop: Shop) -> None:
        _, writer = await shop.connect(head)
        await until(lambda: shop.connections == 1)
        await until(lambda: shop.connections == 0)
        writer.close()

    run(story, taking=0.2)


def test_a_caller_who_takes_it_slowly_is_not() -> None:
    async def story(shop: Shop) -> None:
        reader, writer = await shop.connect(get("/large"))
        got = 0
        while got < LARGE:
            # several times as long as nothing may be taken, but something is taken all the while
            got += len(await reader.read(1_000_000))
            await asyncio.sleep(0.02)
        assert shop.connections == 1
        writer.close()

    run(story, taking=0.5)
