"""Health, version, metrics and docs."""

from __future__ import annotations

import json
import logging
import re

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import example

from headbench import __version__

EXAMPLE = example("head-assembly")

Client = TestClient[ASGIApp]


@pytest.mark.parametrize("path", ["/health/live", "/health/ready"])
def test_it_says_that_it_is_there(client: Client, path: str) -> None:
    assert client.get(path).json() == {"status": "ok"}


def test_it_says_which_it_is(client: Client) -> None:
    assert client.get("/version").json() == {"version": __version__, "api": "v1"}


def test_the_docs_need_nothing_from_outside(client: Client) -> None:
    page = client.get("/docs")
    assert page.status_code == 200
    assert page.headers["content-security-policy"].startswith("default-src 'none'; script-src 'self'; ")
    named = re.findall(r'(?:src|href)="([^"]+)"', page.text)
    assert all(address.startswith(("/assets/", "data:")) for address in named)
    for address in named:
        if address.startswith("/"):
            assert client.get(address).status_code == 200, address


def test_every_request_is_counted_by_its_route_refused_ones_too(client: Client) -> None:
    client.get("/nowhere-at-all")
    client.put("/v1/head-assembly")
    client.post("/v1/head-assembly", json=EXAMPLE)
    response = client.get("/metrics")
    # Prometheus, Exposition formats: text/plain; version=0.0.4 (later ones name theirs likewise), UTF-8
    assert response.headers["content-type"].count("charset=utf-8") == 1
    assert "; version=" in response.headers["content-type"]
    text = response.text
    assert 'headbench_requests_total{method="GET",route="none",status="404"}' in text
    assert 'headbench_requests_total{method="POST",route="/v1/head-assembly",status="200"}' in text
    assert "nowhere-at-all" not in text


def test_a_request_is_logged_without_its_body(client: Client, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.INFO, "headbench.access"):
        response = client.post("/v1/head-assembly", json=EXAMPLE, headers={"X-Request-Id": "bench-7"})
    assert response.headers["x-request-id"] == "bench-7"
    line = json.loads(caplog.records[-1].message)
    assert (line["request_id"], line["status"], line["route"]) == ("bench-7", 200, "/v1/head-assembly")
    assert "KW-0317" not in caplog.text


@pytest.mark.parametrize("given", ["a b", "x" * 65, "é", ""])
def test_a_request_id_that_could_forge_a_log_line_is_replaced(client: Client, given: str) -> None:
    answered = client.get("/version", headers={b"X-Request-Id": given.encode()}).headers["x-request-id"]
    assert re.fullmatch(r"[0-9a-f]{32}", answered)
