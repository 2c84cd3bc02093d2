"""The endpoints do what the published schema says, for requests made from it: in process and live."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import schemathesis
from schemathesis import Case

from headbench.api.app import create_app

ROOT = Path(__file__).parent.parent.parent
COMMITTED = ROOT / "openapi" / "openapi.json"

schema = schemathesis.openapi.from_dict(json.loads(COMMITTED.read_text()))
schema.app = create_app()


@schema.parametrize()
def test_an_operation_keeps_to_the_committed_schema(case: Case) -> None:
    case.call_and_validate()
