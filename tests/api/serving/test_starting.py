"""A worker that comes up: what is loaded when, and what the garbage collector leaves alone."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

SCRIPT = Path(__file__).parent.parent.parent / "fresh_worker.py"


@pytest.fixture(scope="module")
def worker() -> Any:
    run = subprocess.run([sys.executable, str(SCRIPT)], capture_output=True, text=True, check=True)  # noqa: S603 - our own
    return json.loads(run.stdout)


def test_no_request_imports_anything(worker: Any) -> None:
    assert worker["statuses"] == [200, 400, 404, 405]
    assert worker["loaded by requests"] == []


def test_the_app_stands_without_what_only_some_calculations_need(worker: Any) -> None:
    assert "numpy" in worker["loaded with the app"]
    assert [name for name in worker["loaded with the app"] if name.startswith(("scipy.optimize", "pint"))] == []
    assert {"scipy.optimize", "scipy.interpolate"} <= set(worker["loaded by the warm-up"])


def test_what_draws_paper_is_loaded_by_nobody_who_asks_for_none(worker: Any) -> None:
    drawing = ("reportlab", "PIL", "bidi")
    for when in ("loaded with the app", "loaded by the warm-up"):
        assert [name for name in worker[when] if name.startswith(drawing)] == []


def test_the_garbage_collector_leaves_alone_what_stays(worker: Any) -> None:
    assert worker["frozen when ready"] > 0
