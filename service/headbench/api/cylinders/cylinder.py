"""Cylinder: bore, crank, piston and gasket of one bank, as far as they were measured."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Final, Literal

from msgspec import Meta

from headbench.api.cylinders.chambers import Chamber
from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.quantities import (
    ClosingAngle,
    Length,
    Model,
    PositiveArea,
    PositiveLength,
    SignedLength,
    Volume,
    number_of,
)
from headbench.api.vocabulary.saying import say
from headbench.calc.cylinders import cylinder as calc
from headbench.calc.cylinders.compression_ratio import find_ratio_faults, round_opening
from headbench.calc.cylinders.piston_travel import find_crank_faults, top_after_bottom
from headbench.calc.judging.rules import SEAT_LIFT
from headbench.errors import Pointed

RodMaterial = Literal["steel", "aluminum"]


class Gasket(Model, kw_only=True, frozen=True):
    """The head gasket."""

    compressed_thickness: Annotated[
        Length | None, Meta(description="Compressed thickness; null = not given.", examples=[0.039])
    ] = None
    gasket_bore: Annotated[
        PositiveLength | None,
        Meta(description="Gasket bore, if it is round: this or opening_area; null = not measured.", examples=[3.93]),
    ] = None
    opening_area: Annotated[
        PositiveArea | None,
        Meta(
            description="Area of the gasket's opening, if it is not round: this or gasket_bore; null = not measured.",
            examples=[12.2],
        ),
    ] = None


class RingLand(Model, kw_only=True, frozen=True):
    """The piston above its top ring, for the crevice around it."""

    land_diameter: Annotated[
        PositiveLength, Meta(description="Piston diameter above the top ring, cold.", examples=[3.80])
    ]
    land_height: Annotated[Length, Meta(description="Edge of the crown to the top ring.", examples=[0.250])]


class Cylinder(Model, kw_only=True, frozen=True):
    """What all cylinders of the bank have in common, as it is before any cut."""

    bore: Annotated[PositiveLength | None, Meta(description="Cylinder bore; null = not measured.", examples=[3.84])] = (
        None
    )
    stroke: Annotated[
        PositiveLength | None, Meta(description="Crank stroke, twice the throw; null = not given.", examples=[3.26])
    ] = None
    deck_clearance: Annotated[
        SignedLength | None,
        Meta(
            description="Piston-to-deck at TDC: flat of the piston below (+) or above (-) the block deck; null = not "
            "measured.",
            examples=[0.010],
        ),
    ] = None
    dish_volume: Annotated[
        Volume, Meta(description="Dish and valve pockets, below the flat of the piston; 0 if none.", examples=[5.0])
    ] = 0.0
    dome_volume: Annotated[Volume, Meta(description="Dome, above the flat of the piston; 0 if none.", examples=[0])] = (
        0.0
    )
    gasket: Annotated[
        Gasket,
        Meta(
            description="The head gasket as it was fitted.",
            examples=[{"compressed_thickness": 0.039, "gasket_bore": 3.93}],
        ),
    ] = Gasket()
    ring_land: Annotated[
        RingLand | None,
        Meta(
            description="Piston above the top ring, for the crevice around it; null = not given, the crevice is left "
            "out.",
            examples=[{"land_diameter": 3.80, "land_height": 0.250}],
        ),
    ] = None
    rod_length: Annotated[
        PositiveLength | None, Meta(description="Rod length, center to center; null = not measured.", examples=[6.12])
    ] = None
    rod_material: Annotated[
        RodMaterial | None,
        Meta(
            description="What the rods are made of: aluminum ones grow and stretch more, so quench and "
            "piston-to-valve clearance need more room. Null = not given.",
            examples=["steel"],
        ),
    ] = None
    pin_offset: Annotated[
        SignedLength,
        Meta(
            description="Piston pin offset from the crank's plane, positive toward the major thrust side; 0 if none.",
            examples=[0.03],
        ),
    ] = 0.0
    intake_closing: Annotated[
        ClosingAngle | None,
        Meta(
            description="Intake closing, crank degrees after BDC, for the effective ratio; null = not given.",
            examples=[62],
        ),
    ] = None
    intake_closing_lift: Annotated[
        Length | None,
        Meta(
            description="Lift at which intake_closing was read, as the cam card says: 0.050 in, 0.006 in for "
            "advertised timing, or 0 on the seat. Null = not given.",
            examples=[0.006],
        ),
    ] = None


def cylinder_of(cylinder: Cylinder) -> calc.Cylinder:
    """What the cylinders have in common."""
    gasket, land = cylinder.gasket, cylinder.ring_land
    return calc.Cylinder(
        bore=number_of(cylinder.bore),
        stroke=number_of(cylinder.stroke),
        deck_clearance=number_of(cylinder.deck_clearance),
        dish_volume=cylinder.dish_volume,
        dome_volume=cylinder.dome_volume,
        gasket_thickness=number_of(gasket.compressed_thickness),
        gasket_bore=number_of(gasket.gasket_bore),
        opening_area=number_of(gasket.opening_area),
        ring_land=None if land is None else (land.land_diameter, land.land_height),
        rod_length=number_of(cylinder.rod_length),
        pin_offset=cylinder.pin_offset,
        intake_closing=number_of(cylinder.intake_closing),
        intake_closing_lift=number_of(cylinder.intake_closing_lift),
    )


def cylinder_faults(cylinder: Cylinder) -> Iterator[Pointed]:
    """Statements about crank, piston and gasket that cannot all hold."""

    def length(value: float) -> str:
        return say(value, "length")

    gasket, land = cylinder.gasket, cylinder.ring_land
    if gasket.gasket_bore is not None and gasket.opening_area is not None:
        detail = "the gasket's opening is given twice: enter gasket_bore or opening_area, not both"
        yield Pointed("/cylinder/gasket/opening_area", detail)
    if land is not None and cylinder.bore is not None and land.land_diameter > cylinder.bore:
        detail = (
            f"land diameter {length(land.land_diameter)} is larger than the bore, {length(cylinder.bore)}; check both"
        )
        yield Pointed("/cylinder/ring_land/land_diameter", detail)
    stroke, rod_length, offset = number_of(cylinder.stroke), number_of(cylinder.rod_length), cylinder.pin_offset
    for fault, _ in find_crank_faults([stroke], [rod_length], [offset], [number_of(cylinder.intake_closing)]):
        match fault:
            case "rod_too_short":
                throw = say(0.5 * stroke + abs(offset), "length")
                detail = f"rod length, center to center, must be more than throw plus pin offset, {throw}"
                yield Pointed("/cylinder/rod_length", detail)
            case "closes_past_top":
                top = say(top_after_bottom(stroke, rod_length, offset), "angle")
                detail = (
                    f"an intake valve that closes {say(cylinder.intake_closing or 0.0, 'angle')} after BDC leaves "
                    f"nothing to compress; it must close before TDC, {top} after BDC"
                )
                yield Pointed("/cylinder/intake_closing", detail)


def gasket_faults(cylinder: Cylinder, gasket_thickness_change: float) -> Iterator[Pointed]:
    """A gasket that gets thinner than nothing."""
    old = cylinder.gasket.compressed_thickness
    if old is not None and old + gasket_thickness_change < 0.0:
        there, by = (say(value, "length") for value in (old, -gasket_thickness_change))
        yield Pointed(
            "/gasket_thickness_change", f"a gasket of {there} can't get {by} thinner; enter new less old thickness"
        )


def room_faults(states: Mapping[str, calc.Compression]) -> Iterator[Pointed]:
    """Cylinders with no room left over their pistons, each with the first state (by its name) in which that is so."""
    named: set[int] = set()
    for state, bank in states.items():
        volumes = [over.clearance_volume for over in bank.pistons]
        for _, place in find_ratio_faults([], volumes):
            if place in named:
                continue
            named.add(place)
            volume = say(volumes[place], "volume")
            detail = (
                f"{state}, no volume is left over the piston: chamber, gasket, deck, dish less dome and crevice come "
                f"to {volume}; check dome volume and piston-to-deck"
            )
            yield Pointed(f"/chambers/{place}/chamber_volume", detail)


# An area measured to the bore's own differs from it by less than this.
_ROUNDING: Final = 1e-9
_RATIO: Final = ["clearance_volume", "static_ratio", "effective_ratio"]


def open_cylinder(cylinder: Cylinder, chambers: Sequence[Chamber]) -> Iterator[OpenItem]:
    """What is still to be measured of crank, piston and gasket."""

    def item(field: str, needed_for: list[str], detail: str) -> OpenItem:
        return OpenItem(pointer=f"/cylinder/{field}", position=None, spring=None, needed_for=needed_for, detail=detail)

    if cylinder.bore is None:
        crevice = [] if cylinder.ring_land is None else ["crevice_volume"]
        yield item("bore", ["swept_volume", "deck_volume", *crevice, *_RATIO], "Measure the bore.")
    if cylinder.stroke is None:
        yield item("stroke", ["swept_volume", "static_ratio", "effective_ratio"], "Enter the stroke.")
    if cylinder.deck_clearance is None and any(chamber.deck_clearance is None for chamber in chambers):
        detail = "Measure piston-to-deck at TDC: flat of the piston below (+) or above (-) the block deck."
        yield item("deck_clearance", ["deck_clearance", "deck_volume", *_RATIO, "quench", "quench_check"], detail)
    if cylinder.gasket.compressed_thickness is None:
        detail = "Enter the compressed gasket thickness."
        yield item("gasket/compressed_thickness", ["gasket_volume", *_RATIO, "quench", "quench_check"], detail)
    if cylinder.gasket.gasket_bore is None and cylinder.gasket.opening_area is None:
        detail = "Measure the gasket bore, or its area if it is not round."
        yield item("gasket/gasket_bore", ["gasket_volume", *_RATIO], detail)
    if cylinder.rod_length is None and (cylinder.intake_closing is not None or cylinder.pin_offset != 0.0):
        held = (
            ["effective_ratio"] if cylinder.pin_offset == 0.0 else ["swept_volume", "static_ratio", "effective_ratio"]
        )
        yield item("rod_length", held, "Enter rod length, center to center.")
    if cylinder.intake_closing is not None and cylinder.intake_closing_lift is None:
        detail = "Enter the lift at which intake closing was read, as the cam card says: 0.050 in, or on the seat."
        yield item("intake_closing_lift", ["effective_ratio"], detail)


def cylinder_notes(cylinder: Cylinder) -> Iterator[Note]:
    """What is odd about bore and gasket, and from where the effective ratio counts."""
    yield from _closing_notes(cylinder)
    gasket = cylinder.gasket
    if cylinder.bore is None:
        return
    if gasket.opening_area is not None:
        opening = gasket.opening_area
        bore = round_opening(cylinder.bore)
        if opening < bore * (1.0 - _ROUNDING):
            detail = (
                f"Gasket opening {say(opening, 'area')} is smaller than the bore's area, "
                f"{say(bore, 'area')}: the gasket overhangs the bore. Check the part."
            )
            yield note("gasket_overhangs", "/cylinder/gasket/opening_area", detail)
    if gasket.gasket_bore is not None and gasket.gasket_bore < cylinder.bore:
        detail = (
            f"Gasket bore {say(gasket.gasket_bore, 'length')} is smaller than the bore, "
            f"{say(cylinder.bore, 'length')}: the gasket overhangs the bore. Check the part."
        )
        yield note("gasket_overhangs", "/cylinder/gasket/gasket_bore", detail)


def _closing_notes(cylinder: Cylinder) -> Iterator[Note]:
    """That an effective ratio counts from a valve that is not on its seat yet."""
    lift = cylinder.intake_closing_lift
    (seated,) = SEAT_LIFT.values
    if cylinder.intake_closing is None or lift is None or lift <= seated * (1.0 + _ROUNDING):
        return
    detail = (
        f"Intake closing was read at {say(lift, 'length')} of lift: the valve closes "
        "later than that, and the true effective ratio is lower. Enter the seat (advertised) closing to get it."
    )
    yield note("effective_ratio_at_lift", "/cylinder/intake_closing_lift", detail)
