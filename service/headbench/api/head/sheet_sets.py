"""Sheet sets: what each kind of valve and each bank runs to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Final

import msgspec
import numpy as np

from headbench.api.head.job import Position
from headbench.api.head.sheet import BankLine, PositionLine, Spreads, SpreadsByKind
from headbench.api.head.sheet_checks import counted, worst_named
from headbench.api.vocabulary.checks import ForceCheck, LengthCheck, MassCheck, VerdictName, verdict_names, worst_of
from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.quantities import written
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.spreads import ForceSpread, LengthSpread, MassSpread, spread_rows
from headbench.api.vocabulary.targets import Limits, limit_of, named_limit
from headbench.calc import FloatArray
from headbench.calc.head.assembly import HeadSheet
from headbench.calc.judging.verdicts import Verdict, at_most, setting_verdict

_SPREADS: Final = {
    "installed_height": (LengthSpread, "length"),
    "seat_load": (ForceSpread, "force"),
    "open_load": (ForceSpread, "force"),
    "coil_bind_clearance": (LengthSpread, "length"),
    "retainer_to_seal_clearance": (LengthSpread, "length"),
    "moving_mass": (MassSpread, "mass"),
}
_LIMITED: Final[dict[str, type[LengthCheck | ForceCheck | MassCheck]]] = {
    "installed_height": LengthCheck,
    "seat_load": ForceCheck,
    "open_load": ForceCheck,
    "moving_mass": MassCheck,
}
_BY_HEIGHT: Final = {"installed_height", "seat_load", "open_load"}
"""Spreads that rest on the installed heights."""

SpreadCheck = LengthCheck | ForceCheck | MassCheck


def spreads_by_kind(sheet: HeadSheet, limits: Limits, valves: Sequence[ValveKind], ids: Sequence[str]) -> SpreadsByKind:
    """What each kind of valve runs to; an intake valve is never compared with an exhaust valve."""
    values = np.stack(
        [
            sheet.heights.installed_height,
            sheet.seat_load,
            sheet.open_load,
            sheet.coil_bind.clearance,
            sheet.retainer_to_seal_clearance,
            sheet.moving_mass.total,
        ]
    )
    kinds = np.array(valves)
    spreads: dict[str, Spreads | None] = {}
    for kind in KINDS:
        own = np.flatnonzero(kinds == kind)
        rows = spread_rows(values[:, own], [ids[place] for place in own.tolist()])
        structs: dict[str, Any] = {
            name: struct(**row) for (name, (struct, _)), row in zip(_SPREADS.items(), rows, strict=True)
        }
        for name in _LIMITED:
            row = values[list(_SPREADS).index(name), own]
            sure = name not in _BY_HEIGHT or bool(sheet.trusted[own].all())
            structs[f"{name}_spread_check"] = _spread_check(name, row, limits, kind, sure=sure)
        spreads[kind] = Spreads(**structs) if len(own) else None
    return SpreadsByKind(**spreads)


def _spread_check(name: str, values: FloatArray, limits: Limits, kind: ValveKind, *, sure: bool) -> SpreadCheck | None:
    """A set's spread against what the job allows; not measured while a position that could widen it is open.

    `sure` says whether nothing is in doubt about what the values rest on.
    """
    if named_limit(limits, f"{name}_spread_maximum", kind) is None or not len(values):
        return None
    most = limit_of(limits, f"{name}_spread_maximum", kind)
    known = values[~np.isnan(values)]
    width = float(known.max() - known.min()) if len(known) else np.nan
    plain = at_most(np.array([width]), most)
    verdict = setting_verdict(plain, misses_reject=limits.off_target == "reject")
    if (len(known) < len(values) or not sure) and plain[0] != Verdict.REJECT:
        verdict = np.array([Verdict.NOT_MEASURED], dtype=np.int64)
    value, limit, spare = written(np.array([width, most, most - width]))
    return _LIMITED[name](
        value=value,
        limit=limit,
        rule="at_most",
        to_spare=spare,
        check_class="setting",
        verdict=verdict_names(verdict)[0],
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
        quantity = _SPREADS[name][1]
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
