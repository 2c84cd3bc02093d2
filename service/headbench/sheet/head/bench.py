"""The bench sheet: every reading, the shims, the verdicts, what is open, and what to mind at the work."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Final

from headbench.api.gauges.tester_readings import Reading
from headbench.api.head.left_out import NotFitted
from headbench.api.head.sheet import BankLine, PositionLine
from headbench.api.springs.load_curves import BenchReadings, RatedCurve
from headbench.api.springs.spring import OneSpringRead, Spring
from headbench.api.vocabulary.quantities import UnitsUsed, mean_of
from headbench.api.vocabulary.saying import in_places
from headbench.api.vocabulary.spreads import ForceSpread, LengthSpread, MassSpread
from headbench.sheet.head.checks import (
    CARRIED,
    aims,
    by_kind,
    checked,
    marked,
    misses,
    spread_misses,
)
from headbench.sheet.head.drawings import curves_drawn, head_drawn
from headbench.sheet.head.matched import matched
from headbench.sheet.head.outstanding import outstanding
from headbench.sheet.head.part import Part
from headbench.sheet.head.trust import on_trust
from headbench.sheet.model import (
    Block,
    Cell,
    Facts,
    Leaf,
    Pair,
    Points,
    Prose,
    Section,
    SideBySide,
    Signatures,
    Table,
    Verdict,
)
from headbench.sheet.numbers import MARKS, OPEN, WORDS, most_places, number, shown, units_told

READ: Final = "^"
"""Beside an installed height that was measured with the shims in."""
_IN_A_ROW: Final = 8
"""Positions that stand beside each other."""
_ALWAYS_WEIGHED: Final = frozenset({"valve", "retainer", "locks"})
"""Parts that every valve has; the others have a column where there are some."""
_LEGEND: Final = (
    f"{OPEN} is not measured yet. Beside a number: ! out of limits, ~ you decide, ? cannot be judged yet,",
    f"{CARRIED} off target but its seat load was tested and decides, {READ} measured with the shims in.",
)


def bench_leaf(part: Part) -> Leaf:
    """What the machinist works by and signs for."""
    answer, used = part.answer, part.answer.units
    positions = part.positions
    missed = [*misses(positions, used), *spread_misses(answer.spreads, used)]
    open_items = part.of_it(answer.open_items)
    notes = part.of_it(answer.notes)
    said = [*remarks(part)]
    sections: list[Section | Pair] = [
        Section("", [*_head(part), SideBySide([head_drawn(part), *curves_drawn(part)])]),
        *(_bank(part, bank) for bank in part.banks),
        Pair(
            [
                Section("Out of limits", [Points(missed)]),
                *waived(part),
                *([Section("Remarks and parts fitted", [Points(said)])] if said else []),
            ],
            [
                Section("Shims needed", [_shims(positions, used)]),
                *([_spreads(part)] if part.is_whole else []),
                Section(f"Still to measure ({len(open_items)})", [Points(open_items, "box")]),
            ],
        ),
        *matched(part),
        *outstanding(part),
        Pair(
            [Section("Readings", [_readings(part)])],
            [Section("Springs, as read", [_spring_readings(part)])] if part.springs else [],
        ),
        Section("After assembly, and after the first heat cycle", [*_after_assembly(part)]),
        Section("Notes", [Points(notes)]),
        Section("Cautions", [Points(answer.cautions, "caution")]),
        Section("", [Signatures(("Measured by", "Checked by", "Date"))]),
    ]
    return Leaf(part.name, sections)


def pair_leaf(whole: Part) -> Leaf:
    """What is about the heads of a pair together."""
    answer = whole.answer
    missed = [*spread_misses(answer.spreads, answer.units)]
    sections: list[Section | Pair] = [
        Section("", [Verdict(answer.verdict, counted(whole))]),
        Pair(
            [_spreads(whole)],
            [Section("Shims needed", [_shims(whole.positions, answer.units)]),
             Section("Sets out of limits", [Points(missed)])],
        ),
    ]  # fmt: skip
    return Leaf(" and ".join(whole.named(bank) for bank in whole.banks), sections)


def waived(part: Part) -> list[Section]:
    """What is taken on trust, if anything."""
    told = on_trust(part)
    return [Section("Taken on trust", [Points(told)])] if told else []


def job_facts(part: Part) -> list[tuple[str, str]]:
    """Whose job it is."""
    job = part.answer.job
    told = (("Customer", job.customer), ("Engine", job.engine))
    return [(name, value) for name, value in told if value is not None]


def remarks(part: Part) -> Iterator[str]:
    """What was written beside the numbers, and the parts fitted."""
    job = part.answer.job
    for name, said, fitted in (
        ("Job", job.remarks, job.parts),
        *((position.id, position.remarks, position.parts) for position in part.positions),
    ):
        if said:
            yield f"{name}: {said}"
        if fitted:
            yield f"{name}, parts fitted: {'; '.join(fitted)}"


def _head(part: Part) -> Iterator[Block]:
    answer, used = part.answer, part.answer.units
    yield Facts([*job_facts(part), ("Units", f"{units_told(used)}.")])
    yield Prose(_LEGEND)
    verdict = answer.verdict if part.is_whole else part.banks[0].verdict
    yield Verdict(verdict, counted(part))
    worst = answer.worst_positions if part.is_whole else part.banks[0].worst_positions
    yield Facts([*([("Look first at", ", ".join(worst))] if worst else []), *aims(part)])


def counted(part: Part, decide: str = WORDS["borderline"]) -> str:
    """How many positions came to what; `decide` is what those are called that a person decides on."""
    counts = Counter(position.verdict for position in part.positions)
    words = {"reject": "rejected", "not_measured": "not measured", "borderline": decide, "accept": "accepted"}
    told = ", ".join(f"{counts[verdict]} {word}" for verdict, word in words.items() if counts[verdict])  # type: ignore[index] # the four verdicts
    if part.not_fitted:
        told += f", {len(part.not_fitted)} not fitted: {', '.join(part.not_fitted)}"
    waived = len(part.answer.waived_checks)
    but = waived and part.is_whole and part.answer.verdict_with_waivers == "accept"
    return f"{told}; accepted but for {waived} taken on trust" if but else told


def _bank(part: Part, bank: BankLine) -> Section:
    answer = part.answer
    has_float = any(position.valve_float for position in answer.positions)
    header = (
        "pos", "valve", "spring", "measured", "subtract", "shims", "installed", "vs target", "seat load", "lift",
        "open load", "bind clr", "seal clr", f"mass ({answer.units.mass})", *(["float rpm"] if has_float else []),
        "verdict",
    )  # fmt: skip
    rows = [
        empty_row(one, len(header)) if isinstance(one, NotFitted) else _row(one, answer.units, has_float=has_float)
        for one in part.places
        if one.bank == bank.bank
    ]
    words = frozenset({0, 1, 2, len(header) - 1})
    return Section(part.heading(bank), [Table(header, rows, words)], bank.verdict)


def empty_row(place: NotFitted, columns: int) -> list[Cell]:
    """The row of a place where no valve is fitted."""
    return [Cell(place.id), Cell(place.valve), *(Cell("-") for _ in range(columns - 3)), Cell("not fitted")]


def _row(position: PositionLine, used: UnitsUsed, *, has_float: bool) -> list[Cell]:
    length, force = used.length, used.force
    return [
        Cell(position.id),
        Cell(position.valve),
        Cell(position.spring or OPEN),
        Cell(number(position.measured_height, length)),
        Cell(number(position.deduction + position.locator_thickness, length)),
        Cell(shims_laid(position, used)),
        installed(position, used),
        checked(position.installed_height_check, used, signed=True),
        marked(position.seat_load, force, position.seat_load_check),
        Cell(number(position.valve_lift, length)),
        marked(position.open_load, force, position.open_load_check),
        checked(position.coil_bind_clearance_check, used),
        checked(position.retainer_to_seal_clearance_check, used),
        Cell(number(position.moving_mass, used.mass)),
        *([_float(position)] if has_float else []),
        Cell(WORDS[position.verdict], position.verdict),
    ]


def installed(position: PositionLine, used: UnitsUsed) -> Cell:
    """An installed height, marked where it was measured and not figured."""
    return Cell(number(position.installed_height, used.length) + (" " if position.height_with_shims is None else READ))


def shims_laid(position: PositionLine, used: UnitsUsed) -> str:
    """The shims under one spring."""
    laid = "+".join(shown(shim, used.length).removesuffix(f" {used.length}") for shim in position.shims)
    return laid or (OPEN if position.shim_needed is None else "none")


def _float(position: PositionLine) -> Cell:
    found = position.valve_float
    if found is None:
        return Cell(OPEN)
    return Cell(number(found.float_speed, "rpm") + MARKS[found.verdict], found.verdict)


def _shims(positions: Sequence[PositionLine], used: UnitsUsed) -> Block:
    laid = Counter(shim for position in positions for shim in position.shims)
    rows = [f"  {count:>3} x {shown(size, used.length)}" for size, count in sorted(laid.items())]
    return Prose(rows or ["  none"])


def _spreads(part: Part) -> Section:
    used = part.answer.units
    rows = [
        _spread_row(kind, name, spread, unit)
        for kind, spreads in by_kind(part.answer.spreads)
        for name, spread, unit in (
            ("installed height", spreads.installed_height, used.length),
            ("seat load", spreads.seat_load, used.force),
            ("open load", spreads.open_load, used.force),
            ("coil-bind clearance", spreads.coil_bind_clearance, used.length),
            ("retainer to seal", spreads.retainer_to_seal_clearance, used.length),
            ("moving mass", spreads.moving_mass, used.mass),
        )
        if spread.count
    ]
    header = ("valves", "what", "count", "smallest", "at", "largest", "at", "spread", "unit")
    return Section("Spread, intake and exhaust", [Table(header, rows, frozenset({0, 1, 4, 6, 8}))])


def _spread_row(kind: str, name: str, spread: LengthSpread | ForceSpread | MassSpread, unit: str) -> list[Cell]:
    smallest, largest = (round(value or 0.0, most_places(unit)) for value in (spread.smallest, spread.largest))
    texts = (
        kind,
        name,
        str(spread.count),
        number(spread.smallest, unit),
        spread.smallest_at or "",
        number(spread.largest, unit),
        spread.largest_at or "",
        # the difference of what stands beside it, so that whoever checks it finds it right
        number(largest - smallest, unit),
        unit,
    )
    return [Cell(text) for text in texts]


def _readings(part: Part) -> Table:
    """What was read at every position beside its height."""
    used = part.answer.units
    by_id = {position.id: position for position in part.request.positions}
    reads = [by_id[line.id] for line in part.positions]
    gaps = [
        name
        for name in ("retainer_to_seal", "retainer_to_rocker", "seal_to_spring")
        if name == "retainer_to_seal" or any(getattr(read, name) is not None for read in reads)
    ]
    weighed = [
        name
        for name in ("valve", "retainer", "locks", "lash_cap", "pushrod", "lifter")
        if name in _ALWAYS_WEIGHED or any(getattr(read.masses, name) for read in reads)
    ]
    header = (
        "pos", *(f"{name.replace('_', ' ')} ({used.length})" for name in gaps),
        *(f"{name.replace('_', ' ')} ({used.mass})" for name in weighed),
    )  # fmt: skip
    rows = [
        [
            Cell(line.id),
            *(Cell(number(mean_of(getattr(read, name)), used.length)) for name in gaps),
            *(Cell(number(getattr(read.masses, name), used.mass)) for name in weighed),
        ]
        for line, read in zip(part.positions, reads, strict=True)
    ]
    return Table(header, rows)


def _after_assembly(part: Part) -> Iterator[Table]:
    """What was set, what was measured on the head once it was together, and room for more; a column a position."""
    used = part.answer.units
    by_id = {position.id: position for position in part.request.positions}
    for first in range(0, len(part.positions), _IN_A_ROW):
        own = part.positions[first : first + _IN_A_ROW]
        header = ["", *(line.id for line in own)]
        set_heights = [Cell(number(line.figured_height, used.length)) for line in own]
        heights = [_to_fill(line.height_with_shims, used.length) for line in own]
        set_loads = [Cell(number(line.figured_seat_load, used.force)) for line in own]
        loads = [_to_fill(by_id[line.id].seat_load_with_shims, used.force) for line in own]
        blank = [Cell("") for _ in own]
        rows = [
            [Cell(f"height, set ({used.length})"), *set_heights],
            [Cell(f"height, checked ({used.length})"), *heights],
            [Cell(f"seat load, set ({used.force})"), *set_loads],
            [Cell(f"seat load, checked ({used.force})"), *loads],
            [Cell("after heat: seat load"), *blank],
            [Cell("after heat: open load"), *blank],
        ]
        yield Table(header, rows, to_fill=True)


def _to_fill(value: float | None, unit: str) -> Cell:
    """A number, or room for it."""
    return Cell("" if value is None else number(value, unit))


def _spring_readings(part: Part) -> Table:
    used = part.answer.units
    is_nested = any(spring.nested for spring in part.springs)
    rows = [
        [
            Cell(name),
            *([Cell(which)] if is_nested else []),
            Cell(load_readings(one, used)),
            Cell(number(mean_of(one.coil_bind_height), used.length)),
            Cell(number(one.mass, used.mass)),
        ]
        for spring in part.springs
        for name, which, one in in_set(spring)
    ]
    header = (
        "spring", *(["which"] if is_nested else []), f"loads ({used.force}) at heights ({used.length})",
        f"coil-bind height ({used.length})", f"mass ({used.mass})",
    )  # fmt: skip
    return Table(header, rows, frozenset({0, 1, 2} if is_nested else {0, 1}))


def in_set(spring: Spring) -> Iterator[tuple[str, str, OneSpringRead]]:
    """A spring and those nested in it: its name, which of them one is, and what was read of it."""
    yield spring.id, "outer" if spring.nested else "", spring
    for which, inner in zip(("inner", "innermost"), spring.nested, strict=False):
        yield "", which, inner


def load_readings(spring: OneSpringRead, used: UnitsUsed) -> str:
    """What is known of a spring's load."""

    def written(readings: Sequence[Reading]) -> str:
        return ", ".join(
            f"{in_places(one.load, used.force)} at {in_places(one.height, used.length)}" for one in readings
        )

    match spring.load_curve:
        case None:
            return OPEN
        case BenchReadings(readings=first, second_run=again):
            return f"{written(first)}{f'; again {written(again)}' if again else ''}"
        case RatedCurve():
            one = spring.load_curve
            return f"rated {number(one.load, used.force)} at {number(one.height, used.length)}"
        case _:
            return "by its dimensions"


def heat_cycle(part: Part) -> Table:
    """Room for what the springs push once the engine has been hot."""
    used = part.answer.units
    header = (
        "pos", "spring", f"height ({used.length})", f"seat load ({used.force})", "seat load, after heat",
        f"open height ({used.length})", f"open load ({used.force})", "open load, after heat",
    )  # fmt: skip
    rows = [
        [
            Cell(one.id),
            Cell(one.spring or OPEN),
            Cell(number(one.installed_height, used.length)),
            Cell(number(one.seat_load, used.force)),
            Cell(""),
            Cell(number(one.open_height, used.length)),
            Cell(number(one.open_load, used.force)),
            Cell(""),
        ]
        for one in part.positions
    ]
    return Table(header, rows, frozenset({0, 1}), to_fill=True)
