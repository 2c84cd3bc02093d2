"""Connections of the service as it is shipped, by callers who are silent, slow, broken or gone."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

import pytest
from tests.api.batches import line, read
from tests.api.jobs import example
from tests.live import Service, everything, get, post, problem, service

JOB = json.dumps(example("valve-mass")).encode()
PATH = "/v1/valve-mass"
DESCRIPTORS = 512


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    folder = tmp_path_factory.mktemp("shop")
    with service(folder, nofile=DESCRIPTORS, HEAD_SECONDS="0.4", IDLE_SECONDS="0.4") as one:
        yield one
        # whatever they did, it was never our fault
        assert [entry for entry in one.log if entry["status"] >= 500 and entry["status"] != 503] == []
        assert "Traceback" not in one.errors


@pytest.mark.parametrize(
    "sent",
    [b"", b"\r\n", b"GET /health/live HT", get()[:-2], get()[:-2] + b"X-Long: a"],
    ids=["silent", "blank", "half a line", "half a head", "half a field"],
)
def test_a_connection_that_sends_no_whole_head_is_closed(shop: Service, sent: bytes) -> None:
    assert shop.say(sent) == b""


def test_a_connection_that_rests_after_an_answer_is_closed(shop: Service) -> None:
    answer = shop.say(get())
    assert answer.startswith(b"HTTP/1.1 200 ")
    assert b"connection: close" not in answer


def test_a_body_that_nobody_reads_and_never_ends_holds_no_connection(shop: Service) -> None:
    assert shop.say(post("/nowhere", 1000) + b"{").startswith(b"HTTP/1.1 404 ")


@pytest.mark.parametrize(
    "head",
    [
        b"GET /health/live HTTP/1.1\r\nHost: bench\r\nX-Long: " + b"a" * 40_000,
        b"GET /health/live HTTP/1.1\r\nHost: bench\r\n" + b"X-Many: a\r\n" * 4_000,
        b"GET /" + b"a" * 40_000 + b" HTTP/1.1\r\nHost: bench\r\n\r\n",
        b"GET /health/live HTTP/1.1\r\nHost: bench\r\n" + b"X-Many: a\r\n" * 4_000 + b"\r\n",
    ],
    ids=["one field", "many fields", "address", "whole"],
)
def test_a_head_without_end_is_refused(shop: Service, head: bytes) -> None:
    assert problem(shop.say(head)) == (431, "head-too-large")


@pytest.mark.parametrize(
    "raw",
    [
        b"hello\r\n\r\n",
        b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
        b"GET /health/live HTTP/1.1\r\n\r\n",
        b"GET /health/live HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
        b"GET /health/live HTTP/1.1\r\nHost: bench\r\nno colon\r\n\r\n",
        b"GET /health/live HTTP/1.1\r\nHost : bench\r\n\r\n",
        post(PATH, 5)[:-2] + b"Content-Length: 6\r\n\r\nabcdef",
        post(PATH, 5)[:-2] + b"Transfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
        b"POST /v1/valve-mass HTTP/1.1\r\nHost: bench\r\nContent-Length: -1\r\n\r\n",
        b"GET http://[ HTTP/1.1\r\nHost: bench\r\n\r\n",
        b"CONNECT bench:443 HTTP/1.1\r\nHost: bench\r\n\r\n",
    ],
)  # fmt: skip
def test_what_is_not_http_is_told_so(shop: Service, raw: bytes) -> None:
    assert problem(shop.say(raw)) == (400, "malformed-http")


CHUNKED = re.sub(rb"Content-Length: 0", b"Transfer-Encoding: chunked", post(PATH, 0))


def test_chunks_that_are_none_are_told_so_by_the_address_that_reads_them(shop: Service) -> None:
    assert problem(shop.say(CHUNKED + b'4\r\n{"po\r\nzz\r\n')) == (400, "malformed-http")
    shop.until(lambda: any(one["route"] == PATH and one["status"] == 400 for one in shop.log))


def test_a_batch_whose_chunks_break_is_answered_up_to_there(shop: Service) -> None:
    head = CHUNKED.replace(PATH.encode(), b"/v1/batch").replace(b"application/json", b"application/x-ndjson")
    whole = line() + b"\n"
    with shop.connect() as connection:
        connection.sendall(head + b"%x\r\n%b\r\n" % (len(whole), whole))
        first = connection.recv(65_536)
        connection.sendall(b"zz\r\n")
        answer = first + everything(connection)
    lines = [one for one in answer.splitlines() if one.startswith(b'{"line"')]
    assert [(one["line"], one["status"]) for one in read(b"\n".join(lines))] == [(1, 200), (2, 400)]
    assert answer.endswith(b"0\r\n\r\n")


@pytest.mark.parametrize("path", [PATH, "/v1/batch"])
def test_a_caller_who_leaves_in_the_midst_of_a_body_is_noted_as_that(shop: Service, path: str) -> None:
    name = f"left-{path.rpartition('/')[2]}"
    media_type = "application/x-ndjson" if path.endswith("batch") else "application/json"
    with shop.connect() as connection:
        connection.sendall(post(path, 1000, media_type, X_Request_Id=name) + b'{"positions": [')
    shop.until(lambda: any(one["request_id"] == name for one in shop.log))
    assert [one["status"] for one in shop.log if one["request_id"] == name] == [499]


def test_who_asks_for_another_protocol_is_answered_in_this_one(shop: Service) -> None:
    wishes = {"Upgrade": "h2c", "Connection": "Upgrade, HTTP2-Settings", "HTTP2-Settings": "AAMAAABkAAQAAP__"}
    assert shop.say(get(headers=wishes)).startswith(b"HTTP/1.1 200 ")


def test_requests_sent_ahead_are_answered_in_their_order_and_too_many_are_not(shop: Service) -> None:
    asked = [f"/v1/{number}" for number in range(5)]
    answers = shop.say(b"".join(map(get, asked)))
    assert answers.count(b"HTTP/1.1 404 ") == 5
    # seventeen that wait are one too many
    assert shop.say(get() * 1000).count(b"HTTP/1.1 200 ") <= 18


def test_head_is_answered_as_get_without_a_body(shop: Service) -> None:
    asked = shop.say(get("/version", close=True))
    answer = shop.say(get("/version", close=True).replace(b"GET", b"HEAD"))

    def fields(head: bytes) -> list[bytes]:
        return [one for one in head.lower().splitlines() if not one.startswith((b"date", b"x-request-id"))]

    whole, _, body = asked.partition(b"\r\n\r\n")
    assert body
    assert answer.endswith(b"\r\n\r\n")
    assert fields(answer[:-4]) == fields(whole)


def test_more_connections_than_descriptors_keep_nobody_from_being_answered(shop: Service) -> None:
    silent = [shop.connect() for _ in range(DESCRIPTORS + 100)]
    try:
        assert shop.status() == 200
    finally:
        for one in silent:
            one.close()
