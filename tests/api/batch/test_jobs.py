"""Jobs of a batch: each line is answered as its own address would, and what is wrong with one stays with it."""

from __future__ import annotations

import json
import logging
from dataclasses import replace
from typing import Any

import msgspec
import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.batches import REQUESTS, line, read

from headbench.api.app import RESOURCES
from headbench.api.batch.jobs import Answering
from headbench.errors import NotFinite

Client = TestClient[ASGIApp]
ANSWERING = Answering(RESOURCES)


def answered(raw: bytes, number: int = 17) -> Any:
    (answer,) = read(ANSWERING(number, raw))
    return answer


def problem(raw: bytes) -> Any:
    answer = answered(raw)
    assert set(answer) == {"line", "id", "status", "problem"}
    assert answer["status"] == answer["problem"]["status"]
    return answer["problem"]


@pytest.mark.parametrize("kind", REQUESTS)
def test_every_resource_may_be_a_line_and_is_answered_as_at_its_address(client: Client, kind: str) -> None:
    by_itself = client.post(
        f"/v1/{kind}", content=json.dumps(REQUESTS[kind]), headers={"Content-Type": "application/json"}
    )
    assert answered(line(kind, "J-17")) == {"line": 17, "id": "J-17", "status": 200, "answer": by_itself.json()}


@pytest.mark.parametrize(
    "raw", [b'{"kind":"valve-mass","request":{"positions":[]}}', b'{"kind":"valve-mass","id":null,"request":{}}']
)
def test_a_line_needs_no_id(raw: bytes) -> None:
    assert answered(raw)["id"] is None


@pytest.mark.parametrize("kind", REQUESTS)
def test_what_an_address_refuses_a_line_refuses_with_pointers_into_the_line(client: Client, kind: str) -> None:
    wrong = REQUESTS[kind] | {"units": {"length": "cubits"}, "hight": 1}
    by_itself = client.post(f"/v1/{kind}", json=wrong).json()
    told = problem(line(kind, request=wrong))
    assert by_itself["errors"]
    for error in by_itself["errors"]:
        error["pointer"] = "/request" + error["pointer"]
    assert told == by_itself


def test_readings_that_contradict_are_refused_with_pointers_into_the_line(client: Client) -> None:
    twice = {"positions": [{"id": "1I", "valve": "intake"}, {"id": "1I", "valve": "exhaust"}]}
    by_itself = client.post("/v1/head-assembly", json=twice).json()
    told = problem(line("head-assembly", request=twice))
    assert told["status"] == 422
    assert [one["pointer"] for one in told["errors"]] == ["/request/positions/1/id"]
    assert [one["detail"] for one in told["errors"]] == [one["detail"] for one in by_itself["errors"]]


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        (b'{"kind": "valve-mass", "request": {', "line 17, column 36: the text ends too early"),
        (b"\xef\xbb\xbf" + line(), "line 17, column 1: save the file without a byte-order mark"),
        (b'{"kind": "valve-mass", "id": "\xff"}', "not UTF-8"),
        (b"[" * 1_000_000, "nested too deeply"),
        (b'{"kind": "valve-mass", "request": ' + b'{"a":' * 100_000, "nested too deeply"),
        (b'{"kind": "valve-mass", "request": {"units": NaN}}', "too large or no number at all"),
        (b'{"a" 1}', "column 6"),
        (b"{} {}", "column 4"),
    ],
    ids=["half", "mark", "bytes", "lists", "objects", "nan", "colon", "two"],
)
def test_what_is_no_json_is_told_where_in_the_batch(raw: bytes, told: str) -> None:
    refused = problem(raw)
    assert (refused["status"], refused["type"]) == (400, "urn:headbench:problem:malformed-json")
    assert told in refused["detail"]


