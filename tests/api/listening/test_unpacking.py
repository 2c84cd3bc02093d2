"""Bodies sent as gzip to the calculations, by clients that pack whatever they send."""

from __future__ import annotations

import gzip
import json
import zlib

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import example

from headbench.api.app import MOST_BODY_BYTES

Client = TestClient[ASGIApp]
PATH = "/v1/head-assembly"
JOB = json.dumps(example("head-assembly")).encode()


def sent(client: Client, body: bytes, encoding: str) -> tuple[int, str]:
    """What is answered: the status, and the kind of problem."""
    headers = {"Content-Type": "application/json", "Content-Encoding": encoding}
    answer = client.post(PATH, content=body, headers=headers)
    return answer.status_code, answer.json().get("type", "").removeprefix("urn:headbench:problem:")


@pytest.mark.parametrize("encoding", ["gzip", "x-gzip", "GZIP", " gzip "])
@pytest.mark.parametrize("packed", [gzip.compress(JOB), gzip.compress(JOB[:100]) + gzip.compress(JOB[100:])])
def test_a_packed_job_is_answered_as_the_plain_one(client: Client, packed: bytes, encoding: str) -> None:
    headers = {"Content-Type": "application/json"}
    plain = client.post(PATH, content=JOB, headers=headers)
    answer = client.post(PATH, content=packed, headers=headers | {"Content-Encoding": encoding})
    assert answer.status_code == 200
    assert answer.content == plain.content


@pytest.mark.parametrize("encoding", ["br", "zstd", "deflate", "gzip, gzip"])
def test_what_is_packed_otherwise_is_told_how(client: Client, encoding: str) -> None:
    headers = {"Content-Type": "application/json", "Content-Encoding": encoding}
    answer = client.post(PATH, content=JOB, headers=headers)
    assert (answer.status_code, answer.headers["accept-encoding"]) == (415, "gzip")
    assert answer.json()["type"] == "urn:headbench:problem:unsupported-encoding"


def test_a_small_body_that_unpacks_to_a_large_one_is_too_large(client: Client) -> None:
    assert sent(client, gzip.compress(b" " * MOST_BODY_BYTES + JOB), "gzip") == (413, "body-too-large")
    assert sent(client, gzip.compress(JOB + b" " * (MOST_BODY_BYTES - len(JOB))), "gzip")[0] == 200


@pytest.mark.parametrize("packed", [JOB, zlib.compress(JOB), gzip.compress(JOB)[:-9], gzip.compress(JOB) + b"x"])
def test_damaged_gzip_is_told_so(client: Client, packed: bytes) -> None:
    assert sent(client, packed, "gzip") == (400, "malformed-gzip")


def test_nothing_that_unpacks_to_nothing_is_an_empty_request(client: Client) -> None:
    assert sent(client, gzip.compress(b""), "gzip") == (400, "empty-body")
