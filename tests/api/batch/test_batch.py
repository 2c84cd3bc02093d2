"""POST /v1/batch, one step at a time: what is refused as a whole, what ends it, and that neither side runs ahead."""

from __future__ import annotations

import asyncio
import gzip
import json
from itertools import repeat
from threading import Timer
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.batches import NDJSON, AtOnce, Caller, Given, called, line, read, told

from headbench.api.app import create_app
from headbench.api.batch import batch
from headbench.api.batch.lines import MOST_LINE_BYTES, Group
from headbench.api.batch.pace import LEAST_BYTES, Pace
from headbench.api.exchange.gzipped import Packer

Client = TestClient[ASGIApp]


@pytest.fixture
def workers() -> AtOnce:
    return AtOnce()


@pytest.fixture
def service(workers: AtOnce) -> ASGIApp:
    return create_app(workers)


@pytest.fixture
def quickly(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody is waited for."""
    monkeypatch.setattr(batch, "IDLE_SECONDS", 0.2)


def refused(caller: Caller) -> tuple[int, str]:
    document = json.loads(caller.body)
    assert document["status"] == caller.status
    return caller.status, document["type"].rsplit(":")[-1]


def header(caller: Caller, name: bytes) -> bytes | None:
    return dict(caller.got[0]["headers"]).get(name)  # type: ignore[typeddict-item] # the first message has them


def test_the_answers_are_ndjson_in_the_order_of_the_lines(service: ASGIApp) -> None:
    body = line("valve-mass", "a") + b"\r\n\n{\n" + line("coil-bind", "a") + b"\n" + line(name=None)
    caller = called(service, Caller([body]))
    assert (caller.status, header(caller, b"content-type")) == (200, b"application/x-ndjson")
    assert header(caller, b"vary") == b"Accept-Encoding"
    assert caller.body.endswith(b"\n")
    # blank lines count, ids may repeat, CR LF ends a line, the last needs no end
    assert told(read(caller.body)) == [(1, "a", 200), (3, None, 400), (4, "a", 200), (5, None, 200)]


class LastFirst(AtOnce):
    """The longer a group waits, the later it came."""

    count = 2

    def begin_lines(self, group: Group) -> Given:
        done = super().begin_lines(group).future.result()
        later = Given()
        Timer(0.2 / group[0][0], later.future.set_result, [done]).start()
        return later


def test_answers_that_are_done_early_wait_for_those_before_them() -> None:
    chunks = [line(name=str(number)) + b"\n" for number in range(1, 7)]
    caller = called(create_app(LastFirst()), Caller(chunks))
    assert told(read(caller.body)) == [(number, str(number), 200) for number in range(1, 7)]


@pytest.mark.parametrize("chunks", [[], [b""], [b"\n" * 1_000_000], [b" \r\n", b"\t\n  "]])
def test_a_batch_without_a_line_is_refused(service: ASGIApp, workers: AtOnce, chunks: list[bytes]) -> None:
    assert refused(called(service, Caller(chunks))) == (400, "empty-body")
    assert workers.asked == []


def test_a_line_after_a_million_blank_ones_has_its_number(service: ASGIApp) -> None:
    caller = called(service, Caller([b"\n" * 1_000_000, line()]))
    assert told(read(caller.body)) == [(1_000_001, "J-1", 200)]


def test_a_line_that_is_cut_off_is_refused_with_its_number(service: ASGIApp) -> None:
    caller = called(service, Caller([line() + b"\n" + line()[:-9]]))
    assert told(read(caller.body)) == [(1, "J-1", 200), (2, None, 400)]


def test_a_line_that_is_too_long_is_refused_and_those_around_it_are_answered(service: ASGIApp, workers: AtOnce) -> None:
    piece = b"x" * 1_000_000
    caller = called(service, Caller([line() + b"\n", *repeat(piece, 100), b"\n" + line(name="J-2")]))
    answers = read(caller.body)
    assert told(answers) == [(1, "J-1", 200), (2, None, 413), (3, "J-2", 200)]
    assert f"{MOST_LINE_BYTES:,} bytes" in answers[1]["problem"]["detail"]
    assert workers.asked == [1, 3]


def test_a_line_as_long_as_a_request_may_be_is_answered(service: ASGIApp) -> None:
    caller = called(service, Caller([line().ljust(MOST_LINE_BYTES) + b"\n" + line().ljust(MOST_LINE_BYTES + 1)]))
    assert told(read(caller.body)) == [(1, "J-1", 200), (2, None, 413)]


@pytest.mark.parametrize(
    ("headers", "code", "asked"),
    [
        ({"Content-Type": "application/json"}, "unsupported-media-type", ("accept", "application/x-ndjson")),
        ({"Content-Type": "text/plain"}, "unsupported-media-type", ("accept", "application/x-ndjson")),
        ({}, "unsupported-media-type", ("accept", "application/x-ndjson")),
        (
            {"Content-Type": "application/x-ndjson; charset=latin-1"},
            "unsupported-media-type",
            ("accept", "application/x-ndjson"),
        ),
        (NDJSON | {"Content-Encoding": "br"}, "unsupported-encoding", ("accept-encoding", "gzip")),
        (NDJSON | {"Content-Encoding": "gzip, gzip"}, "unsupported-encoding", ("accept-encoding", "gzip")),
    ],
)
def test_a_body_that_is_not_read_is_told_which_would_be(
    client: Client, headers: dict[str, str], code: str, asked: tuple[str, str]
) -> None:
    answer = client.post("/v1/batch", content=line(), headers=headers)
    assert (answer.status_code, answer.json()["type"].rsplit(":")[-1]) == (415, code)
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.headers[asked[0]] == asked[1]


def test_it_is_posted_to(client: Client) -> None:
    answer = client.get("/v1/batch")
    assert (answer.status_code, answer.headers["allow"]) == (405, "POST, OPTIONS")


@pytest.mark.parametrize("named", [b"gzip", b"x-gzip", b"GZIP"])
def test_a_gzip_body_is_unpacked(service: ASGIApp, named: bytes) -> None:
    packed = gzip.compress(line(name="a") + b"\n") + gzip.compress(line(name="b"))
    chunks = [packed[start : start + 50] for start in range(0, len(packed), 50)]
    caller = called(service, Caller(chunks), [(b"content-encoding", named)])
    assert told(read(caller.body)) == [(1, "a", 200), (2, "b", 200)]


def test_gzip_is_answered_to_who_asks_for_it(service: ASGIApp) -> None:
    chunks = [line(name="a") + b"\n", line(name="b")]
    plain = called(service, Caller(chunks))
    packed = called(service, Caller(chunks), [(b"accept-encoding", b"br;q=1, gzip;q=0.5")])
    assert header(plain, b"content-encoding") is None
    assert header(packed, b"content-encoding") == b"gzip"
    assert gzip.decompress(packed.body) == plain.body


GZIP = [(b"content-encoding", b"gzip")]


@pytest.mark.parametrize("damaged", [b"", b"no more gzip than this"], ids=["cut off", "damaged"])
def test_what_was_read_of_a_damaged_gzip_body_is_answered_and_the_rest_is_told(
    service: ASGIApp, damaged: bytes
) -> None:
    packer = Packer()
    packed = packer.take(line(name="a") + b"\n") + packer.take(line(name="b") + b"\n" + line()[:20])
    caller = called(service, Caller([packed, *([damaged] if damaged else [])]), GZIP)
    answers = read(caller.body)
    assert caller.status == 200
    assert told(answers) == [(1, "a", 200), (2, "b", 200), (3, None, 400)]
    assert answers[-1]["problem"]["type"] == "urn:headbench:problem:malformed-gzip"


def test_a_body_that_is_no_gzip_at_all_is_refused(service: ASGIApp) -> None:
    assert refused(called(service, Caller([line()]), GZIP)) == (400, "malformed-gzip")


def test_an_empty_gzip_body_is_an_empty_batch(service: ASGIApp) -> None:
    assert refused(called(service, Caller([gzip.compress(b"")]), GZIP)) == (400, "empty-body")


@pytest.mark.parametrize("filling", [b"\n", b"x"], ids=["blank lines", "one line"])
def test_a_gzip_bomb_is_left_where_it_unpacks_to_too_much_of_nothing(
    service: ASGIApp, monkeypatch: pytest.MonkeyPatch, filling: bytes
) -> None:
    monkeypatch.setattr(batch, "MOST_DROPPED_BYTES", 10_000_000)
    bomb = gzip.compress(line() + b"\n" + filling * 50_000_000)
    answers = read(called(service, Caller([bomb]), GZIP).body)
    assert [one["status"] for one in answers] == [200, 413]
    assert answers[1]["line"] < 10_100_000
    assert refused(called(service, Caller([gzip.compress(filling * 50_000_000)]), GZIP)) == (413, "body-too-large")


def test_as_many_bytes_of_nothing_that_are_sent_as_they_are_cost_their_sender_as_much(
    service: ASGIApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch, "MOST_DROPPED_BYTES", 1000)
    caller = called(service, Caller([line() + b"\n", b"\n" * 2000, line()]))
    assert told(read(caller.body)) == [(1, "J-1", 200), (2002, "J-1", 200)]


@pytest.mark.usefixtures("quickly")
def test_a_caller_who_sends_no_more_is_told_after_what_was_sent_is_answered(service: ASGIApp) -> None:
    caller = called(service, Caller([line() + b"\n" + line()[:20]], then="waits"))
    answers = read(caller.body)
    assert told(answers) == [(1, "J-1", 200), (2, None, 408)]
    assert answers[-1]["problem"]["type"] == "urn:headbench:problem:request-timeout"
    assert caller.got[-1]["more_body"] is False  # type: ignore[typeddict-item] # the last message says so


@pytest.mark.usefixtures("quickly")
def test_a_caller_who_sends_nothing_is_refused(service: ASGIApp) -> None:
    caller = called(service, Caller([], then="waits"))
    assert refused(caller) == (408, "request-timeout")
    assert header(caller, b"connection") == b"close"


@pytest.mark.usefixtures("quickly")
@pytest.mark.parametrize("takes", [0, 1, 3])
def test_of_a_caller_who_takes_no_more_no_more_is_read_or_computed(
    service: ASGIApp, workers: AtOnce, takes: int
) -> None:
    caller = called(service, Caller(repeat(line() + b"\n", 10_000), takes=takes))
    assert len(caller.got) == takes
    assert takes <= len(workers.asked) <= caller.sent < 20


@pytest.mark.parametrize("chunks", [0, 1, 4])
def test_a_caller_who_hangs_up_is_forgotten_and_what_waits_for_a_worker_is_not_computed(
    chunks: int,
) -> None:
    idle = AtOnce(answer=False)
    caller = called(create_app(idle), Caller([line() + b"\n"] * chunks, then="hangs up"))
    assert caller.got == []
    # more than that was never asked: the others were not even read
    assert len(idle.asked) < 20
    assert all(work.is_abandoned for work in idle.left)


def test_one_batch_too_many_is_told_to_come_back() -> None:
    service = create_app(AtOnce(answer=False))

    async def call() -> Caller:
        waiting = [asyncio.create_task(Caller([line()], then="ends").call(service)) for _ in range(batch.MOST_BATCHES)]
        for _ in range(100):
            await asyncio.sleep(0)
        one_more = Caller([line()])
        await one_more.call(service)
        for task in waiting:
            task.cancel()
        await asyncio.gather(*waiting, return_exceptions=True)
        return one_more

    caller = asyncio.run(call())
    assert refused(caller) == (503, "busy")
    assert header(caller, b"retry-after") == b"1"


def one_more_beside(service: ASGIApp, others: list[Caller]) -> Caller:
    """Call while these are being answered; what they got meanwhile stands at them."""

    async def call() -> Caller:
        waiting = [asyncio.create_task(other.call(service)) for other in others]
        for _ in range(100):
            await asyncio.sleep(0)
        one_more = Caller([line()])
        await one_more.call(service)
        for _ in range(100):
            await asyncio.sleep(0)
        for task in waiting:
            task.cancel()
        await asyncio.gather(*waiting, return_exceptions=True)
        return one_more

    return asyncio.run(call())


def test_a_batch_that_hardly_sends_gives_its_place_to_one_that_waits(
    service: ASGIApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch, "SLOW_SECONDS", 0.0)
    trickling = [Caller([line("valve-mass", "first") + b"\n", b" "], then="waits") for _ in range(batch.MOST_BATCHES)]
    one_more = one_more_beside(service, trickling)
    assert told(read(one_more.body)) == [(1, "J-1", 200)]
    ended = [caller for caller in trickling if told(read(caller.body))[1:]]
    # one place was wanted, so one gave way: what it had sent was answered, and it is told where to go on
    (out,) = ended
    assert told(read(out.body)) == [(1, "first", 200), (2, None, 408)]
    assert "another batch waits" in read(out.body)[1]["problem"]["detail"]


def test_a_batch_that_has_sent_nothing_whole_gives_way_with_a_status(
    service: ASGIApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch, "SLOW_SECONDS", 0.0)
    trickling = [Caller([b"{"], then="waits") for _ in range(batch.MOST_BATCHES)]
    assert one_more_beside(service, trickling).status == 200
    assert [refused(caller) for caller in trickling if caller.got] == [(408, "request-timeout")]


def test_a_batch_that_sends_enough_or_has_just_begun_keeps_its_place(
    service: ASGIApp,
) -> None:
    # of a minute nothing has passed
    trickling = [Caller([b"{"], then="waits") for _ in range(batch.MOST_BATCHES)]
    assert refused(one_more_beside(service, trickling)) == (503, "busy")
    assert not any(caller.got for caller in trickling)


def test_a_batch_whose_lines_are_being_answered_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(batch, "SLOW_SECONDS", 0.0001)
    working = [Caller([(line() + b"\n") * 1000], then="waits") for _ in range(batch.MOST_BATCHES)]
    one_more = one_more_beside(create_app(AtOnce(answer=False)), working)
    assert refused(one_more) == (503, "busy")


def test_what_comes_in_time_is_forgotten_and_a_wait_counts_from_there() -> None:
    now = 0.0
    pace = Pace(lambda: now)

    async def wait(seconds: float, size: int) -> float:
        nonlocal now
        async with pace.waiting(most=60.0):
            now += seconds
            waited = pace.waited()
        pace.got(size)
        # what is being answered is not waited for
        assert pace.waited() == 0.0
        return waited

    async def waits() -> list[float]:
        return [await wait(*one) for one in ((50.0, 10), (20.0, LEAST_BYTES - 11), (5.0, 1), (7.0, 10), (1.0, 0))]

    # a byte before there are enough of them the wait goes on, with it a new one begins
    assert asyncio.run(waits()) == [50.0, 70.0, 75.0, 7.0, 8.0]


def test_a_batch_that_is_over_leaves_room_for_the_next(service: ASGIApp) -> None:
    for _ in range(batch.MOST_BATCHES + 1):
        assert called(service, Caller([line()])).status == 200
        assert called(service, Caller([])).status == 400
        called(service, Caller([], then="hangs up"))


def test_what_is_handed_over_at_a_time_is_bounded(
    service: ASGIApp, workers: AtOnce, monkeypatch: pytest.MonkeyPatch
) -> None:
    groups: list[Group] = []
    begin_lines = workers.begin_lines

    def noted(group: Group) -> Any:
        groups.append(group)
        return begin_lines(group)

    monkeypatch.setattr(workers, "begin_lines", noted)
    called(service, Caller([(line() + b"\n") * 100 + line().ljust(1_000_000) + b"\n" + line()]))
    assert sum(map(len, groups)) == 102
    assert max(map(len, groups)) <= 16
    assert max(sum(len(raw) for _, raw in group[:-1]) for group in groups) < 64_000
