"""The demo jobs are answered."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp

DEMO = Path(__file__).parent.parent / "shared" / "demo"


@pytest.mark.parametrize("path", sorted(DEMO.glob("*.json")), ids=lambda path: path.stem)
def test_a_demo_job_is_answered(client: TestClient[ASGIApp], path: Path) -> None:
    assert client.post("/v1/head-assembly", json=json.loads(path.read_text())).status_code == 200
