"""Turns: what is compared runs in short turns, one after the other, round after round, on one clock.

The clock is the CPU time of the process with all its threads, and nothing else runs in the process: other
programs on the machine do not count, and work that a service hands to a thread does, which the time of one
thread would miss. Of a contender's turns the shortest counts, the one that was disturbed least. Two contenders
are compared by the ratios of neighboring turns, which a slow moment of the machine meets alike: the middle one
counts, and what they run to says how far it can be trusted.
"""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

clock: Final = time.process_time

Turn = Callable[[int], float]
"""Does the same thing so many times and says how many seconds of CPU time that took."""


@dataclass(frozen=True, slots=True)
class Effort:
    """How long to measure.

    rounds : turns of each contender [-]
    turn : about how long a turn should be [s]
    """

    rounds: int = 60
    turn: float = 0.01


@dataclass(frozen=True, slots=True)
class Ratio:
    """One contender's time over another's.

    middle : the median of neighboring turns [-]
    low, high : what those ratios run to, but for the outermost tenth on either side [-]
    """

    middle: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Turns:
    """Seconds per call of every contender, a turn per round."""

    seconds: Mapping[str, list[float]]

    def least(self, name: str) -> float:
        """Seconds per call in the shortest turn."""
        return min(self.seconds[name])

    def ratio(self, one: str, other: str) -> Ratio:
        """The time of one over that of another."""
        ratios = np.divide(self.seconds[one], self.seconds[other])
        low, middle, high = np.quantile(ratios, [0.1, 0.5, 0.9]).tolist()
        return Ratio(middle=middle, low=low, high=high)


def timed(call: Callable[[], object]) -> Turn:
    """Turns of a plain function."""

    def turn(calls: int) -> float:
        start = clock()
        for _ in range(calls):
            call()
        return clock() - start

    return turn


def take_turns(contenders: Mapping[str, Turn], effort: Effort) -> Turns:
    """Let every contender have its turns; the quick ones make more calls in theirs."""
    # twice: the first call fills caches that a service at work has full
    once = {name: min(turn(1), turn(1)) for name, turn in contenders.items()}
    calls = {name: max(1, round(effort.turn / max(seconds, 1e-6))) for name, seconds in once.items()}
    seconds: dict[str, list[float]] = {name: [] for name in contenders}
    # what was loaded before is not gone through again in somebody's turn; what a call leaves behind is
    gc.collect()
    gc.freeze()
    for _ in range(effort.rounds):
        for name, turn in contenders.items():
            seconds[name].append(turn(calls[name]) / calls[name])
    gc.unfreeze()
    return Turns(seconds)
