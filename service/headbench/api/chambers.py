"""Chambers: what was poured of each, and how their volume goes as the deck comes off."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.findings import OpenItem
from headbench.api.milled import ACROSS
from headbench.api.quantities import (
    Columns,
    Length,
    Model,
    Name,
    PositiveArea,
    PositiveLength,
    PositiveVolume,
    PositiveVolumePerLength,
    SignedLength,
    Volume,
    say,
)
from headbench.calc.chamber_shape import ChamberShape, find_pour_faults, from_area, from_pours
from headbench.calc.milling import volume_per_depth
from headbench.errors import Pointed
from headbench.units import Scales

MOST_CHAMBERS: Final = 32


class Chamber(Model, kw_only=True, frozen=True):
    """One chamber and the cylinder under it."""

    id: Annotated[Name, Meta(description="Its name, as it is marked.", examples=["1"])]
    chamber_volume: Annotated[
        PositiveVolume | None,
        Meta(description="Volume poured to the deck, valves and plug in place; null: not poured."),
    ] = None
    deck_clearance: Annotated[
        SignedLength | None,
        Meta(description="This cylinder's own, where they were measured one by one; null: the cylinder section's."),
    ] = None


class MilledChamber(Chamber, kw_only=True, frozen=True):
    """One chamber of a head that is milled."""

    distance_across: Annotated[
        Length | None,
        Meta(description=f"Where its middle lies, the centroid of its area at the deck. {ACROSS}"),
    ] = None
    head_thickness: Annotated[
        PositiveLength | None,
        Meta(description="Thickness of the head beside this chamber before the cut, deck to cover rail."),
    ] = None


class PerDepth(Model, tag_field="kind", tag="volume_per_depth", kw_only=True, frozen=True):
    """What a chamber loses per depth, from the casting's data."""

    volume_per_depth: Annotated[
        PositiveVolumePerLength, Meta(description="Volume over depth, in the request's volume unit per length unit.")
    ]


class FirstCut(Model, tag_field="kind", tag="first_cut", kw_only=True, frozen=True):
    """One chamber poured before and after a first cut, which gives its loss per depth."""

    volume_before: Annotated[PositiveVolume, Meta(description="Poured before the first cut.")]
    volume_after: Annotated[PositiveVolume, Meta(description="Poured after it.")]
    depth: Annotated[PositiveLength, Meta(description="What the first cut took.")]


class DeckArea(Model, tag_field="kind", tag="area", kw_only=True, frozen=True):
    """The chamber's area at the deck, taken to hold all the way down."""

    deck_area: Annotated[
        PositiveArea,
        Meta(description="Area, measured (planimeter, squared paper); never from a perimeter."),
    ]


class Pour(Model, kw_only=True, frozen=True):
    """What a chamber holds up to one level."""

    depth: Annotated[Length, Meta(description="The level's distance below the deck; 0 for a full chamber.")]
    volume: Annotated[Volume, Meta(description="Volume below that level.")]


class Poured(Model, tag_field="kind", tag="pours", kw_only=True, frozen=True):
    """One chamber poured at several depths: a shape-preserving curve through the readings."""

    pours: Annotated[
        list[Pour],
        Meta(
            min_length=2,
            max_length=40,
            description="In any order, one of them at depth 0; the volume must fall with depth.",
            examples=[[{"depth": 0.0, "volume": 57.3}, {"depth": 0.050, "volume": 51.4}]],
        ),
    ]


Shape = PerDepth | FirstCut | DeckArea | Poured
ShapeField = Annotated[
    Shape | None, Meta(description="How the chambers' volume goes with depth, alike for all of them; null: not known.")
]

_POUR = Columns(Pour)
_FIRST_CUT = Columns(FirstCut)
_TOLD_APART: Final = 1e-15
"""What no burette tells apart is the same volume [m3]."""


