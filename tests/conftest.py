"""What all tests share."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings
from litestar.testing import TestClient
from litestar.types import ASGIApp

from headbench.api.app import create_app

ROOT = Path(__file__).parent.parent

# the same examples every run, and no clock: a slow machine is no defect
settings.register_profile("headbench", deadline=None, derandomize=True, max_examples=60)
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
    app: ASGIApp = create_app()
    with FullDigits(app, raise_server_exceptions=False) as client:
        yield client
