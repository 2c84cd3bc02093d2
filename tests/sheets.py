"""Sheets for the tests: any job printed in any form, as a caller gets it."""

from __future__ import annotations

import json
from typing import Any

import msgspec

from headbench.api.app import RESOURCES
from headbench.api.exchange.negotiating import Answered
from headbench.sheet.forms import FORMS
from headbench.sheet.model import Sheet
from headbench.sheet.sheets import sheet_of

Job = dict[str, Any]


def answered(job: Job, kind: str = "head-assembly") -> Answered:
    """A job and its answer."""
    resource = next(one for one in RESOURCES if one.kind == kind)
    request = msgspec.convert(job, resource.request)
    # as it comes off the wire
    return Answered(kind, json.loads(json.dumps(job)), request, resource(request))


def sheet(job: Job, which: str | None = None, *, kind: str = "head-assembly", by_head: bool = True) -> Sheet:
    """A job's sheet, before it has a form."""
    return sheet_of(answered(job, kind), which, by_head=by_head)


def printed(job: Job, form: str, which: str | None = None, kind: str = "head-assembly") -> bytes:
    """A job's sheet in a form."""
    make = next(one.make for one in FORMS if one.name == form)
    return make(answered(job, kind), which)
