"""The commands that print: a job's sheet, the published schema, the units' factors."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

import msgspec

from headbench import units
from headbench.api import app
from headbench.api.app import RESOURCES
from headbench.api.exchange.decoding import decode
from headbench.api.exchange.negotiating import Answered, Form
from headbench.api.exchange.problems import Problem, problem_of
from headbench.api.exchange.resource import Resource
from headbench.errors import Contradiction, NotFinite, RefusedRequest
from headbench.sheet.forms import FORMS


def add_sheet(sheet: argparse.ArgumentParser) -> None:
    """What may be said of a sheet."""
    sheet.add_argument("job", type=Path, help="a JSON file, as POST /v1/<kind> takes it")
    sheet.add_argument("--as", dest="form", choices=[form.name for form in FORMS], default="text", help="default: text")
    sheets = [name for resource in RESOURCES for name in resource.sheets]
    sheet.add_argument("--sheet", choices=sheets, help=f"which sheet of a head (default: {sheets[0]})")
    kinds = [resource.kind for resource in RESOURCES]
    sheet.add_argument("--kind", choices=kinds, default=kinds[0], help=f"what the job asks (default: {kinds[0]})")


def show_text(text: str) -> int:
    """Print a text as it is."""
    print(text, end="")
    return 0


def schema_text() -> str:
    """The published schema as it is committed: indented, paths and components by name, fields in their own order."""
    return json.dumps(app.schema(), indent=2, ensure_ascii=False) + "\n"


def factors_text() -> str:
    """The factors of all units as they are kept beside `headbench.units`, worked out anew by pint."""
    return json.dumps(units.worked_out_factors(), indent=2) + "\n"


def print_sheet(job: Path, kind: str, form: str, sheet: str | None) -> int:
    """Work out a job and print it; what is wrong with it is told instead, each fault with its place."""
    body = read_job(job)
    if body is None:
        return 2
    resource = next(one for one in RESOURCES if one.kind == kind)
    if sheet is not None and sheet not in resource.sheets:
        print(f"A job of {kind} has one sheet; leave out --sheet {sheet}.", file=sys.stderr)
        return 1
    printed = _printed(resource, body, next(one for one in FORMS if one.name == form), sheet)
    if isinstance(printed, Problem):
        print(f"{job}: {printed.title}. {printed.detail}", file=sys.stderr)
        for error in printed.errors:
            print(f"  {error.pointer or '/'}: {error.detail}", file=sys.stderr)
        return 1
    sys.stdout.buffer.write(printed)
    sys.stdout.flush()
    return 0


def read_job(job: Path) -> bytes | None:
    """What a file holds; None, and a word to whoever asked, where it cannot be read."""
    try:
        return job.read_bytes()
    except OSError as error:
        print(f"{job} can't be read: {(error.strerror or str(error)).lower()}.", file=sys.stderr)
        return None


def _printed(resource: Resource[Any, Any], body: bytes, form: Form, sheet: str | None) -> bytes | Problem:
    job = None
    try:
        job = decode(body, resource.request)
        return form.make(Answered(resource.kind, msgspec.json.decode(body), job, resource(job)), sheet)
    except (RefusedRequest, Contradiction, NotFinite) as error:
        return problem_of(error, job)
