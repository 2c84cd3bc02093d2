"""Negotiating: what an Accept header asks for is what RFC 9110 says it does."""

from __future__ import annotations

import gzip
import json

import html5lib
import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import DEMO, example

from headbench.api.app import RESOURCES
from headbench.api.exchange.negotiating import Form, form_for, takes_pages_only
from headbench.errors import RefusedRequest

Client = TestClient[ASGIApp]

EXAMPLE = example("head-assembly")


def form(media_type: str) -> Form:
    return Form(media_type, media_type, media_type, lambda _, __: b"")


def chosen(accept: str, *media_types: str) -> str:
    found = form_for(accept, [form(one) for one in media_types])
    return "application/json" if found is None else found.media_type


@pytest.mark.parametrize(
    ("media_type", "quality"),
    [
        # RFC 9110, 12.5.1: the table of the example "text/*;q=0.3, text/plain;q=0.7, text/plain;format=flowed, ..."
        ("text/plain", 0.7),
        ("text/html", 0.3),
        ("image/jpeg", 0.5),
    ],
)
def test_the_example_of_rfc_9110_is_read_as_its_table_says(media_type: str, quality: float) -> None:
    accept = "text/*;q=0.3, text/plain;q=0.7, text/plain;format=flowed, text/plain;format=fixed;q=0.4, */*;q=0.5"
    # held against JSON, which a range of its own sets just below and just above
    below, above = f"{accept}, application/json;q={quality - 0.01}", f"{accept}, application/json;q={quality + 0.01}"
    assert chosen(below, media_type) == media_type
    assert chosen(above, media_type) == "application/json"


@pytest.mark.parametrize(
    ("accept", "media_type"),
    [
        ("", "application/json"),
        (" , ", "application/json"),
        ("*/*", "application/json"),
        ("application/*", "application/json"),
        ("text/*", "text/html"),
        ("text/csv", "text/csv"),
        ("Text/CSV", "text/csv"),
        ("text/csv;q=0.2, text/html;q=0.4, */*;q=0", "text/html"),
        ("text/html;q=0, text/*", "text/csv"),
        ("application/json;q=0, */*;q=0.1", "text/html"),
        ("application/pdf, */*;q=0.8", "application/json"),
        # a browser; and RFC 9110's "I prefer audio/basic, but send me any audio type"
        ("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", "text/html"),
        ("text/*; q=0.2, text/csv", "text/csv"),
        # who cannot be understood has said nothing
        ("html", "application/json"),
        ("text/html/plain", "application/json"),
    ],
)
def test_the_form_that_is_liked_best_is_sent(accept: str, media_type: str) -> None:
    assert chosen(accept, "text/html", "text/csv") == media_type


@pytest.mark.parametrize("accept", ["image/png", "text/html;q=0", "application/json;q=0", "application/*;q=0.0"])
def test_where_none_is_liked_what_there_is_is_told(accept: str) -> None:
    with pytest.raises(RefusedRequest) as refused:
        chosen(accept)
    assert (refused.value.code, refused.value.status) == ("not-acceptable", 406)
    with pytest.raises(RefusedRequest, match=r"application/json, text/csv\."):
        form_for("image/png", [form("text/csv")])


@pytest.mark.parametrize(
    ("accept", "only"),
    [
        ("text/html", True),
        ("text/html, application/xhtml+xml", True),
        ("text/html, */*;q=0.1", False),
        ("text/html, application/problem+json;q=0.2", False),
        ("application/json", False),
        ("text/plain", False),
        ("", False),
    ],
)
def test_who_reads_pages_only_is_known(accept: str, only: bool) -> None:  # noqa: FBT001 - a case of the table
    assert takes_pages_only(accept) == only


@pytest.mark.parametrize("resource", RESOURCES, ids=lambda resource: resource.kind)
@pytest.mark.parametrize("media_type", ["application/json", "text/html", "text/plain", "application/pdf", "text/csv"])
def test_every_resource_answers_its_example_in_every_form(client: Client, resource: object, media_type: str) -> None:
    job, path = resource.example, resource.path  # type: ignore[attr-defined] # a resource
    response = client.post(path, json=job, headers={"Accept": media_type})
    assert response.status_code == 200
    assert response.headers["content-type"].partition(";")[0] == media_type
    assert "Accept" in response.headers["vary"]
    assert response.content


def test_a_caller_who_says_nothing_is_answered_in_json(client: Client) -> None:
    request = client.build_request("POST", "/v1/head-assembly", json=EXAMPLE)
    del request.headers["accept"]
    assert client.send(request).headers["content-type"] == "application/json"


