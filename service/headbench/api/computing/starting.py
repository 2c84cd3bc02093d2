"""Starting: what processes do before they take requests, so that no request is held up by it."""

from __future__ import annotations

import gc
from collections.abc import Sequence
from typing import Any

import msgspec

from headbench.api.exchange.decoding import decode
from headbench.api.exchange.resource import Resource


def warm_up(resources: Sequence[Resource[Any, Any]]) -> None:
    """Load what calculations need, and set it aside."""
    for resource in resources:
        job = decode(resource.example_file.read_bytes(), resource.request)
        msgspec.json.encode(resource(job))
    set_aside()


def set_aside() -> None:
    """Have the garbage collector leave alone what is held by now."""
    # what is loaded stays; a collection that goes through all of it stops every request meanwhile
    gc.collect()
    gc.freeze()
