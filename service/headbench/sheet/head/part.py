"""Part of a head: what of a job a sheet is about, all of it or one head of a pair."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from headbench.api.head.job import HeadAssemblyRequest
from headbench.api.head.left_out import NotFitted
from headbench.api.head.sheet import AssemblySheet, BankLine, PositionLine
from headbench.api.springs.curve import DrawnCurve
from headbench.api.springs.spring import Spring
from headbench.api.springs.spring_load import RESOURCE as SPRING_LOAD
from headbench.api.springs.spring_load import SpringLoadRequest
from headbench.api.vocabulary.findings import Note, OpenItem
from headbench.api.waiting.words import say_days, say_names

_CURVE_POINTS = 25
_MOST_SPRINGS = 64
"""As many as a job of spring loads takes."""


Said = tuple[str, str]
"""A sentence of the answer: the place of the request that it is about, and what it says."""


@dataclass(frozen=True)
class Part:
    """Some heads of a job.

    request, answer : the job's readings, and what they come to
    curves : those of its springs, by their ids
    about : what positions and springs each sentence of the answer names, where heads are told apart
    banks : the heads it is of
    """

    request: HeadAssemblyRequest
    answer: AssemblySheet
    curves: Mapping[str, DrawnCurve]
    about: Mapping[Said, frozenset[str]]
    banks: Sequence[BankLine]

    @property
    def name(self) -> str:
        """What it is called; empty where there is but one head."""
        return "" if self.is_whole else " and ".join(self.named(bank) for bank in self.banks)

    @property
    def is_whole(self) -> bool:
        """Whether it is all of the job."""
        return len(self.banks) == len(self.answer.banks)

    def named(self, bank: BankLine) -> str:
        """What a head is called."""
        return bank.bank or self.answer.job.head or "head"

    def heading(self, bank: BankLine) -> str:
        """What stands over a head's table: nothing where a leaf of its own says it already."""
        return self.named(bank) if self.is_whole else ""

    @cached_property
    def positions(self) -> list[PositionLine]:
        """Its positions, head by head."""
        by_id = {position.id: position for position in self.answer.positions}
        return [by_id[name] for bank in self.banks for name in bank.positions]

    @cached_property
    def places(self) -> list[PositionLine | NotFitted]:
        """Its places head by head, in the order of work: positions, and those where no valve is fitted."""
        whole: list[PositionLine | NotFitted] = [*self.answer.positions]
        last = len(whole) + len(self.request.not_fitted)
        for one in sorted(self.request.not_fitted, key=lambda one: last if one.place is None else one.place):
            whole.insert(last if one.place is None else one.place, one)
        order = {bank.bank: place for place, bank in enumerate(self.banks)}
        own = [one for one in whole if self.is_whole or one.bank in order]
        return sorted(own, key=lambda one: order.get(one.bank, len(order)))

    @property
    def not_fitted(self) -> list[str]:
        """The names of its places where no valve is fitted."""
        return [one.id for one in self.places if isinstance(one, NotFitted)]

    @cached_property
    def ids(self) -> frozenset[str]:
        """The names of its positions."""
        return frozenset(position.id for position in self.positions)

    @cached_property
    def springs(self) -> list[Spring]:
        """Its springs, as entered; of all the job those too that no position uses."""
        used = {position.spring for position in self.positions}
        return [spring for spring in self.request.springs if self.is_whole or spring.id in used]

    def of_it(self, told: Sequence[OpenItem] | Sequence[Note]) -> list[str]:
        """The sentences that are about it, or about no head by itself, with the parts that they wait for."""
        return [self._sentence(one) for one in told if self.has(one)]

    def has(self, one: OpenItem | Note) -> bool:
        """Whether a sentence is about it, or about no head by itself."""
        if self.is_whole:
            return True
        named = self.about[one.pointer, one.detail]
        return not named or bool(named & (self.ids | {spring.id for spring in self.springs}))

    def _sentence(self, one: OpenItem | Note) -> str:
        if isinstance(one, Note) or not one.waits_for:
            return one.detail
        names = {part.id: part.what or part.id for part in self.answer.parts_outstanding}
        told = [f"{names[waits.part]} ({say_days(waits.soonest, waits.latest)})" for waits in one.waits_for]
        return f"{one.detail} Waits for {say_names(told)}."


def parts(request: HeadAssemblyRequest, answer: AssemblySheet, *, by_head: bool) -> list[Part]:
    """All of a job as one, or each head by itself."""
    curves = _curves(request)
    about = _about(request, answer) if by_head and len(answer.banks) > 1 else {}
    groups = [[bank] for bank in answer.banks] if by_head else [answer.banks]
    return [Part(request, answer, curves, about, banks) for banks in groups]


def _about(request: HeadAssemblyRequest, answer: AssemblySheet) -> dict[Said, frozenset[str]]:
    """The positions and springs that each open item and note names, by its pointer or in its sentence."""
    positions = [position.id for position in request.positions]
    springs = [spring.id for spring in request.springs]
    whole = {name: re.compile(rf"(?<!\w){re.escape(name)}(?!\w)") for name in (*positions, *springs)}
    told: list[OpenItem | Note] = [*answer.open_items, *answer.notes]
    found: dict[Said, frozenset[str]] = {}
    for one in told:
        named = {name for name, pattern in whole.items() if name in one.detail and pattern.search(one.detail)}
        if at := re.match(r"/(positions|springs)/(\d+)", one.pointer):
            named.add((positions if at[1] == "positions" else springs)[int(at[2])])
        found[one.pointer, one.detail] = frozenset(named)
    return found


def _curves(request: HeadAssemblyRequest) -> dict[str, DrawnCurve]:
    """The curves of the springs that positions use, by their ids; those that nobody tested have none."""
    used = {position.spring for position in request.positions}
    springs = [spring for spring in request.springs if spring.id in used][:_MOST_SPRINGS]
    if not springs:
        return {}
    asked = SpringLoadRequest(units=request.units, tester=request.tester, springs=springs, curve_points=_CURVE_POINTS)
    return {line.id: line.curve for line in SPRING_LOAD(asked).springs if line.curve is not None}
