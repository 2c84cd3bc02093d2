"""Labels for the bags of springs: springs move between pockets, so a label is the spring's and names no pocket."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from headbench.api.springs.load_curves import BenchReadings, RatedCurve
from headbench.api.springs.spring import OneSpringRead, Spring
from headbench.api.vocabulary.quantities import UnitsUsed, mean_of
from headbench.sheet.head.bench import in_set
from headbench.sheet.head.part import Part
from headbench.sheet.model import Leaf, Section, Tag, Tags
from headbench.sheet.numbers import shown

_MOST_READINGS = 4
"""Loads that a label has room for."""


def labels_leaf(part: Part) -> Leaf:
    """A label for every spring of the job."""
    tags = [Tag(f"Spring {spring.id}", [*_lines(spring, part)]) for spring in part.springs]
    return Leaf("", [Section("", [Tags(tags)])])


def _lines(spring: Spring, part: Part) -> Iterator[str]:
    used = part.answer.units
    for _, which, one in in_set(spring):
        yield from (f"{which}: {line}" if which else line for line in chain(_loads(one, used), _rest(one, used)))
    job = part.answer.job
    told = " - ".join(name for name in (job.reference, job.engine) if name)
    if told:
        yield told
    yield "Pocket ________  Date __________"


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
    yield f"coil bind {shown(bind, used.length) if bind is not None else f'______ {used.length}, not measured'}"
    if spring.mass is not None:
        yield f"mass {shown(spring.mass, used.mass)}"
