"""Sentences of ways: what is missed, what blocks, what would do it, each with its numbers."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from headbench.api.head.sheet_checks import NOTHING_HOLDS, AnyCheck
from headbench.api.vocabulary.checks import ForceCheck, LengthCheck, MassCheck, PercentCheck
from headbench.api.vocabulary.names import ValveKind
from headbench.api.vocabulary.saying import say, say_enough
from headbench.api.ways_out.judging import MISSED, KindJudged
from headbench.api.ways_out.lines import MissedCheck, WouldDo
from headbench.calc.heights.shim_stock import holds
from headbench.calc.ways_out.needs import Remedy
from headbench.calc.ways_out.trying import part_missed

_WORDS: Final = {
    "coil_bind_clearance_check": "coil-bind clearance",
    "retainer_to_seal_clearance_check": "retainer to seal at full lift",
    "tip_above_retainer_check": "tip above retainer",
    "retainer_to_rocker_check": "retainer to rocker",
    "pocket_floor_check": "floor left under the pocket",
    "seat_load_check": "seat load",
    "open_load_check": "open load",
    "float_reserve_check": "float reserve",
    "surge_ratio_check": "surge ratio",
}


BY_SHIMS: Final = frozenset(
    {"installed_height_check", "seat_load_check", "open_load_check", "coil_bind_clearance_check"}
)
"""Checks that more shims alone may put right."""


def said(value: float, check: AnyCheck | ForceCheck) -> str:
    """A number of a check with its unit."""
    match check:
        case LengthCheck():
            return say(value, "length")
        case ForceCheck():
            return say(value, "force")
        case MassCheck():
            return say(value, "mass")
        case PercentCheck():
            return f"{value:.1f} %"
        case _:
            return f"{value:.2f}"


def check_told(name: str, check: AnyCheck | None) -> str:
    """What a check misses, as a sentence goes on after the position's name."""
    if name == NOTHING_HOLDS or check is None or check.value is None or math.isnan(check.value):
        return "no load holds the valve closed" if name == NOTHING_HOLDS else f"{words_of(name)} is missed"
    off = check.value
    if name == "installed_height_check":
        return f"{said(abs(off), check)} {'tall' if off > 0.0 else 'short'}"
    if check.rule == "within":
        return f"{words_of(name)} {said(abs(off), check)} {'over' if off > 0.0 else 'under'}"
    end = "minimum" if check.rule == "at_least" else "maximum"
    if name in {"seat_load_check", "open_load_check"}:
        return f"{words_of(name)} {said(abs(off), check)} {'under' if check.rule == 'at_least' else 'over'} its target"
    return f"{words_of(name)} {said(off, check)}, {said(check.limit, check)} is the {end}"


def words_of(name: str) -> str:
    """What a check is called in a sentence."""
    return _WORDS.get(name, name.removesuffix("_check").replace("_", " "))


def missed_checks(judged: KindJudged) -> list[MissedCheck]:
    """What a way misses, the farthest past its limit first, what breaks parts before what is off its target."""
    found: list[tuple[bool, float, MissedCheck]] = []
    for valve in judged.valves:
        for name, verdict, breaks in valve.judged:
            if verdict in MISSED:
                check = valve.checks.get(name)
                one = MissedCheck(
                    position=valve.line.id, check=name, detail=f"{valve.line.id}: {check_told(name, check)}."
                )
                found.append((not breaks, -_past(check), one))
    for name, spread in judged.spreads:
        if spread.verdict in MISSED and spread.value is not None:
            most = said(spread.limit, spread)
            words = f"{name.replace('_', ' ')}s spread {said(spread.value, spread)}, {most} is allowed."
            told = f"{words[0].upper()}{words[1:]}"
            found.append((True, -_past(spread), MissedCheck(position=None, check=f"{name}_spread_check", detail=told)))
    # a sort keeps the order of the head among equals
    return [one for *_, one in sorted(found, key=lambda each: each[:2])]


def stands(missed: MissedCheck) -> str:
    """The same inside a sentence: "3E is 0.035 in short."."""
    told = missed.detail
    if missed.position is None:
        return f"{told[0].lower()}{told[1:]}"
    if missed.check == "installed_height_check":
        return told.replace(": ", " is ", 1)
    return told if missed.check == NOTHING_HOLDS else told.replace(": ", " has ", 1)


def _past(check: AnyCheck | ForceCheck | None) -> float:
    return math.inf if check is None or check.to_spare is None else part_missed(check.to_spare, check.limit)


def would_do(
    remedies: Iterable[Remedy],
    ids: Sequence[str],
    kind: ValveKind,
    in_stock: Sequence[int | None] | None,
    used_elsewhere: Sequence[int],
) -> Iterator[WouldDo]:
    """What single part would put a kind of valve right."""
    for one in remedies:
        amount = say_enough(abs(one.change), "length")
        more = one.change > 0.0
        cut = [ids[at] for at in one.places]
        what = {
            "locks_or_retainer": f"Locks or a retainer {amount} {'taller' if more else 'lower'}",
            "valve": f"A valve {amount} {'longer' if more else 'shorter'}",
            "locator": f"A locator {amount} {'thinner' if more else 'thicker'}",
            "pocket": f"A pocket up to {amount} deeper{f' at {listed(cut)}' if cut else ''}, floor allowing,",
        }[one.part]
        leaves = [ids[at] for at in one.leaves]
        enough = in_stock is None or holds(
            in_stock, [own + other for own, other in zip(one.used, used_elsewhere, strict=True)]
        )
        if one.spoils:
            reasons = list(dict.fromkeys(name for _, name in one.spoils))
            wrong = [
                f"{listed([ids[at] for at, name in one.spoils if name == each])} ({words_of(f'{each}_check')})"
                for each in reasons
            ]
            only = len(one.spoils) == 1
            then = f"{ids[one.spoils[0][0]]} is wrong ({words_of(f'{reasons[0]}_check')})"
            told = f"{what} won't do: then {then if only else f'{listed(wrong)} are wrong'}."
        else:
            but = f", but for {listed(leaves)}" if leaves else ""
            stock = "" if enough else ", with more shims than are in stock"
            once = ", once all is measured" if one.is_open else ""
            told = f"{what} {'may' if one.is_open else 'would'} put the {kind} valves right{but}{stock}{once}."
        yield WouldDo(
            part=one.part,
            change=one.change,
            leaves=leaves,
            spoils=[ids[at] for at, _ in one.spoils],
            stock_enough=enough,
            detail=told,
        )


def listed(names: Sequence[str]) -> str:
    """Names in a row, of many the first few."""
    shown = list(names[:_MOST_NAMED])
    if len(names) > _MOST_NAMED:
        shown.append(f"{len(names) - _MOST_NAMED} more")
    return f"{', '.join(shown[:-1])} and {shown[-1]}" if len(shown) > 1 else shown[0]


_MOST_NAMED: Final = 6
