"""POST /v1/batch: many requests as lines (NDJSON), each answered by a line, streamed both ways.

Lines are read as they come, answered by the workers in small groups, and their answers sent in the order of the
lines. Between reading and sending stands a short queue: where the caller reads slowly, it fills, and neither
computing nor reading goes on. So a batch of any length takes the same memory.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import AsyncIterator, Iterator, Sequence
from typing import Any, Final, NoReturn, Protocol, TypeAlias

from litestar import Request, post
from litestar.datastructures.state import State
from litestar.handlers import HTTPRouteHandler
from litestar.types import ASGIApp, Message, Receive, Scope, Send

from headbench.api.batch.jobs import refused, too_long
from headbench.api.batch.lines import Group, Line, Lines, grouped
from headbench.api.batch.pace import LEAST_BYTES, Pace
from headbench.api.exchange.asking import Work, too_busy
from headbench.api.exchange.gzipped import Packer, Unpacker
from headbench.api.exchange.negotiating import is_gzip_wanted
from headbench.api.exchange.problems import refusal
from headbench.api.exchange.resource import Resource
from headbench.errors import RefusedRequest

PATH: Final = "/v1/batch"
MEDIA_TYPE: Final = "application/x-ndjson"

IDLE_SECONDS: Final = 30.0
"""How long a caller may neither send anything more nor take what is ready."""

MOST_BATCHES: Final = 16
"""Batches that are answered at a time; one more gets the place of one that hardly sends, or is told to come back."""

SLOW_SECONDS: Final = 60.0
"""How long a batch may have been waited for without LEAST_BYTES of it, and keep its place where others want one."""

MOST_DROPPED_BYTES: Final = 256_000_000
"""Blank and too long lines that a gzip body may unpack to: they cost its sender next to nothing."""

SEND_AGAIN: Final = "pack this line and what follows it again and send them"
"""What is told of a gzip body that is damaged."""

_GROUPS_A_CORE: Final = 4
"""Groups that are read ahead, so that no core waits while answers are sent in their order."""

_Answers: TypeAlias = "Work[bytes] | bytes"
_Chunk: TypeAlias = tuple[bytes, bool]
"""Some of the body, and whether there is more."""


class Workers(Protocol):
    """Whoever answers lines, some groups at a time."""

    @property
    def count(self) -> int:
        """How many groups at a time."""
        ...

    def begin_lines(self, group: Group) -> Work[bytes]:
        """Take a group."""
        ...

    def retry_seconds(self) -> int:
        """How long whoever is refused now had better wait."""
        ...


class _HungUp(Exception):
    """The caller is gone."""


class _Reading:
    """A batch being read: its lines as groups, each with the answer that is to come of it."""

    def __init__(self, workers: Workers, receive: Receive, *, is_packed: bool) -> None:
        self._workers = workers
        self._receive = receive
        self._ahead: asyncio.Queue[_Chunk | RefusedRequest] | None = None
        self._unpacker = Unpacker(SEND_AGAIN) if is_packed else None
        self._lines = Lines()
        self._is_begun = False
        self._pace = Pace()

    def waited(self) -> float:
        """For how long it has been waited for since it last sent LEAST_BYTES; 0 where nothing is waited for [s]."""
        return self._pace.waited()

    def give_way(self) -> None:
        """End what is waited for: another gets its place."""
        self._pace.give_way()

    async def answers(self) -> AsyncIterator[_Answers]:
        """The answers of group after group, as soon as they are asked for.

        Raises RefusedRequest where the body cannot be read at all; where it breaks off later, the last answer says so.
        """
        try:
            async for piece in self._pieces():
                for answers in self._taken(self._lines.take(piece)):
                    self._is_begun = True
                    yield answers
                if self._unpacker is not None and self._lines.dropped > MOST_DROPPED_BYTES:
                    raise unpacks_to_nothing()
            for answers in self._taken(self._lines.end()):
                self._is_begun = True
                yield answers
            if not self._is_begun:
                raise empty()
        except RefusedRequest as error:
            if not self._is_begun:
                raise
            yield refused(self._lines.number, refusal(error))

    async def listen(self) -> NoReturn:
        """Receive one chunk ahead from here on; raises _HungUp, which whoever waits to be read would not notice."""
        self._ahead = asyncio.Queue(1)
        while True:
            try:
                await self._ahead.put(await self._received())
            except RefusedRequest as error:
                # what cannot be read is told in its turn, after what was asked before
                await self._ahead.put(error)

    def _taken(self, lines: Iterator[Line]) -> Iterator[_Answers]:
        """Hand lines over, group by group; those that have arrived wait for no others."""
        for one in grouped(lines):
            yield too_long(one) if isinstance(one, int) else self._workers.begin_lines(one)

    async def _pieces(self) -> AsyncIterator[bytes]:
        """The body, unpacked."""
        more = True
        while more:
            try:
                async with self._pace.waiting(IDLE_SECONDS):
                    chunk, more = await self._chunk()
            except TimeoutError:
                raise (gave_way() if self._pace.gives_way else too_slow()) from None
            self._pace.got(len(chunk))
            for piece in self._unpacker.take(chunk) if self._unpacker else (chunk,):
                # others have their turn, however much has arrived
                await asyncio.sleep(0)
                yield piece
        if self._unpacker:
            self._unpacker.end()

    async def _chunk(self) -> _Chunk:
        chunk = await (self._received() if self._ahead is None else self._ahead.get())
        if isinstance(chunk, RefusedRequest):
            raise chunk
        return chunk

    async def _received(self) -> _Chunk:
        message = await self._receive()
        if message["type"] != "http.request":
            raise _HungUp
        return message.get("body", b""), message.get("more_body", False)


class _Batches:
    """The batches that are answered at a time."""

    def __init__(self, workers: Workers) -> None:
        self._workers = workers
        self._open: set[_Reading] = set()

    async def answer(self, request: Request[None, None, State], receive: Receive, send: Send) -> None:
        """Answer a batch; raises RefusedRequest before anything is sent."""
        reading = _Reading(self._workers, receive, is_packed=_is_packed(request))
        sending = _Sending(send, is_packed=is_gzip_wanted(request.headers.get("accept-encoding", "")))
        self._make_room()
        self._open.add(reading)
        try:
            await _pass_on(reading, sending, asyncio.Queue(_GROUPS_A_CORE * self._workers.count))
        except* _HungUp:
            pass
        finally:
            self._open.discard(reading)

    def _make_room(self) -> None:
        """See that there is a place; raises RefusedRequest where all are taken by who sends, or waits for answers."""
        if len(self._open) < MOST_BATCHES:
            return
        slowest = max(self._open, key=_Reading.waited)
        if slowest.waited() < SLOW_SECONDS:
            raise too_busy(self._workers.retry_seconds())
        self._open.remove(slowest)
        slowest.give_way()


async def _pass_on(reading: _Reading, sending: _Sending, ahead: asyncio.Queue[_Answers | None]) -> None:
    """Read, have answered and send, all three at once."""
    answers = reading.answers()
    left: deque[_Answers] = deque()

    async def put(one: _Answers) -> None:
        left.append(one)
        await ahead.put(one)

    async def read() -> None:
        async for one in answers:
            await put(one)
        await ahead.put(None)

    try:
        # whether the batch can be read at all is known before its status is sent
        await put(await anext(answers))
        async with asyncio.TaskGroup() as tasks:
            listener = tasks.create_task(reading.listen())
            tasks.create_task(read())
            while (one := await ahead.get()) is not None:
                await sending.send(one if isinstance(one, bytes) else await asyncio.wrap_future(one.future))
                left.popleft()
            await sending.end()
            listener.cancel()
    finally:
        # for a caller who is gone nothing more is computed
        for one in left:
            if not isinstance(one, bytes):
                one.abandon()


class _Sending:
    """The answers of a batch being sent."""

    def __init__(self, send: Send, *, is_packed: bool) -> None:
        self._send = send
        self._packer = Packer() if is_packed else None
        self._is_begun = False

    async def send(self, lines: bytes) -> None:
        """Send some lines; waits until the caller takes them, and raises _HungUp where that takes too long."""
        if not self._is_begun:
            await self._in_time({"type": "http.response.start", "status": 200, "headers": self._headers()})
            self._is_begun = True
        await self._body(self._packer.take(lines) if self._packer else lines, more=True)

    async def end(self) -> None:
        """Send what ends the body."""
        await self._body(self._packer.end() if self._packer else b"", more=False)

    def _headers(self) -> list[tuple[bytes, bytes]]:
        packed = [(b"content-encoding", b"gzip")] if self._packer else []
        return [(b"content-type", MEDIA_TYPE.encode()), *packed, (b"vary", b"Accept-Encoding")]

    async def _body(self, body: bytes, *, more: bool) -> None:
        await self._in_time({"type": "http.response.body", "body": body, "more_body": more})

    async def _in_time(self, message: Message) -> None:
        try:
            async with asyncio.timeout(IDLE_SECONDS):
                await self._send(message)
        except TimeoutError:
            raise _HungUp from None


def _is_packed(request: Request[None, None, State]) -> bool:
    """Whether the body is gzip; raises RefusedRequest for what is no NDJSON, or packed otherwise."""
    media_type, parameters = request.content_type
    if media_type.lower() != MEDIA_TYPE or parameters.get("charset", "utf-8").lower() != "utf-8":
        raise wrong_media_type()
    match request.headers.get("content-encoding", "").strip().lower():
        case "" | "identity":
            return False
        case "gzip" | "x-gzip":
            return True
        case _:
            raise wrong_encoding()


def wrong_media_type() -> RefusedRequest:
    """What is told of a body that is not NDJSON by its media type."""
    detail = f"Send the lines as {MEDIA_TYPE} in UTF-8."
    return RefusedRequest("unsupported-media-type", 415, detail, headers={"Accept": MEDIA_TYPE})


def wrong_encoding() -> RefusedRequest:
    """What is told of a body that is packed in a way that is not unpacked here."""
    detail = "Send the lines as they are, or packed by gzip."
    return RefusedRequest("unsupported-encoding", 415, detail, headers={"Accept-Encoding": "gzip"})


def empty() -> RefusedRequest:
    """What is told of a batch without a line."""
    return RefusedRequest("empty-body", 400, "Empty batch; send a line for each job.")


def too_slow() -> RefusedRequest:
    """What is told where no more arrives."""
    detail = f"Nothing arrived for {IDLE_SECONDS:.0f} s; send this line and what follows it again."
    return RefusedRequest("request-timeout", 408, detail, headers={"Connection": "close"})


def gave_way() -> RefusedRequest:
    """What is told where hardly anything arrived and another wanted the place."""
    detail = (
        f"Less than {LEAST_BYTES:,} bytes arrived in {SLOW_SECONDS:.0f} s and another batch waits; send this line and "
        "what follows it again, many lines at a time."
    )
    return RefusedRequest("request-timeout", 408, detail, headers={"Connection": "close"})


def unpacks_to_nothing() -> RefusedRequest:
    """What is told of a gzip body that unpacks to what nobody asks."""
    detail = (
        f"More than {MOST_DROPPED_BYTES:,} bytes of blank or too long lines; send this line and what follows again."
    )
    return RefusedRequest("body-too-large", 413, detail)


def route(resources: Sequence[Resource[Any, Any]], workers: Workers) -> HTTPRouteHandler:
    """The route of batches."""
    batches = _Batches(workers)

    @post(
        PATH,
        operation_id="runBatch",
        summary="Many jobs of any kind, a line each, answered line by line",
        tags=["Bench"],
        status_code=200,
        request_max_body_size=None,  # there is no end to it; a line has one
        opt={"batch": tuple(resources)},
    )
    async def run_batch(request: Request[None, None, State]) -> ASGIApp:
        """Answer any number of jobs of any kind, streamed both ways as lines of JSON (NDJSON).

        * Every line of the request is one object as `BatchLine` describes it, every line of the answer one as
        `BatchAnswer` does; the schemas here are those of one line. `request` is what `POST /v1/<kind>` takes; the line
        that answers it has its number, its `id`, the status it would have had by itself, and the answer or the
        problem, whose pointers are into the line.
        * Answers come in the order of the lines, each as soon as it is done. Every line that is not blank has exactly
        one, so that a caller who counts knows whether all came. Ids may repeat; the numbers of the lines do not.
        * A line that cannot be read or contradicts itself is refused by itself, and those after it are answered. A line
        may have 2,000,000 bytes, longer ones are refused with 413; how many there are is not limited. Blank lines are
        passed over and counted; lines may end in CR LF, and the last one needs no end.
        * Where the rest cannot be read, one more line says so (408: nothing arrived for 30 s; 400: its gzip is damaged;
        413: its gzip unpacks to 256 MB of blank or too long lines) with the number of the first line not read.
        * Read answers while you send: reading waits for a caller who does not take them, and one who neither sends nor
        takes anything for 30 s is cut off. Where many batches run at once, one of which less than 6,000 bytes arrived
        in 60 s of waiting ends with 408 for another. Who can only do one after the other sends fifty lines at a time.
        * `Content-Encoding: gzip` is unpacked, `Accept-Encoding: gzip` answered packed, each line whole as it comes.
        """

        async def answer(_: Scope, receive: Receive, send: Send) -> None:
            await batches.answer(request, receive, send)

        return answer

    return run_batch
