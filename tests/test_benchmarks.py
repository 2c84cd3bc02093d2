"""The benchmarks still measure what they say: whether they do is no matter of speed."""

from __future__ import annotations

import asyncio

import pytest
from tests.benchmarks import throughput


def test_the_head_is_compared_with_a_handler_that_answers_the_same_bytes(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(throughput, "ROUNDS", 1)
    monkeypatch.setattr(throughput, "CALLS", 1)
    asyncio.run(throughput.measure())
    assert "of the throughput of decoding and encoding alone" in capsys.readouterr().out
