"""What ships is what is imported: a service that has the lock alone answers everything, and needs nearly all of it."""

from __future__ import annotations

import hashlib
import json
import os
import re
import urllib.error
import urllib.request
from collections.abc import Iterator
from importlib.metadata import packages_distributions
from pathlib import Path
from typing import Final

import pytest
from tests.conftest import free_port, served

from headbench.api.app import RESOURCES

ROOT: Final = Path(__file__).parent.parent
KEY: Final = "of-this-test"
FORMS: Final = ("application/json", "text/html", "text/plain", "application/pdf", "text/csv")

NEVER_IMPORTED: Final = {
    "pint": "`headbench factors` imports it, which works the units out anew",
    "flexcache": "pint demands it",
    "flexparser": "pint demands it",
    "platformdirs": "pint demands it",
}
"""What no request needs, and why it ships."""


def normal(name: str) -> str:
    """A name as the index compares it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def locked() -> set[str]:
    """What the lock installs here."""
    lines = re.findall(r"^([\w.-]+)==\S+(.*)\\$", (ROOT / "requirements.lock").read_text(), re.MULTILINE)
    return {normal(name) for name, marker in lines if "win32" not in marker}


def of_modules() -> dict[str, set[str]]:
    """The distributions that each module comes from."""
    return {module: {normal(one) for one in names} for module, names in packages_distributions().items()}


@pytest.fixture(scope="module")
def imported(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    """The distributions that a service imports, in all its processes, from its start until all was asked of it."""
    folder = tmp_path_factory.mktemp("lock")
    ships = locked() | {"headbench"}
    (folder / "hidden").write_text("\n".join(module for module, names in of_modules().items() if not names & ships))
    notes = folder / "notes"
    environment = {
        "PYTHONPATH": os.pathsep.join([str(ROOT / "tests" / "lock_alone"), os.environ.get("PYTHONPATH", "")]),
        "LOCK_ALONE_HIDDEN": str(folder / "hidden"),
        "LOCK_ALONE_NOTES": str(notes),
        "HEADBENCH_API_KEYS": f"sha256:{hashlib.sha256(KEY.encode()).hexdigest()}",
        "HEADBENCH_RATE_LIMIT": "10000/minute",
        "HEADBENCH_TRUSTED_PROXIES": "192.0.2.1",
        "HEADBENCH_METRICS_PORT": str(free_port()),
        "HEADBENCH_CORS_ORIGINS": "https://shop.example",
    }
    with served(**environment) as address:
        statuses = [status_of(address, *call) for call in calls()]
    assert set(statuses) == {200}
    modules = set(notes.read_text().split())
    return {name for module, names in of_modules().items() if module in modules for name in names & ships}


def calls() -> Iterator[tuple[str, bytes | None, str, str]]:
    """Every address there is; every calculation in every form: path, body, media type of the body, and Accept."""
    paths = json.loads((ROOT / "openapi" / "openapi.json").read_text())["paths"]
    for path, operations in paths.items():
        if "get" in operations:
            yield path, None, "", "*/*"
    for path in ("/openapi.json", "/docs", "/assets/docs.js", "/bench", "/bench/worker.js", "/bench/one-valve"):
        yield path, None, "", "*/*"
    for resource in RESOURCES:
        for form in FORMS if resource is RESOURCES[0] else FORMS[:1]:
            yield resource.path, resource.example_file.read_bytes(), "application/json", form
    yield "/v1/valve-check", b"id=1I&valve=intake", "application/x-www-form-urlencoded", "text/html"
    line = {"kind": RESOURCES[0].kind, "request": RESOURCES[0].example}
    yield "/v1/batch", json.dumps(line).encode(), "application/x-ndjson", "*/*"


def status_of(address: str, path: str, body: bytes | None, media_type: str, accept: str) -> int:
    headers = {"Authorization": f"Bearer {KEY}", "Accept": accept, "Accept-Encoding": "gzip"}
    headers |= {"Content-Type": media_type} if body else {}
    request = urllib.request.Request(f"{address}{path}", body, headers)  # noqa: S310 - our own
    try:
        with urllib.request.urlopen(request, timeout=30.0) as answer:  # noqa: S310 - our own
            answer.read()
            status: int = answer.status
    except urllib.error.HTTPError as refused:
        return refused.code
    return status


def test_what_the_lock_holds_is_imported_but_for_what_is_told(imported: set[str]) -> None:
    assert {"litestar", "uvicorn", "scipy", "reportlab", "throttled-py"} <= imported
    assert locked() - imported == set(NEVER_IMPORTED)


def test_nothing_that_builds_or_fakes_or_draws_terminals_ships() -> None:
    assert not locked() & {
        "editables",
        "faker",
        "hatchling",
        "httpx",
        "pip",
        "polyfactory",
        "rich",
        "rich-click",
        "setuptools",
    }
