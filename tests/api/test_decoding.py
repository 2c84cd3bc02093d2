"""Decoding: every unreadable body has its own clear refusal, and nothing is computed."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from litestar.testing import TestClient
from litestar.types import ASGIApp

from headbench.api.app import MOST_BODY_BYTES
from headbench.api.decoding import MOST_FAULTS

Client = TestClient[ASGIApp]
PATH = "/v1/head-assembly"
GOOD = b'{"positions":[{"id":"1I","valve":"intake","measured_height":1.871}]}'


def post(client: Client, body: bytes, content_type: str | None = "application/json") -> Any:
    headers = {} if content_type is None else {"Content-Type": content_type}
    return client.post(PATH, content=body, headers=headers)


def refusal(client: Client, body: bytes, content_type: str | None = "application/json") -> tuple[int, str]:
    response = post(client, body, content_type)
    assert response.headers["content-type"] == "application/problem+json"
    problem = response.json()
    assert problem["status"] == response.status_code
    return response.status_code, problem["type"].rsplit(":")[-1]


def faults(client: Client, body: bytes) -> dict[str, str]:
    response = post(client, body)
    assert response.status_code == 400
    return {error["pointer"]: error["detail"] for error in response.json()["errors"]}


def with_height(text: str) -> bytes:
    return GOOD.replace(b"1.871", text.encode())


@pytest.mark.parametrize("body", [b"", b"  \n"])
def test_an_empty_body_is_refused(client: Client, body: bytes) -> None:
    assert refusal(client, body) == (400, "empty-body")


@pytest.mark.parametrize(
    "body",
    [
        b"{",
        b"not json",
        GOOD + b"x",
        b"\xef\xbb\xbf" + GOOD,
        b'{"positions":[{"id":"\xff"}]}',
        b'{"positions":[{"id":"\\ud800","valve":"intake"}]}',
        with_height("NaN"),
        with_height("-Infinity"),
        with_height("1e999"),
        with_height("9" * 5000),
        b"[" * 100_000,
        b'{"positions":' + b"[" * 50_000 + b"]" * 50_000 + b"}",
        b'{"a":' * 20_000 + b"1" + b"}" * 20_000,
    ],
    ids=lambda body: repr(body[:24]),
)
def test_what_is_not_a_json_text_of_finite_numbers_is_refused(client: Client, body: bytes) -> None:
    assert refusal(client, body) == (400, "malformed-json")


@pytest.mark.parametrize(
    "content_type",
    [None, "text/plain", "text/xml", "application/x-www-form-urlencoded", "application/json; charset=latin-1"],
)
def test_another_media_type_is_refused_and_told_which_one_is_taken(client: Client, content_type: str | None) -> None:
    assert refusal(client, GOOD, content_type) == (415, "unsupported-media-type")
    assert post(client, GOOD, content_type).headers["accept"] == "application/json"


@pytest.mark.parametrize("content_type", ["application/json", "application/json; charset=utf-8", "APPLICATION/JSON"])
def test_json_is_taken_however_its_type_is_written(client: Client, content_type: str) -> None:
    assert post(client, GOOD, content_type).status_code == 200


def test_a_body_that_is_too_large_is_refused(client: Client) -> None:
    assert refusal(client, b" " * (MOST_BODY_BYTES + 1) + GOOD) == (413, "body-too-large")


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        (b'{"positions":[{"id":"a","valve":"intake","valve":"exhaust"}]}', "/positions/0/valve"),
        (b'{"positions":[],"positions":[{"id":"a","valve":"intake"}]}', "/positions"),
        (b'{"positions":[{"id":"a\\"","valve":"intake","valve":"intake"}]}', "/positions/0/valve"),
        (b'{"positions":[{"id":"a","valve":"intake","val\\u0076e":"intake"}]}', "/positions/0/valve"),
        (b'{"a/b~":1,"a/b~":1,"positions":[]}', "/a~1b~0"),
    ],
)
def test_a_name_that_stands_twice_is_refused_with_its_place(client: Client, body: bytes, pointer: str) -> None:
    assert refusal(client, body) == (400, "duplicate-key")
    assert list(faults(client, body)) == [pointer]


@given(st.recursive(st.none() | st.text('ab"\\', max_size=3), lambda inner: st.lists(inner, max_size=3)
                    | st.dictionaries(st.text('ab"\\', max_size=3), inner, max_size=3), max_leaves=8))  # fmt: skip
def test_no_text_without_repeated_names_is_called_one(client: Client, value: Any) -> None:
    response = post(client, json.dumps(value).encode())
    assert response.json()["type"] == "urn:headbench:problem:invalid-request"


@pytest.mark.parametrize(
    ("value", "told"),
    [
        ('"1.871"', 'expected a number from 0.0001 to 1000 or null, got "1.871"'),
        ('"nan"', 'expected a number from 0.0001 to 1000 or null, got "nan"'),
        ("true", "expected a number from 0.0001 to 1000 or null, got true"),
        ("0", "expected a number from 0.0001 to 1000 or null, got 0"),
        ("-1.8", "expected a number from 0.0001 to 1000 or null, got -1.8"),
        ("{}", "expected a number from 0.0001 to 1000 or null, got an object"),
    ],
)
def test_what_is_not_a_number_in_bounds_is_refused_in_words(client: Client, value: str, told: str) -> None:
    assert faults(client, with_height(value)) == {"/positions/0/measured_height": told}


def test_every_fault_is_named_with_its_place(client: Client) -> None:
    body = b"""{"unit": {}, "units": {"length": "cm"},
      "shims": {"thicknesses": [0, 0.015]},
      "springs": [{"load_curve": {"kind": "bench", "readings": [{"height": 1}]}},
                  {"id": "S2", "load_curve": {"kind": "guess"}}, {"id": "S3", "load_curve": {"kind": "rated"}}],
      "positions": [{"id": "a\\n", "valve": "inlet", "measured_hight": 1.8, "deduction": -1}]}"""
    assert set(faults(client, body)) == {
        "/unit",
        "/units/length",
        "/shims/thicknesses/0",
        "/springs/0/id",
        "/springs/0/load_curve/readings/0/load",
        "/springs/1/load_curve/kind",
        "/springs/2/load_curve/height",
        "/springs/2/load_curve/load",
        "/springs/2/load_curve/rate",
        "/positions/0/id",
        "/positions/0/valve",
        "/positions/0/measured_hight",
        "/positions/0/deduction",
    }


def test_a_thing_of_several_kinds_is_told_the_kinds(client: Client) -> None:
    body = b'{"springs":[{"id":"S1","load_curve":0.01}],"positions":[{"id":"a","valve":"intake"}]}'
    detail = faults(client, body)["/springs/0/load_curve"]
    assert detail == "expected an object with kind bench or rated or dimensioned or null, got 0.01"


def test_a_misspelt_field_is_told_the_fields_there_are(client: Client) -> None:
    detail = faults(client, b'{"positions":[{"id":"a","valve":"intake","measured_hight":1}]}')[
        "/positions/0/measured_hight"
    ]
    assert "measured_height" in detail


def test_no_more_faults_are_named_than_a_person_reads(client: Client) -> None:
    body = json.dumps({"positions": [{"id": "a", "valve": "inlet"}] * 100}).encode()
    assert len(faults(client, body)) == MOST_FAULTS


@pytest.mark.parametrize("body", [b"null", b"[]", b"3", b'"x"', b"{}"])
def test_a_body_that_is_no_job_is_refused(client: Client, body: bytes) -> None:
    assert refusal(client, body) == (400, "invalid-request")


@pytest.mark.parametrize("name", ["a\\n", "\\u0000", "\\u001b[2J", "a\\u2028b", "", "x" * 61])
def test_a_name_is_one_line_of_plain_text(client: Client, name: str) -> None:
    body = GOOD.replace(b"1I", name.encode())
    assert list(faults(client, body)) == ["/positions/0/id"]


def test_a_whole_number_may_be_written_with_a_point(client: Client) -> None:
    body = b'{"shims":{"thicknesses":[0.015],"in_stock":[8.0]},"positions":[{"id":"a","valve":"intake"}]}'
    assert post(client, body).status_code == 200
    assert list(faults(client, body.replace(b"8.0", b"8.5"))) == ["/shims/in_stock/0"]


def test_null_is_the_same_as_left_out(client: Client) -> None:
    with_null = post(client, with_height("null")).json()
    without = post(client, b'{"positions":[{"id":"1I","valve":"intake"}]}').json()
    assert with_null == without
