"""Matching: a problem solved, and what it came to, position by position."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from headbench.api.heights.shims import sizes_of
from headbench.api.matching.answers import (
    LeftEmpty,
    Matched,
    MatchedLine,
    MatchedSpreads,
    SetBy,
    SizeLeft,
    SpringLeft,
    SpringMove,
)
from headbench.api.matching.moves import steps
from headbench.api.matching.problem import Problem
from headbench.api.springs.ratings import against_rating
from headbench.api.vocabulary.checks import PercentCheck, length_check, load_check, worst_of
from headbench.api.vocabulary.names import ValveKind
from headbench.api.vocabulary.spreads import ForceSpread, spread_as
from headbench.api.vocabulary.targets import OffTarget, limit_of, load_target, named_limit
from headbench.calc.heights.shims import stacks_of
from headbench.calc.judging.verdicts import at_least, setting_verdict
from headbench.calc.matching.choices import deviations, find_choices
from headbench.calc.matching.relief import Empty, Relief, what_blocks, why_empty
from headbench.calc.matching.spring_matching import Filled, match_springs
from headbench.calc.matching.spring_matching import Matched as Found

_NAN: Final = math.nan
_SEARCHED: Final = 0.6
"""Part of the time of a search for shims alone that a match takes for its own."""
_STAYING: Final = 0.2
"""Part of that for springs where they lie."""


@dataclass(frozen=True, slots=True)
class Solved:
    """A match and its reasons.

    problem : what was to be matched
    found, before : the match, and the springs as they lie, each on the best shims for it
    relief : what sets the worst
    empty : why positions are left empty, by the place of their pocket
    """

    problem: Problem
    found: Found
    before: Found
    relief: Relief | None
    empty: dict[int, Empty]

    @property
    def filled(self) -> list[Filled | None]:
        """What goes to every position of the job; None where it takes no part, or no spring is left."""
        return self._by_position(self.found)

    @property
    def filled_before(self) -> list[Filled | None]:
        """The same as the springs lie."""
        return self._by_position(self.before)

    def _by_position(self, found: Found) -> list[Filled | None]:
        by_place = dict(zip(self.problem.places, found.each, strict=True))
        return [by_place.get(place) for place in range(len(self.problem.read.positions))]

    @property
    def springs_after(self) -> list[str | None]:
        """The spring of every position once all is moved.

        One that takes no part keeps its spring unless it is taken elsewhere; one that is left empty has none, unless
        its spring is to stay.
        """
        problem, filled = self.problem, self.filled
        names, taken = (
            [spring.id for spring in problem.springs],
            {one.spring for one in self.found.each if one is not None},
        )
        used = {names[one] for one in taken}
        left = {place for place in problem.places if filled[place] is None}
        after: list[str | None] = []
        for place, (position, own) in enumerate(zip(problem.read.positions, filled, strict=True)):
            stays = position.spring not in used and (place not in left or position.id in problem.wish.kept)
            after.append(names[own.spring] if own is not None else position.spring if stays else None)
        return after


def solve(problem: Problem) -> Solved:
    """Find the best match, and what the springs come to where they lie."""
    wish, at_hand = problem.wish, replace(problem.at_hand, seconds=_SEARCHED * problem.at_hand.seconds)
    # of springs that stay only the shims are searched for
    staying = replace(at_hand, seconds=_STAYING * at_hand.seconds)
    repeats = wish.tester_repeats or 0.0
    found = match_springs(problem.pockets, problem.sets, at_hand, wish.equalize, repeats)
    everything = frozenset(range(len(problem.sets)))
    out = problem.taken | set(problem.lost)
    as_they_lie = [
        pocket._replace(barred=everything if pocket.current in out else everything - {pocket.current})
        for pocket in problem.pockets
    ]
    if not found.proven:
        # what time cut short may be worse than moving nothing
        unmoved = match_springs(as_they_lie, problem.sets, staying, wish.equalize, repeats)
        if (len(unmoved.left_empty), unmoved.worst) < (len(found.left_empty), found.worst):
            found = replace(unmoved, bound=found.bound, proven=False, fillable=found.fillable)
    # where they lie they lie, in the window or not
    at_any_height = [pocket._replace(height_window=math.nan) for pocket in as_they_lie]
    before = match_springs(at_any_height, problem.sets, staying, wish.equalize, repeats)
    # what is in the way of something that is not the best is no matter yet
    relief = what_blocks(problem.pockets, problem.sets, at_hand, wish.equalize, found) if found.proven else None
    empty = why_empty(problem.pockets, problem.sets, at_hand, wish.equalize, found)
    return Solved(problem, found, before, relief, empty)


def matched(solved: Solved) -> Matched:
    """The answer of a match."""
    problem, found = solved.problem, solved.found
    positions, names = problem.read.positions, [spring.id for spring in problem.springs]
    filled, before = solved.filled, solved.filled_before
    return Matched(
        equalize=problem.wish.equalize,
        worst_deviation=found.worst,
        worst_deviation_before=solved.before.worst,
        worst_deviation_bound=found.bound,
        proven=found.proven,
        positions=[
            _line(problem, place, own, was) for place, (own, was) in enumerate(zip(filled, before, strict=True))
        ],
        intake=_spreads(problem, "intake", filled, before),
        exhaust=_spreads(problem, "exhaust", filled, before),
        moves=[
            SpringMove(
                spring=step.spring,
                from_position=None if step.source is None else positions[step.source].id,
                to_position=None if step.target is None else positions[step.target].id,
                shims=_shims_under(problem, None if step.target is None else filled[step.target]),
            )
            for step in steps([one.spring for one in positions], solved.springs_after)
        ],
        set_by=_set_by(solved),
        left_empty=[
            LeftEmpty(position=positions[problem.places[at]].id, in_the_way=empty.blocked.value)
            for at, empty in solved.empty.items()
        ],
        springs_short=springs_short(solved),
        springs_left=_springs_left(problem, found, names),
        shims=[
            SizeLeft(thickness=size, count=used, left=None if there is None else there - used)
            for size, used, there in zip(
                problem.at_hand.thicknesses,
                found.used,
                problem.at_hand.in_stock or [None] * len(found.used),
                strict=True,
            )
        ],
    )


def springs_short(solved: Solved) -> int:
    """How many springs are missing for as many positions."""
    return max(len(solved.problem.places) - len(solved.problem.usable), 0)


def _line(problem: Problem, place: int, own: Filled | None, was: Filled | None) -> MatchedLine:
    position = problem.read.positions[place]
    checks = {load: _load_check(problem, position.valve, load, own) for load in ("seat_load", "open_load")}
    room = _NAN if own is None else own.coil_bind_clearance
    least = limit_of(problem.limits, "coil_bind_clearance_minimum", position.valve)
    bind = length_check(room, least, "at_least", int(at_least(room, least)), "damage")
    loss = None if own is None else _loss(problem, position.valve, own)
    judged = [bind.verdict, *(check.verdict for check in (*checks.values(), loss) if check is not None)]
    return MatchedLine(
        id=position.id,
        valve=position.valve,
        spring=None if own is None else problem.springs[own.spring].id,
        spring_before=position.spring,
        shims=_shims_under(problem, own),
        shim_stack=_NAN if own is None else own.shim_stack,
        installed_height=_NAN if own is None else own.installed_height,
        seat_load=_NAN if own is None else own.seat_load,
        open_load=_NAN if own is None else own.open_load,
        load_deviation=_NAN if own is None else own.deviation,
        spring_before_deviation=_NAN if was is None else was.deviation,
        seat_load_check=checks["seat_load"],
        open_load_check=checks["open_load"],
        coil_bind_clearance_check=bind,
        load_loss_check=loss,
        verdict="not_measured" if own is None else worst_of(judged),
    )


def _rejects(problem: Problem) -> bool:
    """Whether a setting off its target is rejected."""
    off_target: OffTarget = getattr(problem.limits, "off_target")  # noqa: B009 - limits of any room
    return off_target == "reject"


def _loss(problem: Problem, kind: ValveKind, own: Filled) -> PercentCheck | None:
    limit = named_limit(problem.limits, "load_loss_maximum", kind)
    return against_rating(
        problem.springs[own.spring], problem.sets[own.spring], limit, misses_reject=_rejects(problem)
    )[0]


def _load_check(problem: Problem, kind: ValveKind, load: str, own: Filled | None) -> PercentCheck | None:
    tolerance = limit_of(problem.limits, f"{load}_tolerance", kind)
    target = load_target(getattr(problem.targets, kind), load, tolerance)  # type: ignore[arg-type] # one of the two
    pushed = _NAN if own is None else getattr(own, load)
    verdict = setting_verdict(target.verdict(pushed), misses_reject=_rejects(problem))
    named = named_limit(problem.limits, f"{load}_tolerance", kind)
    return load_check(target, pushed, verdict, applies=target.is_set, tolerance=named)


def _shims_under(problem: Problem, own: Filled | None) -> list[float]:
    return [] if own is None else sizes_of(own.shims, problem.at_hand)


def _spreads(
    problem: Problem, kind: ValveKind, filled: Sequence[Filled | None], before: Sequence[Filled | None]
) -> MatchedSpreads | None:
    at = [place for place, one in enumerate(problem.read.positions) if one.valve == kind]
    if not at:
        return None

    def of(rows: Sequence[Filled | None], load: str) -> ForceSpread:
        own = [rows[place] for place in at]
        loads = [_NAN if one is None else float(getattr(one, load)) for one in own]
        return spread_as(ForceSpread, loads, [problem.read.positions[place].id for place in at])

    return MatchedSpreads(
        seat_load_before=of(before, "seat_load"),
        seat_load=of(filled, "seat_load"),
        open_load_before=of(before, "open_load"),
        open_load=of(filled, "open_load"),
    )


def _set_by(solved: Solved) -> SetBy | None:
    found, relief, problem = solved.found, solved.relief, solved.problem
    if relief is None or found.worst_at is None or (own := found.each[found.worst_at]) is None:
        return None
    return SetBy(
        position=problem.read.positions[problem.places[found.worst_at]].id,
        spring=problem.springs[own.spring].id,
        in_the_way=relief.blocked.value,
        shim_needed=relief.needed,
        stack_maximum_needed=relief.allowed,
        worst_without=relief.worst,
    )


def _springs_left(problem: Problem, found: Found, names: Sequence[str]) -> list[SpringLeft]:
    """Springs that no position takes, by the least that their load would be off anywhere."""
    used = {one.spring for one in found.each if one is not None}
    left = [place for place in range(len(names)) if place not in used and place not in problem.taken]
    at_hand = problem.at_hand
    stacks = stacks_of(at_hand.thicknesses, at_hand.stack_maximum, at_hand.shim_count_maximum)
    choices = find_choices(
        [pocket._replace(barred=pocket.barred | used) for pocket in problem.pockets],
        problem.sets,
        stacks,
        problem.wish.equalize,
    )
    off: list[float] = deviations(choices, problem.pockets, problem.wish.equalize).tolist() if len(choices) else []
    least = dict.fromkeys(left, math.inf)
    for spring, one in zip(choices.spring.tolist(), off, strict=True):
        if spring in least and one < least[spring]:
            least[spring] = one
    return [
        SpringLeft(spring=names[place], load_deviation=_NAN if math.isinf(least[place]) else least[place])
        for place in sorted(left, key=lambda place: (least[place], place))
    ]
