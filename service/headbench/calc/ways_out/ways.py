"""Ways: of every choice of parts those that put a kind of valve right, the best of them first."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import accumulate
from typing import Final, Generic, NamedTuple, TypeAlias, TypeVar

from headbench.calc.heights.shim_stock import holds
from headbench.calc.ways_out.parts import NO_CHANGE, choices_of, names_of
from headbench.calc.ways_out.trying import Group, Outcome, Tried

MOST_WAYS: Final = 5
"""Ways that are told of one kind of valve."""

Payload = TypeVar("Payload")


class Standing(NamedTuple):
    """Where a way stands among others; less is better, the first that differs decides.

    breaks : int, valves whose parts would hit, bind or break [-]
    off : int, valves with a setting off its target, and spreads too wide [-]
    open : int, valves with a check that is not measured [-]
    miss : float, farthest that a check is past its limit, as a part of the limit [-]
    parts : int, kinds of part that are changed [-]
    cuts : int, pockets that are cut [-]
    shims : int, shims laid [-]
    tight : float, least room that a clearance leaves to its minimum, below 0 [m]
    names : tuple, what it is called, so that no order of a catalogue decides [-]
    """

    breaks: int
    off: int
    open: int
    miss: float
    parts: int
    cuts: int
    shims: int
    tight: float
    names: tuple[str, ...]

    @property
    def puts_right(self) -> bool:
        """Whether nothing is missed, whatever is still to be measured."""
        return self.breaks == self.off == 0

    def betters(self, as_it_is: Standing) -> bool:
        """Whether less is missed than with nothing changed.

        Parameters
        ----------
        as_it_is : Standing
            With nothing changed [-]

        Returns
        -------
        bool

        >>> short = Standing(0, 1, 0, 3.5, 0, 0, 4, 0.0, ())
        >>> short._replace(miss=1.0, parts=1).betters(short), short._replace(parts=1).betters(short)
        (True, False)
        """
        return (self.breaks, self.off, self.miss) < (as_it_is.breaks, as_it_is.off, as_it_is.miss)


def standing_of(tried: Tried, names: tuple[str, ...], outcomes: Sequence[Outcome] | None = None) -> Standing:
    """Where a choice of parts stands, by what its valves come to.

    Parameters
    ----------
    tried : Tried
        The choice [-]
    names : tuple of str
        What it is called [-]
    outcomes : sequence (P,) of Outcome, or None
        What the valves come to; None = as tried [-]

    Returns
    -------
    Standing

    >>> one = Outcome(0, 1, 0, 0.5, 2, 0.0003)
    >>> standing_of(Tried(NO_CHANGE, (), (one, one._replace(off=0, miss=0.0)), ()), ())
    Standing(breaks=0, off=1, open=0, miss=0.5, parts=0, cuts=0, shims=4, tight=-0.0003, names=())
    """
    own = tried.outcomes if outcomes is None else outcomes
    return Standing(
        breaks=sum(one.breaks for one in own),
        off=sum(one.off for one in own),
        open=sum(one.open for one in own),
        miss=max(one.miss for one in own),
        parts=len(tried.choice.changes),
        cuts=sum(valve.pocket_depth > 0.0 for valve in tried.valves),
        shims=sum(one.shims for one in own),
        # rounded: which of two equal clearances comes first must not hang on the units they were read in
        tight=round(-min(one.spare for one in own), 9),
        names=names,
    )


class Way(NamedTuple, Generic[Payload]):
    """A way, judged by every check.

    standing : Standing
    tried : Tried, with shims without end
    judged : what it comes to as the caller works it out [-]
    """

    standing: Standing
    tried: Tried
    judged: Payload


Judge: TypeAlias = Callable[[Tried], tuple[Standing, Payload]]
"""Works a choice out by every check of the head, with the stock that there is."""


class Found(NamedTuple, Generic[Payload]):
    """The ways of one kind of valve.

    ways : list of Way, the best first, MOST_WAYS at most [-]
    choices : int, choices of parts there are [-]
    proven : bool, whether no better way is left out [-]
    """

    ways: list[Way[Payload]]
    choices: int
    proven: bool


def find_ways(
    group: Group,
    as_it_is: Standing,
    judge: Judge[Payload],
    in_stock: Sequence[int | None] | None,
    used_elsewhere: Sequence[int],
    most_judged: int,
) -> Found[Payload]:
    """The best ways to put a kind of valve right.

    Parameters
    ----------
    group : Group
        Its valves and what can be had for them [-]
    as_it_is : Standing
        Where it stands with nothing changed [-]
    judge : function (Tried) -> (Standing, what it comes to)
        Works a choice out by every check; never better than as tried where the stock is enough [-]
    in_stock : sequence (T,) of int or None, or None
        How many shims of each size there are; None without end [-]
    used_elsewhere : sequence (T,) of int
        How many of them the other valves take [-]
    most_judged : int
        How many choices may be judged [-]

    Returns
    -------
    Found

    Notes
    -----
    Every choice is tried with shims without end. That is what it comes to where the stock is enough, so choices are
    judged in that order until no other can be among the best; one that the stock is too small for can be worse than as
    tried in any of it but for what breaks, and is judged as if it were not. A way that only adds parts to one that
    puts all right and stands before it is left out, and so is one that misses no less than nothing changed. Own
    derivation.

    >>> from headbench.calc.heights.installed_height import ShimsAtHand
    >>> from headbench.calc.judging.load_target import LoadTarget
    >>> from headbench.calc.ways_out.parts import Catalogue, Part
    >>> from headbench.calc.ways_out.changed import GroupLimits, ValveThere
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
    >>> group = Group([valve], Catalogue((Part("tall", 0.5 * mm), Part("taller", 1.0 * mm))), limits, at_hand)
    >>> judge = lambda tried: (standing_of(tried, names_of(tried.choice, group.catalogue)), None)
    >>> as_it_is, _ = judge(group.each_choice(NO_CHANGE))
    >>> [way.standing.names[0] for way in find_ways(group, as_it_is, judge, None, [0], 9).ways]
    ['tall', 'taller']
    """
    candidates: list[tuple[Standing, Standing, Tried]] = []
    choices = 0
    for choice in choices_of(group.catalogue):
        choices += 1
        if choice == NO_CHANGE and not any(valve.reshim for valve in group.valves):
            continue
        tried = group.each_choice(choice)
        if tried is None:
            continue
        bound = likely = standing_of(tried, names_of(choice, group.catalogue))
        needed = [one + other for one, other in zip(tried.used, used_elsewhere, strict=True)]
        if in_stock is not None and not holds(in_stock, needed):
            bound = likely._replace(off=0, open=0, miss=0.0, shims=0, tight=-math.inf)
        if bound.betters(as_it_is):
            candidates.append((likely, bound, tried))
    candidates.sort(key=lambda one: one[0])
    least = list(accumulate((bound for _, bound, _ in reversed(candidates)), min))[::-1]
    judged: list[Way[Payload]] = []
    best: list[Way[Payload]] = []
    for (_, bound, tried), at_best in zip(candidates, least, strict=True):
        if len(best) == MOST_WAYS and best[-1].standing <= at_best:
            break
        if (len(best) == MOST_WAYS and best[-1].standing <= bound) or any(
            _only_adds(tried, bound, one) for one in best
        ):
            continue
        if len(judged) == most_judged:
            return Found(best, choices, proven=False)
        standing, payload = judge(tried)
        judged.append(Way(standing, tried, payload))
        best = _best_of(judged, as_it_is)
    return Found(best, choices, proven=True)


def _best_of(judged: Sequence[Way[Payload]], as_it_is: Standing) -> list[Way[Payload]]:
    """The best of the ways judged so far."""
    best: list[Way[Payload]] = []
    for way in sorted(judged, key=lambda one: one.standing):
        if not way.standing.betters(as_it_is) or any(_only_adds(way.tried, way.standing, one) for one in best):
            continue
        best.append(way)
        if len(best) == MOST_WAYS:
            break
    return best


def _only_adds(tried: Tried, standing: Standing, way: Way[Payload]) -> bool:
    """Whether a choice only adds parts to a way that puts all right and stands before it."""
    return way.standing.puts_right and way.standing < standing and way.tried.choice.changes < tried.choice.changes
