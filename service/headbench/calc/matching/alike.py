"""Alike: where no load is wanted, the loads that springs can be made alike at."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import product
from time import thread_time
from typing import NamedTuple

import numpy as np
import scipy

from headbench.calc import IntArray
from headbench.calc.heights.shim_stock import SECONDS


class Alike(NamedTuple):
    """The windows in which the loads of some groups come alike.

    middle : mapping, twice the middle of each group's window, in the steps given [-]
    spread : int, how wide the windows are [-]
    least : int, how wide they have to be at least [-]
    proven : bool, whether no narrower ones exist, as many pockets filled [-]
    """

    middle: Mapping[int, int]
    spread: int
    least: int
    proven: bool


def find_alike(
    pocket: IntArray, spring: IntArray, load: IntArray, group: Sequence[int], *, seconds: float = SECONDS
) -> Alike:
    """Find the narrowest windows of load that still fill as many pockets as can be filled, shims not counted.

    Parameters
    ----------
    pocket, spring : array (C,)
        The choices there are, all of groups without a load wanted [-]
    load : array (C,)
        What each would push, in whole steps [-]
    group : sequence (P,)
        The group of every pocket [-]
    seconds : float
        How long to look for windows that suit all groups together, in processor time: alike jobs come out alike [s]

    Returns
    -------
    Alike

    Notes
    -----
    A window slides over the loads, and a matching says whether the pockets can be filled inside it. No spread can be
    less than the widest that any group needs by itself; groups share the springs, so windows of that width, then wider
    ones, are tried together, the width halved in between.

    >>> pocket, spring = np.repeat([0, 1], 3), np.tile([0, 1, 2], 2)
    >>> alike = find_alike(pocket, spring, np.array([10, 14, 18, 11, 15, 23]), [0, 0])
    >>> alike.spread, dict(alike.middle), alike.proven
    (3, {0: 25}, True)
    """
    rows = np.unique(np.stack([load, pocket, spring]), axis=1)
    pockets = len(group)
    of_group = np.array(group, dtype=np.int64)[rows[1]] if rows.size else rows[0]
    own = {one: _Group(rows[:, of_group == one], pockets) for one in sorted(set(of_group.tolist()))}
    if not own:
        return Alike({}, 0, 0, proven=True)
    most = _filled(rows[1], rows[2], pockets)
    end = thread_time() + seconds
    alone = {one: each.narrowest(end) for one, each in own.items()}
    # what no group can do by itself none can together
    low = max(found.width for found in alone.values()) if all(found.finished for found in alone.values()) else 0
    high = int(max(np.ptp(each.load) for each in own.values()))
    best = Alike({one: 2 * found.start + found.width for one, found in alone.items()}, high, low, proven=False)
    width, proven = low, True
    while low <= high and proven:
        found: dict[int, int] | None = None
        for starts in product(*(each.windows(width) for each in own.values())):
            if thread_time() > end:
                proven = False
                break
            inside = [each.between(start, start + width) for each, start in zip(own.values(), starts, strict=True)]
            _, at, which = np.concatenate(inside, axis=1)
            if _filled(at, which, pockets) == most:
                found = dict(zip(own, starts, strict=True))
                break
        if found is not None:
            best = Alike({one: 2 * start + width for one, start in found.items()}, width, low, proven=True)
            high = width - 1
        elif proven:
            low = width + 1
        width = (low + high) // 2
    return best._replace(least=best.spread if proven else low, proven=proven)


def _filled(pocket: IntArray, spring: IntArray, pockets: int) -> int:
    """How many pockets some choices can fill at once."""
    springs = int(spring.max(initial=0)) + 1
    graph = scipy.sparse.csr_matrix((np.ones(len(pocket), dtype=np.int8), (pocket, spring)), shape=(pockets, springs))
    matched = scipy.sparse.csgraph.maximum_bipartite_matching(graph, perm_type="column")
    return int((matched >= 0).sum())


class _Window(NamedTuple):
    """A window of load, and whether all narrower ones were tried."""

    start: int
    width: int
    finished: bool


class _Group:
    """The choices of one group, by their loads."""

    def __init__(self, rows: IntArray, pockets: int) -> None:
        self.load = rows[0]
        self._rows, self._pockets = rows, pockets
        self._most = _filled(rows[1], rows[2], pockets)

    def between(self, low: int, high: int) -> IntArray:
        """The choices whose load is between two, both included."""
        return self._rows[:, np.searchsorted(self.load, low) : np.searchsorted(self.load, high, side="right")]

    def _fills(self, rows: IntArray) -> bool:
        # as many pockets have to be there at all
        there = np.count_nonzero(np.bincount(rows[1], minlength=self._pockets))
        return int(there) >= self._most and _filled(rows[1], rows[2], self._pockets) == self._most

    def narrowest(self, end: float) -> _Window:
        """The narrowest window that fills the group by itself: either end moves up in turn."""
        values = np.unique(self.load).tolist()
        best, last = _Window(values[0], values[-1] - values[0], finished=True), 0
        for first, start in enumerate(values):
            if thread_time() > end:
                return best._replace(finished=False)
            last = max(last, first)
            while not self._fills(self.between(start, values[last])):
                last += 1
                if last == len(values):
                    return best
            if values[last] - start < best.width:
                best = _Window(start, values[last] - start, finished=True)
        return best

    def windows(self, width: int) -> Iterator[int]:
        """Where windows of a width begin that fill the group by itself."""
        for start in np.unique(self.load).tolist():
            if self._fills(self.between(start, start + width)):
                yield start
