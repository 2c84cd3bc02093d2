"""Match notes: what sets the worst, who takes no part, and what is still to be read for it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from statistics import median
from typing import Final

from headbench.api.matching.matching import Solved, springs_short
from headbench.api.matching.problem import Problem
from headbench.api.springs.spring import open_springs
from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.saying import say, say_enough, shows
from headbench.calc.judging.limits import LOAD_LOSS_MAXIMUM
from headbench.calc.judging.rules import TESTER_REPEATS
from headbench.calc.matching.choices import Pocket, is_matchable
from headbench.calc.matching.relief import Blocked, Empty, Relief
from headbench.calc.springs.spring_set import SpringSet

NOTES: Final = {
    "match_set_by": "What sets the worst load of a match, and what would relieve it.",
    "match_not_proven": "Time ran out before a match was proven the best; a better one may exist.",
    "match_inside_tester": "What a match gains is less than testers usually repeat.",
    "position_left_empty": "No spring is left for a position, or none can stand there; what is in the way.",
    "spring_taken": "A position that is not measured gives its spring to another.",
    "springs_short": "There are fewer springs that can be matched than positions.",
    "spring_not_matched": "A spring takes no part in a match: it lost too much, or was not read.",
    "spring_weak": "A spring pushes far less than the others do at one height; it may be worn, and no rating says.",
}


def match_notes(solved: Solved, pointer: str) -> Iterator[Note]:
    """What is to be said of a match; `pointer` is that of the wish."""
    problem, found = solved.problem, solved.found
    yield from _not_matched(problem)
    yield from _weak(problem)
    short = springs_short(solved)
    if short:
        detail = (
            f"{len(problem.places)} positions are measured, {len(problem.usable)} springs can be matched: {short} "
            "short. The positions left empty are those that the others are best without."
        )
        yield note("springs_short", "/springs", detail, NOTES)
    yield from _left_empty(solved)
    yield from _set_by(solved, pointer)
    yield from _taken_from(solved)
    if not found.proven and problem.places:
        detail = "The best match found in the time there is; a better one may exist."
        if not found.left_empty and found.bound == found.worst:
            detail = "The worst load can't be bettered; the others perhaps, time ran out before that was proven."
        elif shows(found.bound, "force"):
            detail = f"{detail} None can have less than {say(found.bound, 'force')} at worst."
        yield note("match_not_proven", pointer, detail, NOTES)
    gain = solved.before.worst - found.worst
    repeats = problem.wish.tester_repeats or TESTER_REPEATS.values[0]
    if 0.0 < gain < repeats and not solved.before.left_empty and shows(gain, "force"):
        detail = (
            f"The match betters the worst load by {say(gain, 'force')}; testers repeat to about "
            f"{say(repeats, 'force')}. Moving springs for that is hardly worth it."
        )
        yield note("match_inside_tester", pointer, detail, NOTES)


def _not_matched(problem: Problem) -> Iterator[Note]:
    for place, loss in problem.lost.items():
        detail = (
            f"Spring {problem.springs[place].id}: {loss:.1f} % under its rating; left out. No shim mends a "
            "spring that has lost its load; replace it."
        )
        yield note("spring_not_matched", f"{problem.pointer_to(place)}/load_curve", detail, NOTES)
    for place, (spring, own) in enumerate(zip(problem.springs, problem.sets, strict=True)):
        if not is_matchable(own) and place not in problem.lost and place not in problem.taken:
            detail = f"Spring {spring.id}: {_unread(own)}; left out of the match."
            yield note("spring_not_matched", problem.pointer_to(place), detail, NOTES)


def _unread(own: SpringSet) -> str:
    if not own.is_known:
        return "it was not tested"
    if not own.is_provable:
        return "its load is not known from a tester, or its readings disagree"
    return "its coil bind was not measured, or its readings disagree"


def _weak(problem: Problem) -> Iterator[Note]:
    """Springs that push far less than the others where all were read, while no rating says what is lost."""
    heights = [pocket.target_height for pocket in problem.pockets if pocket.target_height > 0.0]
    heights = heights or [pocket.bare_height for pocket in problem.pockets]
    at = min(heights, default=math.nan)
    loads = {place: problem.sets[place].load_at(at) for place in problem.usable}
    middle = median(loads.values()) if loads else 0.0
    for place, load in loads.items() if middle > 0.0 else ():
        less = 100.0 * (1.0 - load / middle)
        if less > LOAD_LOSS_MAXIMUM.value and problem.springs[place].rating is None:
            detail = (
                f"Spring {problem.springs[place].id} pushes {less:.1f} % less than the others at {say(at, 'length')}. "
                "If it has lost that, replace it: no shim mends a worn spring. Leave it out, or enter its rating."
            )
            yield note("spring_weak", f"{problem.pointer_to(place)}/load_curve", detail, NOTES)


def _taken_from(solved: Solved) -> Iterator[Note]:
    """Positions that are not measured, whose spring goes to another: a person should know before moving anything."""
    problem, after = solved.problem, solved.springs_after
    for place, position in enumerate(problem.read.positions):
        if place in problem.places or position.spring is None or after[place] == position.spring:
            continue
        to = problem.read.positions[after.index(position.spring)].id
        detail = (
            f"{position.id} is not measured and takes no part; its spring {position.spring} goes to {to}. Measure it "
            "and match again before you move anything."
        )
        yield note("spring_taken", f"/positions/{place}", detail, NOTES)


def _left_empty(solved: Solved) -> Iterator[Note]:
    problem = solved.problem
    for at, empty in solved.empty.items():
        place = problem.places[at]
        position, pocket = problem.read.positions[place], problem.pockets[at]
        left = "left empty"
        if position.id in problem.wish.kept:
            left = f"its spring {position.spring} is to stay, but was not matched"
        detail = f"{position.id}: {left}: {_why_empty(pocket, empty)}."
        yield note("position_left_empty", f"/positions/{place}", detail, NOTES)


def _why_empty(pocket: Pocket, empty: Empty) -> str:
    """What keeps a position empty, and what to do about it."""
    least = pocket.coil_bind_clearance_minimum
    lower = say_enough(least - empty.room, "length") if empty.room < least else ""
    reasons = {
        Blocked.SPRINGS: "no spring is left for it. Test and enter another",
        Blocked.IN_STOCK: "the shims run out. Get more of the sizes that are used up",
        Blocked.TIME: "not filled in the time there was; that is no proof that it can't be. Enter fewer springs or "
        "shim sizes, or match one head at a time",
        Blocked.READINGS: "no spring was read at the heights it would work at. Test them there",
        Blocked.TOO_SHORT: "without shims it is shorter than the window around its height allows. Deepen the seat if "
        "the metal over the water jacket allows, or fit taller locks or a longer valve",
        Blocked.HEIGHT_WINDOW: "no stack of these shims brings a spring inside the window around its height",
        Blocked.STACK_MAXIMUM: "it needs a thicker stack than one pocket may hold. Fit a thicker locator or shorter "
        "locks",
        Blocked.OPEN_LOAD: "no spring keeps the open load inside its range there",
        Blocked.COIL_BIND: f"the springs leave {_room(empty.room)} to coil bind at most, {say(least, 'length')} is the "
        f"minimum. Fit one that binds {lower} lower",
    }
    return reasons.get(empty.blocked, "none can stand there")


def _room(room: float) -> str:
    return "none" if math.isnan(room) or room <= 0.0 else say(room, "length")


def _set_by(solved: Solved, pointer: str) -> Iterator[Note]:
    problem, found, relief = solved.problem, solved.found, solved.relief
    if relief is None or found.worst_at is None:
        return
    place = problem.places[found.worst_at]
    which = problem.read.positions[place].id
    how, where = _in_the_way(problem, relief, pointer, place, found.worst)
    yield note("match_set_by", where, f"{which} sets the worst, {say(found.worst, 'force')}: {how}.", NOTES)


def _in_the_way(problem: Problem, relief: Relief, pointer: str, place: int, worst: float) -> tuple[str, str]:
    """What keeps a position from the load wanted, and where that is entered."""
    wanted = say(relief.needed, "length")
    repeats = problem.wish.tester_repeats or TESTER_REPEATS.values[0]
    # what a tester can't tell is no gain
    gains = worst - relief.worst >= repeats
    gained = f"; the worst would then be {say(relief.worst, 'force')}" if gains else ""
    match relief.blocked:
        case Blocked.TOO_SHORT:
            short = say(-relief.needed, "length")
            return f"without shims it is {short} short for its spring", f"/positions/{place}/measured_height"
        case Blocked.COIL_BIND:
            return f"with the {wanted} of shims that it needs its coils come too near", f"/positions/{place}"
        case Blocked.STACK_MAXIMUM:
            how = f"it needs {wanted} of shims, {say(problem.at_hand.stack_maximum, 'length')} is allowed"
            more = f". Allow {say(relief.allowed, 'length')}{gained}" if gains else ""
            return f"{how}{more}", "/shims/stack_maximum"
        case Blocked.HEIGHT_WINDOW:
            how = f"the {wanted} of shims that it needs leaves the window around its height"
            return f"{how}. Allow a wider one{gained}" if gains else how, f"{pointer}/height_window"
        case Blocked.IN_STOCK:
            return f"the shims for it run out. Get more of them{gained}", "/shims/in_stock"
        case _:
            how = f"it needs {wanted} of shims, these sizes make nothing nearer"
            return f"{how}. Get a shim of that thickness{gained}" if gains else how, "/shims/thicknesses"


def open_matches(solved: Solved, held: Sequence[str], held_by_springs: Sequence[str]) -> Iterator[OpenItem]:
    """Springs to be found for what is left empty, and what was not read of those there are.

    `held` are the fields that wait for a spring, `held_by_springs` those that wait for a reading of one.
    """
    problem = solved.problem
    there = {spring.id for place, spring in enumerate(problem.springs) if place not in problem.taken}
    fields = {field: list(held_by_springs) for field in ("load_curve", "proof", "coil_bind_height")}
    yield from open_springs(problem.listed, there, fields)
    for at in solved.empty:
        place = problem.places[at]
        position = problem.read.positions[place]
        was = (
            position.spring is not None
            and solved.before.each[at] is None
            and problem.pockets[at].current in problem.usable
        )
        yield OpenItem(
            pointer=f"/positions/{place}/spring",
            position=position.id,
            spring=None,
            needed_for=[*held, *(["spring_before_deviation"] if was else [])],
            detail=f"{position.id}: find a spring for it.",
        )
