"""A service as it is shipped, behind a key and with metrics at a port of their own."""

from __future__ import annotations

import hashlib
import json
import socket
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.conftest import free_port, served

from headbench.cli import main

KEY = "of-the-shop-next-door"
HASH = f"sha256:{hashlib.sha256(KEY.encode()).hexdigest()}"
LINE = {"kind": "valve-mass", "id": "J-1", "request": {"positions": [{"id": "1I", "valve": "intake"}]}}


@pytest.fixture(scope="module")
def metrics_port() -> int:
    return free_port()


@pytest.fixture(scope="module")
def locked(metrics_port: int) -> Iterator[str]:
    with served(HEADBENCH_API_KEYS=HASH, HEADBENCH_METRICS_PORT=str(metrics_port)) as url:
        yield url


def got(url: str, key: str | None = None) -> tuple[int, str]:
    request = urllib.request.Request(url, headers={"Authorization": f"Bearer {key}"} if key else {})  # noqa: S310 - our own
    try:
        with urllib.request.urlopen(request, timeout=10.0) as answer:  # noqa: S310 - our own
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as refused:
        return refused.code, refused.read().decode()


def test_metrics_stand_at_their_own_port_and_at_no_other(locked: str, metrics_port: int) -> None:
    assert got(f"{locked}/v1/reference/notes")[0] == 401
    assert got(f"{locked}/v1/reference/notes", KEY)[0] == 200
    assert got(f"{locked}/metrics", KEY)[0] == 404
    status, told = got(f"http://127.0.0.1:{metrics_port}/metrics")
    assert status == 200
    for answered in (401, 200):
        counted = f'headbench_requests_total{{method="GET",route="/v1/reference/notes",status="{answered}"}} 1.0'
        assert counted in told


@pytest.mark.parametrize(
    ("key", "status", "told"), [(KEY, 0, ""), ("another", 2, "set HEADBENCH_KEY"), (None, 2, "set HEADBENCH_KEY")]
)
def test_jobs_are_answered_anew_by_whom_has_the_key(
    locked: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    key: str | None,
    status: int,
    told: str,
) -> None:
    jobs = tmp_path / "jobs.ndjson"
    jobs.write_text(json.dumps(LINE) + "\n")
    monkeypatch.setenv("HEADBENCH_KEY", key or "")
    assert main(["recompute", str(jobs), "--out", str(tmp_path / "out.ndjson"), "--server", locked]) == status
    said = capsys.readouterr()
    assert told in said.err
    assert KEY not in said.err + said.out


def test_a_port_of_metrics_that_is_taken_is_told_in_a_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        monkeypatch.setenv("HEADBENCH_METRICS_PORT", str(port))
        assert main(["serve", "--port", str(free_port())]) == 1
    assert capsys.readouterr().err == f"HEADBENCH_METRICS_PORT: 127.0.0.1:{port} is in use; choose another port\n"
