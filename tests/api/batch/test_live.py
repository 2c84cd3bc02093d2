"""POST /v1/batch of the service as it is shipped, by callers that were not written for it."""

from __future__ import annotations

import gzip
import http.client
import json
import socket
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

import httpx
from tests.api.batches import NDJSON, REQUESTS, line, read, told
from tests.streaming import streamed

KINDS = list(REQUESTS)

# request -> what its address says to it, by its status and body
Alone = dict[str, tuple[int, Any]]


def lines_of_every_kind(count: int) -> list[bytes]:
    """Jobs of every kind, every tenth line one that no address would take."""
    bad = [
        line("head-assembly", "twice", request={"positions": [{"id": "1I", "valve": "intake"}] * 2}),
        line("valve-mass", "odd", request={"positions": [{"id": "1I", "valve": "inlet"}]}),
        line("coil-bind", "unknown", request=REQUESTS["coil-bind"] | {"hight": 1}),
        b'{"kind": "valve-masses", "id": "kind", "request": {}}',
        b'{"kind": "valve-mass", "id": "half", "request": {"posi',
        b"\xff\xfe",
        b"",
    ]
    return [
        bad[number // 10 % len(bad)] if number % 10 == 0 else line(KINDS[number % len(KINDS)], f"J-{number}")
        for number in range(1, count + 1)
    ]


def alone(address: str, kind: str, request: Any) -> tuple[int, Any]:
    """What the address of a kind says to a request, with the pointers that a line would have."""
    answer = httpx.post(f"{address}/v1/{kind}", json=request)
    document = answer.json()
    for error in document.get("errors", []) if answer.is_error else ():
        error["pointer"] = "/request" + error["pointer"]
    return answer.status_code, document


def test_two_thousand_lines_are_each_answered_as_at_their_own_address(address: str) -> None:
    lines = lines_of_every_kind(2000)
    blocks = (b"\n".join(lines[start : start + 7]) + b"\n" for start in range(0, len(lines), 7))
    answers = read(b"".join(streamed(address, blocks)))
    asked = {number: raw for number, raw in enumerate(lines, start=1) if raw}
    assert [one["line"] for one in answers] == list(asked)
    by_itself: Alone = {}
    for one, raw in zip(answers, asked.values(), strict=True):
        try:
            job = json.loads(raw)
        except ValueError:
            assert (one["id"], one["status"]) == (None, 400)
            continue
        assert one["id"] == job["id"]
        if job["kind"] not in REQUESTS:
            assert one["status"] == 400
            continue
        key = json.dumps([job["kind"], job["request"]])
        if key not in by_itself:
            by_itself[key] = alone(address, job["kind"], job["request"])
        assert (one["status"], one.get("answer", one.get("problem"))) == by_itself[key]
    assert {status for status, _ in by_itself.values()} == {200, 400, 422}


def test_a_caller_who_sends_everything_before_reading_is_answered_too(address: str) -> None:
    lines = [line(KINDS[number % len(KINDS)], f"J-{number}") for number in range(1, 51)]
    answer = httpx.post(f"{address}/v1/batch", content=b"\n".join(lines), headers=NDJSON)
    assert answer.headers["content-encoding"] == "gzip"  # httpx asks for it, and unpacks it
    assert told(read(answer.content)) == [(number, f"J-{number}", 200) for number in range(1, 51)]


def test_a_line_is_answered_before_the_next_is_sent(address: str) -> None:
    connection = socket.create_connection(("127.0.0.1", urlsplit(address).port), timeout=60.0)
    head = (
        "POST /v1/batch HTTP/1.1\r\nHost: bench\r\nTransfer-Encoding: chunked\r\nContent-Type: application/x-ndjson\r\n"
    )
    with connection, connection.makefile("rb") as answers:
        connection.sendall(f"{head}\r\n".encode())
        for number in (1, 2, 3):
            block = line("valve-mass", f"J-{number}") + b"\n"
            connection.sendall(b"%x\r\n%b\r\n" % (len(block), block))
            (answer,) = read(next(one for one in answers if one.startswith(b'{"line"')))
            assert told([answer]) == [(number, f"J-{number}", 200)]
        connection.sendall(b"0\r\n\r\n")


def test_it_is_packed_by_gzip_both_ways(address: str) -> None:
    lines = b"\n".join(line(KINDS[number % len(KINDS)], str(number)) for number in range(300))
    packed = gzip.compress(lines)
    blocks = [packed[start : start + 100] for start in range(0, len(packed), 100)]
    headers = {"Content-Encoding": "gzip", "Accept-Encoding": "gzip"}
    answer = gzip.decompress(b"".join(streamed(address, blocks, headers)))
    assert answer == b"".join(streamed(address, [lines]))
    assert [one["status"] for one in read(answer)] == [200] * 300


def test_a_line_of_a_hundred_megabytes_does_not_keep_the_others_from_being_answered(address: str) -> None:
    def body() -> Iterator[bytes]:
        yield line() + b"\n"
        for _ in range(100):
            yield b"x" * 1_000_000
        yield b"\n" + line(name="J-3")

    answers = read(b"".join(streamed(address, body())))
    assert told(answers) == [(1, "J-1", 200), (2, None, 413), (3, "J-3", 200)]


def batches_over(address: str) -> int:
    """How many batches the service has done with."""
    text = httpx.get(f"{address}/metrics").text
    return int(
        sum(float(one.rsplit(" ")[-1]) for one in text.splitlines() if 'route="/v1/batch"' in one and "_total" in one)
    )


def test_a_caller_who_hangs_up_is_noticed_and_the_service_goes_on(address: str) -> None:
    before = batches_over(address)
    connection = http.client.HTTPConnection(urlsplit(address).netloc, timeout=60.0)
    connection.putrequest("POST", "/v1/batch")
    for name, value in (NDJSON | {"Content-Length": "1000000"}).items():
        connection.putheader(name, value)
    connection.endheaders()
    connection.send(line() + b"\n")
    assert connection.getresponse().status == 200
    connection.close()
    for _ in range(1000):
        if batches_over(address) > before:
            break
    assert batches_over(address) == before + 1
    assert told(read(b"".join(streamed(address, [line()])))) == [(1, "J-1", 200)]
