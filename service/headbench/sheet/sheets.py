"""Sheets: which there are of each resource, and how each is made of an answer."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final

from headbench.api.exchange.negotiating import Answered
from headbench.api.head.head_assembly import RESOURCE as HEAD_ASSEMBLY
from headbench.sheet.answered import answer_leaf
from headbench.sheet.fingerprint import IN_PRINT, fingerprint
from headbench.sheet.head.bench import bench_leaf, pair_leaf
from headbench.sheet.head.customer import customer_leaf
from headbench.sheet.head.labels import labels_leaf
from headbench.sheet.head.part import Part, parts
from headbench.sheet.model import Leaf, Sheet

_OF_A_HEAD: Final[Mapping[str, tuple[str, Callable[[Part], Leaf], bool]]] = {
    "bench": ("Assembly sheet", bench_leaf, True),
    "customer": ("What was set", customer_leaf, True),
    "labels": ("Spring labels", labels_leaf, False),
}
"""The sheets of a head: title, how a leaf of it is made, whether each head has one of its own."""


def sheet_of(done: Answered, which: str | None, *, by_head: bool) -> Sheet:
    """A sheet of an answer; `which` of them where a resource has several, the first where nobody said.

    `by_head` has each head of a pair by itself, as it is handed out; a terminal shows them together.
    """
    answer, job = done.answer, done.answer.job
    if done.kind == HEAD_ASSEMBLY.kind:
        title, leaf, has_own = _OF_A_HEAD[which or "bench"]
        names = [title, job.reference, job.head]
        found = parts(done.request, answer, by_head=by_head and has_own)
        leaves = [leaf(part) for part in found]
        if len(found) > 1 and leaf is bench_leaf:
            leaves.append(pair_leaf(replace(found[0], banks=answer.banks)))
    else:
        names = [done.kind.replace("-", " ").capitalize(), job.reference]
        leaves = [answer_leaf(answer)]
    footing = f"Headbench {answer.version}; fingerprint of the job {fingerprint(done.job)[:IN_PRINT]}"
    return Sheet(" - ".join(name for name in names if name), footing, leaves, answer.units.length != "in")
