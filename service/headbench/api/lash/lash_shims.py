"""POST /v1/lash-shims: which shim goes to which valve of an overhead-cam head, and what to buy."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, JobAnswered, Release
from headbench.api.exchange.resource import Resource
from headbench.api.lash.lines import LashLine, ShimMove, ShimsLeft, ShimsToBuy, move_lines, to_buy, work
from headbench.api.lash.notes import NOTES, lash_notes, open_lashes
from headbench.api.lash.request import LashShimsRequest, lash_faults
from headbench.api.vocabulary.checks import VerdictName, worst_of
from headbench.api.vocabulary.findings import Note, OpenItem, cautions_for
from headbench.api.vocabulary.positions import raise_if_any
from headbench.api.vocabulary.quantities import Answer, UnitsUsed, units_used
from headbench.calc.lash import limits


class LashShimsAnswer(Answer, kw_only=True, frozen=True):
    """Every valve's shim, the moves, and what to buy."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of all positions.")]
    positions: Annotated[list[LashLine], Meta(description="A line per position, in the order given.")]
    moves: Annotated[
        list[ShimMove],
        Meta(
            description="The changes in the order to make them: each shim is free when it is wanted, bought ones last."
        ),
    ]
    to_buy: Annotated[list[ShimsToBuy], Meta(description="Shims to buy, by size.")]
    left_over: Annotated[list[ShimsLeft], Meta(description="Shims in the drawer afterward, by size.")]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


def answer(request: LashShimsRequest) -> LashShimsAnswer:
    """Answer one request; raises Contradiction."""
    raise_if_any(lash_faults(request))
    worked = work(request)
    return LashShimsAnswer(
        units=units_used(),
        verdict=worst_of([line.verdict for line in worked.lines]),
        positions=list(worked.lines),
        moves=list(move_lines(worked)),
        to_buy=to_buy(worked.lines),
        left_over=[ShimsLeft(thickness=size, count=count) for size, count in worked.plan.left.items()],
        open_items=list(open_lashes(request)),
        notes=list(lash_notes(request, worked)),
        cautions=cautions_for("camshaft", "engine"),
    )


RESOURCE: Final = Resource(
    kind="lash-shims",
    operation_id="dealLashShims",
    summary="Lash shims dealt over an overhead-cam head",
    description="Enter the shims that are in and the lash read; get which shim goes where, out of the head's own and "
    "the drawer's, the moves in order, and what to buy.",
    tag="Bench",
    request=LashShimsRequest,
    answer=LashShimsAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("lash_shims.json"),
    limits=limits.LIMITS,
    rules=limits.RULES,
    notes=NOTES,
)
