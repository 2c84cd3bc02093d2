"""Alike: where no load is wanted, the loads that springs can be made alike at."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import product
from time import thread_time
from typing import NamedTuple

import numpy as np
import scipy

from headbench.calc import BoolArray, IntArray
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
    own = {one: np.isin(pocket, [at for at, other in enumerate(group) if other == one]) for one in set(group)}
    own = {one: mask for one, mask in sorted(own.items()) if mask.any()}
    if not own:
        return Alike({}, 0, 0, proven=True)
    filled = _Filled(pocket, spring, len(group))
    everything = np.ones(len(pocket), dtype=np.bool_)
    most = filled(everything)
    alone = {one: filled(mask) for one, mask in own.items()}
    end = thread_time() + seconds
    widths = {one: _narrowest(load, mask, alone[one], filled) for one, mask in own.items()}
    low, high = max(widths.values()), int(max(np.ptp(load[mask]) for mask in own.values()))
    # all that there is, and nothing narrower found yet
    best = Alike({one: int(load[mask].min() + load[mask].max()) for one, mask in own.items()}, high, low, proven=False)
    width, proven = low, True
    while low <= high:
        windows = [_windows(load, mask, alone[one], width, filled) for one, mask in own.items()]
        found: tuple[int, ...] | None = None
        for starts in product(*windows):
            if thread_time() > end:
                proven = False
                break
            inside = np.zeros(len(pocket), dtype=np.bool_)
            for start, mask in zip(starts, own.values(), strict=True):
                inside |= mask & (load >= start) & (load <= start + width)
            if filled(inside) == most:
                found = starts
                break
        if found is not None:
            best = Alike(
                {one: 2 * start + width for one, start in zip(own, found, strict=True)}, width, low, proven=True
            )
            high = width - 1
        elif proven:
            low = width + 1
        if not proven:
            break
        width = (low + high) // 2
    return best._replace(least=best.spread if proven else low, proven=proven)


class _Filled:
    """How many pockets a part of the choices can fill at once."""

    def __init__(self, pocket: IntArray, spring: IntArray, pockets: int) -> None:
        self._pocket, self._spring = pocket, spring
        self._shape = pockets, int(spring.max(initial=0)) + 1

    def __call__(self, kept: BoolArray) -> int:
        pocket, spring = self._pocket[kept], self._spring[kept]
        graph = scipy.sparse.csr_matrix((np.ones(len(pocket), dtype=np.int8), (pocket, spring)), shape=self._shape)
        matched = scipy.sparse.csgraph.maximum_bipartite_matching(graph, perm_type="column")
        return int((matched >= 0).sum())


def _narrowest(load: IntArray, mask: BoolArray, wanted: int, filled: _Filled) -> int:
    """The narrowest window that fills one group by itself: either end moves up in turn."""
    values = np.unique(load[mask])
    best, last = int(values[-1] - values[0]), 0
    for first, start in enumerate(values):
        last = max(last, first)
        while filled(mask & (load >= start) & (load <= values[last])) < wanted:
            last += 1
            if last == len(values):
                return best
        best = min(best, int(values[last] - start))
    return best


def _windows(load: IntArray, mask: BoolArray, wanted: int, width: int, filled: _Filled) -> list[int]:
    """Where windows of a width begin that fill one group by itself."""

    def starts() -> Iterator[int]:
        for start in np.unique(load[mask]).tolist():
            if filled(mask & (load >= start) & (load <= start + width)) == wanted:
                yield start

    return list(starts())
