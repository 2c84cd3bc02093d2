"""Chambers: what each one cc'd, and how their volume goes as the deck comes off."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.places import ACROSS
from headbench.api.vocabulary.quantities import (
    Length,
    Model,
    Name,
    PositiveArea,
    PositiveLength,
    PositiveVolume,
    PositiveVolumePerLength,
    SignedLength,
    Volume,
    number_of,
)
from headbench.api.vocabulary.saying import say
from headbench.calc.cylinders import cylinder as calc
from headbench.calc.cylinders.chamber_shape import TOLD_APART, ChamberShape, find_pour_faults, from_area, from_pours
from headbench.calc.movement.cuts import volume_per_depth
from headbench.errors import Pointed

MOST_CHAMBERS: Final = 32


class Chamber(Model, kw_only=True, frozen=True):
    """One chamber and the cylinder under it."""

    id: Annotated[Name, Meta(description="Chamber number, as it is marked.", examples=["1"])]
    chamber_volume: Annotated[
        PositiveVolume | None,
        Meta(
            description="Chamber volume, cc'd to the deck with the valves and spark plug in; null = not measured.",
            examples=[57.3],
        ),
    ] = None
    deck_clearance: Annotated[
        SignedLength | None,
        Meta(
            description="This cylinder's own piston-to-deck, flat of the piston below (+) or above (-) the block "
            "deck at TDC; null = not measured, the cylinder section's is used.",
            examples=[0.012],
        ),
    ] = None


class MilledChamber(Chamber, kw_only=True, frozen=True):
    """One chamber of a head that is milled."""

    distance_across: Annotated[
        Length | None,
        Meta(
            description=f"Where its middle lies, the centroid of its area at the deck. {ACROSS}",
            examples=[3.1],
        ),
    ] = None
    head_thickness: Annotated[
        PositiveLength | None,
        Meta(
            description="Head thickness at this chamber before the cut, deck to cover rail; null = not measured.",
            examples=[5.085],
        ),
    ] = None


class PerDepth(Model, tag_field="kind", tag="volume_per_depth", kw_only=True, frozen=True):
    """What a chamber loses per depth of cut, from the casting's data."""

    volume_per_depth: Annotated[
        PositiveVolumePerLength,
        Meta(
            description="Volume per depth of cut, in the request's volume unit per length unit: 140 cc per inch is "
            "1.4 cc per 0.010 in.",
            examples=[140],
        ),
    ]


class FirstCut(Model, tag_field="kind", tag="first_cut", kw_only=True, frozen=True):
    """One chamber cc'd before and after a first cut, which gives its loss per depth."""

    volume_before: Annotated[PositiveVolume, Meta(description="cc'd before the first cut.", examples=[58.9])]
    volume_after: Annotated[PositiveVolume, Meta(description="cc'd after the first cut.", examples=[57.3])]
    depth: Annotated[PositiveLength, Meta(description="What the first cut took.", examples=[0.012])]


class DeckArea(Model, tag_field="kind", tag="area", kw_only=True, frozen=True):
    """The chamber's area at the deck, taken to hold all the way down."""

    deck_area: Annotated[
        PositiveArea,
        Meta(
            description="Area of the chamber at the deck, measured with a planimeter or on squared paper; never from "
            "a perimeter.",
            examples=[8.1],
        ),
    ]


class Pour(Model, kw_only=True, frozen=True):
    """What a chamber holds up to one level."""

    depth: Annotated[
        Length,
        Meta(
            description="How far the liquid stands below the deck, square to it: 0 for a full chamber, never negative.",
            examples=[0.050],
        ),
    ]
    volume: Annotated[Volume, Meta(description="Volume below that level.", examples=[51.4])]


class Poured(Model, tag_field="kind", tag="pours", kw_only=True, frozen=True):
    """One chamber cc'd to several levels: a shape-preserving curve through the readings."""

    pours: Annotated[
        list[Pour],
        Meta(
            min_length=2,
            max_length=40,
            description="Levels in any order, one of them full, at depth 0; the volume must fall with depth.",
            examples=[[{"depth": 0.0, "volume": 57.3}, {"depth": 0.050, "volume": 51.4}]],
        ),
    ]


Shape = PerDepth | FirstCut | DeckArea | Poured
ShapeField = Annotated[
    Shape | None,
    Meta(
        description="How chamber volume goes with depth of cut, alike for all chambers; null = not measured.",
        examples=[{"kind": "area", "deck_area": 8.1}],
    ),
]


