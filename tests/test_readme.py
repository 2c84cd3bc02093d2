"""The README's commands, request and answer are the real ones."""

from __future__ import annotations

import json
import re
from pathlib import Path

from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.batches import AtOnce

from headbench.api.app import published

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text()


def block(mark: str, language: str) -> str:
    found = re.search(rf"<!-- {mark} -->\n```{language}\n(.*?)```", README, re.DOTALL)
    assert found, mark
    return found[1]


def test_the_request_has_the_answer_that_is_printed(client: TestClient[ASGIApp]) -> None:
    command = block("request", "sh")
    path, body = re.search(r"http://127\.0\.0\.1:8317(\S+) .*?-d '\n(.*)'", command, re.DOTALL).groups()  # type: ignore[union-attr] # no match is a failure too
    answer = client.post(path, content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code == 200
    printed = json.loads(block("answer", "json"))
    assert {name: answer.json()[name] for name in printed} == printed


def test_the_batch_has_the_answers_that_are_printed(client: TestClient[ASGIApp]) -> None:
    command = block("batch", "sh")
    path, body = re.search(r"http://127\.0\.0\.1:8317(\S+) .*?<<'END'\n(.*?)END", command, re.DOTALL).groups()  # type: ignore[union-attr] # no match is a failure too
    answer = client.post(path, content=body, headers={"Content-Type": "application/x-ndjson"})
    given = [json.loads(line) for line in answer.text.splitlines()]
    printed = [json.loads(one) for one in re.split(r"\n(?=\{)", block("batch answers", "json"))]
    assert len(printed) == len(given)
    assert [{name: one[name] for name in shown} for shown, one in zip(printed, given, strict=True)] == printed


def test_the_sheet_is_answered_as_it_is_asked_for(client: TestClient[ASGIApp]) -> None:
    command = block("sheet", "sh")
    address, *headers = re.findall(r"'([^']+)'", command)
    job = re.search(r"@(\S+)", command)
    assert job
    answer = client.post(
        address.removeprefix("http://127.0.0.1:8317"),
        content=(ROOT / job[1]).read_bytes(),
        headers=dict(header.split(": ") for header in headers),
    )
    assert (answer.status_code, answer.headers["content-type"]) == (200, "application/pdf")


def test_every_endpoint_is_in_the_table_and_no_other() -> None:
    posts = {path for handler in published(AtOnce()) if "POST" in handler.http_methods for path in handler.paths}
    assert set(re.findall(r"^\| `(/v1/[a-z-]+)` \|", README, re.MULTILINE)) == posts


def test_every_command_it_names_can_be_made() -> None:
    targets = set(re.findall(r"^([a-z-]+):", (ROOT / "Makefile").read_text(), re.MULTILINE))
    assert set(re.findall(r"(?:^    |`)make ([a-z-]+)", README, re.MULTILINE)) <= targets
    assert {"demo", "test", "serve"} <= targets
