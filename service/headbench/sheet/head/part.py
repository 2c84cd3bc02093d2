"""Part of a head: what of a job a sheet is about, all of it or one head of a pair."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from headbench.api.head.job import HeadAssemblyRequest
from headbench.api.head.sheet import AssemblySheet, BankLine, PositionLine
from headbench.api.springs.curve import DrawnCurve
from headbench.api.springs.spring import Spring
from headbench.api.springs.spring_load import RESOURCE as SPRING_LOAD
from headbench.api.springs.spring_load import SpringLoadRequest

_CURVE_POINTS = 25
_MOST_SPRINGS = 64
"""As many as a job of spring loads takes."""


@dataclass(frozen=True)
class Part:
    """Some heads of a job: its readings, its answer, and the curves of its springs by their ids."""

    request: HeadAssemblyRequest
    answer: AssemblySheet
    curves: Mapping[str, DrawnCurve]
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

    @cached_property
    def positions(self) -> list[PositionLine]:
        """Its positions, head by head."""
        by_id = {position.id: position for position in self.answer.positions}
        return [by_id[name] for bank in self.banks for name in bank.positions]

    @cached_property
    def ids(self) -> frozenset[str]:
        """The names of its positions."""
        return frozenset(position.id for position in self.positions)

    @cached_property
    def springs(self) -> list[Spring]:
        """Its springs, as entered; of all the job those too that no position uses."""
        used = {position.spring for position in self.positions}
        return [spring for spring in self.request.springs if self.is_whole or spring.id in used]

    def of_it(self, told: Iterable[tuple[str, str]]) -> list[str]:
        """The sentences that are about it, or about the whole job: of each its pointer is known, and what it says."""
        return [sentence for pointer, sentence in told if self.is_whole or self._is_about(pointer, sentence)]

    def _is_about(self, pointer: str, sentence: str) -> bool:
        own = self.ids | {spring.id for spring in self.springs}
        at = re.match(r"/(positions|springs)/(\d+)", pointer)
        named = {name for name in self._names if re.search(rf"(?<!\w){re.escape(name)}(?!\w)", sentence)}
        if at:
            rows: Sequence[object] = getattr(self.request, at[1])
            named.add(str(getattr(rows[int(at[2])], "id", "")))
        return not named or bool(named & own)

    @cached_property
    def _names(self) -> list[str]:
        return [position.id for position in self.answer.positions] + [spring.id for spring in self.request.springs]


def parts(request: HeadAssemblyRequest, answer: AssemblySheet, *, by_head: bool) -> list[Part]:
    """All of a job as one, or each head by itself."""
    curves = _curves(request)
    groups = [[bank] for bank in answer.banks] if by_head else [answer.banks]
    return [Part(request, answer, curves, banks) for banks in groups]


def _curves(request: HeadAssemblyRequest) -> dict[str, DrawnCurve]:
    """The curves of the springs that positions use, by their ids; those that nobody tested have none."""
    used = {position.spring for position in request.positions}
    springs = [spring for spring in request.springs if spring.id in used][:_MOST_SPRINGS]
    if not springs:
        return {}
    asked = SpringLoadRequest(units=request.units, tester=request.tester, springs=springs, curve_points=_CURVE_POINTS)
    return {line.id: line.curve for line in SPRING_LOAD(asked).springs if line.curve is not None}
