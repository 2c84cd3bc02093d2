"""Connection: HTTP/1.1 as uvicorn speaks it, bounded in time, bytes and number, its refusals told as problems.

What uvicorn leaves open is closed here: a connection that sends nothing, half a head or half a body that nobody
reads, or takes nothing of an answer; heads without end; more requests at once than anybody needs.
"""

from __future__ import annotations

import asyncio
import logging
from functools import partial
from typing import Any, Final

import httptools
import msgspec
from uvicorn.config import Config
from uvicorn.protocols.http.httptools_impl import STATUS_LINE, HttpToolsProtocol, RequestResponseCycle
from uvicorn.server import ServerState

from headbench.api.exchange.asking import too_busy
from headbench.api.exchange.problems import MEDIA_TYPE, defect, refusal
from headbench.api.listening.watch import Wait, Watch
from headbench.api.serving.observing import observe_refused
from headbench.errors import RefusedRequest

MOST_HEAD_BYTES: Final = 32_768
"""Longest head of a request that is read: its address and its fields."""

_AROUND: Final = len(": \r\n")

MOST_AHEAD: Final = 16
"""Requests that may be sent on a connection before the first of them is answered."""

_log = logging.getLogger(__name__)


class State(ServerState):
    """What the connections of a worker share."""

    def __init__(self, watch: Watch) -> None:
        super().__init__()
        self.watch = watch


