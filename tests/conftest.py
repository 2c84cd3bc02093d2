"""What all tests share."""

from __future__ import annotations

import gc
import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from hypothesis import Phase, settings
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.batches import AtOnce

from headbench.api.app import create_app

# what a process of tests/test_lock.py loads at its start
collect_ignore = ["lock_alone"]

ROOT = Path(__file__).parent.parent

# the same examples every run, and no clock: a slow machine is no defect
settings.register_profile("headbench", deadline=None, derandomize=True, max_examples=60)
# where only whether a test fails is asked, and not by which least example
settings.register_profile("unshrunk", settings.get_profile("headbench"), phases=[Phase.explicit, Phase.generate])
settings.load_profile("headbench")


class FullDigits(TestClient[ASGIApp]):
    """A caller that asks for every digit where a job does not say, so that numbers can be compared to the last."""

    def post(self, url: Any, *, json: Any = None, **others: Any) -> Any:
        if isinstance(json, dict) and isinstance(chosen := json.get("units", {}), dict):
            json = json | {"units": {"rounding": "full"} | chosen}
        return super().post(url, json=json, **others)


@pytest.fixture(scope="session")
def client() -> Iterator[TestClient[ASGIApp]]:
    """The service in this process; a defect of it answers 500 as it would outside."""
    app: ASGIApp = create_app(AtOnce())
    with FullDigits(app, raise_server_exceptions=False) as client:
        yield client


@pytest.fixture(scope="session")
def address() -> Iterator[str]:
    """The service as it is shipped, in a process of its own."""
    with served() as url:
        yield url


def free_port() -> int:
    """A port that nobody listens at."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@contextmanager
def served(**environment: str) -> Iterator[str]:
    """The address of a service as it is shipped, with this said to it; a worker more is a second more of start."""
    port = free_port()
    command = [sys.executable, "-m", "headbench.cli", "serve", "--port", str(port)]
    with subprocess.Popen(  # noqa: S603 - our own
        command,
        env=os.environ | {"HEADBENCH_WORKERS": "1"} | environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    ) as server:
        try:
            url = f"http://127.0.0.1:{port}"
            for _ in range(200):
                try:
                    urllib.request.urlopen(f"{url}/health/ready", timeout=1.0).close()  # noqa: S310 - our own
                    break
                except OSError:
                    time.sleep(0.1)
            yield url
        finally:
            server.terminate()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the longest, so that at the end no core waits for one of them."""
    items.sort(key=lambda item: item.get_closest_marker("long") is None)


def pytest_collection_finish() -> None:
    """Have what was collected, some ten thousand tests, not gone through at every collection of garbage."""
    gc.collect()
    gc.freeze()


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say loudly what nobody has tried in this run."""
    for reason in dict.fromkeys(report.longrepr[-1] for report in terminalreporter.getreports("skipped")):
        terminalreporter.write_line(f"WARNING: {reason}", yellow=True, bold=True)
