"""Parts that can be had for one kind of valve, and every choice of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, product
from typing import Final, NamedTuple

from headbench.calc.judging.grid import on_grid

AS_FITTED: Final = -1
"""Stands for the part that is fitted, where places of a list stand for others."""


class Part(NamedTuple):
    """A part that can be had.

    name : str [-]
    change : float, offset of locks or of a retainer, length change of a valve, thickness of a locator [m]
    """

    name: str
    change: float


class Catalogue(NamedTuple):
    """What can be had for one kind of valve.

    locks, retainers : tuple of Part, by their offset
    locators : tuple of Part, by their thickness
    valves : tuple of Part, by their length change
    pocket_cut : float, deepest that pockets may be cut; 0 where they may not be [m]
    mixed_locks : bool, whether valves of this kind may have locks of two kinds [-]
    """

    locks: tuple[Part, ...] = ()
    retainers: tuple[Part, ...] = ()
    locators: tuple[Part, ...] = ()
    valves: tuple[Part, ...] = ()
    pocket_cut: float = 0.0
    mixed_locks: bool = False


class Choice(NamedTuple):
    """One choice of parts, as places in the lists of a catalogue, AS_FITTED where nothing is changed.

    locks : tuple, one place, or two where some valves get the one and some the other [-]
    retainer, locator, valve : int [-]
    pocket : bool, whether pockets are cut where that helps [-]
    """

    locks: tuple[int, ...] = (AS_FITTED,)
    retainer: int = AS_FITTED
    locator: int = AS_FITTED
    valve: int = AS_FITTED
    pocket: bool = False

    @property
    def changes(self) -> frozenset[tuple[str, int]]:
        """What is changed, each kind of part once."""
        slots = [("locks", place) for place in self.locks]
        slots += [("retainer", self.retainer), ("locator", self.locator), ("valve", self.valve)]
        changed = {slot for slot in slots if slot[1] != AS_FITTED}
        return frozenset(changed | ({("pocket", 0)} if self.pocket else set()))


NO_CHANGE: Final = Choice()
"""Everything as it is fitted."""


def choices_of(catalogue: Catalogue) -> Iterator[Choice]:
    """Every choice that a catalogue allows, the one that changes nothing among them.

    Parameters
    ----------
    catalogue : Catalogue
        What can be had [-]

    Yields
    ------
    Choice

    >>> catalogue = Catalogue(locks=(Part("+", 0.001), Part("-", -0.001)), pocket_cut=0.002)
    >>> len(list(choices_of(catalogue))), len(list(choices_of(catalogue._replace(mixed_locks=True))))
    (6, 12)
    """
    pockets = (False, True) if on_grid(catalogue.pocket_cut) > 0 else (False,)
    retainers, locators, valves = map(_places, (catalogue.retainers, catalogue.locators, catalogue.valves))
    for locks, retainer, locator, valve, pocket in product(_lock_sets(catalogue), retainers, locators, valves, pockets):
        yield Choice(locks, retainer, locator, valve, pocket)


def _places(parts: Sequence[Part]) -> Sequence[int]:
    return range(AS_FITTED, len(parts))


def _lock_sets(catalogue: Catalogue) -> list[tuple[int, ...]]:
    places = _places(catalogue.locks)
    pairs = combinations(places, 2) if catalogue.mixed_locks else ()
    return [*((place,) for place in places), *pairs]


def count_choices(catalogue: Catalogue) -> int:
    """How many choices a catalogue allows, without making them.

    Parameters
    ----------
    catalogue : Catalogue
        What can be had [-]

    Returns
    -------
    int

    >>> count_choices(Catalogue(locks=(Part("+", 0.001), Part("-", -0.001)), pocket_cut=0.002))
    6
    """
    count = len(_lock_sets(catalogue)) * (2 if on_grid(catalogue.pocket_cut) > 0 else 1)
    for parts in (catalogue.retainers, catalogue.locators, catalogue.valves):
        count *= len(parts) + 1
    return count


def names_of(choice: Choice, catalogue: Catalogue) -> tuple[str, ...]:
    """What a choice is called, whatever the order of the catalogue; "" where nothing is changed.

    Parameters
    ----------
    choice : Choice
        The choice [-]
    catalogue : Catalogue
        What can be had [-]

    Returns
    -------
    tuple of str
        Locks, retainer, locator, valve, pocket [-]

    >>> names_of(Choice((0, AS_FITTED)), Catalogue(locks=(Part("tall", 0.001),)))
    ('tall', '', '', '', '')
    """
    locks = sorted(catalogue.locks[place].name for place in choice.locks if place != AS_FITTED)
    rest = (
        (catalogue.retainers, choice.retainer),
        (catalogue.locators, choice.locator),
        (catalogue.valves, choice.valve),
    )
    named = ("" if place == AS_FITTED else parts[place].name for parts, place in rest)
    return (" and ".join(locks), *named, "pocket" if choice.pocket else "")
