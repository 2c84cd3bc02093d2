"""The envelope: every request may say whose job it is, every answer says it back and names what computed it."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp

from headbench import __version__
from headbench.api.app import RESOURCES

Client = TestClient[ASGIApp]
JOB = {"reference": "KW-0317", "head": "port side", "customer": "harbor launch club", "engine": "launch Marrowbill",
       "remarks": "new guides", "parts": ["retainers, steel"]}  # fmt: skip


@pytest.mark.parametrize("resource", RESOURCES, ids=lambda resource: resource.kind)
def test_an_answer_carries_its_job_and_its_release(client: Client, resource: Any) -> None:
    answer = client.post(resource.path, json={**resource.example, "job": JOB}).json()
    assert answer["job"] == JOB
    assert answer["version"] == __version__


@pytest.mark.parametrize("resource", RESOURCES, ids=lambda resource: resource.kind)
def test_a_job_that_is_left_out_is_null_all_through(client: Client, resource: Any) -> None:
    job = {name: value for name, value in resource.example.items() if name != "job"}
    answer = client.post(resource.path, json=job).json()
    assert answer["job"] == dict.fromkeys(JOB) | {"parts": []}


def test_one_job_never_shows_in_the_answer_to_another() -> None:
    resource = RESOURCES[1]
    named = msgspec.convert({**resource.example, "job": JOB}, resource.request)
    unnamed = msgspec.convert({**resource.example}, resource.request)
    resource(named)
    assert resource(unnamed).job.reference is None


def test_a_line_of_a_batch_carries_both_too(client: Client) -> None:
    line = {
        "kind": "valve-mass",
        "request": {"job": {"reference": "A-1"}, "positions": [{"id": "1I", "valve": "intake"}]},
    }
    body = msgspec.json.encode(line)
    answer = client.post("/v1/batch", content=body, headers={"Content-Type": "application/x-ndjson"}).json()["answer"]
    assert (answer["job"]["reference"], answer["version"]) == ("A-1", __version__)
