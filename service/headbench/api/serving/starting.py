"""Starting: what a worker does before it takes requests, so that no request is held up by it."""

from __future__ import annotations

import gc
from collections.abc import Callable, Sequence
from typing import Any

import msgspec

from headbench.api.exchange.decoding import decode
from headbench.api.exchange.resource import Resource


def start_with(resources: Sequence[Resource[Any, Any]]) -> Callable[[], None]:
    """What a worker does before its first request: it warms up, and sets aside what it holds by then."""

    def start() -> None:
        # not beside the first requests: scipy's parts import each other, and two threads in the midst of it can crash
        for resource in resources:
            job = decode(resource.example_file.read_bytes(), resource.request)
            msgspec.json.encode(resource(job))
        # what is loaded stays; a collection that goes through all of it stops every request meanwhile
        gc.collect()
        gc.freeze()

    return start