def shape_faults(shape: Shape | None, scales: Scales) -> Iterator[Pointed]:
    """Pours of one chamber that cannot all be true."""
    if (
        isinstance(shape, FirstCut)
        and (shape.volume_before - shape.volume_after) * scales["volume"].factor < _TOLD_APART
    ):
        unit = scales["volume"].unit
        detail = f"a cut leaves less than there was: {shape.volume_after:g} after {shape.volume_before:g} {unit}"
        yield Pointed("/chamber_shape/volume_after", detail)
    if not isinstance(shape, Poured):
        return
    columns = _POUR.to_si(shape.pours, scales)
    depth, volume = columns["depth"], columns["volume"]
    for fault, first, second in find_pour_faults(depth, volume):
        at = say(float(depth[first]), "length", scales)
        pointer = f"/chamber_shape/pours/{second}"
        match fault:
            case "no_full_pour":
                detail = f"the shallowest pour is {at} below the deck; one at depth 0, the full chamber, is needed"
                yield Pointed(f"{pointer}/depth", detail)
            case "repeats":
                yield Pointed(f"{pointer}/depth", f"pours {first + 1} and {second + 1} are both at {at}")
            case "doubles_back":
                detail = (
                    f"pours {first + 1} and {second + 1}: {say(float(volume[second]), 'volume', scales)} below "
                    f"{say(float(depth[second]), 'length', scales)} is no less than "
                    f"{say(float(volume[first]), 'volume', scales)} below {at}; a table cannot double back"
                )
                yield Pointed(f"{pointer}/volume", detail)


def shape_to_si(shape: Shape | None, scales: Scales) -> ChamberShape | None:
    """How volume goes with depth; None where nobody said."""
    match shape:
        case PerDepth(volume_per_depth=per_depth):
            return from_area(per_depth * scales["volume_per_length"].factor)
        case FirstCut() as cut:
            columns = _FIRST_CUT.to_si([cut], scales)
            lost = volume_per_depth(columns["volume_before"], columns["volume_after"], columns["depth"])
            return from_area(float(lost[0]))
        case DeckArea(deck_area=area):
            return from_area(area * scales["area"].factor)
        case Poured(pours=pours):
            columns = _POUR.to_si(pours, scales)
            return from_pours(columns["depth"], columns["volume"])
        case None:
            return None


def open_chambers(chambers: Sequence[Chamber], *held: str) -> Iterator[OpenItem]:
    """An open item for every chamber that was not poured."""
    for place, chamber in enumerate(chambers):
        if chamber.chamber_volume is None:
            yield OpenItem(
                pointer=f"/chambers/{place}/chamber_volume",
                position=None,
                spring=None,
                needed_for=["chamber_volume", "clearance_volume", "static_ratio", *held],
                detail=f"Chamber {chamber.id}: pour it, valves and plug in place.",
            )


def open_shape(shape: Shape | None, *, cut: bool, depths: Sequence[str]) -> Iterator[OpenItem]:
    """How volume goes with depth, if nobody said; `depths` are the fields that ask how deep to cut."""
    after_cut = ["removed_volume", "chamber_volume", "clearance_volume", "static_ratio"] if cut else []
    if shape is None and (cut or depths):
        yield OpenItem(
            pointer="/chamber_shape",
            position=None,
            spring=None,
            needed_for=[*after_cut, *depths],
            detail="Pour one chamber at several depths below the deck, or measure its area at the deck.",
        )


def open_thickness(chambers: Sequence[MilledChamber], least: float | None, *, depth_wanted: bool) -> Iterator[OpenItem]:
    """An open item for every place whose thickness has a limit and was not measured."""
    unheld = " No depth that is wanted is held against the least thickness there before." if depth_wanted else ""
    for place, chamber in enumerate(chambers):
        if least is not None and chamber.head_thickness is None:
            yield OpenItem(
                pointer=f"/chambers/{place}/head_thickness",
                position=None,
                spring=None,
                needed_for=["head_thickness_left", "head_thickness_check"],
                detail=f"Chamber {chamber.id}: measure the head beside it, deck to cover rail.{unheld}",
            )
