"""HEAD, as monitors and caches ask it."""

from __future__ import annotations

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp

Client = TestClient[ASGIApp]


@pytest.mark.parametrize(
    "path", ["/health/live", "/version", "/docs", "/openapi.json", "/v1/reference/notes", "/bench", "/assets/docs.js"]
)
def test_it_answers_as_get_without_the_body(client: Client, path: str) -> None:
    got, head = client.get(path), client.head(path)
    assert (head.status_code, head.content) == (200, b"")
    changing = {"x-request-id", "date"}
    assert {n: v for n, v in head.headers.items() if n not in changing} == {
        n: v for n, v in got.headers.items() if n not in changing
    }


def test_where_there_is_nothing_to_get_it_says_what_there_is(client: Client) -> None:
    answer = client.head("/v1/head-assembly")
    assert (answer.status_code, answer.content) == (405, b"")
    assert set(answer.headers["allow"].split(", ")) >= {"POST"}
    assert "HEAD" not in answer.headers["allow"]
    assert client.head("/nowhere").status_code == 404


def test_a_method_that_is_not_allowed_is_told_of_head_and_counted_by_its_address(client: Client) -> None:
    assert set(client.put("/health/live").headers["allow"].split(", ")) >= {"GET", "HEAD"}
    client.head("/version")
    client.put("/v1/spring-load")
    text = client.get("/metrics").text
    assert 'headbench_requests_total{method="PUT",route="/v1/spring-load",status="405"}' in text
    assert 'headbench_requests_total{method="HEAD",route="/version",status="200"}' in text
