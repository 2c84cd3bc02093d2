"""Names that somebody could send to break a sheet, or what reads it."""

from __future__ import annotations

from typing import Any, Final

from tests.api.jobs import whole_job

HOSTILE: Final = (
    "<script>alert(1)</script>",
    "</style></title><svg onload=alert(1)>",
    '"><img src=x onerror=alert(1)>',
    "<para fontSize=99>&amp;<b>",
    "=HYPERLINK(0)",
    "@SUM(1)",
    '"quoted", ; comma',
    "{{7*7}} %s %n ${x}",
    "\u202eevil\u202d",
    "\u05e9\u05dc\u05d5\u05dd",
    "\u0645\u0631\u062d\u0628\u0627",
    "W" * 60,
    "\u6f22" * 60,
    "a\u0301" * 30,
    "\U0001f600 x\ufffe",
)


def hostile_job(name: str) -> dict[str, Any]:
    """A whole job in which everything that has a name has this one."""
    job = whole_job()
    job["job"] = {"reference": name, "head": name, "customer": name, "engine": name, "remarks": name, "parts": [name]}
    job["springs"][0]["id"] = job["positions"][0]["spring"] = name
    job["positions"][0] |= {"id": name, "bank": name, "remarks": name, "parts": [name]}
    job["waivers"] = [{"check": "seat_load_check", "accepted_by": name, "reason": name}]
    return job
