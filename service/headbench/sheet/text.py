"""The assembly sheet as plain text, for a terminal or a printer."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from typing import Final

from headbench import units
from headbench.api.head.job_notes import Trusted
from headbench.api.head.sheet import AssemblySheet, BankLine, PositionLine, Spreads
from headbench.api.vocabulary.checks import ForceCheck, LengthCheck, MassCheck, PercentCheck, RatioCheck, VerdictName
from headbench.api.vocabulary.saying import in_places
from headbench.api.vocabulary.spreads import ForceSpread, LengthSpread, MassSpread

Check = LengthCheck | PercentCheck | ForceCheck | MassCheck | RatioCheck

_WIDTH: Final = 118
_OPEN: Final = "__"
_WORDS: Final[dict[VerdictName, str]] = {
    "accept": "accept",
    "borderline": "borderline",
    "not_measured": "NOT MEASURED",
    "reject": "REJECT",
}
_MARKS: Final[dict[VerdictName, str]] = {"accept": " ", "borderline": "~", "not_measured": "?", "reject": "!"}
_CARRIED: Final = "*"
_READ: Final = "^"
_PERCENT: Final = "%"
_TIMES: Final = "times"
_PURE: Final = {_PERCENT: "percent", _TIMES: "ratio"}
"""Numbers without a unit: how the sheet writes them, and what `units.places` calls them."""

Row = Sequence[str]


def as_text(sheet: AssemblySheet) -> str:
    """The whole sheet: a table per bank, then what is out of limits, shims needed, what is open, what was found."""
    used, job = sheet.units, sheet.job
    title = " - ".join(name for name in ("Assembly sheet", job.reference, job.head) if name)
    lines = [
        title,
        "=" * len(title),
        *_job(sheet),
        f"Units: length {used.length}, load {used.force}, mass {used.mass}.",
        (
            f"{_OPEN} is not measured yet. Beside a number: ! out of limits, ~ for a person to decide, ? cannot be "
            "judged yet,"
        ),
        f"{_CARRIED} off target but its seat load was tested and decides, {_READ} measured with the shims in.",
        "",
        f"VERDICT: {_verdict(sheet)}",
        *_worst(sheet.worst_positions),
        *_limits(sheet),
    ]
    by_id = {position.id: position for position in sheet.positions}
    for bank in sheet.banks:
        lines += ["", *_bank(bank, [by_id[name] for name in bank.positions], sheet)]
    lines += ["", "Out of limits", *_bullets([*_misses(sheet)], "  -")]
    if sheet.waived_checks:
        lines += ["", "Taken on trust", *_bullets([_trusted(one) for one in sheet.waived_checks], "  -")]
    lines += ["", "Shims needed", *_shims(sheet)]
    lines += ["", "Spread, intake and exhaust", *_spreads(sheet)]
    lines += ["", f"Still to measure ({len(sheet.open_items)})"]
    lines += _bullets([item.detail for item in sheet.open_items], "[ ]")
    remarks = [*_remarks(sheet)]
    if remarks:
        lines += ["", "Remarks and parts fitted", *_bullets(remarks, "  -")]
    lines += ["", "Notes", *_bullets([note.detail for note in sheet.notes], "  -")]
    lines += ["", "Cautions", *_bullets(sheet.cautions, "  *")]
    lines += ["", f"Measured by {'_' * 30}  Checked by {'_' * 30}  Date {'_' * 12}"]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _job(sheet: AssemblySheet) -> Iterator[str]:
    for name, value in (("Customer", sheet.job.customer), ("Engine", sheet.job.engine)):
        if value is not None:
            yield f"{name}: {value}"


def _verdict(sheet: AssemblySheet) -> str:
    counts = sheet.verdict_counts
    told = ", ".join(
        f"{count} {word}"
        for count, word in (
            (counts.reject, "rejected"),
            (counts.not_measured, "not measured"),
            (counts.borderline, "borderline"),
            (counts.accept, "accepted"),
        )
        if count
    )
    trusted = len(sheet.waived_checks)
    but = f"; accepted but for {trusted} taken on trust" if trusted and sheet.verdict_with_waivers == "accept" else ""
    return f"{_WORDS[sheet.verdict]} ({told}{but})"


def _worst(positions: Sequence[str]) -> Iterator[str]:
    if positions:
        yield f"Look first at: {', '.join(positions)}"


def _bank(bank: BankLine, positions: Sequence[PositionLine], sheet: AssemblySheet) -> list[str]:
    name = bank.bank or sheet.job.head or "head"
    header = (
        "pos",
        "valve",
        "spring",
        "measured",
        "gauge offset",
        "shims",
        "installed",
        "vs target",
        "seat load",
        "lift",
        "open load",
        "bind clr",
        "seal clr",
        f"mass {sheet.units.mass}",
        *(["float rpm"] if _has_float(sheet) else []),
        "verdict",
    )
    rows = [_row(position, sheet) for position in positions]
    return [f"{name}: {_WORDS[bank.verdict]}", *_table(header, rows)]


def _has_float(sheet: AssemblySheet) -> bool:
    return any(position.valve_float for position in sheet.positions)


def _row(position: PositionLine, sheet: AssemblySheet) -> Row:
    length, force, mass = sheet.units.length, sheet.units.force, sheet.units.mass
    shims = "+".join(in_places(shim, length) for shim in position.shims)
    return (
        position.id,
        position.valve,
        position.spring or _OPEN,
        _number(position.measured_height, length),
        _number(position.deduction + position.locator_thickness, length),
        shims or (_OPEN if position.shim_needed is None else "none"),
        _number(position.installed_height, length) + (" " if position.height_with_shims is None else _READ),
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
    return [_OPEN] if found is None else [_number(found.float_speed, "rpm") + _MARKS[found.verdict]]


_CHECKS: Final = {
    "installed_height_check": "installed height vs target",
    "seat_load_check": "seat load vs target",
    "open_load_check": "open load vs target",
    "coil_bind_clearance_check": "coil-bind clearance",
    "retainer_to_seal_clearance_check": "retainer-to-seal clearance",
    "retainer_to_rocker_check": "retainer to rocker",
    "seal_to_spring_check": "seal to spring",
    "load_loss_check": "load lost against the rating",
    "rated_load_check": "load against the rating",
}
"""The checks of a position by their fields, and what the sheet calls them."""

_FLOAT_CHECKS: Final = {"float_reserve_check": "float reserve", "surge_ratio_check": "surge ratio"}
"""Likewise those of its float."""

_RULES: Final = {"at_least": "min ", "at_most": "max ", "within": "+/- "}


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
        case ForceCheck():
            return sheet.units.force
        case MassCheck():
            return sheet.units.mass
        case PercentCheck():
            return _PERCENT
        case RatioCheck():
            return _TIMES


def _limit(check: Check, sheet: AssemblySheet) -> str:
    unit = _unit(check, sheet)
    return f"{_RULES[check.rule]}{_shown(check.limit, unit)}"


def _limits(sheet: AssemblySheet) -> list[str]:
    """What everything on the sheet was compared with; a limit that differs by valve is listed with each."""
    found: dict[str, list[str]] = {}
    for position in sheet.positions:
        for name, check in _checks(position):
            own = _limit(check, sheet)
            told = found.setdefault(name, [])
            if own not in told:
                told.append(own)
    wrapper = textwrap.TextWrapper(_WIDTH, initial_indent="Limits: ", subsequent_indent=" " * 8)
    return wrapper.wrap("; ".join(f"{name} {' or '.join(told)}" for name, told in found.items()) + ".")


def _misses(sheet: AssemblySheet) -> Iterator[str]:
    """A sentence for every check that was missed; what would mend it stands in the notes."""
    for position in sheet.positions:
        for name, check in _checks(position):
            if check.verdict not in {"reject", "borderline"} or not check.counts_toward_verdict:
                continue
            unit = _unit(check, sheet)
            decides = "REJECT" if check.verdict == "reject" else "for a person to decide"
            if check.value is None or check.to_spare is None:
                yield f"{position.id}: {name}, {_limit(check, sheet)}: missed with the valve closed already; {decides}."
            else:
                value = _shown(check.value, unit, signed=check.rule == "within")
                by = _shown(-check.to_spare, unit)
                yield f"{position.id}: {name} {value}, {_limit(check, sheet)}: missed by {by}; {decides}."
        if position.seat_load == 0.0:
            yield f"{position.id}: no seat load at its installed height; REJECT."
    for kind, spreads in _kinds(sheet):
        for what in ("installed_height", "seat_load", "open_load", "moving_mass"):
            check = getattr(spreads, f"{what}_spread_check")
            if check is not None and check.verdict in {"reject", "borderline"}:
                unit = _unit(check, sheet)
                yield (
                    f"{kind} {what.replace('_', ' ')} spread {_shown(check.value, unit)}, {_limit(check, sheet)}: "
                    f"missed by {_shown(-check.to_spare, unit)}."
                )


def _trusted(one: Trusted) -> str:
    what = (_CHECKS | _FLOAT_CHECKS)[one.check]
    return f"{one.position}: {what} ({_WORDS[one.verdict]}) taken on trust by {one.accepted_by}: {one.reason}"


def _remarks(sheet: AssemblySheet) -> Iterator[str]:
    for name, remarks, parts in (
        ("Job", sheet.job.remarks, sheet.job.parts),
        *((position.id, position.remarks, position.parts) for position in sheet.positions),
    ):
        if remarks:
            yield f"{name}: {remarks}"
        if parts:
            yield f"{name}, parts fitted: {'; '.join(parts)}"


def _shims(sheet: AssemblySheet) -> list[str]:
    laid = [total for total in sheet.shim_totals if total.count]
    if not laid:
        return ["  none"]
    return [f"  {total.count:3d} x {_shown(total.thickness, sheet.units.length)}" for total in laid]


def _kinds(sheet: AssemblySheet) -> Iterator[tuple[str, Spreads]]:
    for kind, spreads in (("intake", sheet.spreads.intake), ("exhaust", sheet.spreads.exhaust)):
        if spreads is not None:
            yield kind, spreads


def _spreads(sheet: AssemblySheet) -> list[str]:
    rows: list[Row] = []
    for kind, spreads in _kinds(sheet):
        for name, spread, unit in (
            ("installed height", spreads.installed_height, sheet.units.length),
            ("seat load", spreads.seat_load, sheet.units.force),
            ("open load", spreads.open_load, sheet.units.force),
            ("coil-bind clearance", spreads.coil_bind_clearance, sheet.units.length),
            ("retainer to seal", spreads.retainer_to_seal_clearance, sheet.units.length),
            ("moving mass", spreads.moving_mass, sheet.units.mass),
        ):
            if spread.count:
                rows.append(_spread_row(kind, name, spread, unit))
    return _table(("valves", "what", "count", "smallest", "at", "largest", "at", "spread", "unit"), rows)


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
    return round(value or 0.0, _most_places(unit))


def _most_places(unit: str) -> int:
    places = units.places(_PURE.get(unit, unit))
    return 3 if places is None else places.most


def _checked(check: LengthCheck, unit: str, *, signed: bool = False) -> str:
    return _number(check.value, unit, signed=signed) + _mark(check)


def _mark(check: LengthCheck | PercentCheck | None) -> str:
    if check is None:
        return " "
    return _MARKS[check.verdict] if check.counts_toward_verdict or check.verdict == "accept" else _CARRIED


def _number(value: float | None, unit: str, *, signed: bool = False) -> str:
    """A number in a table: every place a bench reads, so that columns line up."""
    if value is None:
        return _OPEN
    places = _most_places(unit)
    value = round(value, places) + 0.0
    return f"{value:{'+' if signed and value else ''}.{places}f}"


def _shown(value: float, unit: str, *, signed: bool = False) -> str:
    """A number in a sentence, with its unit."""
    text = in_places(value, _PURE.get(unit, unit))
    return f"{'+' if signed and value > 0.0 else ''}{text} {unit}"


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
