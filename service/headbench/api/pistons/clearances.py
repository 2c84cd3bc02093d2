"""Valve clearances: what clay and dial show between piston and valve, and what the work leaves of it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final, Literal

from msgspec import Meta

from headbench.api.cylinders.cylinder import RodMaterial
from headbench.api.movement.moved import MovedPosition, seat_of
from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.names import KINDS
from headbench.api.vocabulary.quantities import Angle, CrankAngle, Length, Model, PositiveLength, number_of
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import by_default, in_both_units
from headbench.calc.judging.limits import PISTON_TO_EXHAUST_VALVE_MINIMUM, PISTON_TO_INTAKE_VALVE_MINIMUM
from headbench.calc.judging.rules import PISTON_TO_VALVE_WITH_ALUMINUM_RODS
from headbench.calc.movement.movement import Movement
from headbench.calc.pistons.clearances import ValveOverPiston, usual_minimum
from headbench.calc.pistons.piston_to_valve import angle_after_tilt, find_angle_faults, find_valve_faults
from headbench.errors import Pointed

MOST_READINGS: Final = 60

_WITH_ALUMINUM: Final = (
    f"With aluminum rods the default is {in_both_units(PISTON_TO_VALVE_WITH_ALUMINUM_RODS.values[0])} more, "
    f"{PISTON_TO_VALVE_WITH_ALUMINUM_RODS.basis}."
)


class ValveClearanceLimits(Model, kw_only=True, frozen=True):
    """How near a valve may come to its piston."""

    piston_to_intake_valve_minimum: Annotated[
        Length | None,
        by_default(PISTON_TO_INTAKE_VALVE_MINIMUM, f"Minimum piston-to-valve clearance, intake. {_WITH_ALUMINUM}"),
    ] = None
    piston_to_exhaust_valve_minimum: Annotated[
        Length | None,
        by_default(PISTON_TO_EXHAUST_VALVE_MINIMUM, f"Minimum piston-to-valve clearance, exhaust. {_WITH_ALUMINUM}"),
    ] = None


class Clay(Model, tag_field="kind", tag="clay", kw_only=True, frozen=True):
    """Clay on the piston, the engine turned two turns by hand: it keeps the smallest clearance."""

    thinnest_clay: Annotated[
        Length,
        Meta(
            description="Clay where it is thinnest: square to a flat crown, or square to the floor of a valve pocket.",
            examples=[0.131],
        ),
    ]


class DialReading(Model, kw_only=True, frozen=True):
    """One reading of the dial indicator."""

    crank_angle: Annotated[
        CrankAngle,
        Meta(
            description="Crank degrees after TDC of the overlap, counted through; negative before TDC.",
            examples=[10],
        ),
    ]
    clearance: Annotated[
        Length, Meta(description="How far the valve can be pushed down before it meets the piston.", examples=[0.139])
    ]


class Dial(Model, tag_field="kind", tag="dial", kw_only=True, frozen=True):
    """A dial indicator on the retainer, checking spring fitted, the valve pushed down at several crank angles."""

    readings: Annotated[
        list[DialReading],
        Meta(
            min_length=1,
            max_length=MOST_READINGS,
            description="Readings in any order, every 5 degrees around the smallest or closer.",
            examples=[
                [
                    {"crank_angle": 5, "clearance": 0.152},
                    {"crank_angle": 10, "clearance": 0.139},
                    {"crank_angle": 15, "clearance": 0.146},
                ]
            ],
        ),
    ]


class Clearance(Model, kw_only=True, frozen=True):
    """What was read between one valve and its piston, before the work."""

    crown: Annotated[
        Literal["flat", "pocket"],
        Meta(
            description="What the valve would hit: a crown square to the bore, or a valve pocket whose floor is "
            "parallel to the valve head before the work.",
            examples=["flat"],
        ),
    ]
    valve_angle: Annotated[
        Angle | None,
        Meta(
            description="Valve angle to the bore before the work; 0 for a valve along the bore. Null = not measured.",
            examples=[18],
        ),
    ] = None
    stem_leans: Annotated[
        Literal["toward_intake", "away_from_intake"] | None,
        Meta(
            description="Which way the top of the stem leans from the bore. Only an angle cut asks for it: the valve "
            "leans with the head. Null = not given.",
            examples=["toward_intake"],
        ),
    ] = None
    read: Annotated[
        Clay | Dial | None,
        Meta(
            description="Piston-to-valve clearance, by clay or dial indicator. Null = not measured.",
            examples=[{"kind": "clay", "thinnest_clay": 0.131}],
        ),
    ] = None


HeadDiameter = Annotated[
    PositiveLength | None,
    Meta(
        description="Diameter of the valve head. An angle cut asks for it where piston to valve is checked, a seat "
        "that was done where chambers are given. Null = not measured.",
        examples=[2.02],
    ),
]


_LEAN: Final = {"toward_intake": 1.0, "away_from_intake": -1.0, None: math.nan}


@dataclass(frozen=True, slots=True)
class PlacedClearance:
    """A position that has clearance readings, with its place in the request."""

    place: int
    position: MovedPosition
    clearance: Clearance
    head_diameter: float | None


def valves_over_pistons(
    placed: Sequence[PlacedClearance], limits: ValveClearanceLimits, rod_material: RodMaterial | None
) -> list[ValveOverPiston]:
    """The valves as they were read."""
    named = {"intake": limits.piston_to_intake_valve_minimum, "exhaust": limits.piston_to_exhaust_valve_minimum}
    minimum = {
        kind: usual_minimum(kind, rod_material) if named[kind] is None else number_of(named[kind]) for kind in KINDS
    }
    return [_over_piston(one, minimum[one.position.valve]) for one in placed]


def _over_piston(one: PlacedClearance, minimum: float) -> ValveOverPiston:
    clearance, read = one.clearance, one.clearance.read
    return ValveOverPiston(
        minimum=minimum,
        crown=clearance.crown,
        clay=read.thinnest_clay if isinstance(read, Clay) else math.nan,
        dial=tuple((at.crank_angle, at.clearance) for at in read.readings) if isinstance(read, Dial) else (),
        valve_angle=number_of(clearance.valve_angle),
        lean=_LEAN[clearance.stem_leans],
        head_diameter=number_of(one.head_diameter),
        distance_across=number_of(one.position.distance_across),
        seat=seat_of(one.position),
    )


def unread_minimums(
    limits: ValveClearanceLimits, positions: Sequence[MovedPosition], placed: Sequence[PlacedClearance]
) -> Iterator[OpenItem]:
    """Minimums that were set for valves of which no clearance is given, or that are not listed at all."""

    def item(pointer: str, position: str | None, detail: str) -> OpenItem:
        return OpenItem(
            pointer=pointer, position=position, spring=None, needed_for=["piston_to_valve_check"], detail=detail
        )

    named = [kind for kind in KINDS if getattr(limits, f"piston_to_{kind}_valve_minimum") is not None]
    missing = " and ".join(kind for kind in named if kind not in {one.valve for one in positions})
    if missing:
        detail = f"A minimum is set for {missing} valves: measure their present piston-to-valve clearance."
        yield item("/positions", None, detail)
    there = {one.place for one in placed}
    for place, one in enumerate(positions):
        if one.valve in named and place not in there:
            detail = f"{one.id}: a minimum is set; measure its present piston-to-valve clearance."
            yield item(f"/positions/{place}/piston_to_valve", one.id, detail)


def lean_faults(placed: Sequence[PlacedClearance], movement: Movement) -> Iterator[Pointed]:
    """Valves that an angle cut leans until they lie across."""
    stands = [(number_of(one.clearance.valve_angle), _LEAN[one.clearance.stem_leans]) for one in placed]
    after = [angle_after_tilt(angle, lean, movement.tilt) for angle, lean in stands]
    for _, row in find_valve_faults(after, []):
        one = placed[row]
        leans = say(abs(after[row]), "angle")
        detail = (
            f"{one.position.id}: after this angle cut the valve would lie at {leans} to the bore; check its angle "
            f"and the cut"
        )
        yield Pointed(f"/positions/{one.place}/piston_to_valve/valve_angle", detail)


def clearance_faults(placed: Sequence[PlacedClearance]) -> Iterator[Pointed]:
    """Valves that lie across, and crank angles that were read twice."""
    for _, row in find_valve_faults([number_of(one.clearance.valve_angle) for one in placed], []):
        one = placed[row]
        detail = f"{one.position.id}: a valve at 90 deg to the bore can't reach the piston; check its angle"
        yield Pointed(f"/positions/{one.place}/piston_to_valve/valve_angle", detail)
    for one in placed:
        read = one.clearance.read
        if not isinstance(read, Dial):
            continue
        for first, second in find_angle_faults([at.crank_angle for at in read.readings]):
            at = say(read.readings[second].crank_angle, "angle")
            detail = f"{one.position.id}: readings {first + 1} and {second + 1} are both at {at}; keep one"
            yield Pointed(f"/positions/{one.place}/piston_to_valve/read/readings/{second}/crank_angle", detail)
