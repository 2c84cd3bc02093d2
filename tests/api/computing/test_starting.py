"""Processes that come up: what is loaded when, and what the garbage collector leaves alone."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

SCRIPT = Path(__file__).parent.parent.parent / "fresh_worker.py"


def come_up(to_do: str) -> Any:
    run = subprocess.run([sys.executable, str(SCRIPT), to_do], capture_output=True, text=True, check=True)  # noqa: S603 - our own
    return json.loads(run.stdout)


@pytest.fixture(scope="module")
def serving() -> Any:
    return come_up("serve")


@pytest.fixture(scope="module")
def computing() -> Any:
    return come_up("compute")


def test_no_request_imports_anything(serving: Any, computing: Any) -> None:
    assert serving["statuses"] == [200, 400, 404, 405]
    assert serving["loaded by requests"] == []
    assert computing["statuses"] == [200, 400]
    assert computing["loaded by requests"] == []


def test_the_process_that_serves_does_without_what_only_calculations_need(serving: Any, computing: Any) -> None:
    assert [name for name in serving["loaded when ready"] if name.startswith(("scipy.optimize", "pint"))] == []
    assert {"scipy.optimize", "scipy.interpolate"} <= set(computing["loaded when ready"])


def test_what_draws_paper_is_loaded_by_nobody_who_asks_for_none(serving: Any, computing: Any) -> None:
    drawing = ("reportlab", "PIL", "bidi")
    for process in (serving, computing):
        assert [name for name in process["loaded when ready"] if name.startswith(drawing)] == []


def test_the_garbage_collector_leaves_alone_what_stays(serving: Any, computing: Any) -> None:
    assert serving["frozen when ready"] > 0
    assert computing["frozen when ready"] > 0
