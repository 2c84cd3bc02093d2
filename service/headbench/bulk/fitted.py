"""Fitted: heads that went out with their shims are judged on those, whatever would be laid today.

Nobody changes the shims of a head that was delivered by changing a limit. So where today's answer would lay others
than the earlier one had, the head is asked about once more, with the shims it went out with as fitted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

import msgspec

Ask = Callable[[int, bytes], bytes]
"""Has one job answered, by its line's number; the answer is a line of results."""


def shimmed_otherwise(was: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[tuple[int, str, list[float], Any]]:
    """The positions that today's answer would shim otherwise: place, id, the shims then and now."""
    before = _laid(was)
    for place, line in enumerate(now.get("positions", ())):
        then = before.get(line["id"])
        if then is not None and line.get("shim_stack") is not None and sorted(then) != sorted(line["shims"]):
            yield place, line["id"], then, line["shims"]


def as_fitted(job: bytes, was: Mapping[str, Any]) -> bytes:
    """The job with the shims of an earlier answer as fitted; what it says of fitted shims itself stays."""
    whole = msgspec.json.decode(job)
    before = _laid(was)
    for position in whole["request"]["positions"]:
        shims = before.get(position["id"])
        if shims is not None and position.get("shims_fitted") is None:
            position["shims_fitted"] = shims
    return msgspec.json.encode(whole)


def _laid(answer: Mapping[str, Any]) -> dict[str, list[float]]:
    """The shims of every position that has any figure of them."""
    return {line["id"]: line["shims"] for line in answer.get("positions", ()) if line.get("shim_stack") is not None}
