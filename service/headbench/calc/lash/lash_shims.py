"""Lash shims: what each valve wants, what the head and the drawer have, and who gets which."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from headbench.calc.judging.grid import GRID, on_grid
from headbench.calc.lash.assigning import assign
from headbench.calc.lash.limits import THINNEST_FEELER


def is_no_lash(lash: float) -> bool:
    """Whether a lash is less than the thinnest feeler reads.

    Parameters
    ----------
    lash : float
        Lash as read, NaN where it was not [m]

    Returns
    -------
    bool
        False where nothing was read [-]

    >>> is_no_lash(0.0), is_no_lash(0.001e-3), is_no_lash(0.03e-3)
    (True, True, False)
    """
    return not math.isnan(lash) and on_grid(lash) < on_grid(THINNEST_FEELER.values[0])


class LashReading(NamedTuple):
    """One valve, as read; NaN is a reading not taken.

    shim : float, the shim that is in, as measured [m]
    lash : float, its lash; none, or less than a feeler reads, doesn't say how much too thick the shim is [m]
    low, high : float, range wanted [m]
    aim : float, lash aimed at inside it [m]
    ratio : float, shim ratio [-]
    """

    shim: float
    lash: float
    low: float
    high: float
    aim: float
    ratio: float = 1.0

    @property
    def can_be_dealt(self) -> bool:
        """Whether everything is known that its shim hangs on.

        >>> LashReading(2.6e-3, 0.0, 0.15e-3, 0.25e-3, 0.2e-3).can_be_dealt
        False
        """
        known = not any(math.isnan(one) for one in self)
        return known and not is_no_lash(self.lash)


class Sold(NamedTuple):
    """Shims that can be bought, as many as are wanted.

    step : float, of their sizes, counted from zero [m]
    thinnest, thickest : float, sizes there are; 0 and infinity where nobody said [m]
    """

    step: float
    thinnest: float = 0.0
    thickest: float = math.inf


class Supply(NamedTuple):
    """Where a shim comes from.

    kind : str, "stays", "position", "drawer" or "bought" [-]
    position : int or None, the place it comes out of [-]
    """

    kind: str
    position: int | None = None


class ShimDealt(NamedTuple):
    """What one valve gets.

    wanted : float, shim wanted exactly [m]
    shim : float, shim it gets [m]
    lash_after : float, what its lash comes to [m]
    supply : Supply [-]
    """

    wanted: float
    shim: float
    lash_after: float
    supply: Supply


class LashDealt(NamedTuple):
    """The whole head.

    dealt : tuple (P,) of ShimDealt, None where a reading is missing [-]
    moves : tuple, places in the order in which shims are to be changed: those that need no bought shim first [-]
    set_aside : frozenset, places whose shim comes out before the one that takes it is changed, as moves go round [-]
    left : dict, sizes left over in the drawer, with how many of each [m]
    """

    dealt: tuple[ShimDealt | None, ...]
    moves: tuple[int, ...]
    set_aside: frozenset[int]
    left: Mapping[float, int]


_DRAWER: Final = Supply("drawer")
_BOUGHT: Final = Supply("bought")
_STAYS: Final = Supply("stays")

_DIGIT: Final = 1 << 56
"""More than any sum of one cost over all valves of a head: lengths of some meters each, in nanometers."""


def shim_wanted(reading: LashReading) -> float:
    """Thickness that gives exactly the lash aimed at, s + r (g - g_0).

    Parameters
    ----------
    reading : LashReading
        The valve [-]

    Returns
    -------
    float
        NaN where it cannot be known [m]

    Notes
    -----
    Own derivation: what the shim is made thicker by, the lash loses, brought to where it is read.

    >>> wanted = shim_wanted(LashReading(2.60e-3, 0.28e-3, 0.15e-3, 0.25e-3, 0.20e-3))
    >>> round(wanted * 1e3, 6)
    2.68
    """
    if not reading.can_be_dealt:
        return math.nan
    return reading.shim + reading.ratio * (reading.lash - reading.aim)


def lash_with(reading: LashReading, shim: float) -> float:
    """Lash with another shim in, g - (s' - s) / r.

    Parameters
    ----------
    reading : LashReading
        The valve with the shim it has [-]
    shim : float
        The other [m]

    Returns
    -------
    float
        Below 0 where the valve would be held open [m]

    >>> reading = LashReading(2.60e-3, 0.28e-3, 0.15e-3, 0.25e-3, 0.20e-3)
    >>> round(lash_with(reading, 2.675e-3) * 1e3, 6)
    0.205
    """
    return reading.lash - (shim - reading.shim) / reading.ratio


def deal_lash(
    readings: Sequence[LashReading], drawer: Mapping[float, int], sold: Sold, order: Sequence[int] | None = None
) -> LashDealt:
    """Shims dealt over the whole head, out of those in it, those in the drawer, and those to be bought.

    Parameters
    ----------
    readings : sequence (P,) of LashReading
        The valves [-]
    drawer : mapping
        How many there are of each size [m]
    sold : Sold
        What can be bought [-]
    order : sequence (P,) of int or None
        Places of the valves in the order in which ties between equally good deals are settled, and moves told;
        None = as they come [-]

    Returns
    -------
    LashDealt

    Notes
    -----
    In strict order: the fewest valves too tight, the fewest outside their range, the least sum of what those miss,
    the fewest shims bought, the least sum of what lashes are off the one aimed at, the fewest shims moved. In whole
    nanometers. Valves that can't be dealt for keep their shim. Own derivation.

    >>> intake = LashReading(2.60e-3, 0.28e-3, 0.15e-3, 0.25e-3, 0.20e-3)
    >>> plan = deal_lash([intake, intake._replace(shim=2.70e-3, lash=0.12e-3)], {}, Sold(0.05e-3))
    >>> [round(one.shim * 1e3, 3) for one in plan.dealt], [one.supply for one in plan.dealt]
    ([2.7, 2.6], [Supply(kind='position', position=1), Supply(kind='position', position=0)])
    """
    in_order = range(len(readings)) if order is None else order
    places = [place for place in in_order if readings[place].can_be_dealt]
    own = {place: on_grid(readings[place].shim) for place in places}
    at_hand = Counter({on_grid(size): count for size, count in drawer.items()})
    stock = at_hand + Counter(own.values())
    sizes = sorted(stock)
    bought = {place: _best_sold(readings[place], sold) for place in places}
    # the last kind is a shim bought, for each the best there is; nobody may where none is sold
    costs = [
        [
            *(_worth(readings[place], size, is_bought=False, moves=size != own[place]) for size in sizes),
            _worth(readings[place], bought[place] or 0, is_bought=True, moves=True),
        ]
        for place in places
    ]
    counts = [*(stock[size] for size in sizes), sum(one is not None for one in bought.values())]
    kinds = dict(zip(places, assign(costs, counts), strict=True))
    is_bought = {place for place, kind in kinds.items() if kind == len(sizes)}
    takes = {place: (bought[place] or 0) if place in is_bought else sizes[kind] for place, kind in kinds.items()}
    supplies = _supplies(takes, own, at_hand, is_bought)
    moves, set_aside = _in_turn(supplies)
    used = Counter(size for place, size in takes.items() if place not in is_bought)
    return LashDealt(
        tuple(
            _as_dealt(one, takes[place], supplies[place]) if place in takes else None
            for place, one in enumerate(readings)
        ),
        tuple(moves),
        frozenset(set_aside),
        {size * GRID: count - used[size] for size, count in sorted(stock.items()) if count > used[size]},
    )


def _as_dealt(reading: LashReading, size: int, supply: Supply) -> ShimDealt:
    # a shim that stays is as it was read, to the last digit
    shim = reading.shim if supply.kind == "stays" else size * GRID
    return ShimDealt(shim_wanted(reading), shim, lash_with(reading, shim), supply)


def _worth(reading: LashReading, size: int, *, is_bought: bool, moves: bool) -> int:
    """What a shim is judged by for one valve, in strict order, as one number; less is better."""
    after, low, high = (on_grid(one) for one in (lash_with(reading, size * GRID), reading.low, reading.high))
    miss = max(low - after, after - high, 0)
    worth = 0
    for digit in (after < low, miss > 0, miss, is_bought, abs(after - on_grid(reading.aim)), moves):
        worth = worth * _DIGIT + int(digit)
    return worth


def _best_sold(reading: LashReading, sold: Sold) -> int | None:
    """The best size to buy for one valve; None where none is sold [nm]."""
    step = on_grid(sold.step)
    first, last = (
        -(-on_grid(sold.thinnest) // step),
        None if math.isinf(sold.thickest) else on_grid(sold.thickest) // step,
    )
    least = max(first, 1)
    if last is not None and last < least:
        return None
    below = on_grid(shim_wanted(reading)) // step
    near = {max(least, one if last is None else min(one, last)) for one in (below, below + 1)}
    return min((one * step for one in near), key=lambda size: (_worth(reading, size, is_bought=True, moves=True), size))


def _supplies(
    takes: Mapping[int, int], own: Mapping[int, int], drawer: Mapping[int, int], is_bought: set[int]
) -> dict[int, Supply]:
    """Where each shim comes from: it stays wherever it may, else it is in the drawer, else in another's place."""
    left = Counter(drawer)
    freed: dict[int, list[int]] = {}
    for place, size in own.items():
        if place in is_bought or takes[place] != size:
            freed.setdefault(size, []).append(place)
    supplies: dict[int, Supply] = {}
    for place, size in takes.items():
        if place in is_bought:
            supplies[place] = _BOUGHT
        elif own[place] == size:
            supplies[place] = _STAYS
        elif left[size] > 0:
            left[size] -= 1
            supplies[place] = _DRAWER
        else:
            supplies[place] = Supply("position", freed[size].pop(0))
    return supplies


def _in_turn(supplies: Mapping[int, Supply]) -> tuple[list[int], set[int]]:
    """The order of moves: each frees the shim that the next one waits for, and what must be bought first comes last."""
    taker = {one.position: place for place, one in supplies.items() if one.position is not None}
    moves: list[int] = []
    set_aside: set[int] = set()

    def follow(place: int | None) -> Iterator[int]:
        while place is not None:
            yield place
            place = taker.pop(place, None)

    def begin(kind: str) -> None:
        for place, one in supplies.items():
            if one.kind == kind:
                moves.extend(follow(place))

    begin("drawer")
    ahead = [*moves]
    begin("bought")
    behind = moves[len(ahead) :]
    # what is left goes round: the shim of the one begun with is laid aside for the last
    round_about: list[int] = []
    while taker:
        start = next(place for place in supplies if place in taker)
        set_aside.add(start)
        round_about += follow(taker.pop(start))
    return [*ahead, *round_about, *behind], set_aside
