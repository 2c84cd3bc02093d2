"""Needs: what part that is not in the catalogue would put a kind of valve right by itself."""

from __future__ import annotations

import math
from typing import Final, Literal, NamedTuple

from headbench.calc.judging.grid import GRID
from headbench.calc.judging.verdicts import Verdict
from headbench.calc.ways_out.changed import ValveThere
from headbench.calc.ways_out.limits import REMEDY_STEP
from headbench.calc.ways_out.trying import Group, Outcome, Tried

RemedyPart = Literal["locks_or_retainer", "valve", "locator", "pocket"]

_STEP, _FARTHEST = REMEDY_STEP.values
_HAIR: Final = 1e-6
_REJECT: Final = int(Verdict.REJECT)
_MISSED: Final = frozenset({int(Verdict.BORDERLINE), _REJECT})


class Remedy(NamedTuple):
    """What one part, that nobody said can be had, would have to be.

    part : which [-]
    change : float, offset, length change, how much thinner than the fitted locator, or deepest pocket cut; negative =
        lower, shorter, thicker [m]
    places : tuple, the valves whose pockets are cut; empty of other parts [-]
    leaves : tuple, the valves that stay as wrong as they are, which no height mends [-]
    spoils : tuple, the valves that the least change which could do leaves wrong or makes so, and what each then misses
        worst, by the name of its check; empty where it does [-]
    used : tuple (T,), how many shims of each size it takes [-]
    is_open : bool, whether it rests on a reading that was not taken [-]
    """

    part: RemedyPart
    change: float
    places: tuple[int, ...]
    leaves: tuple[int, ...]
    spoils: tuple[tuple[int, str], ...]
    used: tuple[int, ...]
    is_open: bool


class Needed(NamedTuple):
    """What a valve needs at least, as it is, 0 where it needs nothing.

    height : float, taller, for its height or its coils [m]
    seal : float, more room to its seal [m]
    lower : float, shorter, for a height that shims can't take up [m]
    tip : float, more tip above its retainer, or more room to its rocker [m]
    """

    height: float
    seal: float
    lower: float
    tip: float


def _needed_at(valve: ValveThere, group: Group) -> Needed:
    """What a valve needs at least, by its own height, coils, seal and tip."""
    sheet, limits = valve.sheet, valve.readings.limits
    height, free = sheet.height, valve.free_height
    tolerance = limits.installed_height_tolerance
    missed = sheet.height_counts and sheet.height_verdict in _MISSED
    taller = sheet.target_height - tolerance - free if missed else 0.0
    lower = height.deviation - tolerance if missed else 0.0
    if sheet.coil_bind_verdict == _REJECT:
        with_no_shim = sheet.coil_bind.clearance + free - height.installed_height
        taller = _most(taller, limits.coil_bind_clearance_minimum - with_no_shim)
    seal = 0.0
    if sheet.retainer_verdict == _REJECT:
        seal = limits.retainer_to_seal_clearance_minimum - sheet.retainer_to_seal_clearance
    tip = _most(
        group.limits.tip_minimum - valve.tip_above_retainer, group.limits.rocker_minimum - valve.retainer_to_rocker
    )
    return Needed(_most(taller), _most(seal), _most(lower), tip)


def _most(*values: float) -> float:
    """The largest amount that is known, 0 at least."""
    return max([0.0, *(value for value in values if not math.isnan(value))])


