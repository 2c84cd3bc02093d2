"""Groups: one kind of valve as it is, the ways to put it right, and what blocks where there is none."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from headbench.api.head.sheet_checks import decide
from headbench.api.vocabulary.names import ValveKind
from headbench.api.ways_out.catalogue import Kept, id_of
from headbench.api.ways_out.judging import HeadBench, KindJudged, ValveJudged
from headbench.api.ways_out.lines import NoWay, Way, WayLine, WaysGroup, WouldDo
from headbench.api.ways_out.request import WaysOutRequest
from headbench.api.ways_out.sentences import BY_SHIMS, missed_checks, stands, would_do
from headbench.calc.head.assembly import HeadSheet
from headbench.calc.ways_out.changed import ValveThere, change_valve
from headbench.calc.ways_out.needs import remedies_for
from headbench.calc.ways_out.parts import AS_FITTED, NO_CHANGE, Choice, names_of
from headbench.calc.ways_out.trying import Group, Tried
from headbench.calc.ways_out.ways import Found, Standing, find_ways, standing_of

_MOST_JUDGED: Final = 30
_MOST_JUDGED_IN_STOCK: Final = 8
_JUDGED_VALVES: Final = 600
"""Choices that are worked out by every check, with a stock to share, and valves in all of them."""


@dataclass(frozen=True, slots=True)
class KindFound:
    """One kind of valve, worked.

    line : what is answered
    best : the first way as it was tried; None where there is none, or it puts more valves off their target
    found : its ways, with what was tried; None where nothing needs changing
    waits_for : the positions whose heights contradict each other, so that no way is looked for
    """

    kind: ValveKind
    line: WaysGroup
    best: Tried | None
    found: Found[KindJudged] | None
    waits_for: Sequence[str] = ()


def kind_found(
    bench: HeadBench,
    kind: ValveKind,
    as_it_is: HeadSheet,
    valves: Sequence[ValveThere],
    used_elsewhere: Sequence[int],
) -> KindFound:
    """Everything of one kind of valve."""
    kept, limits = bench.kept[kind], bench.limits[kind]
    ids = [bench.head.ids[at] for at in bench.places[kind]]
    changed = tuple(change_valve(valve._replace(reshim=False), 0.0, 0.0) for valve in valves)
    judged = bench.judge(kind, NO_CHANGE, changed, as_it_is)
    before = Tried(NO_CHANGE, changed, tuple(judged.outcomes), ())
    standing = standing_of(before, names_of(NO_CHANGE, kept.parts))
    line = _way(bench.request, kept, before, standing, judged, "as it is")
    waits_for = [name for name, valve in zip(ids, valves, strict=True) if valve.read_back_off]
    if standing.puts_right or waits_for:
        needed = None if standing.open or not standing.puts_right else False
        return KindFound(kind, _group(kind, line, needed=needed), None, None, () if needed is False else waits_for)

    def judge(tried: Tried) -> tuple[Standing, KindJudged]:
        sheet = bench.assembled(dict(zip(bench.places[kind], tried.valves, strict=True)))
        result = bench.judge(kind, tried.choice, tried.valves, sheet)
        return standing_of(tried, names_of(tried.choice, kept.parts), result.outcomes), result

    misses = [one.breaks or one.off for one in judged.outcomes[: len(valves)]]
    group = Group(
        [
            valve._replace(reshim=bool(missed) and _is_assembled(valve))
            for missed, valve in zip(misses, valves, strict=True)
        ],
        kept.parts,
        limits,
        bench.at_hand,
    )
    in_stock = bench.at_hand.in_stock
    most = _MOST_JUDGED if in_stock is None else _MOST_JUDGED_IN_STOCK
    most = min(most, max(_JUDGED_VALVES // len(bench.readings), 6))
    found = find_ways(group, standing, judge, in_stock, used_elsewhere, most)
    ways = [_way(bench.request, kept, one.tried, one.standing, one.judged, "other shims") for one in found.ways]
    # what puts more valves off their target than are as they are is nothing to go by
    best = found.ways[0].tried if found.ways and found.ways[0].standing.off <= standing.off else None
    none = None
    if not ways or not ways[0].may_put_right:
        made_of = list(would_do(remedies_for(group), ids, kind, in_stock, used_elsewhere))
        # with shims without end nothing is missed, of what shims change
        shims_alone = {one.check for one in line.missed} <= BY_SHIMS and all(
            valve.breaks == valve.off == 0 for valve in group.with_change(0.0, 0.0, 0.0, 0.0).outcomes
        )
        none = _no_way(kind, line if best is None else ways[0], made_of, shims_alone=shims_alone)
    return KindFound(kind, _group(kind, line, ways, none, found), best, found)


def _is_assembled(valve: ValveThere) -> bool:
    """Whether its shims are in, or its height was read with them in."""
    readings = valve.readings
    return not (math.isnan(readings.height_with_shims) and math.isnan(readings.fitted_stack))


def _group(
    kind: ValveKind,
    as_it_is: Way,
    ways: Sequence[Way] = (),
    none: NoWay | None = None,
    found: Found[KindJudged] | None = None,
    *,
    needed: bool | None = True,
) -> WaysGroup:
    return WaysGroup(
        valve=kind,
        change_needed=needed,
        as_it_is=as_it_is,
        ways=list(ways),
        none=none,
        choice_count=0 if found is None else found.choices,
        choice_proven=found is None or found.proven,
    )


def _no_way(kind: ValveKind, nearest: Way, made_of: list[WouldDo], *, shims_alone: bool) -> NoWay:
    """What blocks with the best there is, which may be as it is, and what would do it."""
    worst = nearest.missed[0]
    now = "Now" if nearest.parts_changed == 0 else f"With the nearest, {nearest.id},"
    told = f"Nothing in the catalogue puts the {kind} valves right. {now} {stands(worst)}"
    if shims_alone:
        told = f"{told} More shims alone would put them right: enlarge the stock."
    elif not made_of:
        told = f"{told} No height, length or depth mends that: look at the springs, the lift and the readings."
    return NoWay(position=worst.position, check=worst.check, detail=told, would_do=made_of)


def _way(
    request: WaysOutRequest, kept: Kept, tried: Tried, standing: Standing, judged: KindJudged, unchanged: str
) -> Way:
    """A way as it is answered; `unchanged` is what it is called where no part is changed."""
    choice, listed = tried.choice, request.catalogue
    locks = [name for place in choice.locks if (name := id_of(listed, "locks", kept, place)) is not None]
    retainer = id_of(listed, "retainers", kept, choice.retainer)
    locator = id_of(listed, "locators", kept, choice.locator)
    other = id_of(listed, "valves", kept, choice.valve)
    cut = [one for one in judged.valves if one.changed.pocket_depth > 0.0]
    return Way(
        id=_in_words(choice, locks, [retainer, locator, other], cut) or unchanged,
        locks=sorted(locks),
        retainer=retainer,
        locator=locator,
        other_valve=other,
        pockets_cut=[one.line.id for one in cut],
        parts_changed=standing.parts,
        shim_count=standing.shims,
        least_to_spare=math.nan if math.isinf(standing.tight) else -standing.tight,
        shim_choice_proven=judged.shim_choice_proven,
        puts_right=standing.puts_right and not standing.open,
        may_put_right=standing.puts_right,
        verdict=judged.verdict,
        missed=missed_checks(judged),
        positions=[_line(request, kept, one) for one in judged.valves],
    )


def _in_words(choice: Choice, locks: list[str], parts: list[str | None], cut: Sequence[ValveJudged]) -> str:
    """What is changed, the parts by their ids."""
    told = [" and ".join(sorted(locks)) + (" at some" if len(choice.locks) > 1 else "")] if locks else []
    told += [part for part in parts if part is not None]
    if cut:
        where = ", ".join(one.line.id for one in cut[:3]) + (" and more" if len(cut) > 3 else "")  # noqa: PLR2004 - a name has room for so many
        told.append(f"{'pocket' if len(cut) == 1 else 'pockets'} deeper at {where}")
    return " + ".join(told)


def _line(request: WaysOutRequest, kept: Kept, one: ValveJudged) -> WayLine:
    sheet, changed = one.line, one.changed
    verdict, decided_by = decide(one.judged)
    place = changed.locks
    return WayLine(
        id=sheet.id,
        valve=sheet.valve,
        locks=None if place == AS_FITTED else id_of(request.catalogue, "locks", kept, place),
        pocket_depth=changed.pocket_depth,
        bare_height=sheet.bare_height,
        shims=sheet.shims,
        shim_stack=sheet.shim_stack,
        installed_height=sheet.installed_height,
        seat_load=sheet.seat_load,
        open_load=sheet.open_load,
        installed_height_check=sheet.installed_height_check,
        seat_load_check=sheet.seat_load_check,
        open_load_check=sheet.open_load_check,
        coil_bind_clearance_check=sheet.coil_bind_clearance_check,
        retainer_to_seal_clearance_check=sheet.retainer_to_seal_clearance_check,
        tip_above_retainer_check=one.checks.get("tip_above_retainer_check"),  # type: ignore[arg-type] # a length
        retainer_to_rocker_check=one.checks.get("retainer_to_rocker_check"),  # type: ignore[arg-type] # a length
        pocket_floor_check=one.checks.get("pocket_floor_check"),  # type: ignore[arg-type] # a length
        float_reserve_check=None if sheet.valve_float is None else sheet.valve_float.float_reserve_check,
        surge_ratio_check=None if sheet.valve_float is None else sheet.valve_float.surge_ratio_check,
        verdict=verdict,
        decided_by=decided_by,
    )
