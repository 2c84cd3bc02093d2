"""Labels for the bags of springs: what each pushes, where it goes with which shims, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from headbench.api.head.sheet import PositionLine
from headbench.api.springs.load_curves import BenchReadings, RatedCurve
from headbench.api.springs.spring import OneSpringRead, Spring
from headbench.api.vocabulary.quantities import UnitsUsed, mean_of
from headbench.sheet.head.bench import in_set, shims_laid
from headbench.sheet.head.checks import unit
from headbench.sheet.head.part import Part
from headbench.sheet.model import Leaf, Section, Tag, Tags
from headbench.sheet.numbers import OPEN, WORDS, number, shown

_MOST_READINGS = 4
"""Loads that a label has room for."""
_MOST_HOMES = 6
"""Pockets that a label has room for; a spring goes to one, unless one is read for many."""


def labels_leaf(part: Part) -> Leaf:
    """A label for every spring of the job."""
    tags = [Tag(f"Spring {spring.id}", [*_lines(spring, part)]) for spring in part.springs]
    return Leaf("", [Section("", [Tags(tags)])])


def _lines(spring: Spring, part: Part) -> Iterator[str]:
    used = part.answer.units
    every = [one for one in part.positions if one.spring == spring.id]
    homes, more = every[:_MOST_HOMES], len(every[_MOST_HOMES:])
    for home in homes:
        yield from _marks(home, used)
    for _, which, one in in_set(spring):
        yield from (f"{which}: {line}" if which else line for line in chain(_loads(one, used), _rest(one, used)))
    job = part.answer.job
    told = " - ".join(name for name in (job.reference, job.engine) if name)
    if told:
        yield told
    for home in homes:
        stands = OPEN if home.installed_height is None else number(home.installed_height, used.length)
        yield f"Pocket {home.id}, shims {shims_laid(home, used)}, stands {stands}"
    if more:
        yield f"and {more} more: see the sheet"
    yield "Date __________" if homes else "Pocket ________  Date __________"


def _marks(home: PositionLine, used: UnitsUsed) -> Iterator[str]:
    """What is wrong with a spring where it goes, in capitals."""
    for name, check in (
        ("seat load", home.seat_load_check),
        ("open load", home.open_load_check),
        ("coil-bind clearance", home.coil_bind_clearance_check),
        ("load lost", home.load_loss_check),
    ):
        if check is None or check.verdict not in {"borderline", "reject"} or not check.counts_toward_verdict:
            continue
        value = (
            "" if check.value is None else f" {shown(check.value, unit(check, used), signed=check.rule == 'within')}"
        )
        weak = {"seat load": "WEAK, ", "open load": "WEAK, "}.get(name, "") if (check.value or 0.0) < 0.0 else ""
        yield f"{weak}{name}{value}: {WORDS[check.verdict]}"


def _loads(spring: OneSpringRead, used: UnitsUsed) -> Iterator[str]:
    match spring.load_curve:
        case BenchReadings(readings=readings):
            tall = sorted(readings, key=lambda one: -one.height)
            for one in tall if len(tall) <= _MOST_READINGS else [*tall[: _MOST_READINGS - 1], tall[-1]]:
                yield f"{shown(one.load, used.force)} at {shown(one.height, used.length)}"
        case RatedCurve():
            rated = spring.load_curve
            yield f"rated {shown(rated.load, used.force)} at {shown(rated.height, used.length)}, not tested"
        case None:
            yield f"not tested: ______ {used.force} at ______ {used.length}"
        case _:
            yield "load by its dimensions, not tested"


def _rest(spring: OneSpringRead, used: UnitsUsed) -> Iterator[str]:
    bind = mean_of(spring.coil_bind_height)
    yield f"coil-bind height {shown(bind, used.length) if bind is not None else f'______ {used.length}, not measured'}"
    if spring.mass is not None:
        yield f"mass {number(spring.mass, used.mass)} {used.mass}"
