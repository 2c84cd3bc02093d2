"""Fingerprint: a short name of what a sheet was computed from, to tell two sheets apart or hold them together."""

from __future__ import annotations

from hashlib import sha256
from typing import Any, Final

import rfc8785

IN_PRINT: Final = 16
"""Digits of it that are printed: enough that no two jobs of a shop share them."""


def fingerprint(job: Any) -> str:
    """SHA-256 of a job's JSON in its canonical form (RFC 8785), so that spaces and the order of fields do not matter.

    >>> fingerprint({"b": 8.0, "a": None}) == fingerprint({"a": None, "b": 8})
    True
    """
    return sha256(rfc8785.dumps(job)).hexdigest()
