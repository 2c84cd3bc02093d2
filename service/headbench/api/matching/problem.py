"""Match problem: the readings of a job as pockets and springs, and who takes part."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from headbench.api.matching.wish import MatchWish
from headbench.api.springs.ratings import against_rating
from headbench.api.springs.spring import Spring, SpringsRead
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.quantities import Model, number_of
from headbench.api.vocabulary.targets import Target, Targets, limit_of, load_target, named_limit
from headbench.calc.heights.installed_height import ShimsAtHand
from headbench.calc.judging.possible import if_possible
from headbench.calc.judging.rules import POSSIBLE_LIFT
from headbench.calc.matching.choices import Pocket, is_matchable
from headbench.calc.matching.limits import HEIGHT_WINDOW
from headbench.calc.springs.spring_set import SpringSet

_NAN = math.nan


class Matchable(Protocol):
    """A position whose spring may be matched."""

    @property
    def id(self) -> str:
        """Its name."""
        ...

    @property
    def valve(self) -> ValveKind:
        """Its kind of valve."""
        ...

    @property
    def spring(self) -> str | None:
        """The spring that lies there."""
        ...


@dataclass(frozen=True, slots=True)
class PositionsRead:
    """What was read of every position, NaN where it was not.

    bare_height, valve_lift : by position; NaN also where they are in doubt [m]
    assembled : whether its spring stands on its shims already, so that neither is chosen
    """

    positions: Sequence[Matchable]
    bare_height: Sequence[float]
    valve_lift: Sequence[float]
    assembled: Sequence[bool]


@dataclass(frozen=True, slots=True)
class Problem:
    """A match to be found.

    wish, limits, targets, read, listed : what it follows from; the springs as the job lists them
    springs : the springs in the order of their ids
    sets : every spring of the job as it was read
    lost : percent of its rating that a spring has lost, by its place, where that is too much
    taken : places of springs that are assembled already
    places : the positions that take part, by their place
    pockets : the same as pockets
    at_hand : the shims
    """

    wish: MatchWish
    limits: Model
    targets: Targets
    read: PositionsRead
    listed: Sequence[Spring]
    springs: Sequence[Spring]
    sets: Sequence[SpringSet]
    lost: Mapping[int, float]
    taken: frozenset[int]
    places: Sequence[int]
    pockets: Sequence[Pocket]
    at_hand: ShimsAtHand

    def pointer_to(self, place: int) -> str:
        """Where a spring stands in the request."""
        return f"/springs/{self.listed.index(self.springs[place])}"

    @property
    def usable(self) -> list[int]:
        """The springs that may be matched, by their place."""
        return [
            place
            for place, own in enumerate(self.sets)
            if is_matchable(own) and place not in self.lost and place not in self.taken
        ]


def find_problem(
    wish: MatchWish,
    read: PositionsRead,
    springs: Sequence[Spring],
    springs_read: SpringsRead,
    targets: Targets,
    limits: Model,
    at_hand: ShimsAtHand,
) -> Problem:
    """The pockets and springs of a job, in the order of their ids, so that no tie hangs on how a job lists them."""
    listed, springs = springs, sorted(springs, key=lambda spring: spring.id)
    sets = [springs_read.at(spring.id) for spring in springs]
    at = {spring.id: place for place, spring in enumerate(springs)}
    losses = [_lost(spring, own, limits) for spring, own in zip(springs, sets, strict=True)]
    lost = {place: loss for place, loss in enumerate(losses) if loss > 0.0}
    taken = frozenset(
        at[one.spring]
        for one, assembled in zip(read.positions, read.assembled, strict=True)
        if assembled and one.spring is not None
    )
    by_kind = {kind: _pocket_of_kind(kind, wish, targets, limits) for kind in KINDS}
    rows = zip(read.positions, read.assembled, read.bare_height, read.valve_lift, strict=True)
    taking_part = [
        place
        for place, (one, assembled, bare, lift) in enumerate(rows)
        if not assembled and bare > 0.0 and if_possible(lift, POSSIBLE_LIFT) > 0.0 and _has_aim(by_kind[one.valve])
    ]
    places = sorted(taking_part, key=lambda place: read.positions[place].id)
    pockets = _pockets(wish, read, at, by_kind, places, {*lost, *taken})
    return Problem(wish, limits, targets, read, listed, springs, sets, lost, taken, places, pockets, at_hand)


def _lost(spring: Spring, own: SpringSet, limits: Model) -> float:
    """How much of its rating a spring has lost, where that is more than any kind of valve allows; else 0."""
    most = [named_limit(limits, "load_loss_maximum", kind) for kind in KINDS]
    limit = max((one for one in most if one is not None), default=None)
    check, _ = against_rating(spring, own, limit, misses_reject=True)
    return number_of(check.value) if check is not None and check.verdict == "reject" else 0.0


def _pocket_of_kind(kind: ValveKind, wish: MatchWish, targets: Targets, limits: Model) -> Pocket:
    target: Target | None = getattr(targets, kind)
    loads = {
        load: load_target(target, load, limit_of(limits, f"{load}_tolerance", kind)).aim
        for load in ("seat_load", "open_load")
    }
    given = Target() if target is None else target
    return Pocket(
        bare_height=_NAN,
        valve_lift=_NAN,
        target_height=number_of(given.installed_height),
        height_window=HEIGHT_WINDOW.value if wish.height_window is None else wish.height_window,
        seat_load=loads["seat_load"],
        open_load=loads["open_load"],
        open_low=number_of(given.open_load_minimum),
        open_high=number_of(given.open_load_maximum),
        coil_bind_clearance_minimum=limit_of(limits, "coil_bind_clearance_minimum", kind),
        group=KINDS.index(kind),
    )


def _has_aim(pocket: Pocket) -> bool:
    return not all(math.isnan(one) for one in (pocket.target_height, pocket.seat_load, pocket.open_load))


def _pockets(
    wish: MatchWish,
    read: PositionsRead,
    at: Mapping[str, int],
    by_kind: Mapping[ValveKind, Pocket],
    places: Sequence[int],
    out: set[int],
) -> list[Pocket]:
    """The pockets of the positions that take part; `out` are springs that no position may take."""
    kept = {one.id: at[one.spring] for one in read.positions if one.id in wish.kept and one.spring is not None}
    barred: dict[str, set[int]] = {}
    for one in wish.barred:
        barred.setdefault(one.position, set()).add(at[one.spring])
    pockets = []
    for place in places:
        position = read.positions[place]
        others = {spring for name, spring in kept.items() if name != position.id}
        if position.id in kept:
            others = {spring for spring in at.values() if spring != kept[position.id]}
        pockets.append(
            by_kind[position.valve]._replace(
                bare_height=read.bare_height[place],
                valve_lift=read.valve_lift[place],
                current=-1 if position.spring is None else at[position.spring],
                barred=frozenset(out | others | barred.get(position.id, set())),
            )
        )
    return pockets