class Connection(HttpToolsProtocol):
    """A connection to a caller."""

    def __init__(
        self,
        config: Config,
        server_state: State,
        app_state: dict[str, Any],
        _loop: asyncio.AbstractEventLoop | None = None,
    ) -> None:
        super().__init__(config, server_state, app_state, _loop)
        self._watch = server_state.watch
        self._running: RequestResponseCycle | None = None
        self._head_bytes = 0
        self._is_in_head = False
        self._is_in_message = False
        self._is_deaf = False
        self._fault: tuple[RequestResponseCycle, RefusedRequest] | None = None
        self._untaken = 0

    # what asyncio calls

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override] # always one that writes
        """Somebody is there."""
        super().connection_made(transport)
        self._softly = _Softly(self)
        if self._watch.is_full():
            self._refuse(too_busy(1))
            transport.close()
        else:
            self._watch.put(self, Wait.HEAD)

    def connection_lost(self, exc: Exception | None) -> None:
        """Nobody is there any longer; whoever answers is told."""
        self._watch.gone(self)
        self.pipeline.clear()
        if self._running is not None and self._running is not self.cycle:
            self._running.disconnected = True
            self._running.message_event.set()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Read on."""
        if self._is_deaf:
            return
        try:
            self.parser.feed_data(data)
        except httptools.HttpParserUpgrade:
            # the request is answered as if it had not asked; what follows it would not be HTTP/1.1
            self._is_deaf = True
        except httptools.HttpParserError as error:
            cause = error.__context__
            self._is_faulty(cause if isinstance(cause, RefusedRequest) else malformed())
        else:
            if self._is_in_head:
                self._head_bytes += len(data)
                if self._head_bytes > MOST_HEAD_BYTES:
                    self._is_faulty(head_too_large())
            elif self._is_in_message and self.is_answering and not self.flow.write_paused:
                self._watch.put(self, Wait.BODY)

    def pause_writing(self) -> None:
        """The caller takes less than there is."""
        super().pause_writing()
        self._wait_until_taken()

    def resume_writing(self) -> None:
        """The caller has taken nearly all."""
        super().resume_writing()
        if self.is_answering:
            self._watch.forget(self)
        elif not self.transport.is_closing():
            self._wait_for_request()

    # what the parser calls

    def on_message_begin(self) -> None:
        """A request begins."""
        if len(self.pipeline) >= MOST_AHEAD:
            raise malformed()
        super().on_message_begin()
        self._is_in_head = self._is_in_message = True
        self._head_bytes = 0
        if not self.is_answering:
            self._watch.put(self, Wait.HEAD)

    def on_headers_complete(self) -> None:
        """Its head is there."""
        self._is_in_head = False
        if len(self.url) + sum(len(name) + len(value) + _AROUND for name, value in self.headers) > MOST_HEAD_BYTES:
            raise head_too_large()
        hosts = sum(name == b"host" for name, _ in self.headers)
        # RFC 9112, 3.2
        if hosts > 1 or (not hosts and self.parser.get_http_version() == "1.1"):
            raise malformed()
        self._watch.forget(self)
        super().on_headers_complete()
        if self.parser.should_upgrade():
            self.cycle.keep_alive = False

    def on_message_complete(self) -> None:
        """All of it is there."""
        self._is_in_message = False
        super().on_message_complete()
        if not self.is_answering:
            self._wait_for_request()
        elif not self.flow.write_paused:
            self._watch.forget(self)

    # what is done with a request

    def _start_asgi_task(self, cycle: RequestResponseCycle, app: Any) -> None:
        self._running = cycle
        if self._watch.is_ending and not self.pipeline:
            cycle.keep_alive = False
        cycle.transport = self._softly  # type: ignore[assignment] # all that uvicorn asks of it
        task = self.loop.create_task(self._answer(cycle, app))
        task.add_done_callback(self.tasks.discard)
        self.tasks.add(task)

    async def _answer(self, cycle: RequestResponseCycle, app: Any) -> None:
        try:
            await app(cycle.scope, partial(self._receive, cycle), cycle.send)
        except asyncio.CancelledError:
            # the service ends before the answer
            self.transport.abort()
            raise
        except Exception:  # noqa: BLE001 - whatever it is, the other connections go on
            _log.exception("unexpected error")
            if cycle.response_started or cycle.disconnected:
                self.transport.abort()
            else:
                self._say(500, msgspec.json.encode(defect()))
        else:
            if not cycle.response_complete:
                # an answer that breaks off is not to be taken for a whole one
                self.transport.abort()
        finally:
            cycle.on_response = _nothing

    async def _receive(self, cycle: RequestResponseCycle) -> Any:
        """What comes next of a request; raises RefusedRequest where it cannot be read."""
        message = None if self._is_broken(cycle) else await cycle.receive()
        if self._fault is not None and self._is_broken(cycle):
            raise self._fault[1]
        return message

    def _is_broken(self, cycle: RequestResponseCycle) -> bool:
        return self._fault is not None and self._fault[0] is cycle

    def on_response_complete(self) -> None:
        """A request is answered."""
        self.server_state.total_requests += 1
        self._running = None
        if self.transport.is_closing():
            return
        if self.pipeline:
            self._start_asgi_task(*self.pipeline.pop())
        elif not self._is_deaf:
            self.flow.resume_reading()
            self._wait_for_request()

    @property
    def is_answering(self) -> bool:
        """Whether a request is under way."""
        return self._running is not None

    # how it ends

    def _wait_for_request(self) -> None:
        if self.flow.write_paused:
            self._wait_until_taken()
        else:
            self._watch.put(self, Wait.HEAD if self._is_in_message else Wait.REQUEST)

    def _wait_until_taken(self) -> None:
        self._untaken = self.transport.get_write_buffer_size()
        self._watch.put(self, Wait.TAKING)

    def out_of_time(self, wait: Wait) -> None:
        """Close what has waited too long, however much is left to be sent of what nobody takes."""
        untaken = self.transport.get_write_buffer_size()
        if wait is Wait.TAKING and untaken < self._untaken:
            self._wait_until_taken()
        elif wait is Wait.TAKING or self.transport.is_closing() or self._is_deaf or not untaken:
            self.transport.abort()
        else:
            self._wait_until_taken()
            self.transport.close()

    def give_way(self) -> None:
        """Close to make room."""
        self.transport.abort()

    def shutdown(self) -> None:
        """The service stops: what is under way is answered, and is the last."""
        if self.cycle is not None:
            self.cycle.keep_alive = False

    def close_softly(self) -> None:
        """Close once all is taken; while more arrives it is not read, for the system would take back what was said."""
        if self._is_in_message or self._is_deaf:
            self._is_deaf = True
            self.flow.resume_reading()
            self.transport.write_eof()
            self._watch.put(self, Wait.HEAD)
        else:
            self._wait_until_taken()
            self.transport.close()

    def _is_faulty(self, error: RefusedRequest) -> None:
        """What arrives is not HTTP any more."""
        self._is_deaf = True
        cycle = self.cycle if self.is_answering else None
        if cycle is None:
            self._refuse(error)
            return
        cycle.keep_alive = False
        if cycle.more_body:
            self._fault = (cycle, error)
            cycle.message_event.set()

    def _refuse(self, error: RefusedRequest) -> None:
        """Tell what no request was made of."""
        observe_refused(error.status)
        self._is_deaf = True
        self._say(error.status, msgspec.json.encode(refusal(error)), error.headers)

    def _say(self, status: int, body: bytes, headers: dict[str, str] | None = None) -> None:
        fields = {
            **(headers or {}),
            "Content-Type": MEDIA_TYPE,
            "Content-Length": str(len(body)),
            "Connection": "close",
        }
        head = "".join(f"{name}: {value}\r\n" for name, value in fields.items())
        self.transport.write(STATUS_LINE[status] + f"{head}\r\n".encode() + body)
        self.close_softly()


class _Softly:
    """What a request may do with its connection."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self.write = connection.transport.write
        self.is_closing = connection.transport.is_closing

    def close(self) -> None:
        self._connection.close_softly()


def _nothing() -> None:
    """Nobody waits for the end of this answer any more."""


def malformed() -> RefusedRequest:
    """What is told of bytes that are not HTTP/1.1."""
    return RefusedRequest("malformed-http", 400, "The request is not HTTP/1.1 as it should be; nothing was computed.")


def head_too_large() -> RefusedRequest:
    """What is told of an address and fields without end."""
    detail = f"Address and header fields are longer than {MOST_HEAD_BYTES:,} bytes; leave out what is not needed."
    return RefusedRequest("head-too-large", 431, detail)
