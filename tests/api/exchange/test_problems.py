"""Problems: addresses, methods and defects."""

from __future__ import annotations

import logging

import pytest
from litestar import Litestar, get
from litestar.testing import TestClient
from litestar.types import ASGIApp

from headbench.api.exchange.problems import HANDLERS, problem_of
from headbench.errors import NotFinite

Client = TestClient[ASGIApp]


def test_an_unknown_address_is_a_problem(client: Client) -> None:
    response = client.get("/v1/nothing")
    assert (response.status_code, response.json()["type"]) == (404, "urn:headbench:problem:not-found")
    assert response.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize("method", ["GET", "PUT", "DELETE", "PATCH"])
def test_a_wrong_method_is_a_problem_that_names_the_right_one(client: Client, method: str) -> None:
    response = client.request(method, "/v1/head-assembly")
    assert (response.status_code, response.json()["type"]) == (405, "urn:headbench:problem:method-not-allowed")
    assert "POST" in response.headers["allow"]
    assert (response.json()["title"], response.json()["detail"]) == (
        "Method not allowed",
        "Method not allowed; use POST.",
    )


def test_a_post_where_something_is_read_is_told_to_get_it(client: Client) -> None:
    assert client.post("/version").json()["detail"] == "Method not allowed; use GET."


def test_a_contradiction_is_told_with_the_name_of_its_position(client: Client) -> None:
    job = {"positions": [{"id": "2I", "valve": "intake", "measured_height": 1.8, "deduction": 1.9}]}
    response = client.post("/v1/installed-height", json=job)
    assert response.status_code == 422
    (fault,) = response.json()["errors"]
    assert fault["pointer"] == "/positions/0/deduction"
    assert fault["detail"].startswith("2I: ")
    assert "check the readings named" in response.json()["detail"].lower()


def test_a_defect_is_logged_with_its_trace_and_told_without(caplog: pytest.LogCaptureFixture) -> None:
    @get("/defect", sync_to_thread=False)
    def defect() -> None:
        raise RuntimeError("secret detail")

    app = Litestar([defect], exception_handlers=HANDLERS, openapi_config=None, logging_config=None)
    with caplog.at_level(logging.ERROR), TestClient(app, raise_server_exceptions=False) as client:
        response = client.get("/defect")
    assert (response.status_code, response.json()["type"]) == (500, "urn:headbench:problem:internal-error")
    assert "secret" not in response.text
    assert "secret detail" in caplog.text


def test_a_number_too_large_for_the_arithmetic_is_a_contradiction_and_no_defect() -> None:
    problem = problem_of(NotFinite("a result is too large to be a number"), None)
    assert (problem.status, problem.type) == (422, "urn:headbench:problem:contradiction")
    assert problem.detail.startswith("A result is too large")
