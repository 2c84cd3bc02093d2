"""Sheet sets: what each kind of valve and each bank runs to."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

import msgspec

from headbench.api.head.job import Position
from headbench.api.head.sheet import BankLine, PositionLine, Spreads, SpreadsByKind
from headbench.api.head.sheet_checks import counted, worst_named
from headbench.api.vocabulary.checks import VERDICTS, ForceCheck, LengthCheck, MassCheck, VerdictName, worst_of
from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.spreads import ForceSpread, LengthSpread, MassSpread, spread_as
from headbench.api.vocabulary.targets import Limits, named_limit
from headbench.calc.head.assembly import ValveSheet
from headbench.calc.judging.verdicts import Verdict, at_most, setting_verdict

_QUANTITIES: Final = {"installed_height": "length", "seat_load": "force", "open_load": "force", "moving_mass": "mass"}
"""The spreads that a job may limit, and what they are of."""
_LIMITED: Final[dict[str, type[LengthCheck | ForceCheck | MassCheck]]] = {
    "installed_height": LengthCheck,
    "seat_load": ForceCheck,
    "open_load": ForceCheck,
    "moving_mass": MassCheck,
}
_BY_HEIGHT: Final = {"installed_height", "seat_load", "open_load"}
"""Spreads that rest on the installed heights."""

SpreadCheck = LengthCheck | ForceCheck | MassCheck


def spreads_by_kind(
    sheet: Sequence[ValveSheet], limits: Limits, valves: Sequence[ValveKind], ids: Sequence[str]
) -> SpreadsByKind:
    """What each kind of valve runs to; an intake valve is never compared with an exhaust valve."""
    spreads: dict[ValveKind, Spreads | None] = {}
    for kind in KINDS:
        own = [place for place, valve in enumerate(valves) if valve == kind]
        spreads[kind] = _spreads([sheet[place] for place in own], limits, kind, [ids[place] for place in own])
    return SpreadsByKind(**spreads)


def _spreads(own: Sequence[ValveSheet], limits: Limits, kind: ValveKind, ids: Sequence[str]) -> Spreads | None:
    if not own:
        return None
    limited = {
        "installed_height": [one.height.installed_height for one in own],
        "seat_load": [one.seat_load for one in own],
        "open_load": [one.open_load for one in own],
        "moving_mass": [one.moving_mass.total for one in own],
    }
    trusted = all(one.trusted for one in own)
    checks = {
        f"{name}_spread_check": _spread_check(name, values, limits, kind, sure=trusted or name not in _BY_HEIGHT)
        for name, values in limited.items()
    }
    return Spreads(
        installed_height=spread_as(LengthSpread, limited["installed_height"], ids),
        seat_load=spread_as(ForceSpread, limited["seat_load"], ids),
        open_load=spread_as(ForceSpread, limited["open_load"], ids),
        coil_bind_clearance=spread_as(LengthSpread, [one.coil_bind.clearance for one in own], ids),
        retainer_to_seal_clearance=spread_as(LengthSpread, [one.retainer_to_seal_clearance for one in own], ids),
        moving_mass=spread_as(MassSpread, limited["moving_mass"], ids),
        **checks,  # type: ignore[arg-type] # each field's own kind of check, by its name
    )


def _spread_check(
    name: str, values: Sequence[float], limits: Limits, kind: ValveKind, *, sure: bool
) -> SpreadCheck | None:
    """A set's spread against what the job allows; not measured while a position that could widen it is open.

    `sure` says whether nothing is in doubt about what the values rest on.
    """
    most = named_limit(limits, f"{name}_spread_maximum", kind)
    if most is None:
        return None
    known = [value for value in values if not math.isnan(value)]
    width = max(known) - min(known) if known else math.nan
    plain = at_most(width, most)
    verdict = setting_verdict(plain, misses_reject=limits.off_target == "reject")
    if (len(known) < len(values) or not sure) and plain != Verdict.REJECT:
        verdict = int(Verdict.NOT_MEASURED)
    return _LIMITED[name](
        value=width,
        limit=most,
        rule="at_most",
        to_spare=most - width,
        check_class="setting",
        verdict=VERDICTS[verdict],
    )


def spread_checks(spreads: SpreadsByKind) -> Iterator[tuple[ValveKind, str, SpreadCheck]]:
    """The spreads that the job limits: kind of valve, what it is of, the check."""
    for kind in KINDS:
        own: Spreads | None = getattr(spreads, kind)
        for name in _LIMITED if own is not None else ():
            check: SpreadCheck | None = getattr(own, f"{name}_spread_check")
            if check is not None:
                yield kind, name, check


def naming_spreads(
    items: Iterable[OpenItem], spreads: SpreadsByKind, positions: Sequence[Position]
) -> Iterator[OpenItem]:
    """Open items with the spreads that wait for them among what they are needed for."""
    waiting = [(kind, name) for kind, name, check in spread_checks(spreads) if check.verdict == "not_measured"]
    if not waiting:
        yield from items
        return
    kinds = {position.id: {position.valve} for position in positions}
    by_spring: dict[str | None, set[ValveKind]] = {}
    for position in positions:
        by_spring.setdefault(position.spring, set()).add(position.valve)
    for item in items:
        if item.position is not None:
            of = kinds[item.position]
        elif item.spring is not None:
            of = by_spring.get(item.spring, set())
        else:
            of = {kind for kind in KINDS if f"/{kind}" in item.pointer} or set(KINDS)
        held = [
            f"{name}_spread_check"
            for kind, name in waiting
            if kind in of
            and ({name, f"{name}_check"} | ({"installed_height_check"} if name in _BY_HEIGHT else set()))
            & set(item.needed_for)
        ]
        yield msgspec.structs.replace(item, needed_for=list(dict.fromkeys([*item.needed_for, *held])))


def spread_notes(spreads: SpreadsByKind) -> Iterator[Note]:
    """Sets that differ by more than the job allows, and the two to look at."""
    for kind, name, check in spread_checks(spreads):
        if check.verdict not in {"borderline", "reject"} or check.value is None:
            continue
        found = getattr(getattr(spreads, kind), name)
        quantity = _QUANTITIES[name]
        by, most = (say(value, quantity) for value in (check.value, check.limit))
        detail = (
            f"{kind} {name.replace('_', ' ')}s spread {by}, {most} is allowed: {found.smallest_at} is lowest, "
            f"{found.largest_at} highest; change the shims, springs or parts of one of them."
        )
        yield note("spread_wide", f"/limits/{name}_spread_maximum", f"{detail[0].upper()}{detail[1:]}")


def bank_lines(banks: Sequence[str | None], lines: Sequence[PositionLine]) -> list[BankLine]:
    """Every bank with the worst of its positions, in the order they come first."""
    members: dict[str | None, list[PositionLine]] = {}
    for bank, line in zip(banks, lines, strict=True):
        members.setdefault(bank, []).append(line)
    found: list[BankLine] = []
    for bank, own in members.items():
        verdicts: list[VerdictName] = [line.verdict for line in own]
        found.append(
            BankLine(
                bank=bank,
                positions=[line.id for line in own],
                verdict=worst_of(verdicts),
                verdict_counts=counted(verdicts),
                worst_positions=worst_named(own),
            )
        )
    return found
