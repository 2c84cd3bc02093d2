"""GET /bench: the page's files, as a browser takes and keeps them."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp

from headbench import __version__

FOLDER = Path(__file__).parent.parent.parent.parent / "service" / "headbench" / "web" / "bench"
FILES = sorted(path.relative_to(FOLDER).as_posix() for path in FOLDER.rglob("*.*"))


@pytest.mark.parametrize("name", FILES)
def test_every_file_is_served_and_asked_for_again(client: TestClient[ASGIApp], name: str) -> None:
    url = "/bench" if name == "index.html" else f"/bench/{name}"
    answer = client.get(url)
    assert answer.status_code == 200
    assert answer.headers["cache-control"] == "no-cache"
    assert answer.headers["x-content-type-options"] == "nosniff"
    again = client.get(url, headers={"If-None-Match": answer.headers["etag"]})
    assert again.status_code == 304
    assert again.content == b""


def test_nothing_but_its_own_files_is_served(client: TestClient[ASGIApp]) -> None:
    for url in ("/bench/other.js", "/bench/../docs.html", "/bench/%2e%2e/docs.html", "/bench/screens", "/bench//"):
        answer = client.get(url)
        assert answer.status_code == 404 or answer.content == client.get("/bench").content, url


def test_the_page_holds_no_script_and_no_style_of_its_own_and_loads_from_nowhere_else(
    client: TestClient[ASGIApp],
) -> None:
    answer = client.get("/bench")
    policy = answer.headers["content-security-policy"]
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    assert not re.search(r"<style|style=|<script(?![^>]*src=)|\son\w+=|https?://", answer.text)
    assert re.findall(r'(?:src|href)="([^"]+)"', answer.text)
    for url in re.findall(r'(?:src|href)="(/[^"]+)"', answer.text):
        assert client.get(url).status_code == 200, url


def test_the_worker_keeps_every_file_under_the_name_of_the_release(client: TestClient[ASGIApp]) -> None:
    worker = client.get("/bench/worker.js")
    assert worker.headers["service-worker-allowed"] == "/bench"
    release, files = re.findall(r"const \w+ = (.+);", worker.text)[:2]
    assert json.loads(release).startswith(f"headbench-{__version__}-")
    kept = {f"/bench/{name}" for name in FILES} - {"/bench/index.html", "/bench/worker.js"} | {"/bench"}
    assert set(json.loads(files)) == kept


def test_every_module_that_is_imported_is_there() -> None:
    for path in FOLDER.rglob("*.js"):
        for name in re.findall(r'from "(\.[^"]+)"', path.read_text()):
            assert (path.parent / name).resolve().exists(), (path.name, name)


def test_the_page_installs_by_its_own_manifest(client: TestClient[ASGIApp]) -> None:
    manifest = json.loads(client.get("/bench/manifest.webmanifest").content)
    assert manifest["start_url"] == manifest["scope"] == "/bench"
    for icon in manifest["icons"]:
        assert client.get(icon["src"]).headers["content-type"] == icon["type"]


def test_without_scripts_the_page_leads_to_a_plain_form(client: TestClient[ASGIApp]) -> None:
    without = re.search(r"<noscript>(.*?)</noscript>", client.get("/bench").text, re.DOTALL)
    assert without is not None
    assert 'href="/bench/one-valve"' in without[1]
    assert client.get("/bench/one-valve").status_code == 200
