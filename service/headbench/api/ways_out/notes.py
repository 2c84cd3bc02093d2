"""Notes of ways out: what the ways are, what blocks, and what follows from other parts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import partial
from typing import Final

from headbench.api.vocabulary.checks import LengthCheck, PercentCheck, RatioCheck
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.quantities import number_of
from headbench.api.vocabulary.saying import say, say_at_most
from headbench.api.ways_out.catalogue import Catalogue, OtherValve
from headbench.api.ways_out.groups import KindFound
from headbench.api.ways_out.lines import Way, WayLine, WaysGroup
from headbench.api.ways_out.sentences import listed, stands, words_of

NOTES: Final = {
    "ways_out": "The ways to put a kind of valve right, the best first.",
    "no_way_out": "Nothing in the catalogue puts a kind of valve right: what blocks, by how much, what would do.",
    "way_not_measured": "A way misses nothing, but rests on a reading that was not taken.",
    "heights_contradict": "Heights with shims and without contradict each other, so no way is looked for.",
    "better_way_possible": "Not every choice of parts was worked out by every check; a better one may exist.",
    "read_again_with_parts": "Other parts are figured by their catalog numbers; what to measure with them in.",
    "retainer_raised": "Parts raise the retainer: the tip stands less over it, and the rocker comes nearer.",
    "stem_height_follows": "Other valves change the stem height; lash or preload, pushrods and rocker sweep follow.",
    "pockets_to_cut": "Pockets are to be cut; what to look at before and after.",
    "masses_follow": "Other parts weigh otherwise; what was not weighed of them.",
}
"""The notes of ways out: code -> meaning."""

OWN_REMEDIES: Final = frozenset({"short_of_height", "stack_limit_reached", "off_target"})
"""Notes of the head's sheet that guess at what is worked out here."""

_note = partial(note, known=NOTES)


def ways_notes(found: Sequence[KindFound], catalogue: Catalogue, *, asks_masses: bool) -> Iterator[Note]:
    """What was found of the ways, and what follows from them."""
    for one in found:
        yield from _of_group(one.line)
        if one.waits_for:
            detail = (
                f"{one.kind.capitalize()} valves: no way is looked for until {', '.join(one.waits_for[:_MOST_NAMED])} "
                f"{'is' if len(one.waits_for) == 1 else 'are'} measured again; heights with shims and without "
                "contradict each other."
            )
            yield _note("heights_contradict", "/positions", detail)
    ways = [way for one in found for way in one.line.ways]
    if not ways:
        return
    detail = (
        "These ways go by catalog numbers. With the parts in, measure height, retainer to seal and tip again at every "
        "valve, before the engine is turned."
    )
    yield _note("read_again_with_parts", "/catalogue", detail)
    # what does not put a kind of valve right is not done
    right = [way for way in ways if way.may_put_right]
    tried = [way.tried for one in found if one.found is not None for way in one.found.ways if way.standing.puts_right]
    raised = max((valve.raised for each in tried for valve in each.valves), default=0.0)
    if raised > 0.0:
        detail = (
            f"Locks and retainer raise the retainer by up to {say(raised, 'length')}: as much less tip above it, and "
            "less gap to the rocker. Check that the rocker touches the tip alone, over the whole lift."
        )
        yield _note("retainer_raised", "/catalogue/locks", detail)
    named = {way.other_valve for way in right}
    longer = [part for part in catalogue.valves if part.id in named]
    if longer:
        told = "; ".join(_tip_told(part) for part in longer)
        detail = (
            f"{told}. Check stem heights and rocker sweep, set lash or preload again, and check pushrod length: at the "
            "lifter it is as much over the rocker ratio."
        )
        yield _note("stem_height_follows", "/catalogue/valves", detail)
    deepest = max((valve.pocket_depth for each in tried for valve in each.valves), default=0.0)
    if deepest > 0.0:
        detail = (
            f"Pockets are cut up to {say(deepest, 'length')} deeper, {_pockets(right)}. A cut can break into water or "
            "oil: measure the floor by ultrasonic gauge before, cut with the stop set, and pressure-test the head "
            "afterward. Metal does not go back: try other parts first."
        )
        yield _note("pockets_to_cut", "/catalogue/pocket_cuts", detail)
    if any(way.locks or way.retainer or way.other_valve for way in ways):
        counted = (
            "Until then float is figured with the parts they replace, and not accepted."
            if asks_masses
            else "Nothing here is judged by mass."
        )
        detail = f"Other locks, retainers and valves weigh otherwise: weigh them. {counted}"
        yield _note("masses_follow", "/catalogue", detail)


