"""The wheel, installed from a wheelhouse in an empty environment that reaches no index, and asked."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tomllib
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pytest
from packaging.utils import canonicalize_name
from tests.deployment.ports import free_port
from tests.deployment.replicas import wait_for
from tests.vectors import VECTORS

pytestmark = pytest.mark.deployment

ROOT: Final = Path(__file__).parents[2]
WHEELHOUSE: Final = ROOT / "dist" / "wheelhouse"


def run(*command: str | Path, **environment: str) -> str:
    """What a command prints, given nothing of this environment."""
    given = {"PATH": os.environ["PATH"]} | environment
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=given)  # noqa: S603 - our own
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The programs of an environment made as docker/shop-pc.md says."""
    subprocess.run([ROOT / "docker" / "wheelhouse.sh", sys.executable], check=True)  # noqa: S603 - our own
    run("sh", "-c", f"cd '{WHEELHOUSE}' && sha256sum --quiet -c SHA256SUMS")
    folder = tmp_path_factory.mktemp("pc") / "headbench"
    run(sys.executable, "-m", "venv", folder)
    pip: list[str | Path] = [folder / "bin" / "pip", "install", "--quiet", "--no-index", "--find-links", WHEELHOUSE]
    alone = {"PIP_CONFIG_FILE": os.devnull, "PIP_DISABLE_PIP_VERSION_CHECK": "1"}
    run(*pip, "--require-hashes", "-r", WHEELHOUSE / "pc.lock", **alone)
    run(*pip, "--no-deps", next(WHEELHOUSE.glob("headbench-*.whl")), **alone)
    return folder / "bin"


@pytest.fixture(scope="module")
def address(installed: Path) -> Iterator[str]:
    port = free_port()
    command: list[str | Path] = [installed / "headbench", "serve", "--port", str(port)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, env={}, cwd="/") as server:  # noqa: S603 - our own
        try:
            wait_for(f"http://127.0.0.1:{port}/health/ready", server)
            yield f"http://127.0.0.1:{port}"
        finally:
            server.terminate()


def post(address: str, path: str, body: bytes) -> Any:
    asked = urllib.request.Request(address + path, body, {"Content-Type": "application/json"})  # noqa: S310 - our own
    with urllib.request.urlopen(asked, timeout=60.0) as answer:  # noqa: S310 - likewise
        return json.load(answer)


def test_it_runs_from_the_wheel_and_says_its_version(installed: Path) -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert run(installed / "headbench", "--version").split() == ["headbench", project["version"]]
    where = run(installed / "python", "-c", "import headbench; print(headbench.__file__)")
    assert where.startswith(str(installed.parent))


def test_it_brings_what_the_lock_names_and_no_other(installed: Path) -> None:
    listed = json.loads(run(installed / "pip", "list", "--format=json", "--disable-pip-version-check"))
    names = {canonicalize_name(one["name"]) for one in listed} - {"pip", "setuptools", "headbench"}
    locked = set(re.findall(r"^([a-z0-9-]+)==", (ROOT / "docker" / "pc.lock").read_text(), re.MULTILINE))
    assert names <= locked
    assert {"litestar", "numpy", "scipy", "uvicorn", "httpx", "stamina"} <= names


@pytest.mark.parametrize("vector", VECTORS, ids=lambda one: f"{one.kind}-{one.name}")
def test_it_answers_a_vector_as_expected(address: str, vector: Any) -> None:
    assert vector.faults(post(address, f"/v1/{vector.kind}", json.dumps(vector.request).encode())) == []


def test_its_schema_is_the_committed_one(address: str) -> None:
    with urllib.request.urlopen(f"{address}/openapi.json", timeout=60.0) as answer:  # noqa: S310 - our own
        assert json.load(answer) == json.loads((ROOT / "openapi" / "openapi.json").read_text())


def test_the_page_for_the_phone_and_the_sheets_come_with_it(address: str, installed: Path) -> None:
    with urllib.request.urlopen(f"{address}/bench", timeout=60.0) as answer:  # noqa: S310 - our own
        assert b"<html" in answer.read()
    demo = ROOT / "shared" / "demo" / "two-heads.json"
    assert "headbench" in run(installed / "headbench", "sheet", demo).lower()


def test_what_was_answered_once_is_held_against_what_it_answers(installed: Path, tmp_path: Path) -> None:
    """What docker/shop-pc.md does after five years: the same jobs again, and what differs."""
    lines = [{"kind": one.kind, "id": one.name, "request": one.request} for one in VECTORS]
    (jobs := tmp_path / "jobs.ndjson").write_text("".join(json.dumps(line) + "\n" for line in lines))
    command, then, today, changes = (
        installed / "headbench",
        *(tmp_path / name for name in ("then", "today", "changes")),
    )
    run(command, "recompute", jobs, "--out", then)
    run(command, "recompute", jobs, "--out", today, "--against", then, "--changes", changes)
    assert len(then.read_text().splitlines()) == len(VECTORS)
    assert changes.read_text() == ""
    # an answer of then that reads otherwise is told
    altered = then.read_text().replace('"verdict":"accept"', '"verdict":"reject"', 1)
    assert altered != then.read_text()
    then.write_text(altered)
    today.unlink()
    run(command, "recompute", jobs, "--out", today, "--against", then, "--changes", changes)
    assert changes.read_text() != ""
