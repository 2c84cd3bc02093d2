"""The endpoints do what the published schema says, for requests made from it: in process and live."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any, Final

import openapi_spec_validator
import pytest
import schemathesis
from schemathesis import Case
from tests.api.batches import AtOnce
from tests.contract.told_once import told_once

from headbench.api.app import create_app

ROOT = Path(__file__).parent.parent.parent
COMMITTED = ROOT / "openapi" / "openapi.json"
DOCUMENT: Final = json.loads(COMMITTED.read_text())
# the operations of the live run are dealt out, so that no core waits for one long run at the end
HANDS: Final = 3

schema = schemathesis.openapi.from_dict(DOCUMENT)
schema.app = create_app(AtOnce())
# made up at random here, where it costs least; examples, and fields value by value, are asked over a connection
schema.config.phases.examples.enabled = False
schema.config.phases.coverage.enabled = False


@pytest.mark.long
@schema.parametrize()
def test_an_operation_keeps_to_the_committed_schema(case: Case[Any]) -> None:
    case.call_and_validate()


@pytest.mark.long
@pytest.mark.parametrize("hand", range(HANDS))
def test_a_live_server_keeps_to_the_committed_schema_value_by_value(hand: int, address: str, tmp_path: Path) -> None:
    paths = list(DOCUMENT["paths"])[hand::HANDS]
    asked = tmp_path / "openapi.json"
    asked.write_text(json.dumps(told_once(DOCUMENT)))
    command = [
        str(Path(sys.executable).parent / "schemathesis"),
        "run",
        str(asked),
        f"--url={address}",
        "--continue-on-failure",
        "--phases=examples,coverage",
        *(f"--include-path={path}" for path in paths),
    ]
    environment = {**os.environ, "NO_COLOR": "1"}
    run = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)  # noqa: S603 - our own
    assert run.returncode == 0, run.stdout[-6000:]
    assert "No issues found" in run.stdout, run.stdout[-6000:]
    # both phases of a batch of lines are off
    tested = len(paths) - ("/v1/batch" in paths)
    assert f"Tested: {tested}\n" in run.stdout, run.stdout[-6000:]


def plain_fields(document: Any) -> list[tuple[str, str]]:
    """Every number, text and choice that a job may hold, by the title of its object, once for each copy of that."""
    schemas = document["components"]["schemas"]
    found: list[tuple[str, str]] = []
    # lines may hold any job, whole
    ahead: list[Any] = [path for name, path in document["paths"].items() if name != "/v1/batch"]
    ahead = [operation["requestBody"] for path in ahead for operation in path.values() if "requestBody" in operation]
    known: set[str] = set()
    while ahead:
        part = ahead.pop()
        if isinstance(part, dict):
            found += [
                (part["title"], name) for name, one in part.get("properties", {}).items() if is_plain(schemas, one)
            ]
            ahead += part.values()
        elif isinstance(part, list):
            ahead += part
        elif isinstance(part, str) and part.startswith("#/components/schemas/") and part not in known:
            known.add(part)
            ahead.append(schemas[part.rsplit("/")[-1]])
    return found


def is_plain(schemas: Any, field: Any) -> bool:
    inner = [field, *field.get("anyOf", []), *field.get("oneOf", [])]
    targets = [schemas[one["$ref"].rsplit("/")[-1]] for one in inner if "$ref" in one]
    return not any("properties" in one or "items" in one or "anyOf" in one for one in [*inner[1:], *targets])


def test_each_plain_field_of_every_job_is_asked_at_some_operation_and_few_at_several() -> None:
    asked = told_once(DOCUMENT)
    openapi_spec_validator.validate(asked)
    fields, published = plain_fields(asked), plain_fields(DOCUMENT)
    assert set(fields) == set(published)
    # a spring that must be there is there in full wherever it must; units need not be, and are asked about once
    assert fields.count(("Units", "force")) == 1
    assert fields.count(("Spring", "mass")) > 1
