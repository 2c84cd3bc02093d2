"""Starting: what a worker does when it has come up, so that no request is held up by it."""

from __future__ import annotations

import gc
from collections.abc import Callable, Sequence
from threading import Thread
from typing import Any

import msgspec

from headbench.api.exchange.decoding import decode
from headbench.api.exchange.resource import Resource


def start_with(resources: Sequence[Resource[Any, Any]]) -> Callable[[], None]:
    """What a worker does before its first request: it sets aside what it has loaded, and begins to warm up."""

    def start() -> None:
        # what is loaded stays; a collection that goes through all of it stops every request meanwhile
        gc.freeze()
        Thread(target=warm_up, args=(resources,), name="warm-up").start()

    return start


def warm_up(resources: Sequence[Resource[Any, Any]]) -> None:
    """Answer every calculation's example once, so that what they load and keep is there before somebody asks."""
    for resource in resources:
        job = decode(resource.example_file.read_bytes(), resource.request)
        msgspec.json.encode(resource(job))
    gc.collect()
    gc.freeze()
