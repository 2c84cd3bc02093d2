"""Unplaced limits: limits of a kind of valve that no position has."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Final

from headbench.api.vocabulary.checks import VerdictName, worst_of
from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.quantities import Model

_END: Final = re.compile(r"_(tolerance|minimum|maximum)$")


def unplaced_limits(limits: Model, valves: Sequence[ValveKind]) -> Iterator[OpenItem]:
    """What is to be listed so that limits which the job names for a kind of valve have something to judge."""
    for kind in KINDS:
        own: Model | None = getattr(limits, kind)
        if own is None or kind in valves:
            continue
        for name in own.__struct_fields__:
            if getattr(own, name) is not None:
                yield OpenItem(
                    pointer=f"/limits/{kind}/{name}",
                    position=None,
                    spring=None,
                    needed_for=[_END.sub("_check", name)],
                    detail=f"A limit is set for the {kind} valves: list them, or leave it out.",
                )


def worst_with(verdicts: Sequence[VerdictName], unplaced: Sequence[OpenItem]) -> VerdictName:
    """The worst of some verdicts; not measured at best while a limit has nothing to judge."""
    unjudged: list[VerdictName] = ["not_measured" for _ in unplaced]
    return worst_of([*verdicts, *unjudged])
