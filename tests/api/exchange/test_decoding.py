"""Decoding: every unreadable body has its own clear refusal, and nothing is computed."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import example

from headbench.api.app import MOST_BODY_BYTES
from headbench.api.exchange.decoding import MOST_FAULTS

EXAMPLE = example("head-assembly")

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


def detail_of(client: Client, body: bytes) -> str:
    response = post(client, body)
    assert response.json()["type"] == "urn:headbench:problem:malformed-json"
    return str(response.json()["detail"])


# Lines and columns are counted by hand, in characters from 1.
@pytest.mark.parametrize(
    ("body", "place"),
    [
        ('{"positions": [\n  {"id": "1I" "valve": "intake"}]}', "line 2, column 15"),
        ('{\n"a": 1\n"b": 2}', "line 3, column 1"),
        ('{"é": x}', "line 1, column 7"),
        ('{"a": 1}\n\n  }', "line 3, column 3"),
        ("{a: 1}", "line 1, column 2"),
    ],
)
def test_broken_json_is_told_the_line_and_column(client: Client, body: str, place: str) -> None:
    told = f"Not valid JSON at {place}: look there for a missing or extra comma, colon, quote or bracket."
    assert detail_of(client, body.encode()) == told


@pytest.mark.parametrize(
    ("body", "remedy"),
    [
        ('{"a": .060}', "write a zero before the decimal point"),
        ('{"a": +1}', "leave out the plus sign"),
        ('{"a": 1/16}', "write a fraction as a decimal"),
        ('{"a": 1,871}', "write a decimal point, not a comma"),
        ('{"a": 1.}', "write digits after the decimal point"),
        ('{"a": 01}', "leave out the leading zero"),
        ("{'a': 1}", "use double quotes"),
        ("\ufeff{}", "without a byte-order mark"),
        ('{"a": [1, 2,]}', "leave out the comma"),
        ('{"a": 1,\n}', "leave out the comma"),
        ('{"a": [1', "the text ends too early"),
        ("[" * 100_000, "nested too deeply"),
        ('{"a": "\\ud800"}', "write the character itself"),
    ],
)
def test_a_usual_slip_in_json_is_told_its_remedy(client: Client, body: str, remedy: str) -> None:
    assert remedy in detail_of(client, body.encode())


def test_text_in_another_encoding_is_told_the_right_one(client: Client) -> None:
    assert "save it as UTF-8" in detail_of(client, '{"a": "é"}'.encode("latin-1"))


@pytest.mark.parametrize("number", ["NaN", "-Infinity", "1e309", "9" * 400, "-" + "9" * 400, "9" * 5000])
def test_a_number_that_no_machine_holds_is_told_its_place_however_it_is_written(client: Client, number: str) -> None:
    assert faults(client, with_height(number)) == {
        "/positions/0/measured_height": "1I: must be a number below 1.8e308, or null"
    }
    assert detail_of(client, with_height(number)).startswith("A number is too large or no number at all; correct it")


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
    assert "duplicate field" in faults(client, body)[pointer]


@given(st.recursive(st.none() | st.text('ab"\\', max_size=3), lambda inner: st.lists(inner, max_size=3)
                    | st.dictionaries(st.text('ab"\\', max_size=3), inner, max_size=3), max_leaves=8))  # fmt: skip
def test_no_text_without_repeated_names_is_called_one(client: Client, value: Any) -> None:
    response = post(client, json.dumps(value).encode())
    assert response.json()["type"] == "urn:headbench:problem:invalid-request"


@pytest.mark.parametrize(
    ("value", "told"),
    [
        ('"1.871"', '"1.871"'),
        ('"nan"', '"nan"'),
        ("true", "true"),
        ("0", "0"),
        ("-1.8", "-1.8"),
        ("{}", "an object"),
    ],
)
def test_what_is_not_a_number_in_bounds_is_refused_in_words(client: Client, value: str, told: str) -> None:
    wanted = "1I: must be a number from 0.0001 to 1000 or a list of 1 to 10 items or null"
    assert faults(client, with_height(value)) == {"/positions/0/measured_height": f"{wanted}, not {told}"}


def test_every_fault_is_named_with_its_place(client: Client) -> None:
    body = b"""{"unit": {}, "units": {"length": "cm"},
      "shims": {"thicknesses": [0, 0.015]},
      "springs": [{"load_curve": {"kind": "bench", "readings": [{"height": 1}]}},
                  {"id": "S2", "load_curve": {"kind": "guess"}}, {"id": "S3", "load_curve": {"kind": "rated"}}],
      "positions": [{"id": "a\\n", "valve": "inlet", "measured_hight": 1.8, "deduction": "x"}]}"""
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
    assert detail == 'spring S1: must be an object with kind "bench", "rated" or "dimensioned", or null, not 0.01'


def test_a_misspelt_field_is_told_the_field_that_is_meant(client: Client) -> None:
    body = b'{"positions":[{"id":"2I","valve":"intake","measured_hight":1}]}'
    told = "2I: unknown field; did you mean measured_height?"
    assert faults(client, body) == {"/positions/0/measured_hight": told}


def test_a_field_like_no_other_is_told_where_the_names_are(client: Client) -> None:
    body = b'{"wheels":4,"positions":[{"id":"2I","valve":"intake"}]}'
    assert faults(client, body) == {"/wheels": "unknown field; leave it out, or look up its name at /docs"}


def test_a_choice_is_told_as_it_is_chosen(client: Client) -> None:
    body = b'{"units":{"length":"cm"},"positions":[{"id":"2I","valve":"inlet"}]}'
    assert faults(client, body) == {
        "/units/length": 'must be "in" or "mm", not "cm"',
        "/positions/0/valve": '2I: must be "intake" or "exhaust", not "inlet"',
    }


def test_what_is_missing_is_told_so_and_which_kinds_there_are(client: Client) -> None:
    body = b'{"springs":[{"id":"S1","load_curve":{}}],"positions":[{"id":"2I"}]}'
    assert faults(client, body) == {
        "/springs/0/load_curve/kind": 'spring S1: required: "bench", "rated" or "dimensioned"',
        "/positions/0/valve": "2I: required",
    }


@pytest.mark.parametrize("name", ["", "a\\nb", "x" * 41])
def test_what_has_no_readable_name_is_told_without_one(client: Client, name: str) -> None:
    body = GOOD.replace(b"1I", name.encode()).replace(b"1.871", b"0")
    assert faults(client, body)["/positions/0/measured_height"].startswith("must be a number")


def test_a_name_that_is_too_long_to_read_is_cut_short(client: Client) -> None:
    long = "y" * 5000
    body = json.dumps({"positions": [{"id": "2I", "valve": long, long: 1}]}).encode()
    cut = f'"{"y" * 40}…"'
    assert faults(client, body) == {
        "/positions/0/valve": f'2I: must be "intake" or "exhaust", not {cut}',
        "/positions/0": f"2I: unknown field {cut}; leave it out",
    }
    twice = json.dumps({long: {"a": 1}}).replace('"a": 1', '"a": 1, "a": 2').encode()
    assert faults(client, twice) == {"": 'duplicate field "a"; keep one'}


def test_a_fault_is_one_sentence_that_repeats_no_text_beyond_a_line(client: Client) -> None:
    body = json.dumps({"x" * 9999: 1, "positions": [{"id": "a" * 9999, "valve": "z" * 9999, "bank": [1] * 9999}]})
    assert all(len(detail) < 200 and not detail.endswith(".") for detail in faults(client, body.encode()).values())


JUNK: st.SearchStrategy[Any] = st.sampled_from(
    [None, True, -1e9, 0.5, "", "x", "y" * 80, [], [[]], {}, {"unknown": 1}, {"z" * 80: 1}]
)


def members(value: Any) -> list[tuple[Any, Any]]:
    """Every place in a JSON value, as what holds it and the name or number it has there."""
    names = list(value) if isinstance(value, dict) else list(range(len(value))) if isinstance(value, list) else []
    return [(value, name) for name in names] + [place for name in names for place in members(value[name])]


@given(st.data())
def test_every_fault_of_a_spoilt_job_points_into_it_and_is_told_in_a_line(client: Client, data: st.DataObject) -> None:
    job = json.loads(json.dumps(EXAMPLE))
    for _ in range(data.draw(st.integers(1, 3))):
        holder, name = data.draw(st.sampled_from(members(job)))
        if isinstance(holder, dict) and data.draw(st.booleans()):
            holder[data.draw(st.sampled_from(["unknown", "z" * 80, "measured_hight"]))] = holder.pop(name)
        else:
            holder[name] = data.draw(JUNK)
    response = post(client, json.dumps(job).encode())
    for error in response.json().get("errors", []):
        *above, last = error["pointer"].split("/")
        at = job
        for part in above[1:]:
            at = at[int(part)] if isinstance(at, list) else at[part]
        assert isinstance(at, dict | list), error
        assert len(error["pointer"]) < 200
        assert response.status_code == 422 or len(error["detail"]) < 250
        if isinstance(at, list):
            assert int(last) < len(at)


def test_no_more_faults_are_named_than_a_person_reads(client: Client) -> None:
    body = json.dumps({"positions": [{"id": "a", "valve": "inlet"}] * 100}).encode()
    assert len(faults(client, body)) == MOST_FAULTS
    assert post(client, body).json()["detail"].startswith(f"The first {MOST_FAULTS} faults are listed")


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


# an object, a list, a number and a choice that take no null by their type
@pytest.mark.parametrize(
    "nulls",
    [
        {"units": None, "limits": None, "valvetrain": None, "springs": None, "job": None},
        {"units": {"length": None, "rounding": None}},
        {"valvetrain": {"intake": None, "exhaust": {"lash": None, "rocker_ratios": None}}},
        {"springs": [{"id": "S1", "nested": None, "load_curve": {"kind": "rated", "height": 1.75, "load": 118,
                      "rate": 300}, "damper_mass": None, "spring_shape": None}]},
    ],
)  # fmt: skip
def test_null_is_taken_where_a_field_may_be_left_out(client: Client, nulls: Any) -> None:
    job = {"positions": [{"id": "1I", "valve": "intake", "measured_height": 1.871}]}
    with_nulls, without = (post(client, json.dumps(job | one).encode()) for one in (nulls, bare(nulls)))
    assert (with_nulls.status_code, with_nulls.json()) == (200, without.json())


def bare(value: Any) -> Any:
    """The same without its nulls."""
    if isinstance(value, dict):
        return {name: bare(member) for name, member in value.items() if member is not None}
    return [bare(item) for item in value] if isinstance(value, list) else value


def test_null_is_refused_where_something_must_be_said(client: Client) -> None:
    body = b'{"limits":null,"springs":[null],"positions":[{"id":null,"valve":null,"deduction":"x","bank":null}]}'
    assert faults(client, body) == {
        "/springs/0": "must be an object, not null",
        "/positions/0/id": "must be text of 1 to 60 plain characters, not null",
        "/positions/0/valve": 'must be "intake" or "exhaust", not null',
        "/positions/0/deduction": 'must be a number from -1000 to 1000 or null, not "x"',
    }
    assert faults(client, b'{"positions":null}') == {"/positions": "must be a list of 1 to 128 items, not null"}
    assert list(faults(client, GOOD.replace(b'"id"', b'"unheard_of":null,"id"'))) == ["/positions/0/unheard_of"]


def test_a_bound_is_told_in_plain_decimals(client: Client) -> None:
    body = GOOD.replace(b'"positions"', b'"springs":[{"id":"S1","mass":0}],"positions"')
    assert faults(client, body) == {
        "/springs/0/mass": "spring S1: must be a number from 0.00001 to 100000 or null, not 0"
    }


def test_a_field_that_shares_a_word_is_offered(client: Client) -> None:
    body = GOOD.replace(b'"measured_height"', b'"seal_clearance":1,"rocker_gap":1,"measured_height"')
    assert faults(client, body) == {
        "/positions/0/seal_clearance": "1I: unknown field; did you mean retainer_to_seal or seal_to_spring?",
        "/positions/0/rocker_gap": "1I: unknown field; did you mean retainer_to_rocker?",
    }


def test_null_is_the_same_as_left_out(client: Client) -> None:
    with_null = post(client, with_height("null")).json()
    without = post(client, b'{"positions":[{"id":"1I","valve":"intake"}]}').json()
    assert with_null == without
