"""Trying: what one valve, and all valves of a kind, come to with other parts, every check worked out again."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

from headbench.calc.head.assembly import ValveSheet, assemble
from headbench.calc.heights.installed_height import ShimsAtHand
from headbench.calc.judging.grid import GRID, on_grid
from headbench.calc.judging.load_target import LoadTarget
from headbench.calc.judging.verdicts import Verdict
from headbench.calc.ways_out.changed import Changed, GroupLimits, ValveThere, change_valve
from headbench.calc.ways_out.parts import AS_FITTED, Catalogue, Choice, Part

_NOT_MEASURED, _REJECT = int(Verdict.NOT_MEASURED), int(Verdict.REJECT)
_MISSED: Final = frozenset({int(Verdict.BORDERLINE), _REJECT})


class Outcome(NamedTuple):
    """What one valve comes to.

    breaks : int, 1 where parts would hit, bind or break, or nothing holds the valve closed [-]
    off : int, 1 where a setting is off its target [-]
    open : int, 1 where a check is not measured [-]
    miss : float, farthest that a check is past its limit, as a part of the limit [-]
    shims : int, shims laid [-]
    spare : float, least room that a clearance leaves to its minimum; infinite where none is known [m]
    worst : str, what is missed worst, by the name of its check; "" where nothing is [-]
    """

    breaks: int
    off: int
    open: int
    miss: float
    shims: int
    spare: float
    worst: str = ""


class Tried(NamedTuple):
    """A choice of parts as all valves of a kind come out with it.

    choice : Choice
    valves : tuple (P,) of Changed
    outcomes : tuple (P,) of Outcome
    used : tuple (T,), how many shims of each size it lays [-]
    """

    choice: Choice
    valves: tuple[Changed, ...]
    outcomes: tuple[Outcome, ...]
    used: tuple[int, ...]


class Group:
    """The valves of one kind, and what they come to with other parts, shims without end."""

    def __init__(
        self, valves: Sequence[ValveThere], catalogue: Catalogue, limits: GroupLimits, shims: ShimsAtHand
    ) -> None:
        self.valves = tuple(valves)
        self.catalogue = catalogue
        self.limits = limits
        self._shims = ShimsAtHand(shims.thicknesses, shims.stack_maximum, shims.shim_count_maximum)
        self._found: dict[tuple[int, int, int, int | None, bool], tuple[Outcome, Changed, tuple[int, ...]]] = {}

    def each_choice(self, choice: Choice) -> Tried | None:
        """What a choice of parts comes to.

        Parameters
        ----------
        choice : Choice
            The parts [-]

        Returns
        -------
        Tried or None
            None where some of it is of no use: no pocket is to be cut, or one kind of locks does for all [-]

        >>> from headbench.calc.head.assembly import Limits, Targets, ValveReadings
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
        >>> group = Group([valve], Catalogue((Part("tall", 1.0 * mm),)), limits, at_hand)
        >>> found = group.each_choice(Choice((0,)))
        >>> found.outcomes[0].off, found.outcomes[0].shims, round(found.valves[0].tip_above_retainer / mm, 9)
        (0, 1, 3.0)
        """
        listed = self.catalogue
        raised = [_change(listed.locks, place) for place in choice.locks]
        retainer, longer = _change(listed.retainers, choice.retainer), _change(listed.valves, choice.valve)
        rows = []
        for place, valve in enumerate(self.valves):
            thinner = 0.0 if choice.locator == AS_FITTED else valve.locator - listed.locators[choice.locator].change
            tries = [
                (self._try(place, own + retainer, longer, thinner, pocket=choice.pocket), locks)
                for own, locks in zip(raised, choice.locks, strict=True)
            ]
            # of two kinds of locks the one that does better, the fitted ones first
            (outcome, changed, used), locks = min(tries, key=lambda one: (_worth(one[0][0]), one[1] != AS_FITTED))
            rows.append((outcome, changed._replace(locks=locks), used))
        outcomes, changes, used = zip(*rows, strict=True)
        if {one.locks for one in changes} != set(choice.locks):
            return None
        if choice.pocket and not any(one.pocket_depth > 0.0 for one in changes):
            return None
        return Tried(choice, changes, outcomes, tuple(sum(each) for each in zip(*used, strict=True)))

    def alone(self, place: int) -> Group:
        """One of the valves by itself, whatever can be had.

        Parameters
        ----------
        place : int
            Which [-]

        Returns
        -------
        Group

        >>> limits = GroupLimits(0.0015, math.nan, 0.004, tip_asked=True)
        >>> Group([None, 1], Catalogue(), limits, ShimsAtHand([0.5e-3], 1.5e-3)).alone(1).valves
        (1,)
        """
        return Group([self.valves[place]], Catalogue(), self.limits, self._shims)

    def with_change(self, raised: float, longer: float, thinner: float, pocket_cut: float) -> Tried:
        """What parts that are not in the catalogue come to.

        Parameters
        ----------
        raised : float
            Offset of locks or retainer [m]
        longer : float
            Length change of the valves [m]
        thinner : float
            How much thinner their locators are [m]
        pocket_cut : float
            Deepest that pockets may be cut [m]

        Returns
        -------
        Tried
            Its choice is no choice of the catalogue [-]

        >>> from headbench.calc.head.assembly import Limits, Targets, ValveReadings
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
        >>> found = Group([valve], Catalogue(), limits, at_hand).with_change(0.0, 0.0, 0.0, 2.0 * mm)
        >>> round(found.valves[0].pocket_depth / mm, 9), found.outcomes[0].off
        (0.5, 0)
        """
        group = Group(self.valves, Catalogue(pocket_cut=pocket_cut), self.limits, self._shims)
        rows = [
            group._try(place, raised, longer, thinner, pocket=pocket_cut > 0.0) for place in range(len(self.valves))
        ]
        outcomes, changes, used = zip(*rows, strict=True)
        return Tried(Choice(), changes, outcomes, tuple(sum(each) for each in zip(*used, strict=True)))

    def _try(
        self, place: int, raised: float, longer: float, thinner: float, *, pocket: bool
    ) -> tuple[Outcome, Changed, tuple[int, ...]]:
        """One valve with its parts; those that come to the same are worked out once."""
        key = (place, on_grid(raised), on_grid(longer), None if math.isnan(thinner) else on_grid(thinner), pocket)
        found = self._found.get(key)
        if found is None:
            found = self._found[key] = self._work_out(self.valves[place], raised, longer, thinner, pocket=pocket)
        return found

    def _work_out(
        self, valve: ValveThere, raised: float, longer: float, thinner: float, *, pocket: bool
    ) -> tuple[Outcome, Changed, tuple[int, ...]]:
        changed = change_valve(valve, raised, longer, thinner)
        sheet = valve.sheet if changed.readings is valve.readings else self._assembled(changed)
        # metal does not go back: none is cut by a height in doubt
        if pocket and valve.height_sure:
            left = self.catalogue.pocket_cut
            floor = valve.pocket_floor - self.limits.floor_minimum
            free = valve.free_height + raised + longer + thinner
            depth = min(_depth_needed(sheet, free), left if math.isnan(floor) else min(floor, left))
            if depth > GRID:
                changed = change_valve(valve, raised, longer, thinner, depth)
                sheet = self._assembled(changed)
        sizes = tuple(sheet.height.shims.count(size) for size in range(len(self._shims.thicknesses)))
        return _outcome_of(sheet, changed, self.limits), changed, sizes

    def _assembled(self, changed: Changed) -> ValveSheet:
        (sheet,) = assemble([changed.readings], self._shims).valves
        return sheet


def _change(parts: Sequence[Part], place: int) -> float:
    return 0.0 if place == AS_FITTED else parts[place].change


def _worth(outcome: Outcome) -> tuple[float, ...]:
    """What one valve's outcome is judged by; less is better."""
    return (outcome.breaks, outcome.off, outcome.open, outcome.miss, outcome.shims, -outcome.spare)