def test_several_lines_of_accept_are_one_list(client: Client) -> None:
    headers = [("Accept", "text/csv;q=0.1"), ("Accept", "text/plain")]
    response = client.post("/v1/head-assembly", json=EXAMPLE, headers=headers)
    assert response.headers["content-type"].startswith("text/plain")


def test_a_refusal_stays_a_problem_document_whatever_form_was_asked_for(client: Client) -> None:
    for accept in ("text/plain", "text/csv", "application/pdf", "text/html, */*;q=0.1"):
        response = client.post("/v1/head-assembly", json={"positions": []}, headers={"Accept": accept})
        assert response.status_code == 400
        assert response.headers["content-type"] == "application/problem+json"


def test_what_there_is_not_is_refused_with_what_there_is(client: Client) -> None:
    response = client.post("/v1/head-assembly", json=EXAMPLE, headers={"Accept": "image/png"})
    assert response.status_code == 406
    assert response.json()["type"] == "urn:headbench:problem:not-acceptable"
    for media_type in ("application/json", "text/html", "text/plain", "application/pdf", "text/csv"):
        assert media_type in response.json()["detail"]


def test_who_reads_pages_only_is_refused_with_a_page_and_names_come_back_inert(client: Client) -> None:
    name = "<img src=x onerror=alert(1)>"
    job = {"positions": [{"id": name, "valve": "inlet"}]}
    response = client.post("/v1/head-assembly", json=job, headers={"Accept": "text/html"})
    assert response.status_code == 400
    assert response.headers["content-type"].startswith("text/html")
    assert "default-src 'none'" in response.headers["content-security-policy"]
    page = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(response.text)
    assert page.find(".//img") is None
    said = "".join(page.find("body").itertext())
    assert name in said
    assert "/positions/0/valve" in said


@pytest.mark.parametrize("which", ["bench", "customer", "labels"])
def test_the_sheet_that_is_named_is_printed(client: Client, which: str) -> None:
    response = client.post(f"/v1/head-assembly?sheet={which}", json=DEMO, headers={"Accept": "text/plain"})
    title = {"bench": "Assembly sheet", "customer": "What was set", "labels": "Spring labels"}[which]
    assert response.text.startswith(f"{title} - KW-0317")


@pytest.mark.parametrize("query", ["sheet=invoice", "sheet=", "sheet=bench&sheet=customer"])
def test_a_sheet_that_there_is_not_is_refused_with_those_there_are(client: Client, query: str) -> None:
    response = client.post(f"/v1/head-assembly?{query}", json=EXAMPLE)
    assert response.status_code == 400
    assert "bench, customer, labels" in response.json()["detail"]


def test_a_resource_of_one_sheet_takes_no_notice_of_the_parameter(client: Client) -> None:
    job = example("coil-bind")
    assert client.post("/v1/coil-bind?sheet=invoice", json=job).json() == client.post("/v1/coil-bind", json=job).json()


@pytest.mark.parametrize(
    ("accept_encoding", "packed"),
    [("gzip", True), ("br, gzip;q=0.5", True), ("*", True), ("gzip;q=0", False), ("identity", False), ("", False)],
)
def test_an_answer_is_packed_for_who_takes_it_so(client: Client, accept_encoding: str, *, packed: bool) -> None:
    headers = {"Accept-Encoding": accept_encoding, "Content-Type": "application/json"}
    body = json.dumps(EXAMPLE)
    with client.stream("POST", "/v1/head-assembly", content=body, headers=headers) as response:
        raw = b"".join(response.iter_raw())
    assert response.headers.get("content-encoding") == ("gzip" if packed else None)
    assert (raw[:2] == b"\x1f\x8b") == packed
    plain = gzip.decompress(raw) if packed else raw
    assert plain == client.post("/v1/head-assembly", content=body, headers={"Content-Type": "application/json"}).content
    assert not packed or "Accept-Encoding" in response.headers["vary"]


def test_a_batch_packs_itself_and_only_once(client: Client) -> None:
    line = b'{"kind": "valve-mass", "request": {"positions": [{"id": "1I", "valve": "intake"}]}}\n' * 9
    headers = {"Accept-Encoding": "gzip", "Content-Type": "application/x-ndjson"}
    with client.stream("POST", "/v1/batch", content=line, headers=headers) as response:
        raw = b"".join(response.iter_raw())
    assert response.headers.get_list("content-encoding") == ["gzip"]
    assert gzip.decompress(raw).count(b"\n") == 9
