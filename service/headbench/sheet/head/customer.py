"""The customer's sheet: what was set, by which limits, who judged, and what nobody measured."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from headbench.api.head.left_out import NotFitted
from headbench.api.head.sheet import BankLine, PositionLine
from headbench.api.vocabulary.checks import VerdictName
from headbench.api.vocabulary.quantities import UnitsUsed
from headbench.sheet.head.bench import READ, counted, empty_row, heat_cycle, installed, job_facts, remarks, shims_laid
from headbench.sheet.head.checks import aims, checked, marked, misses, spread_misses
from headbench.sheet.head.drawings import curves_drawn, head_drawn
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
from headbench.sheet.numbers import OPEN, WORDS, units_told

_DECIDED: Final = "off target"
"""What a customer reads where the bench sheet asks a person to decide."""
_TO_SIGN: Final = "accepted as is by ____________"


def _word(verdict: VerdictName) -> str:
    return _DECIDED if verdict == "borderline" else WORDS[verdict]


def _signed(part: Part) -> str:
    """Who signs for the head: whoever takes it as it is where something is off its target."""
    return "Accepted as is by" if any(one.verdict == "borderline" for one in part.positions) else "Checked by"


def customer_leaf(part: Part) -> Leaf:
    """What goes home with a head."""
    answer, used = part.answer, part.answer.units
    missed = [*misses(part.positions, used, _TO_SIGN), *spread_misses(answer.spreads, used)]
    open_items = part.of_it(answer.open_items)
    said = [*remarks(part)]
    verdict = answer.verdict if part.is_whole else part.banks[0].verdict
    sections: list[Section | Pair] = [
        Section(
            "",
            [
                Facts([*job_facts(part), ("Units", f"{units_told(used)}.")]),
                Verdict(verdict, counted(part, _DECIDED), _word(verdict)),
                SideBySide([head_drawn(part), *curves_drawn(part)]),
            ],
        ),
        *(Section(part.heading(bank), [_set(part, bank)], bank.verdict, _word(bank.verdict)) for bank in part.banks),
        Section("How to read it", [*_words(part)]),
        Pair(
            [Section("Out of limits", [Points(missed)]), Section("Taken on trust", [Points(on_trust(part))])],
            [Section(f"Not measured ({len(open_items)})", [Points(open_items, "box")])],
        ),
        *outstanding(part),
        Section("Remarks and parts fitted", [Points(said)]),
        Section("Loads after the first heat cycle", [heat_cycle(part)]),
        Section("Cautions", [Points(answer.cautions, "caution")]),
        Section("", [Signatures((_signed(part), "Received by", "Date"))]),
    ]
    return Leaf(part.name, sections)


def _words(part: Part) -> Iterator[Block]:
    told = (
        "Seat load: what the spring pushes with the valve closed; open load: at full lift. Coil-bind clearance: what "
        "is left between the coils at full lift; seal clearance: what is left between retainer and seal. "
        f"{OPEN} was not measured. "
        f"Installed height: {READ} was measured with the shims in, any other is figured from them. "
        "Beside a number: ! out of limits, ~ off target, ? cannot be judged yet, * off target but its seat "
        "load was tested and decides."
    )
    yield Prose([told])
    yield Facts(aims(part))


def _set(part: Part, bank: BankLine) -> Table:
    header = (
        "pos", "valve", "spring", "shims", "installed height", "off target", "seat load", "open load",
        "coil-bind clearance", "seal clearance", "verdict",
    )  # fmt: skip
    rows = [
        empty_row(one, len(header)) if isinstance(one, NotFitted) else _row(one, part.answer.units)
        for one in part.places
        if one.bank == bank.bank
    ]
    return Table(header, rows, frozenset({0, 1, 2, 10}))


def _row(position: PositionLine, used: UnitsUsed) -> list[Cell]:
    return [
        Cell(position.id),
        Cell(position.valve),
        Cell(position.spring or OPEN),
        Cell(shims_laid(position, used)),
        installed(position, used),
        checked(position.installed_height_check, used, signed=True),
        marked(position.seat_load, used.force, position.seat_load_check),
        marked(position.open_load, used.force, position.open_load_check),
        checked(position.coil_bind_clearance_check, used),
        checked(position.retainer_to_seal_clearance_check, used),
        Cell(_word(position.verdict), position.verdict),
    ]