def _depth_needed(sheet: ValveSheet, free_height: float) -> float:
    """How much deeper a pocket has to be: up to the target height, not only inside its tolerance, and for the coils."""
    missed = sheet.height_counts and sheet.height_verdict in _MISSED
    short = sheet.target_height - free_height if missed else 0.0
    taller = free_height - sheet.height.installed_height
    limit = sheet.readings.limits.coil_bind_clearance_minimum
    binds = limit - (sheet.coil_bind.clearance + taller) if sheet.coil_bind_verdict == _REJECT else 0.0
    return max(0.0, 0.0 if math.isnan(short) else short, 0.0 if math.isnan(binds) else binds)


def _outcome_of(sheet: ValveSheet, changed: Changed, limits: GroupLimits) -> Outcome:
    """What one valve comes to, of the checks that its sheet, its tip, its rocker and its pocket have."""
    own, targets = sheet.readings.limits, sheet.readings.targets
    clearances = (
        ("coil_bind_clearance", sheet.coil_bind_verdict, sheet.coil_bind.clearance, own.coil_bind_clearance_minimum),
        (
            "retainer_to_seal_clearance",
            sheet.retainer_verdict,
            sheet.retainer_to_seal_clearance,
            own.retainer_to_seal_clearance_minimum,
        ),
        ("tip_above_retainer", changed.tip_verdict(limits), changed.tip_above_retainer, limits.tip_minimum),
        ("pocket_floor", changed.floor_verdict(limits), changed.floor_left, limits.floor_minimum),
        (
            "retainer_to_rocker",
            changed.rocker_verdict(limits),
            changed.retainer_to_rocker,
            limits.rocker_minimum,
        ),
    )
    settings = []
    if sheet.height_counts:
        tolerance = own.installed_height_tolerance
        spare = tolerance - abs(sheet.height.deviation)
        settings.append(("installed_height", sheet.height_verdict, spare, tolerance))
    if sheet.seat_load_counts:
        spare, limit = _load_spare(targets.seat_load, sheet.seat_load)
        settings.append(("seat_load", sheet.seat_load_verdict, spare, limit))
    if sheet.open_load_counts:
        spare, limit = _load_spare(targets.open_load, sheet.open_load)
        settings.append(("open_load", sheet.open_load_verdict, spare, limit))
    judged = [
        (name, verdict, value - limit, limit) for name, verdict, value, limit in clearances if verdict is not None
    ]
    checks = [*judged, *settings]
    # what breaks parts comes first, then what is farthest past its limit
    missed = [(verdict == _REJECT and at < len(judged), part_missed(spare, limit), name)
              for at, (name, verdict, spare, limit) in enumerate(checks) if verdict in _MISSED]  # fmt: skip
    nothing_holds = [(True, math.inf, "seat_load")] if sheet.pushes_nothing else []
    return Outcome(
        breaks=int(sheet.pushes_nothing or any(verdict == _REJECT for _, verdict, *_ in judged)),
        off=int(any(verdict in _MISSED for _, verdict, *_ in settings)),
        open=int(any(verdict == _NOT_MEASURED for _, verdict, *_ in checks)),
        miss=max((part for _, part, _ in missed), default=0.0),
        shims=len(sheet.height.shims),
        spare=min((spare for _, _, spare, _ in judged if not math.isnan(spare)), default=math.inf),
        worst=max([*missed, *nothing_holds], default=(False, 0.0, ""))[2],
    )


def part_missed(spare: float, limit: float) -> float:
    """How far a check is past its limit, as a part of the limit.

    Parameters
    ----------
    spare : float
        Room left to the limit, negative where it is missed; NaN not known [any unit]
    limit : float
        The limit [same unit as value]

    Returns
    -------
    float
        0 where it is not missed, infinite past a limit of 0 [-]

    >>> part_missed(-0.0005, 0.002), part_missed(0.0005, 0.002)
    (0.25, 0.0)
    """
    if not spare < 0.0:
        return 0.0
    # rounded: which of two equal misses comes first must not hang on the units they were read in
    return round(-spare / abs(limit), 9) if limit else math.inf


def _load_spare(target: LoadTarget, load: float) -> tuple[float, float]:
    """What is left of a load to the end of its target, and where that end is, both off the load wanted [percent]."""
    deviation, low, high = target.deviation(load), target.deviation(target.low), target.deviation(target.high)
    if math.isnan(high):
        return deviation - low, low
    if math.isnan(low):
        return high - deviation, high
    limit = -low if deviation < 0.0 else high
    return limit - abs(deviation), limit
