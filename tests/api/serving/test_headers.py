"""What every answer tells a browser: each address and each kind of answer, refusals and pages among them."""

from __future__ import annotations

from typing import Any

import pytest
from httpx import Response
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.batches import AtOnce, line
from tests.api.jobs import example

from headbench.api.app import RESOURCES, create_app

Client = TestClient[ASGIApp]

PAGE = {"Accept": "text/html"}
FORMS = ("text/html", "text/plain", "application/pdf", "text/csv")
GOT = (
    "/health/live", "/health/ready", "/version", "/metrics", "/openapi.json", "/docs", "/assets/docs.js",
    "/assets/swagger-ui.css", "/bench", "/bench/main.js", "/bench/worker.js", "/bench/icon.svg", "/bench/one-valve",
    "/v1/reference/limits", "/v1/reference/notes", "/v1/reference/wire-materials", "/nowhere", "/assets/nothing.js",
    "/v1/head-assembly",
)  # fmt: skip
LINES = {"Content-Type": "application/x-ndjson"}


def answers(client: Client) -> dict[str, Response]:
    """An answer of every address, in every form there is, and one of every way to be refused."""
    found: dict[str, Response] = {path: client.get(path) for path in GOT}
    for resource in RESOURCES:
        found[resource.kind] = client.post(resource.path, json=example(resource.kind))
        found[f"{resource.kind} refused"] = client.post(resource.path, json={"positions": 1})
        found[f"{resource.kind} refused as a page"] = client.post(resource.path, json={"positions": 1}, headers=PAGE)
    for path in ("/v1/milling", "/v1/valve-check"):
        for form in FORMS:
            found[f"{path} as {form}"] = client.post(path, json=example(path[4:]), headers={"Accept": form})
    found["lines"] = client.post("/v1/batch", content=line(), headers=LINES)
    found["no lines"] = client.post("/v1/batch", content=b"", headers=LINES)
    found["method"] = client.put("/v1/head-assembly")
    found["no form"] = client.post("/v1/head-assembly", json=example("head-assembly"), headers={"Accept": "image/png"})
    found["an address of nothing as a page"] = client.get("/nowhere", headers=PAGE)
    found["what a phone has already"] = client.get(
        "/bench/main.js", headers={"If-None-Match": found["/bench/main.js"].headers["etag"]}
    )
    return found


@pytest.fixture(scope="module")
def told(client: Client) -> dict[str, Response]:
    return answers(client)


def test_every_route_there_is_was_asked(told: dict[str, Response]) -> None:
    app: Any = create_app(AtOnce())
    while not hasattr(app, "routes"):
        app = app._app  # noqa: SLF001 - wrapped around it
    asked = {str(one.request.url.path) for one in told.values()}
    routes = {route.path.replace("/{name:path}", "/main.js").replace("/{name:str}", "/docs.js") for route in app.routes}
    assert routes <= asked


# OWASP, REST Security Cheat Sheet and HTTP Security Response Headers Cheat Sheet
@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("x-content-type-options", "nosniff"),
        ("x-frame-options", "DENY"),
        ("referrer-policy", "no-referrer"),
        ("cross-origin-resource-policy", "same-origin"),
    ],
)
def test_every_answer_says_it_once(told: dict[str, Response], name: str, value: str) -> None:
    assert {asked for asked, answer in told.items() if answer.headers.get_list(name) != [value]} == set()


def policy_of(answer: Response) -> dict[str, list[str]]:
    """The Content-Security-Policy of an answer, directive by directive; there is one."""
    (policy,) = answer.headers.get_list("content-security-policy")
    directives = [one.split() for one in policy.split(";")]
    assert len({one[0] for one in directives}) == len(directives)
    return {name: values for name, *values in directives}


def test_no_answer_may_load_what_it_does_not_name_nor_stand_in_a_frame(told: dict[str, Response]) -> None:
    for asked, answer in told.items():
        policy = policy_of(answer)
        assert policy["default-src"] == ["'none'"], asked
        assert policy["frame-ancestors"] == ["'none'"], asked
        assert policy["base-uri"] == ["'none'"], asked
        assert policy["form-action"] in (["'none'"], ["'self'"]), asked


def test_no_answer_lets_scripts_or_styles_in_that_stand_in_the_page_itself(told: dict[str, Response]) -> None:
    for asked, answer in told.items():
        allowed = {value for values in policy_of(answer).values() for value in values}
        hashes = {one for one in allowed if one.startswith("'sha256-")}
        assert allowed - hashes <= {"'none'", "'self'", "data:"}, asked
        assert not (hashes & set(policy_of(answer).get("script-src", []))), asked


def test_a_page_asks_for_nothing_that_a_phone_has_to_allow(told: dict[str, Response]) -> None:
    pages = {asked for asked, answer in told.items() if answer.headers.get("content-type", "").startswith("text/html")}
    assert {"/docs", "/bench", "/bench/one-valve", "/v1/valve-check as text/html", "milling refused as a page"} <= pages
    for asked, answer in told.items():
        assert ("permissions-policy" in answer.headers) == (asked in pages), asked
        assert ("cross-origin-opener-policy" in answer.headers) == (asked in pages), asked
    assert "camera=()" in told["/bench"].headers["permissions-policy"]


KEPT = {
    "/openapi.json", "/docs", "/assets/docs.js", "/assets/swagger-ui.css", "/bench", "/bench/main.js",
    "/bench/worker.js", "/bench/icon.svg", "what a phone has already",
}  # fmt: skip


def test_answers_are_kept_by_nobody_on_the_way_and_files_are_asked_for_again(told: dict[str, Response]) -> None:
    for asked, answer in told.items():
        wanted = "no-cache" if asked in KEPT else "no-store"
        assert answer.headers.get_list("cache-control") == [wanted], asked


@pytest.mark.parametrize("path", sorted(path for path in KEPT if path.startswith("/")))
def test_a_file_is_sent_again_only_where_it_is_another(client: Client, path: str) -> None:
    first = client.get(path)
    tag = first.headers["etag"]
    # RFC 9110, 13.1.2: a list, weak comparison, or anything that is there
    for known in (tag, f'"other", {tag}', tag.removeprefix("W/"), "*"):
        again = client.get(path, headers={"If-None-Match": known})
        assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", tag)
    other = client.get(path, headers={"If-None-Match": '"other"'})
    assert (other.status_code, other.content) == (200, first.content)


@pytest.mark.parametrize("path", ["/assets/swagger-ui-bundle.js", "/openapi.json", "/bench"])
def test_a_file_comes_packed_to_whom_takes_it_so_and_once(client: Client, path: str) -> None:
    plain = client.get(path, headers={"Accept-Encoding": "identity"})
    packed = client.get(path, headers={"Accept-Encoding": "gzip"})
    assert "content-encoding" not in plain.headers
    assert packed.headers["content-encoding"] == "gzip"
    assert int(packed.headers["content-length"]) < int(plain.headers["content-length"])
    assert packed.content == plain.content
    assert "accept-encoding" in packed.headers["vary"].lower()
    assert "accept-encoding" in plain.headers["vary"].lower()