def _of_group(group: WaysGroup) -> Iterator[Note]:
    right = [way for way in group.ways if way.may_put_right]
    if right:
        ranked = [(way.puts_right, f"{rank}) {_way_told(way)}") for rank, way in enumerate(right, start=1)]
        proven, open_ways = (
            "; ".join(told for is_proven, told in ranked if is_proven is each) for each in (True, False)
        )
        wrong = " ".join(stands(one) for one in group.as_it_is.missed[:_MOST_TOLD])
        detail = f"{group.valve.capitalize()} valves: now {wrong}"
        if proven:
            detail += f" What puts them right: {proven}."
        if open_ways:
            detail += f" {'Others may' if proven else 'May'} put them right, once measured: {open_ways}."
        yield _note("ways_out", "/catalogue", detail)
        for way in right:
            if waiting := _waiting(way):
                detail = f"{way.id}: misses nothing, but is not proven until measured: {'; '.join(waiting)}."
                yield _note("way_not_measured", "/positions", detail)
    if group.none is not None:
        sentences = [group.none.detail, *(one.detail for one in group.none.would_do)]
        yield _note("no_way_out", "/catalogue", " ".join(sentences))
    if not group.choice_proven:
        detail = (
            f"Not all {group.choice_count} choices of parts for the {group.valve} valves were worked out by every "
            "check, stock and float among them; a better way may exist. Leave out parts that won't do."
        )
        yield _note("better_way_possible", "/catalogue", detail)


_MOST_TOLD: Final = 4
_MOST_NAMED: Final = 12


def _way_told(way: Way) -> str:
    shims = "no shims" if way.shim_count == 0 else "1 shim" if way.shim_count == 1 else f"{way.shim_count} shims"
    spare = way.least_to_spare
    room = (
        ""
        if spare is None or math.isnan(spare)
        else f", tightest clearance {say_at_most(spare, 'length')} over its minimum"
    )
    if room and (unread := _unread(way)):
        room = f"{room}, {listed(unread)} not counted"
    cuts = [f"{one.id} {say(one.pocket_depth, 'length')}" for one in way.positions if one.pocket_depth > 0.0]
    cut = f"{', '.join(cuts)}; " if cuts else ""
    return f"{way.id} ({cut}{shims}{room})"


def _waiting(way: Way) -> list[str]:
    """What is to be measured before a way is proven, and where."""
    where: dict[str, list[str]] = {}
    for line in way.positions:
        for name, check in _checks(line):
            if check.counts_toward_verdict and check.verdict == "not_measured":
                where.setdefault(name, []).append(line.id)
    return [f"{words_of(name)} ({listed(names)})" for name, names in where.items()]


def _unread(way: Way) -> list[str]:
    """Clearances that are known at no valve, or not at all of them."""
    found = (
        words_of(name)
        for line in way.positions
        for name, check in _checks(line)
        if check.check_class == "damage" and isinstance(check, LengthCheck) and not _is_known(check.value)
    )
    return list(dict.fromkeys(found))


def _is_known(value: float | None) -> bool:
    return value is not None and not math.isnan(value)


def _checks(line: WayLine) -> Iterator[tuple[str, LengthCheck | PercentCheck | RatioCheck]]:
    """The checks of a line that there are."""
    for name in line.__struct_fields__:
        check = getattr(line, name)
        if isinstance(check, LengthCheck | PercentCheck | RatioCheck):
            yield name, check


def _tip_told(part: OtherValve) -> str:
    change = number_of(part.length_change)
    return f"{part.id}: the tip stands {say(abs(change), 'length')} {'higher' if change > 0.0 else 'lower'}"


def _pockets(ways: Sequence[Way]) -> str:
    cut = dict.fromkeys(name for way in ways for name in way.pockets_cut)
    return f"at {', '.join(cut)}"
