"""Every choice of parts, and every stack of shims at every valve, tried one by one: a referee for the ways out.

Whole ten-thousandths of an inch throughout, and none of the service's code.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import combinations_with_replacement, product

TARGET, TOLERANCE, LIFT, BIND = 17_500, 100, 4_800, 11_180
ROOM, SEAL, TIP, ROCKER, FLOOR = 600, 500, 600, 500, 1_500
SIZES, THICKEST, MOST_SHIMS, EQUAL = (150, 300, 600), 600, 3, 20
MOST_WAYS = 5


@dataclass(frozen=True)
class Bench:
    """One valve as it was read; None = not."""

    name: str
    bare: int
    seal: int | None
    tip: int | None
    floor: int | None
    locator: int = 0
    rocker: int | None = None


@dataclass(frozen=True)
class Drawer:
    """What can be had: by its name, what it changes."""

    locks: dict[str, int] = field(default_factory=dict)
    retainers: dict[str, int] = field(default_factory=dict)
    locators: dict[str, int] = field(default_factory=dict)
    valves: dict[str, int] = field(default_factory=dict)
    pocket: int = 0


@dataclass(frozen=True)
class Came:
    """What one valve comes to."""

    breaks: bool
    off: bool
    open: bool
    miss: Fraction
    shims: tuple[int, ...]
    spare: int | None
    depth: int


@dataclass(frozen=True)
class Choice:
    """A choice of parts, by their names, and what every valve comes to."""

    names: tuple[str, str, str, str, str]
    valves: tuple[Came, ...]

    @property
    def changed(self) -> frozenset[tuple[int, str]]:
        """What is changed."""
        return frozenset((slot, name) for slot, name in enumerate(self.names) if name)

    @property
    def missed(self) -> tuple[int, int, Fraction]:
        """How much is missed."""
        own = self.valves
        return sum(one.breaks for one in own), sum(one.off for one in own), max(one.miss for one in own)

    @property
    def standing(self) -> tuple[object, ...]:
        """What decides which is better, less is better."""
        own = self.valves
        breaks, off, miss = self.missed
        known = [one.spare for one in own if one.spare is not None]
        return (
            breaks,
            off,
            sum(one.open for one in own),
            miss,
            len(self.changed),
            sum(one.depth > 0 for one in own),
            sum(len(one.shims) for one in own),
            -min(known) if known else -(10**9),
            self.names,
        )


STACKS = [
    shims
    for count in range(MOST_SHIMS + 1)
    for shims in combinations_with_replacement(sorted(SIZES, reverse=True), count)
    if sum(shims) <= THICKEST
]


Rank = tuple[int, int, int, int, int, int, tuple[int, ...]]


def rank(bare: int, shims: tuple[int, ...]) -> Rank:
    """How a stack suits: whether it breaks parts, whether it is right, how near it is, how few and thick its shims."""
    needed, total = bare - TARGET, sum(shims)
    nearest = min(map(sum, STACKS), key=lambda one: (abs(one - needed), -one))
    room = bare - total - LIFT - BIND >= ROOM
    right = room and abs(total - needed) <= TOLERANCE
    off = 0 if abs(total - nearest) <= EQUAL else max(abs(total - needed) - abs(nearest - needed), 1)
    thick_first = tuple(-one for one in shims)
    return int(not room), int(not right), off, len(shims), abs(total - needed), -total, thick_first


def lay(bares: Sequence[int], stock: Sequence[int] | None) -> list[tuple[int, ...]]:
    """The stacks of all valves: each its best, or where the stock does not hold those the best sharing of it."""
    best = [min(STACKS, key=lambda shims: rank(bare, shims)) for bare in bares]
    if stock is None or _holds(stock, best):
        return best
    every = (one for one in product(STACKS, repeat=len(bares)) if _holds(stock, one))
    return list(min(every, key=lambda one: _worth(bares, one)))


def _holds(stock: Sequence[int], laid: Sequence[tuple[int, ...]]) -> bool:
    sizes = [size for shims in laid for size in shims]
    return all(sizes.count(size) <= count for size, count in zip(SIZES, stock, strict=True))


def _worth(bares: Sequence[int], laid: Iterable[tuple[int, ...]]) -> tuple[int, ...]:
    ranks = [rank(bare, shims) for bare, shims in zip(bares, laid, strict=True)]
    return tuple(map(sum, zip(*(one[:6] for one in ranks), strict=True)))


def came_to(bare: int, seal: int | None, tip: int | None, rocker: int | None, floor: int | None,
            shims: tuple[int, ...], *, tip_judged: bool, rocker_judged: bool, depth: int = 0) -> Came:  # fmt: skip
    """What one valve comes to on a stack of shims."""
    height = bare - sum(shims)
    clearances = [(height - LIFT - BIND, ROOM), (None if seal is None else seal - LIFT, SEAL)]
    if tip_judged:
        clearances.append((tip, TIP))
    if rocker_judged:
        clearances.append((rocker, ROCKER))
    if depth:
        clearances.append((None if floor is None else floor - depth, FLOOR))
    short = [Fraction(limit - value, limit) for value, limit in clearances if value is not None and value < limit]
    off = abs(height - TARGET) - TOLERANCE
    return Came(
        breaks=bool(short),
        off=off > 0,
        open=any(value is None for value, _ in clearances),
        miss=max([*short, Fraction(max(off, 0), TOLERANCE)]),
        shims=shims,
        spare=min((value - limit for value, limit in clearances if value is not None), default=None),
        depth=depth,
    )


@dataclass(frozen=True)
class Changed:
    """One valve with other parts."""

    bare: int
    seal: int | None
    tip: int | None
    rocker: int | None
    floor: int | None
    tip_judged: bool
    rocker_judged: bool
    depth: int = 0

    def on(self, shims: tuple[int, ...]) -> Came:
        """What it comes to on a stack of shims."""
        judged = {"tip_judged": self.tip_judged, "rocker_judged": self.rocker_judged}
        return came_to(self.bare, self.seal, self.tip, self.rocker, self.floor, shims, **judged, depth=self.depth)


def _cut(valve: Changed, most: int) -> Changed:
    """A valve with its pocket as much deeper as it needs, and may be."""
    shims = min(STACKS, key=lambda one: rank(valve.bare, one))
    room = valve.bare - LIFT - BIND
    short = TARGET - valve.bare if valve.on(shims).off else 0
    binds = ROOM - room if room - sum(shims) < ROOM else 0
    left = most if valve.floor is None else min(most, valve.floor - FLOOR)
    depth = min(max(short, binds, 0), left)
    return replace(valve, bare=valve.bare + depth, depth=depth) if depth > 0 else valve


def choices(valves: Sequence[Bench], drawer: Drawer, stock: Sequence[int] | None = None) -> Iterator[Choice]:
    """Every choice of parts; the first changes nothing."""
    tip_asked, rocker_asked = (any(getattr(one, name) is not None for one in valves) for name in ("tip", "rocker"))
    thin: list[tuple[str, int | None]] = [("", None), *drawer.locators.items()]
    for (lock, up), (retainer, more), (locator, thick), (valve, longer), cut in product(
        [("", 0), *drawer.locks.items()],
        [("", 0), *drawer.retainers.items()],
        thin,
        [("", 0), *drawer.valves.items()],
        (False, True),
    ):
        raised = up + more
        changed = [
            Changed(
                one.bare + raised + longer + (0 if thick is None else one.locator - thick),
                None if one.seal is None else one.seal + raised + longer,
                None if one.tip is None else one.tip - raised,
                None if one.rocker is None else one.rocker - raised,
                one.floor,
                tip_asked or raised > 0,
                rocker_asked or raised > 0,
            )
            for one in valves
        ]
        if cut:
            changed = [_cut(one, drawer.pocket) for one in changed]
            if not any(one.depth for one in changed):
                continue
        laid = lay([one.bare for one in changed], stock)
        came = tuple(one.on(shims) for one, shims in zip(changed, laid, strict=True))
        yield Choice((lock, retainer, locator, valve, "pocket" if cut else ""), came)


def best_ways(valves: Sequence[Bench], drawer: Drawer, stock: Sequence[int] | None = None) -> list[Choice]:
    """The ways that miss less than nothing changed, best first, none that only adds to one that puts all right."""
    as_it_is, *others = choices(valves, drawer, stock)
    if as_it_is.missed[:2] == (0, 0):
        return []
    found: list[Choice] = []
    for choice in sorted(others, key=lambda one: one.standing):
        adds = any(way.missed[:2] == (0, 0) and way.changed < choice.changed for way in found)
        if choice.missed < as_it_is.missed and not adds:
            found.append(choice)
    return found[:MOST_WAYS]
