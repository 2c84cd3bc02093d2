"""The request of ways out: a head's job, what can be had, and the readings that only a change of parts asks for."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.head.job import HeadAssemblyRequest, HeadRead, Position
from headbench.api.heights.readings import HeightCorrection, kinds_in
from headbench.api.heights.shims import shims_at_hand
from headbench.api.springs.coils import dimensioned
from headbench.api.vocabulary.names import ValveKind
from headbench.api.vocabulary.positions import MOST_POSITIONS
from headbench.api.vocabulary.quantities import Length, PositiveLength, SignedLength
from headbench.api.vocabulary.targets import Limits, by_default
from headbench.api.ways_out.catalogue import Catalogue, Kept, catalogue_faults, kept_for
from headbench.calc.heights.shims import stacks_of
from headbench.calc.judging.limits import POCKET_FLOOR_MINIMUM
from headbench.calc.ways_out.limits import TIP_ABOVE_RETAINER_MINIMUM
from headbench.calc.ways_out.parts import count_choices
from headbench.errors import Pointed

_MOST_TRIES: Final = 6_000
"""How often a valve may be worked out; each takes about a tenth of a millisecond."""
_JUDGED: Final = 12
"""How often the whole head is worked out beside them, about."""
_STACKS_AT_ONCE: Final = 500
"""Stacks to choose from that take as long as all the rest of a valve."""
_WIRE_WEIGHT: Final = 6.0
"""How many times as long a spring takes that is known by its dimensions."""


class WaysLimits(Limits, kw_only=True, frozen=True):
    """Limits of the checks, those of tip and pocket floor among them."""

    tip_above_retainer_minimum: Annotated[
        Length | None,
        by_default(TIP_ABOVE_RETAINER_MINIMUM, "Minimum height of the tip over retainer and locks."),
    ] = None
    pocket_floor_minimum: Annotated[
        Length | None, by_default(POCKET_FLOOR_MINIMUM, "Minimum metal left under a spring pocket that is cut.")
    ] = None


class WaysPosition(Position, kw_only=True, frozen=True):
    """Everything measured at one valve so far, and what a change of parts asks for."""

    tip_above_retainer: Annotated[
        SignedLength | None,
        Meta(
            description="How far the valve's tip stands over the highest of retainer and locks, as fitted; negative "
            "where it stands lower. Null = not measured.",
            examples=[0.140],
        ),
    ] = None
    pocket_floor: Annotated[
        PositiveLength | None,
        Meta(
            description="Metal between its spring pocket and the water or oil under it, as it is now, by ultrasonic "
            "gauge. Null = not measured.",
            examples=[0.260],
        ),
    ] = None


class WaysOutRequest(HeadAssemblyRequest, kw_only=True, frozen=True):
    """All readings of one head or of a pair, as `/v1/head-assembly` takes them, and what can be had for it."""

    limits: Annotated[
        WaysLimits, Meta(description="Limits of the checks.", examples=[{"tip_above_retainer_minimum": 0.060}])
    ] = WaysLimits()
    positions: Annotated[  # type: ignore[assignment] # nobody adds to it
        list[WaysPosition],
        Meta(
            min_length=1,
            max_length=MOST_POSITIONS,
            description="Every valve, in the order of work.",
            examples=[[{"id": "1I", "valve": "intake", "measured_height": 1.922, "tip_above_retainer": 0.14}]],
        ),
    ]
    catalogue: Annotated[
        Catalogue,
        Meta(description="What can be had.", examples=[{"locks": [{"id": "+0.050 locks", "offset": 0.05}]}]),
    ] = Catalogue()


def ways_faults(request: WaysOutRequest) -> Iterator[Pointed]:
    """What of a request contradicts itself, beside what the head's job does, or is more than one job may take."""
    yield from catalogue_faults(request.catalogue)
    if request.match_springs is not None:
        detail = "ways out are looked for with every spring where it lies: match the springs first, or leave this out"
        yield Pointed("/match_springs", detail)
    at_hand = shims_at_hand(request.shims)
    stacks = len(stacks_of(at_hand.thicknesses, at_hand.stack_maximum, at_hand.shim_count_maximum).totals)
    by_wire = {spring.id: len(dimensioned(spring)) for spring in request.springs}
    weights = {
        kind: [
            1.0 + stacks / _STACKS_AT_ONCE + _WIRE_WEIGHT * by_wire.get(position.spring or "", 0)
            for position in request.positions
            if position.valve == kind
        ]
        for kind in kinds_in(request.positions)
    }
    tries = 0.0
    told = []
    for kind, own in weights.items():
        choices = count_choices(kept_for(request.catalogue, kind).parts)
        tries += (_JUDGED + choices) * sum(own)
        told.append(f"{choices} choices of parts for {len(own)} {kind} valves")
    if tries > _MOST_TRIES:
        detail = (
            f"{' and '.join(told)}, {stacks} stacks of shims for each, are more than one job works out: leave out "
            "parts that won't do, enter fewer shim sizes or tester readings of the springs, or send one head at a time"
        )
        yield Pointed("/catalogue", detail)


def unknown_locator(request: WaysOutRequest, position: WaysPosition) -> bool:
    """Whether a locator was in place when the height was measured, and nobody says how thick it is."""
    by_kind = getattr(request.height_corrections, position.valve) or HeightCorrection()
    thickness = by_kind.locator_thickness if position.locator_thickness is None else position.locator_thickness
    in_place = by_kind.locator_in_place if position.locator_in_place is None else position.locator_in_place
    return thickness is None and in_place is True


def locators_fitted(request: WaysOutRequest, head: HeadRead) -> list[float]:
    """How thick the locator is that each height counts with [m]; NaN not known."""
    return [
        math.nan if unknown_locator(request, position) else read.locator_fitted
        for position, read in zip(request.positions, head.heights, strict=True)
    ]


def kept_by_kind(request: WaysOutRequest) -> Mapping[ValveKind, Kept]:
    """What can be had for each kind of valve that there is."""
    return {kind: kept_for(request.catalogue, kind) for kind in kinds_in(request.positions)}
