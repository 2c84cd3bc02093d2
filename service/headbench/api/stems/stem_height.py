"""POST /v1/stem-height: what to grind off tips, and to sink seats by, so that rockers sit alike on every valve."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.exchange.resource import Resource
from headbench.api.stems.lines import KindOfStems, StemGroup, StemLine, kind_of_stems
from headbench.api.stems.notes import NOTES, stem_notes
from headbench.api.stems.request import StemHeightRequest, stem_faults
from headbench.api.vocabulary.checks import VerdictName, worst_of
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for
from headbench.api.vocabulary.names import KINDS
from headbench.api.vocabulary.positions import raise_if_any
from headbench.api.vocabulary.quantities import Answer, UnitsUsed, units_used
from headbench.calc.stems import limits


class StemHeightAnswer(Answer, kw_only=True, frozen=True):
    """Every stem, and what to cut."""

    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of both kinds of valve.")]
    positions: Annotated[list[StemLine], Meta(description="A line per position, in the order given.")]
    intake: Annotated[StemGroup | None, Meta(description="The intake valves together; null = there are none.")]
    exhaust: Annotated[StemGroup | None, Meta(description="The exhaust valves together; null = there are none.")]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


_FROM_HEIGHT: Final = (
    "stem_height", "tip_grind", "seat_cut", "sink", "stem_height_after", "installed_height_change",
    "retainer_to_seal_change", "stem_height_check", "tip_grind_check",
)  # fmt: skip


def open_stems(request: StemHeightRequest, kinds: Sequence[KindOfStems]) -> Iterator[OpenItem]:
    """What is still to be measured or entered of the stems."""
    adjustment = request.lash_adjustment
    change = () if adjustment is None else ("lash_change",) if adjustment == "solid" else ("preload_change",)
    if adjustment is None:
        yield OpenItem(
            pointer="/lash_adjustment",
            position=None,
            spring=None,
            needed_for=["preload_change", "lash_change"],
            detail="Enter what sets lash or preload: solid, hydraulic_adjustable or hydraulic_fixed.",
        )
    grooved = {place for kind in kinds if kind.groove_asked for place in kind.places}
    misread = {place for kind in kinds for place in kind.misread}
    for place, position in enumerate(request.positions):

        def item(
            field: str, needed_for: Sequence[str], detail: str, place: int = place, own: str = position.id
        ) -> OpenItem:
            return OpenItem(
                pointer=f"/positions/{place}/{field}",
                position=own,
                spring=None,
                needed_for=list(needed_for),
                detail=f"{own}: {detail}",
            )

        groove = ("groove_to_tip_check",) if place in grooved else ()
        if position.stem_height is None:
            detail = "measure stem height, valve closed; no tip of its kind is to be ground before."
            yield item("stem_height", (*_FROM_HEIGHT, *change, *groove, "stem_height_spread_check"), detail)
        elif place in misread:
            waiting = ("stem_height_check", "stem_height_spread_check")
            yield item("stem_height", waiting, "measure stem height and installed height again.")
        if position.tip_ground is None and not position.lash_cap:
            detail = "enter what was ground off its tip before, 0 for a new valve."
            yield item("tip_ground", ("tip_grind_check", "stem_height_check"), detail)
        if position.groove_to_tip is None and groove:
            yield item("groove_to_tip", (*groove, "stem_height_check"), "measure lock groove to tip.")
        if position.rocker_ratio is None and "preload_change" in change:
            yield item("rocker_ratio", change, "enter the rocker ratio.")


def answer(request: StemHeightRequest) -> StemHeightAnswer:
    """Answer one request; raises Contradiction."""
    raise_if_any(stem_faults(request))
    by_kind = {kind: kind_of_stems(request, kind) for kind in KINDS}
    kinds = [one for one in by_kind.values() if one is not None]
    by_place = {place: line for kind in kinds for place, line in zip(kind.places, kind.lines, strict=True)}
    lines = [by_place[place] for place in range(len(request.positions))]
    intake, exhaust = (None if one is None else one.group for one in (by_kind["intake"], by_kind["exhaust"]))
    return StemHeightAnswer(
        units=units_used(),
        verdict=worst_of([kind.group.verdict for kind in kinds]),
        positions=lines,
        intake=intake,
        exhaust=exhaust,
        open_items=list(open_stems(request, kinds)),
        notes=[PLAIN_COMPARISON, *stem_notes(request.positions, lines, kinds, request.lash_adjustment)],
        cautions=cautions_for("springs", "seats"),
    )


RESOURCE: Final = Resource(
    kind="stem-height",
    operation_id="equalizeStemHeights",
    summary="Tips to grind so that stems stand alike",
    description="Give what to grind off each tip, and what to sink seats by where tips can't do it, for equal stems.",
    tag="Bench",
    request=StemHeightRequest,
    answer=StemHeightAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("stem_height.json"),
    limits=limits.LIMITS,
    rules=limits.RULES,
    notes=NOTES,
)
