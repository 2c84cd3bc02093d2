"""How fast the body of a batch comes while it is waited for: who hardly sends keeps no place that another wants."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Final

LEAST_BYTES: Final = 6_000
"""Some lines: what is waited for counts from when the last so many bytes were there."""


class Pace:
    """How fast a body comes while it is waited for.

    gives_way : whether another was given its place
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self.gives_way = False
        self._clock = clock
        self._since: float | None = None
        self._waited = 0.0
        self._bytes = 0
        self._limit: asyncio.Timeout | None = None

    @asynccontextmanager
    async def waiting(self, most: float) -> AsyncIterator[None]:
        """Wait for more of it; raises TimeoutError after so long, or where it gives way."""
        self._since = self._clock()
        try:
            async with asyncio.timeout(most) as self._limit:
                yield
        finally:
            self._waited += self._clock() - self._since
            self._since = self._limit = None

    def got(self, size: int) -> None:
        """So much more of it came."""
        self._bytes += size
        if self._bytes >= LEAST_BYTES:
            self._bytes, self._waited = 0, 0.0

    def waited(self) -> float:
        """For how long it has been waited for since enough came; 0 where it is not waited for now [s]."""
        return 0.0 if self._since is None else self._waited + self._clock() - self._since

    def give_way(self) -> None:
        """Wait no longer."""
        self.gives_way = True
        if self._limit is not None:
            self._limit.reschedule(asyncio.get_running_loop().time())
