"""The assembly sheet as plain text, for a terminal or a printer."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from typing import Final

from headbench.api.assembly_sheet import AssemblySheet, BankLine, PositionLine
from headbench.api.checks import LengthCheck, PercentCheck, RatioCheck, VerdictName
from headbench.api.spreads import ForceSpread, LengthSpread, MassSpread

_WIDTH: Final = 118
_OPEN: Final = "__"
_WORDS: Final[dict[VerdictName, str]] = {
    "accept": "accept",
    "borderline": "borderline",
    "not_measured": "NOT MEASURED",
    "reject": "REJECT",
}
_MARKS: Final[dict[VerdictName, str]] = {"accept": " ", "borderline": "~", "not_measured": "?", "reject": "!"}
_PLACES: Final = {
    "in": 4,
    "mm": 3,
    "lbf": 1,
    "N": 1,
    "kgf": 2,
    "g": 1,
    "kg": 4,
    "oz": 3,
    "lb": 4,
    "%": 1,
    "rpm": 0,
    "times": 1,
}
_LEAST_PLACES: Final = {"in": 3, "mm": 2}
"""Places a length keeps however round it is."""

Row = Sequence[str]


def as_text(sheet: AssemblySheet) -> str:
    """The whole sheet: a table per bank, then what to lay out, what is open, what was found."""
    units = sheet.units
    title = " - ".join(name for name in ("Assembly sheet", sheet.job.reference, sheet.job.head) if name)
    lines = [
        title,
        "=" * len(title),
        f"Units: length {units.length}, force {units.force}, mass {units.mass}.",
        f"{_OPEN} is not measured yet. Beside a number: ! misses its limit, ? cannot be judged yet, ~ is borderline.",
        "",
        f"VERDICT: {_WORDS[sheet.verdict]}",
        *_limits(sheet),
    ]
    by_id = {position.id: position for position in sheet.positions}
    for bank in sheet.banks:
        lines += ["", *_bank(bank, [by_id[name] for name in bank.positions], sheet)]
    lines += ["", "What misses its limit", *_bullets([*_misses(sheet)], "  -")]
    lines += ["", "Shims to lay out", *_shims(sheet)]
    lines += ["", "What each set runs to", *_spreads(sheet)]
    lines += ["", f"Still to be measured or stated ({len(sheet.open_items)})"]
    lines += _bullets([item.detail for item in sheet.open_items], "[ ]")
    lines += ["", "Notes", *_bullets([note.detail for note in sheet.notes], "  -")]
    lines += ["", "Cautions", *_bullets(sheet.cautions, "  *")]
    lines += ["", f"Measured by {'_' * 30}  Checked by {'_' * 30}  Date {'_' * 12}"]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _bank(bank: BankLine, positions: Sequence[PositionLine], sheet: AssemblySheet) -> list[str]:
    name = bank.bank or sheet.job.head or "head"
    header = (
        "pos",
        "valve",
        "spring",
        "measured",
        "deduct",
        "shims",
        "installed",
        "off",
        "seat load",
        "lift",
        "open load",
        "coil bind",
        "to seal",
        "moving",
        *(["float rpm"] if _has_float(sheet) else []),
        "verdict",
    )
    rows = [_row(position, sheet) for position in positions]
    return [f"{name}: {_WORDS[bank.verdict]}", *_table(header, rows)]


def _has_float(sheet: AssemblySheet) -> bool:
    return any(position.valve_float for position in sheet.positions)


def _row(position: PositionLine, sheet: AssemblySheet) -> Row:
    length, force, mass = sheet.units.length, sheet.units.force, sheet.units.mass
    return (
        position.id,
        position.valve,
        position.spring or _OPEN,
        _number(position.measured_height, length),
        _number(position.deduction, length),
        "+".join(_number(shim, length, shortest=True) for shim in position.shims)
        or ("-" if position.needed else _OPEN),
        _number(position.installed_height, length),
        _checked(position.installed_height_check, length, signed=True),
        _number(position.seat_load, force) + _mark(position.seat_load_check),
        _number(position.valve_lift, length),
        _number(position.open_load, force) + _mark(position.open_load_check),
        _checked(position.coil_bind_clearance_check, length),
        _checked(position.retainer_to_seal_clearance_check, length),
        _number(position.moving_mass, mass),
        *(_float(position) if _has_float(sheet) else []),
        _WORDS[position.verdict],
    )


def _float(position: PositionLine) -> Row:
    found = position.valve_float
    return [] if found is None else [_number(found.float_speed, "rpm") + _MARKS[found.verdict]]


_CHECKS: Final = {
    "installed_height_check": "height",
    "seat_load_check": "seat load",
    "open_load_check": "open load",
    "coil_bind_clearance_check": "coil bind",
    "retainer_to_seal_clearance_check": "retainer to seal",
    "retainer_to_rocker_check": "retainer to rocker",
    "seal_to_spring_check": "seal to spring",
    "load_loss": "load lost against the rating",
    "rating_check": "load against the rating",
}
"""The checks of a position by their fields, and what the sheet calls them."""

_FLOAT_CHECKS: Final = {"float_reserve": "float reserve", "surge_ratio": "surge ratio"}
"""Likewise those of its float."""

Check = LengthCheck | PercentCheck | RatioCheck

_RULES: Final = {"at_least": "at least ", "at_most": "at most ", "within": "within +/-"}


def _checks(position: PositionLine) -> Iterator[tuple[str, Check]]:
    """Every check that applies, by its name."""
    for holder, checks in ((position, _CHECKS), (position.valve_float, _FLOAT_CHECKS)):
        for field, name in checks.items():
            check: Check | None = getattr(holder, field, None)
            if check is not None:
                yield name, check


def _unit(check: Check, sheet: AssemblySheet) -> str:
    match check:
        case LengthCheck():
            return sheet.units.length
        case PercentCheck():
            return "%"
        case RatioCheck():
            return "times"


def _limit(check: Check, sheet: AssemblySheet) -> str:
    unit = _unit(check, sheet)
    return f"{_RULES[check.rule]}{_number(check.limit, unit, shortest=True)} {unit}"


def _limits(sheet: AssemblySheet) -> list[str]:
    """What everything on the sheet was compared with."""
    found: dict[str, str] = {}
    for position in sheet.positions:
        for name, check in _checks(position):
            found.setdefault(name, _limit(check, sheet))
    wrapper = textwrap.TextWrapper(_WIDTH, initial_indent="Limits: ", subsequent_indent=" " * 8)
    return wrapper.wrap("; ".join(f"{name} {limit}" for name, limit in found.items()) + ".")


def _misses(sheet: AssemblySheet) -> Iterator[str]:
    """A sentence for every check that was rejected."""
    for position in sheet.positions:
        for name, check in _checks(position):
            if check.verdict != "reject":
                continue
            unit = _unit(check, sheet)
            if check.value is None or check.to_spare is None:
                yield f"{position.id}: {name}; limit {_limit(check, sheet)}, missed already with the valve shut."
            else:
                by = _number(-check.to_spare, unit, shortest=True)
                value = _number(check.value, unit, signed=check.rule == "within", shortest=True)
                yield f"{position.id}: {name} {value} {unit}; limit {_limit(check, sheet)}, missed by {by} {unit}."
        if position.seat_load == 0.0:
            yield f"{position.id}: its springs push nothing with the valve shut."


def _shims(sheet: AssemblySheet) -> list[str]:
    laid = [total for total in sheet.shim_totals if total.count]
    if not laid:
        return ["  none"]
    unit = sheet.units.length
    return [f"  {total.count:3d} x {_number(total.thickness, unit, shortest=True)} {unit}" for total in laid]


def _spreads(sheet: AssemblySheet) -> list[str]:
    rows: list[Row] = []
    for kind, spreads in (("intake", sheet.spreads.intake), ("exhaust", sheet.spreads.exhaust)):
        if spreads is None:
            continue
        for name, spread, unit in (
            ("installed height", spreads.installed_height, sheet.units.length),
            ("seat load", spreads.seat_load, sheet.units.force),
            ("open load", spreads.open_load, sheet.units.force),
            ("coil bind", spreads.coil_bind_clearance, sheet.units.length),
            ("retainer to seal", spreads.retainer_to_seal_clearance, sheet.units.length),
            ("moving mass", spreads.moving_mass, sheet.units.mass),
        ):
            if spread.count:
                rows.append(_spread_row(kind, name, spread, unit))
    return _table(("valves", "what", "of", "smallest", "at", "largest", "at", "spread", "unit"), rows)


def _spread_row(kind: str, name: str, spread: LengthSpread | ForceSpread | MassSpread, unit: str) -> Row:
    return (
        kind,
        name,
        str(spread.count),
        _number(spread.smallest, unit),
        spread.smallest_at or "",
        _number(spread.largest, unit),
        spread.largest_at or "",
        # the difference of what stands beside it, so that whoever checks it finds it right
        _number(_rounded(spread.largest, unit) - _rounded(spread.smallest, unit), unit),
        unit,
    )


def _rounded(value: float | None, unit: str) -> float:
    return round(value or 0.0, _PLACES.get(unit, 3))


def _checked(check: LengthCheck, unit: str, *, signed: bool = False) -> str:
    return _number(check.value, unit, signed=signed) + _mark(check)


def _mark(check: LengthCheck | PercentCheck | None) -> str:
    return " " if check is None else _MARKS[check.verdict]


def _number(value: float | None, unit: str, *, signed: bool = False, shortest: bool = False) -> str:
    if value is None:
        return _OPEN
    text = f"{value:{'+' if signed and value else ''}.{_PLACES.get(unit, 3)}f}"
    if not shortest:
        return text
    least = _LEAST_PLACES.get(unit, 0)
    whole, _, fraction = text.partition(".")
    fraction = fraction.rstrip("0").ljust(least, "0")
    return f"{whole}.{fraction}" if fraction else whole


def _table(header: Row, rows: Sequence[Row]) -> list[str]:
    widths = [max(map(len, column)) for column in zip(header, *rows, strict=True)]
    cells = [[cell.rjust(width) for cell, width in zip(row, widths, strict=True)] for row in (header, *rows)]
    lines = ["  " + "  ".join(row) for row in cells]
    return [lines[0], "  " + "  ".join("-" * width for width in widths), *lines[1:]]


def _bullets(sentences: Sequence[str], bullet: str) -> list[str]:
    if not sentences:
        return ["  nothing"]
    wrapper = textwrap.TextWrapper(_WIDTH, initial_indent=f"{bullet} ", subsequent_indent=" " * (len(bullet) + 1))
    return [line for sentence in sentences for line in wrapper.wrap(sentence)]
