"""The endpoints do what the published schema says, for requests made from it: in process and live."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any, Final

import pytest
import schemathesis
from schemathesis import Case
from tests.api.batches import AtOnce

from headbench.api.app import create_app

ROOT = Path(__file__).parent.parent.parent
COMMITTED = ROOT / "openapi" / "openapi.json"
DOCUMENT: Final = json.loads(COMMITTED.read_text())
# the operations of the live run are dealt out, so that no core waits for one long run at the end
HANDS: Final = 3

schema = schemathesis.openapi.from_dict(DOCUMENT)
schema.app = create_app(AtOnce())
# what is gone through value by value is the same every time: the live run asks it, over a real connection
schema.config.phases.coverage.enabled = False


@pytest.mark.long
@schema.parametrize()
def test_an_operation_keeps_to_the_committed_schema(case: Case[Any]) -> None:
    case.call_and_validate()


@pytest.mark.long
@pytest.mark.parametrize("hand", range(HANDS))
def test_a_live_server_keeps_to_the_committed_schema_in_every_check_and_phase(hand: int, address: str) -> None:
    paths = list(DOCUMENT["paths"])[hand::HANDS]
    command = [
        str(Path(sys.executable).parent / "schemathesis"),
        "run",
        str(COMMITTED),
        f"--url={address}",
        "--continue-on-failure",
        "--max-examples=20",
        *(f"--include-path={path}" for path in paths),
    ]
    environment = {**os.environ, "NO_COLOR": "1"}
    run = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)  # noqa: S603 - our own
    assert run.returncode == 0, run.stdout[-6000:]
    assert "No issues found" in run.stdout, run.stdout[-6000:]
    assert f"Tested: {len(paths)}\n" in run.stdout, run.stdout[-6000:]
