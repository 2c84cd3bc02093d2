"""Stem readings: what of each valve's stem was read, and what may be cut off tip and seat."""

from __future__ import annotations

from collections.abc import Iterator
from math import pi
from typing import Annotated, Literal

from msgspec import Meta

from headbench.api.vocabulary.names import KINDS
from headbench.api.vocabulary.positions import MOST_POSITIONS, PositionModel, repeated_ids
from headbench.api.vocabulary.quantities import Angle, Length, Model, PositiveLength, Ratio, Units
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import OffTarget, by_default
from headbench.calc.stems.limits import GROOVE_TO_TIP_MINIMUM, STEM_HEIGHT_SPREAD_MAXIMUM, TIP_GRIND_MAXIMUM
from headbench.errors import Pointed

LashAdjustment = Literal["solid", "hydraulic_adjustable", "hydraulic_fixed"]


class StemLimits(Model, kw_only=True, frozen=True):
    """How far stem heights may differ, and what may be cut for it."""

    off_target: OffTarget = "borderline"
    stem_height_spread_maximum: Annotated[
        Length | None, by_default(STEM_HEIGHT_SPREAD_MAXIMUM, "Spread of stem heights within one kind of valve.")
    ] = None
    tip_grind_maximum: Annotated[
        Length | None, by_default(TIP_GRIND_MAXIMUM, "Most that may come off a tip over the valve's life.")
    ] = None
    groove_to_tip_minimum: Annotated[
        Length | None, by_default(GROOVE_TO_TIP_MINIMUM, "Minimum distance from the lock groove to the tip.")
    ] = None
    sink_maximum: Annotated[
        Length | None,
        Meta(
            description="How much deeper a valve may still sit, along its axis, by cutting its seat; null = seats are "
            "left alone.",
            examples=[0.004],
        ),
    ] = None


class StemPositionLimits(Model, kw_only=True, frozen=True):
    """What may be cut at one valve, in place of the job's."""

    tip_grind_maximum: Annotated[
        Length | None,
        Meta(
            description="Most that may come off this tip over the valve's life; null = as the job says.",
            examples=[0.006],
        ),
    ] = None
    sink_maximum: Annotated[
        Length | None,
        Meta(
            description="How much deeper this valve may still sit, along its axis; null = as the job says.",
            examples=[0.002],
        ),
    ] = None


class StemPosition(PositionModel, kw_only=True, frozen=True):
    """One valve's stem."""

    stem_height: Annotated[
        PositiveLength | None,
        Meta(description="Reading at the tip, valve closed; null = not measured.", examples=[1.904]),
    ] = None
    datum: Annotated[
        Length | None,
        Meta(
            description="Reading of the same gauge at the datum under this valve, taken off the one at the tip. Every "
            "valve has one, or none has. Null = the tip's reading starts from the datum.",
            examples=[0.102],
        ),
    ] = None
    tip_ground: Annotated[
        Length | None,
        Meta(description="What came off the tip before, 0 for a new valve; null = not known.", examples=[0.002]),
    ] = None
    lash_cap: Annotated[
        bool, Meta(description="Whether a lash cap sits on the tip; such a tip is not ground.", examples=[False])
    ] = False
    groove_to_tip: Annotated[
        Length | None,
        Meta(description="Lock groove to tip, as it is now; null = not measured.", examples=[0.110]),
    ] = None
    installed_height: Annotated[
        PositiveLength | None,
        Meta(
            description="Installed height of its spring with the valve as it is. Only compared with stem_height, where "
            "that starts from the spring seat and no lash cap is on: that shows a misread one. Null = not compared.",
            examples=[1.750],
        ),
    ] = None
    seat_angle: Annotated[Angle, Meta(description="Seat face, from the plane of the valve head.", examples=[45])] = 45.0
    rocker_ratio: Annotated[
        Ratio | None,
        Meta(description="Rocker ratio; only a hydraulic lifter asks for it. Null = not given.", examples=[1.5]),
    ] = None
    limits: Annotated[
        StemPositionLimits, Meta(description="What may be cut here.", examples=[{"tip_grind_maximum": 0.006}])
    ] = StemPositionLimits()


class StemTarget(Model, kw_only=True, frozen=True):
    """Stem height wanted of one kind of valve."""

    stem_height: Annotated[
        PositiveLength | None,
        Meta(description="Middle of the new stem heights; null = where the least has to be cut.", examples=[1.900]),
    ] = None


class StemTargets(Model, kw_only=True, frozen=True):
    """Stem heights wanted of the intake and of the exhaust valves."""

    intake: Annotated[
        StemTarget | None, Meta(description="Intake valves; null = not given.", examples=[{"stem_height": 1.9}])
    ] = None
    exhaust: Annotated[
        StemTarget | None, Meta(description="Exhaust valves; null = not given.", examples=[{"stem_height": 1.9}])
    ] = None


class StemHeightRequest(Model, kw_only=True, frozen=True):
    """The stems of some valves, and what may be cut to make them stand alike."""

    units: Units = Units()
    limits: Annotated[
        StemLimits,
        Meta(description="Spread allowed, and what may be cut.", examples=[{"stem_height_spread_maximum": 0.010}]),
    ] = StemLimits()
    targets: Annotated[
        StemTargets,
        Meta(description="Heights wanted, if any are.", examples=[{"intake": {"stem_height": 1.9}}]),
    ] = StemTargets()
    measured_from: Annotated[
        Literal["spring_seat", "rail"],
        Meta(description="Where stem heights start from, the same for every valve.", examples=["spring_seat"]),
    ] = "spring_seat"
    lash_adjustment: Annotated[
        LashAdjustment | None,
        Meta(
            description="Solid lifters, whose lash is set at the valve; hydraulic ones with a nut to adjust; or "
            "hydraulic ones whose preload only the pushrod's length sets. Null = not given.",
            examples=["hydraulic_fixed"],
        ),
    ] = None
    positions: Annotated[
        list[StemPosition],
        Meta(
            min_length=1,
            max_length=MOST_POSITIONS,
            description="Every valve, in the order of work.",
            examples=[[{"id": "1I", "valve": "intake", "stem_height": 1.904, "tip_ground": 0.0}]],
        ),
    ]


def stem_faults(request: StemHeightRequest) -> Iterator[Pointed]:
    """What of a request contradicts itself."""
    positions = request.positions
    yield from repeated_ids([position.id for position in positions], "/positions", "position")
    mixed = 0 < sum(position.datum is not None for position in positions) < len(positions)
    for place, position in enumerate(positions):
        if mixed and position.datum is None:
            detail = f"{position.id}: other valves have a datum reading; enter one here too, or none anywhere"
            yield Pointed(f"/positions/{place}/datum", detail)
        if position.stem_height is not None and position.datum is not None and position.datum >= position.stem_height:
            tip, datum = say(position.stem_height, "length"), say(position.datum, "length")
            detail = f"{position.id}: datum {datum} is not below the tip's reading {tip}; measure both again"
            yield Pointed(f"/positions/{place}/datum", detail)
        if position.seat_angle >= pi / 2:
            detail = f"{position.id}: seat angle must be below 90 deg; 30 and 45 deg are usual"
            yield Pointed(f"/positions/{place}/seat_angle", detail)
    for kind in KINDS:
        target: StemTarget | None = getattr(request.targets, kind)
        if target is not None and all(position.valve != kind for position in positions):
            yield Pointed(f"/targets/{kind}", f"no {kind} valve is entered; enter one, or leave its target out")
