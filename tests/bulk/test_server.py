"""A service that is too busy, breaks off, or is none: asked again as long as it makes sense."""

from __future__ import annotations

import socket
from pathlib import Path
from typing import Any

import pytest
import stamina
from tests.bulk.runs import job, service, told, written

from headbench.bulk import command
from headbench.bulk.server import Server
from headbench.cli import main

JOBS = 220


@pytest.fixture
def jobs(tmp_path: Path) -> Path:
    return written(tmp_path / "jobs.ndjson", [job(n) for n in range(JOBS)])


@pytest.fixture
def at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody waits between two attempts."""
    monkeypatch.setattr("tenacity.nap.time.sleep", lambda _: None)


FAILURES: dict[str, Any] = {
    "too many requests": (429, {}),
    "busy": (503, {"Retry-After": "1"}),
    "busy until a date": (503, {"Retry-After": "Wed, 21 Oct 2026 07:28:00 GMT"}),
    "cut off": "cut",
}


@pytest.mark.usefixtures("at_once")
@pytest.mark.parametrize("failure", FAILURES)
def test_what_fails_for_a_while_is_asked_again_until_all_is_answered(
    jobs: Path, failure: str, capsys: pytest.CaptureFixture[str]
) -> None:
    out = jobs.with_name("out.ndjson")
    with service(lambda post: FAILURES[failure] if post % 3 else None) as (address, posts):
        assert main(["recompute", str(jobs), "--out", str(out), "--server", address]) == 0
    assert told(out) == [(n + 1, f"J-{n}", 200) for n in range(JOBS)]
    assert len(posts) > JOBS // 50 + 1
    assert "asking again in" in capsys.readouterr().err


def test_how_long_to_wait_is_what_the_service_says(monkeypatch: pytest.MonkeyPatch) -> None:
    slept: list[float] = []
    monkeypatch.setattr("tenacity.nap.time.sleep", slept.append)
    with (
        service(lambda post: (503, {"Retry-After": "7"}) if post == 1 else None) as (address, _),
        Server(address) as it,
    ):
        assert it.answerer().ask([(5, job(1))]).result().startswith(b'{"line":5,"id":"J-1","status":200,')
    assert slept == [7.0]


def test_a_run_that_was_given_up_goes_on_where_it_was(
    jobs: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    out = jobs.with_name("out.ndjson")
    monkeypatch.setattr(command, "Server", lambda address: Server(address, seconds_to_come_back=0.001))
    arguments = ["recompute", str(jobs), "--out", str(out), "--server"]
    with service(lambda post: (503, {}) if post > 2 else None) as (address, _):
        assert main([*arguments, address]) == 2
    assert "does not answer: 503" in (said := capsys.readouterr().err)
    assert "Run the same command again to go on." in said
    assert len(told(out)) in {0, 50, 100}
    with service() as (address, posts):
        assert main([*arguments, address]) == 0
    assert told(out) == [(n + 1, f"J-{n}", 200) for n in range(JOBS)]
    assert sum(posts) <= JOBS


def test_nobody_at_the_address_is_said(
    jobs: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(command, "Server", lambda address: Server(address, seconds_to_come_back=0.001))
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        address = f"http://127.0.0.1:{probe.getsockname()[1]}"
    assert main(["recompute", str(jobs), "--out", str(jobs.with_name("o")), "--server", address]) == 2
    assert f"{address} does not answer" in capsys.readouterr().err
    assert not jobs.with_name("o").exists()


@pytest.mark.parametrize("status", [400, 404, 413, 500])
def test_what_will_not_get_better_is_not_asked_again(
    jobs: Path, status: int, capsys: pytest.CaptureFixture[str]
) -> None:
    with service(lambda _: (status, {})) as (address, posts):
        assert main(["recompute", str(jobs), "--out", str(jobs.with_name("o")), "--server", address]) == 2
    assert f"/v1/batch answers {status}" in capsys.readouterr().err
    assert sum(posts) <= JOBS


@pytest.mark.parametrize("address", ["nonsense", "ftp://127.0.0.1", "http://", "127.0.0.1:8317"])
def test_what_is_no_address_is_said(jobs: Path, address: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["recompute", str(jobs), "--out", str(jobs.with_name("o")), "--server", address]) == 2
    assert f'"{address}" is no address of a service' in capsys.readouterr().err


def test_retries_are_on() -> None:
    # a switch of the library that would make the tests above mean nothing
    assert stamina.is_active()
    assert not stamina.is_testing()