@pytest.mark.parametrize(
    ("raw", "pointers"),
    [
        (b'{"kind": "valve-masses", "request": {}}', ["/kind"]),
        (b'{"kind": 5, "request": {}}', ["/kind"]),
        (b'{"request": {}}', ["/kind"]),
        (b'{"kind": "valve-mass"}', ["/request"]),
        (b'{"kind": "valve-mass", "request": null, "id": 17}', ["/request", "/id"]),
        (b'{"kind": "valve-mass", "request": {"positions": [{"id": "1I", "valve": "intake"}]}, "id": ""}', ["/id"]),
        (
            b'{"kind": "valve-mass", "request": {"positions": [{"id": "1I", "valve": "intake"}]}, "id": "'
            + b"x" * 61
            + b'"}',
            ["/id"],
        ),
        (b'{"kind": "valve-mass", "request": {"positions": [{"id": "1I", "valve": "intake"}]}, "Id": "J"}', ["/Id"]),
        (b"[]", [""]),
        (b"17", [""]),
        (b"null", [""]),
    ],
)
def test_a_line_that_is_no_job_is_told_what_is_wrong_with_it(raw: bytes, pointers: list[str]) -> None:
    refused = problem(raw)
    assert (refused["status"], refused["type"]) == (400, "urn:headbench:problem:invalid-request")
    assert sorted(one["pointer"] for one in refused["errors"]) == sorted(pointers)


def test_an_unknown_kind_is_told_every_kind_there_is() -> None:
    (error,) = problem(b'{"kind": "valve-masses", "request": {}}')["errors"]
    assert all(f'"{kind}"' in error["detail"] for kind in REQUESTS)


def test_a_field_that_stands_twice_is_refused_in_the_line_as_in_its_request() -> None:
    for raw, pointer in (
        (b'{"kind": "valve-mass", "id": "a", "id": "b", "request": {}}', "/id"),
        (b'{"kind": "valve-mass", "request": {"units": {}, "units": {}}}', "/request/units"),
    ):
        refused = problem(raw)
        assert refused["type"] == "urn:headbench:problem:duplicate-key"
        assert [one["pointer"] for one in refused["errors"]] == [pointer]


@pytest.mark.parametrize(
    ("raw", "name"),
    [
        (b'{"kind": "nothing", "id": "J-17", "request": {}}', "J-17"),
        (b'{"kind": "valve-mass", "id": "J-17", "request": {"hight": 1}}', "J-17"),
        (b'{"kind": "valve-mass", "id": 17, "request": {}}', None),
        (b'{"kind": "valve-mass", "id": "a\\u0000", "request": {}}', None),
        (b'{"id": "J-17", "kind": ', None),
    ],
)
def test_a_refused_line_has_its_id_where_it_can_be_made_out(raw: bytes, name: str | None) -> None:
    assert answered(raw)["id"] == name


def failing(error: Exception) -> Answering:
    def compute(_: Any) -> Any:
        raise error

    return Answering([replace(one, compute=compute) if one.kind == "valve-mass" else one for one in RESOURCES])


def test_a_defect_of_ours_is_logged_with_its_traceback_and_told_without_it(caplog: pytest.LogCaptureFixture) -> None:
    broken = failing(RuntimeError("secret"))
    (answer,) = read(broken(17, line("valve-mass", "J-17")))
    assert (answer["line"], answer["id"], answer["status"]) == (17, "J-17", 500)
    assert "secret" not in json.dumps(answer)
    (record,) = (one for one in caplog.records if one.levelno == logging.ERROR)
    assert record.exc_info
    assert "secret" in str(record.exc_info[1])
    assert "line 17" in record.getMessage()
    assert read(broken(18, line("installed-height")))[0]["status"] == 200


def test_what_leaves_the_range_of_numbers_is_refused_as_readings_are() -> None:
    (answer,) = read(failing(NotFinite("the rate is infinite"))(1, line("valve-mass", "J-17")))
    assert (answer["id"], answer["status"]) == ("J-17", 422)
    assert "the rate is infinite" in answer["problem"]["detail"].lower()


def test_an_answer_is_one_line_whatever_stands_in_the_request() -> None:
    for name in ("a\u2028b", "line\nline", "\u00e4"):
        raw = json.dumps({"kind": "valve-mass", "id": name, "request": {"positions": [{"id": name}]}}).encode()
        assert ANSWERING(1, raw).count(b"\n") == 1
        assert msgspec.json.decode(ANSWERING(1, raw))["line"] == 1
