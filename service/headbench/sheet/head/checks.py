"""The checks of a head in words: what each is called, its limit, and a sentence for every miss."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from headbench.api.head.job_notes import Trusted
from headbench.api.head.sheet import OddMassCheck, PositionLine, Spreads, SpreadsByKind
from headbench.api.masses.valve_mass import odd_words
from headbench.api.vocabulary.checks import ForceCheck, LengthCheck, MassCheck, PercentCheck, RatioCheck
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.quantities import UnitsUsed
from headbench.api.vocabulary.targets import Target, Targets
from headbench.sheet.head.part import Part
from headbench.sheet.model import Cell
from headbench.sheet.numbers import MARKS, WORDS, number, shown, unit_of

Check = LengthCheck | PercentCheck | ForceCheck | MassCheck | RatioCheck

CARRIED: Final = "*"
"""Beside a height off its target whose load was tested and decides."""

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
    "odd_mass_check": "part mass against its set",
}
"""The checks of a position by their fields, and what a sheet calls them."""

_FLOAT_CHECKS: Final = {"float_reserve_check": "float reserve", "surge_ratio_check": "surge ratio"}
"""Likewise those of its float."""

_RULES: Final = {"at_least": "min ", "at_most": "max ", "within": "+/- "}
_QUANTITIES: Final[dict[type, str]] = {
    LengthCheck: "length",
    ForceCheck: "force",
    MassCheck: "mass",
    OddMassCheck: "mass",
    PercentCheck: "percent",
    RatioCheck: "ratio",
}


def unit(check: Check, used: UnitsUsed) -> str:
    """The unit of a check's numbers."""
    return unit_of(_QUANTITIES[type(check)], used)


def limit(check: Check, used: UnitsUsed) -> str:
    """What a check's value is compared with."""
    return f"{_RULES[check.rule]}{shown(check.limit, unit(check, used))}"


def checks(position: PositionLine) -> Iterator[tuple[str, Check]]:
    """Every check that applies to a position, by its name."""
    for holder, names in ((position, _CHECKS), (position.valve_float, _FLOAT_CHECKS)):
        for field, name in names.items():
            check: Check | None = getattr(holder, field, None)
            if check is not None:
                yield name, check


def aims(part: Part) -> list[tuple[str, str]]:
    """What a head was held against: what was wanted, and how near is good."""
    used = part.answer.units
    kinds = [one.valve for one in part.positions]
    return [("Wanted", wanted(part.request.targets, kinds, used)), ("Limits", limits(part.positions, used))]


def limits(positions: Sequence[PositionLine], used: UnitsUsed) -> str:
    """What everything was compared with; a limit that differs by valve is listed with each."""
    found: dict[str, list[str]] = {}
    for position in positions:
        for name, check in checks(position):
            if isinstance(check, OddMassCheck):
                continue
            own = limit(check, used)
            told = found.setdefault(name, [])
            if own not in told:
                told.append(own)
    return "; ".join(f"{name} {' or '.join(told)}" for name, told in found.items()) + "."


def wanted(targets: Targets, kinds: Sequence[ValveKind], used: UnitsUsed) -> str:
    """What the job aims at, kind by kind; kinds that want the same share a sentence."""
    told: dict[str, list[str]] = {}
    for kind in KINDS:
        target: Target | None = getattr(targets, kind)
        if kind in kinds and target is not None:
            told.setdefault(", ".join(_aims(target, used)) or "nothing", []).append(kind)
    return "; ".join(f"{' and '.join(kinds)} {aims}" for aims, kinds in told.items()) + "." if told else "nothing."


def _aims(target: Target, used: UnitsUsed) -> Iterator[str]:
    if target.installed_height is not None:
        yield shown(target.installed_height, used.length)
    for name, word in (("seat_load", "closed"), ("open_load", "open")):
        load, least, most = (getattr(target, f"{name}{end}") for end in ("", "_minimum", "_maximum"))
        ends = [
            f"{end} {shown(value, used.force)}" for end, value in (("min", least), ("max", most)) if value is not None
        ]
        loads = [*([shown(load, used.force)] if load is not None else []), *ends]
        if loads:
            yield f"{' '.join(loads)} {word}"


def misses(positions: Sequence[PositionLine], used: UnitsUsed, decide: str = WORDS["borderline"]) -> Iterator[str]:
    """A sentence for every check that was missed; what would mend it stands in the notes.

    `decide` is what is said where a person decides.
    """
    for position in positions:
        for name, check in checks(position):
            if check.verdict not in {"reject", "borderline"} or not check.counts_toward_verdict:
                continue
            decides = "REJECT" if check.verdict == "reject" else decide
            if isinstance(check, OddMassCheck):
                yield f"{position.id}: {_odd(position, check, used)} {decides[0].upper()}{decides[1:]}."
                continue
            told = f"{position.id}: {name}"
            if check.value is None or check.to_spare is None:
                yield f"{told}, {limit(check, used)}: missed with the valve closed already; {decides}."
            else:
                value = shown(check.value, unit(check, used), signed=check.rule == "within")
                by = shown(-check.to_spare, unit(check, used))
                yield f"{told} {value}, {limit(check, used)}: missed by {by}; {decides}."
        if position.seat_load == 0.0:
            yield f"{position.id}: no seat load at its installed height; REJECT."


def _odd(position: PositionLine, check: OddMassCheck, used: UnitsUsed) -> str:
    """A part that does not belong to its set, as the notes have it."""
    mass, others = (shown(one, unit(check, used)) for one in (check.mass, check.others))
    return odd_words(check.part.replace("_", " "), mass, position.valve, others)


def spread_misses(spreads: SpreadsByKind, used: UnitsUsed) -> Iterator[str]:
    """A sentence for every set that differs by more than the job allows."""
    for kind, own in by_kind(spreads):
        for what in ("installed_height", "seat_load", "open_load", "moving_mass"):
            check: Check | None = getattr(own, f"{what}_spread_check")
            if check is None or check.value is None or check.to_spare is None:
                continue
            if check.verdict in {"reject", "borderline"}:
                value, by = (shown(one, unit(check, used)) for one in (check.value, -check.to_spare))
                yield f"{kind} {what.replace('_', ' ')} spread {value}, {limit(check, used)}: missed by {by}."


def trusted(one: Trusted) -> str:
    """What somebody takes on trust, and why."""
    what = (_CHECKS | _FLOAT_CHECKS)[one.check]
    return f"{one.position}: {what} ({WORDS[one.verdict]}) taken on trust by {one.accepted_by}: {one.reason}"


def by_kind(spreads: SpreadsByKind) -> Iterator[tuple[str, Spreads]]:
    """The spreads of each kind of valve that there is."""
    for kind, own in (("intake", spreads.intake), ("exhaust", spreads.exhaust)):
        if own is not None:
            yield kind, own


def checked(check: Check, used: UnitsUsed, *, signed: bool = False) -> Cell:
    """A check's value in a table, marked."""
    return marked(check.value, unit(check, used), check, signed=signed)


def marked(value: float | None, written_in: str, check: Check | None, *, signed: bool = False) -> Cell:
    """A number in a table, marked by the check of it."""
    if check is None:
        return Cell(f"{number(value, written_in, signed=signed)} ")
    counts = check.counts_toward_verdict or check.verdict == "accept"
    mark = MARKS[check.verdict] if counts else CARRIED
    return Cell(number(value, written_in, signed=signed) + mark, check.verdict if counts else None)
