"""The endpoints do what the published schema says, for requests made from it: in process and live."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from schemathesis import Case

from headbench.api.app import create_app

ROOT = Path(__file__).parent.parent.parent
COMMITTED = ROOT / "openapi" / "openapi.json"

schema = schemathesis.openapi.from_dict(json.loads(COMMITTED.read_text()))
schema.app = create_app()


@schema.parametrize()
def test_an_operation_keeps_to_the_committed_schema(case: Case[Any]) -> None:
    case.call_and_validate()


@pytest.fixture
def address() -> Iterator[str]:
    """The service as it is shipped, in a process of its own."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "headbench.cli", "serve", "--port", str(port)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as server:  # noqa: S603 - our own
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


def test_a_live_server_keeps_to_the_committed_schema_in_every_check_and_phase(address: str) -> None:
    command = [
        str(Path(sys.executable).parent / "schemathesis"),
        "run",
        str(COMMITTED),
        f"--url={address}",
        "--continue-on-failure",
        "--max-examples=60",
    ]
    environment = {**os.environ, "NO_COLOR": "1"}
    run = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)  # noqa: S603 - our own
    assert run.returncode == 0, run.stdout[-6000:]
    assert "No issues found" in run.stdout, run.stdout[-6000:]
