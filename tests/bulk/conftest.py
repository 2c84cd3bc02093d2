"""What the tests of bulk runs share."""

from __future__ import annotations

import os

import pytest


@pytest.fixture
def one_core(monkeypatch: pytest.MonkeyPatch) -> None:
    """One process answers, where the order of many is not the question: starting more takes longer than a few lines."""
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0}, raising=False)