def shape_faults(shape: Shape | None) -> Iterator[Pointed]:
    """Pours of one chamber that cannot all be true."""
    if isinstance(shape, FirstCut) and (shape.volume_before - shape.volume_after) < TOLD_APART:
        after, before = (say(one, "volume") for one in (shape.volume_after, shape.volume_before))
        detail = (
            f"the chamber after the cut, {after}, must be less than before it, {before}: a cut makes the chamber "
            "smaller; check both readings"
        )
        yield Pointed("/chamber_shape/volume_after", detail)
    if not isinstance(shape, Poured):
        return
    depth, volume = [pour.depth for pour in shape.pours], [pour.volume for pour in shape.pours]
    for fault, first, second in find_pour_faults(depth, volume):
        at = say(depth[first], "length")
        pointer = f"/chamber_shape/pours/{second}"
        match fault:
            case "no_full_pour":
                detail = f"the shallowest level is {at} below the deck; one at depth 0, the full chamber, is needed"
                yield Pointed(f"{pointer}/depth", detail)
            case "repeats":
                yield Pointed(f"{pointer}/depth", f"levels {first + 1} and {second + 1} are both at {at}; keep one")
            case "doubles_back":
                detail = (
                    f"levels {first + 1} and {second + 1}: {say(volume[second], 'volume')} at "
                    f"{say(depth[second], 'length')} must be less than "
                    f"{say(volume[first], 'volume')} at {at}; cc one of them again"
                )
                yield Pointed(f"{pointer}/volume", detail)


def shape_of(shape: Shape | None) -> ChamberShape | None:
    """How volume goes with depth; None where nobody said."""
    match shape:
        case PerDepth(volume_per_depth=per_depth):
            return from_area(per_depth)
        case FirstCut(volume_before=before, volume_after=after, depth=depth):
            return from_area(volume_per_depth(before, after, depth))
        case DeckArea(deck_area=area):
            return from_area(area)
        case Poured(pours=pours):
            return from_pours([pour.depth for pour in pours], [pour.volume for pour in pours])
        case None:
            return None


def chambers_of(chambers: Sequence[Chamber]) -> list[calc.Chamber]:
    """The chambers as they were cc'd."""
    return [calc.Chamber(number_of(chamber.chamber_volume), number_of(chamber.deck_clearance)) for chamber in chambers]


def open_chambers(chambers: Sequence[Chamber], *held: str) -> Iterator[OpenItem]:
    """An open item for every chamber that was not cc'd."""
    for place, chamber in enumerate(chambers):
        if chamber.chamber_volume is None:
            yield OpenItem(
                pointer=f"/chambers/{place}/chamber_volume",
                position=None,
                spring=None,
                needed_for=["chamber_volume", "clearance_volume", "static_ratio", "effective_ratio", *held],
                detail=f"Chamber {chamber.id}: cc it with the valves and spark plug in.",
            )


def open_shape(shape: Shape | None, *, cut: bool, depths: Sequence[str]) -> Iterator[OpenItem]:
    """How volume goes with depth, if nobody said; `depths` are the fields that ask how deep to cut."""
    after_cut = (
        [
            "removed_volume",
            "chamber_volume_after",
            "chamber_volume",
            "clearance_volume",
            "static_ratio",
            "effective_ratio",
        ]
        if cut
        else []
    )
    if shape is None and (cut or depths):
        yield OpenItem(
            pointer="/chamber_shape",
            position=None,
            spring=None,
            needed_for=[*after_cut, *depths],
            detail="cc one chamber to several levels below the deck, or measure its area at the deck.",
        )


def open_thickness(chambers: Sequence[MilledChamber], least: float | None, *, depth_wanted: bool) -> Iterator[OpenItem]:
    """An open item for every place whose thickness has a limit and was not measured."""
    unheld = " Until then no cut is checked against the minimum thickness." if depth_wanted else ""
    for place, chamber in enumerate(chambers):
        if least is not None and chamber.head_thickness is None:
            yield OpenItem(
                pointer=f"/chambers/{place}/head_thickness",
                position=None,
                spring=None,
                needed_for=["head_thickness_after", "head_thickness_check"],
                detail=f"Chamber {chamber.id}: measure head thickness there, deck to cover rail.{unheld}",
            )
