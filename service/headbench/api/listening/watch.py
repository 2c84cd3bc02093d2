"""Watch: which connections wait for their caller, for what and how long already, and how many there may be."""

from __future__ import annotations

import asyncio
import math
import time
from enum import Enum, auto
from typing import Final, Protocol

TAKING_SECONDS: Final = 30.0
"""How long a caller may take nothing of an answer."""

ENDING_SECONDS: Final = 1.0
"""How long a connection may rest once the service stops: a request that is under way still arrives."""


class Wait(Enum):
    """What a connection waits for."""

    HEAD = auto()
    """The head of a request, or the rest of a body that nobody reads."""
    REQUEST = auto()
    """The next request after one that was answered."""
    TAKING = auto()
    """That an answer is taken."""
    BODY = auto()
    """More of a body; for how long, whoever reads it says."""


class Watched(Protocol):
    """A connection."""

    def out_of_time(self, wait: Wait) -> None:
        """It has waited too long."""

    def give_way(self) -> None:
        """Others need its place."""


class Watch:
    """The connections of a worker."""

    def __init__(
        self, head_seconds: float, idle_seconds: float, most: int, taking_seconds: float = TAKING_SECONDS
    ) -> None:
        self.is_ending = False
        self.count = 0
        self._most = most
        self._seconds = {
            Wait.HEAD: head_seconds,
            Wait.REQUEST: idle_seconds,
            Wait.TAKING: taking_seconds,
            Wait.BODY: math.inf,
        }
        # in the order in which they began to wait
        self._since: dict[Wait, dict[Watched, float]] = {wait: {} for wait in Wait}

    def is_full(self) -> bool:
        """Count one more; whether there is no place for it, even though whoever rests longest gives way."""
        self.count += 1
        if self.count <= self._most:
            return False
        longest = self._longest(Wait.HEAD, Wait.REQUEST) or self._longest(Wait.BODY)
        if longest is None:
            return True
        self.forget(longest)
        longest.give_way()
        return False

    def _longest(self, *waits: Wait) -> Watched | None:
        """Whoever has been waiting longest for one of these."""
        first = [next(iter(self._since[wait].items())) for wait in waits if self._since[wait]]
        return min(first, key=lambda one: one[1])[0] if first else None

    def gone(self, connection: Watched) -> None:
        """One less."""
        self.count -= 1
        self.forget(connection)

    def put(self, connection: Watched, wait: Wait) -> None:
        """From now on it waits for this."""
        self.forget(connection)
        self._since[wait][connection] = time.monotonic()

    def forget(self, connection: Watched) -> None:
        """It waits for nothing of its caller."""
        for waiting in self._since.values():
            waiting.pop(connection, None)

    def end(self) -> None:
        """The service stops: no connection rests any longer."""
        self.is_ending = True
        for wait in (Wait.HEAD, Wait.REQUEST):
            self._seconds[wait] = min(self._seconds[wait], ENDING_SECONDS)

    async def keep(self) -> None:
        """Look after them for good."""
        while True:
            await asyncio.sleep(min(min(self._seconds.values()) / 4.0, 0.5))
            now = time.monotonic()
            for wait, waiting in self._since.items():
                for connection, since in list(waiting.items()):
                    if now - since < self._seconds[wait]:
                        break
                    del waiting[connection]
                    connection.out_of_time(wait)