def remedies_for(group: Group) -> list[Remedy]:
    """The least of each kind of part that puts every valve of a kind right by itself, whatever can be had.

    Parameters
    ----------
    group : Group
        The valves of one kind [-]

    Returns
    -------
    list of Remedy
        None where nothing is short, tall or too near, or where no part changes what is missed [-]

    Notes
    -----
    The least is what the neediest valve needs; from there on it is tried, every check of every valve worked out
    again, in steps of REMEDY_STEP, since shims come in sizes. Own derivation.

    >>> from headbench.calc.heights.installed_height import ShimsAtHand
    >>> from headbench.calc.judging.load_target import LoadTarget
    >>> from headbench.calc.ways_out.parts import Catalogue
    >>> from headbench.calc.ways_out.changed import GroupLimits
    >>> from headbench.calc.head.assembly import Limits, Targets, ValveReadings, assemble
    >>> from headbench.calc.masses.valve_mass import WeighedParts
    >>> from headbench.calc.springs.spring_set import SpringSet
    >>> unread, mm, at_hand = math.nan, 1e-3, ShimsAtHand([0.5e-3], 1.5e-3)
    >>> readings = ValveReadings(
    ...     44.0 * mm, unread, True, unread, 12.5 * mm, 14.5 * mm, SpringSet((), 0.0), WeighedParts(*[unread] * 14),
    ...     Targets(44.5 * mm, LoadTarget(), LoadTarget()),
    ...     Limits(0.25 * mm, 1.5 * mm, 1.27 * mm, off_target_rejects=False),
    ... )
    >>> valve = ValveThere(readings, *assemble([readings], at_hand).valves, tip_above_retainer=4.0 * mm)
    >>> limits = GroupLimits(1.5 * mm, unread, 4.0 * mm, tip_asked=True)
    >>> [(one.part, round(one.change / mm, 6)) for one in remedies_for(Group([valve], Catalogue(), limits, at_hand))]
    [('locks_or_retainer', 0.254), ('valve', 0.254), ('pocket', 0.254)]
    """
    needs = [_needed_at(valve, group) for valve in group.valves]
    height, seal, lower, tip = (max(column) for column in zip(*needs, strict=True))
    up = max(height, seal)
    if up > GRID:
        parts: list[tuple[RemedyPart, float]] = [("locks_or_retainer", up), ("valve", up)]
        if not seal > GRID:
            thinnest = min(valve.locator for valve in group.valves)
            parts += [("locator", up)] if thinnest > up else []
            # no depth is told by a height in doubt
            parts += [("pocket", up)] if all(valve.height_sure for valve in group.valves) else []
    elif max(lower, tip) > GRID:
        parts = [("locks_or_retainer", -max(lower, tip))]
        if not tip > GRID:
            parts += [("valve", -lower), ("locator", -lower)]
    else:
        return []
    as_it_is = group.with_change(0.0, 0.0, 0.0, 0.0).outcomes
    beyond = frozenset(at for at, need in enumerate(needs) if not max(need) > GRID and _missed(as_it_is[at]))
    return [_least(group, part, change, beyond) for part, change in parts]


def _missed(outcome: Outcome) -> bool:
    return bool(outcome.breaks or outcome.off)


def _waits(tried: Tried) -> bool:
    return any(one.open for one in tried.outcomes)


def _least(group: Group, part: RemedyPart, least: float, beyond: frozenset[int]) -> Remedy:
    """One kind of part, from the least that could do on; some valves are beyond what heights can mend."""
    way = math.copysign(1.0, least)
    steps = math.ceil(abs(least) / _STEP - _HAIR)
    misses: list[Tried] = []
    # the valve that was wrong last is looked at alone: as long as it stays wrong the others need no working out
    blocker: Group | None = None
    for more in range(round(_FARTHEST / _STEP) + 1):
        change = way * (steps + more) * _STEP
        if blocker is not None and _missed(_with(blocker, part, change).outcomes[0]):
            continue
        tried = _with(group, part, change)
        wrong = {at for at, one in enumerate(tried.outcomes) if _missed(one)}
        if wrong <= beyond:
            cut = [valve.pocket_depth for valve in tried.valves]
            places = tuple(at for at, depth in enumerate(cut) if depth > 0.0)
            deepest = max(cut) if part == "pocket" else change
            return Remedy(part, deepest, places, tuple(sorted(wrong)), (), tried.used, _waits(tried))
        misses.append(tried)
        blocker = group.alone(min(wrong - beyond))
    first = misses[0]
    spoils = tuple(
        (at, "pocket_floor" if part == "pocket" and _floor_bars(group, at, abs(least)) else one.worst)
        for at, one in enumerate(first.outcomes)
        if _missed(one) and at not in beyond
    )
    return Remedy(part, way * steps * _STEP, (), (), spoils, first.used, _waits(first))


def _floor_bars(group: Group, place: int, least: float) -> bool:
    """Whether the metal under a pocket allows less than the least cut that could do."""
    return group.valves[place].pocket_floor - group.limits.floor_minimum < least - GRID


def _with(group: Group, part: RemedyPart, change: float) -> Tried:
    match part:
        case "locks_or_retainer":
            return group.with_change(change, 0.0, 0.0, 0.0)
        case "valve":
            return group.with_change(0.0, change, 0.0, 0.0)
        case "locator":
            return group.with_change(0.0, 0.0, change, 0.0)
        case "pocket":
            return group.with_change(0.0, 0.0, 0.0, change)
