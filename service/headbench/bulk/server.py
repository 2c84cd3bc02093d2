"""Server: jobs answered by a service somewhere else, asked again as often as it takes.

Lines are sent fifty at most at a time, as one does who sends first and reads then, several such batches at once.
Where the service is too busy, or the connection breaks, the batch is sent again after a while that grows; answering
twice does no harm, because a service keeps nothing.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from http import HTTPStatus
from types import TracebackType
from typing import Any, Final, Self

import httpx
import msgspec
import stamina
from stamina.instrumentation import RetryDetails, set_on_retry_hooks

from headbench.api.batch.lines import Group
from headbench.bulk.recompute import Answerer
from headbench.bulk.results import Unusable

KEY: Final = "HEADBENCH_KEY"
"""Where the environment holds the key for a service that asks for one; not in the command, which others may list."""

AT_ONCE: Final = 4
"""Batches that are sent at a time; a service takes more, from others too."""

_LINES: Final = 50
_BYTES: Final = 200_000
"""Where a batch ends: what a service reads before its first answer is taken."""

_SECONDS_TO_COME_BACK: Final = 300.0
"""How long a service may be too busy, or away, before the run is given up."""

_MOST_SECONDS_BETWEEN: Final = 20.0
_TIMEOUT: Final = httpx.Timeout(120.0, connect=10.0)


class GaveUp(Exception):
    """The service does not answer, or not as one of these does; says how."""


class _Again(Exception):
    """The service could not answer this time; after so many seconds it may."""

    def __init__(self, what: str, seconds: float | None = None) -> None:
        super().__init__(what)
        self.seconds = seconds


class _Line(msgspec.Struct, frozen=True):
    line: int
    status: int
    id: str | None
    answer: msgspec.Raw = msgspec.Raw()
    problem: msgspec.Raw = msgspec.Raw()


_DECODER: Final = msgspec.json.Decoder(_Line)


class Server:
    """A service by its address; `seconds_to_come_back` is how long it may be away."""

    def __init__(self, address: str, *, seconds_to_come_back: float = _SECONDS_TO_COME_BACK) -> None:
        """Raises Unusable for what is no address."""
        url = httpx.URL(address)
        if url.scheme not in {"http", "https"} or not url.host:
            raise Unusable(f'"{address}" is no address of a service; write http://127.0.0.1:8317.')
        key = os.environ.get(KEY)
        self._client = httpx.Client(
            base_url=url, timeout=_TIMEOUT, headers={"Authorization": f"Bearer {key}"} if key else {}
        )
        self._threads = ThreadPoolExecutor(AT_ONCE, thread_name_prefix="server")
        self._seconds = seconds_to_come_back
        self._is_over = False

    def __enter__(self) -> Self:
        """Itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Ask nothing more."""
        self._is_over = True
        self._threads.shutdown(cancel_futures=True)
        self._client.close()

    def version(self) -> str:
        """The release that answers there; raises GaveUp."""
        version: str = self._until_it_works(lambda: msgspec.json.decode(self._asked("GET", "/version"))["version"])
        return version

    def answerer(self) -> Answerer:
        """It, as one who answers lines."""
        return Answerer(self._ask, AT_ONCE, _LINES, _BYTES)

    def _ask(self, group: Group) -> Future[bytes]:
        return self._threads.submit(self._until_it_works, lambda: self._answers(group))

    def _until_it_works(self, do: Callable[[], Any]) -> Any:
        retries = stamina.retry_context(
            self._seconds_until_next, attempts=None, timeout=self._seconds, wait_max=_MOST_SECONDS_BETWEEN
        )
        try:
            for attempt in retries:
                with attempt:
                    return do()
        except (_Again, httpx.TransportError) as error:
            raise GaveUp(f"{self._client.base_url} does not answer: {error}.") from None
        raise AssertionError("the last attempt returns or raises")

    def _seconds_until_next(self, error: Exception) -> bool | float:
        """Whether to ask again after an error, and when where the service says so."""
        if self._is_over:
            return False
        if isinstance(error, _Again):
            return True if error.seconds is None else min(error.seconds, _MOST_SECONDS_BETWEEN)
        return isinstance(error, httpx.TransportError)

    def _answers(self, group: Group) -> bytes:
        body = b"".join(raw + b"\n" for _, raw in group)
        answers = self._asked("POST", "/v1/batch", body).splitlines()
        try:
            read = [_DECODER.decode(answer) for answer in answers]
        except msgspec.DecodeError:
            raise GaveUp(f"{self._client.base_url} answers what is no line of results.") from None
        if [one.line for one in read] != list(range(1, len(group) + 1)) or any(one.status == _LATE for one in read):
            raise _Again("it broke off in the middle of a batch")
        return b"".join(_renumbered(one, number) for one, (number, _) in zip(read, group, strict=True))

    def _asked(self, method: str, path: str, body: bytes | None = None) -> bytes:
        headers = {"Content-Type": "application/x-ndjson"} if body else {}
        response = self._client.request(method, path, content=body, headers=headers)
        if response.status_code in _BUSY:
            after = response.headers.get("Retry-After", "")
            raise _Again(
                f"{response.status_code} {response.reason_phrase}", float(after) if after.isdecimal() else None
            )
        if response.status_code == HTTPStatus.UNAUTHORIZED:
            raise GaveUp(f"{self._client.base_url} asks for a key; set {KEY} to one that it knows.")
        if not response.is_success:
            raise GaveUp(f"{response.url} answers {response.status_code} {response.reason_phrase}.")
        return response.content


_LATE: Final = HTTPStatus.REQUEST_TIMEOUT
_BUSY: Final = frozenset({HTTPStatus.TOO_MANY_REQUESTS, HTTPStatus.SERVICE_UNAVAILABLE})


def _renumbered(one: _Line, number: int) -> bytes:
    """An answer with the number that its line has in the file; all else byte for byte as it came."""
    if bytes(one.answer):
        return _encoded(number, one, "answer", one.answer)
    problem = bytes(one.problem)
    if b"malformed-json" in problem:
        # such a sentence says where the text breaks off, by the line of what was sent
        problem = problem.replace(b"at line %d, column" % one.line, b"at line %d, column" % number)
    return _encoded(number, one, "problem", msgspec.Raw(problem))


def _encoded(number: int, one: _Line, name: str, said: msgspec.Raw) -> bytes:
    return msgspec.json.encode({"line": number, "id": one.id, "status": one.status, name: said}) + b"\n"


def tell_retries(tell: Callable[[str], None]) -> None:
    """Have every further attempt told in a sentence."""

    def hook(details: RetryDetails) -> None:
        tell(f"No answer ({details.caused_by}); asking again in {details.wait_for:.1f} s.")

    set_on_retry_hooks([hook])
