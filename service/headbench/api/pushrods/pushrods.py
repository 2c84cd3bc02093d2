"""Pushrods: their readings and lengths, as /v1/pushrod-length and /v1/milling take and answer them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.movement.moved import MovedPosition, run_out_faults, seat_of
from headbench.api.vocabulary.places import ACROSS
from headbench.api.vocabulary.quantities import Angle, Length, Model, PositiveLength, Ratio, SignedLength, number_of
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import OffTarget
from headbench.calc.movement.movement import Movement
from headbench.calc.pushrods import pushrods as calc
from headbench.calc.pushrods.pushrod_length import find_pushrod_faults, pushrod_between
from headbench.errors import Pointed


class LengthAndAngle(Model, tag_field="kind", tag="length_and_angle", kw_only=True, frozen=True):
    """A pushrod by its length and its angle to the bore."""

    length: Annotated[PositiveLength, Meta(description="Length between its ends.", examples=[8.15])]
    angle: Annotated[Angle, Meta(description="Angle between pushrod and bore axis, valve closed.", examples=[8])]


class Point(Model, kw_only=True, frozen=True):
    """A point in the engine."""

    x: Annotated[SignedLength, Meta(description="Across the head.", examples=[1.05])]
    y: Annotated[SignedLength, Meta(description="Along the crank.", examples=[0.2])]
    z: Annotated[SignedLength, Meta(description="Along the bore, from the crank toward the head.", examples=[8.07])]


class TwoEnds(Model, tag_field="kind", tag="two_ends", kw_only=True, frozen=True):
    """A pushrod by where its ends are, valve closed, before the work; from any origin."""

    lifter_end: Annotated[
        Point, Meta(description="Center of its end in the lifter.", examples=[{"x": 0.0, "y": 0.0, "z": 0.0}])
    ]
    rocker_end: Annotated[
        Point, Meta(description="Center of its end in the rocker.", examples=[{"x": 1.05, "y": 0.2, "z": 8.07}])
    ]


class MockUp(Model, kw_only=True, frozen=True):
    """An adjustable checking pushrod and the preload it shows, everything cut and the new gasket in."""

    length: Annotated[PositiveLength, Meta(description="Length the checking pushrod was set to.", examples=[8.10])]
    preload: Annotated[
        SignedLength,
        Meta(description="Lifter preload with it, lifter on the base circle; negative for lash.", examples=[0.031]),
    ]


class Pushrod(Model, kw_only=True, frozen=True):
    """What is known of one pushrod, as far as it was measured."""

    geometry: Annotated[
        LengthAndAngle | TwoEnds | None,
        Meta(
            description="Length and lean of the present pushrod, before the work. Null = not measured.",
            examples=[{"kind": "length_and_angle", "length": 8.15, "angle": 8}],
        ),
    ] = None
    preload: Annotated[
        SignedLength | None,
        Meta(
            description="Lifter preload with the present pushrod, before the work; negative for lash. Null = not "
            "measured.",
            examples=[0.034],
        ),
    ] = None
    mock_up: Annotated[
        MockUp | None,
        Meta(
            description="Preload on the mock-up after the work. Null = not measured.",
            examples=[{"length": 8.10, "preload": 0.031}],
        ),
    ] = None
    distance_across: Annotated[
        Length | None,
        Meta(description=f"Where its rocker end is; null = where the valve is. {ACROSS}", examples=[4.4]),
    ] = None


class PushrodLimits(Model, kw_only=True, frozen=True):
    """What preload out of range is judged."""

    off_target: OffTarget = "borderline"


class Adjuster(Model, kw_only=True, frozen=True):
    """The nut of an adjustable rocker."""

    thread_pitch: Annotated[
        PositiveLength,
        Meta(
            description="Travel of the nut per turn: 1 inch over the threads per inch, 0.0417 in at 24.",
            examples=[0.0417],
        ),
    ]
    lever_ratio: Annotated[
        Ratio,
        Meta(
            description="Travel of the pushrod end per travel of the nut: with the nut over the pivot, 1 + pivot to "
            "pushrod over pivot to valve tip; 1 with an adjuster over the pushrod.",
            examples=[1.6],
        ),
    ] = 1.0


AdjusterField = Annotated[
    Adjuster | None,
    Meta(description="Adjusting nut. Null = rockers are not adjustable.", examples=[{"thread_pitch": 0.0417}]),
]
RockerRatio = Annotated[
    Ratio | None,
    Meta(description="Rocker ratio; only a seat that was done asks for it. Null = not given.", examples=[1.5]),
]


@dataclass(frozen=True, slots=True)
class Placed:
    """A position that has a pushrod, with its place in the request."""

    place: int
    position: MovedPosition
    pushrod: Pushrod
    rocker_ratio: float | None

    def is_whole(self, movement: Movement) -> bool:
        """Whether nothing about it is left to measure."""
        read = self.pushrod.mock_up is not None or (self.pushrod.preload is not None and movement.flat)
        seated = self.rocker_ratio is not None or not self.position.seat_moved
        placed = movement.flat or self.distance_across is not None
        return self.pushrod.geometry is not None and read and seated and placed

    @property
    def distance_across(self) -> float | None:
        """Where its rocker end stands."""
        own = self.pushrod.distance_across
        return self.position.distance_across if own is None else own


_BORE: Final = (0.0, 0.0, 1.0)


def pushrods_of(placed: Sequence[Placed]) -> list[calc.Pushrod]:
    """The pushrods as they were measured."""
    return [_pushrod(one) for one in placed]


def _pushrod(one: Placed) -> calc.Pushrod:
    length = angle = math.nan
    match one.pushrod.geometry:
        case LengthAndAngle(length=length, angle=angle):
            pass
        case TwoEnds(lifter_end=lifter, rocker_end=rocker):
            stand = pushrod_between((lifter.x, lifter.y, lifter.z), (rocker.x, rocker.y, rocker.z), _BORE)
            length, angle = stand.length, stand.angle
    mock_up = one.pushrod.mock_up
    return calc.Pushrod(
        length=length,
        angle=angle,
        preload=number_of(one.pushrod.preload),
        mock_up_length=math.nan if mock_up is None else mock_up.length,
        mock_up_preload=math.nan if mock_up is None else mock_up.preload,
        distance_across=number_of(one.distance_across),
        rocker_ratio=number_of(one.rocker_ratio),
        seat=seat_of(one.position),
    )


def adjuster_of(adjuster: Adjuster | None) -> calc.Adjuster | None:
    """The rockers' nut."""
    return None if adjuster is None else calc.Adjuster(adjuster.thread_pitch, adjuster.lever_ratio)


def pushrod_faults(placed: Sequence[Placed], pushrods: Sequence[calc.Pushrod], movement: Movement) -> Iterator[Pointed]:
    """Pushrods that cannot stand as they are said to, or that a wedge never reaches."""
    places = [
        (
            f"/positions/{one.place}{'' if one.pushrod.distance_across is None else '/pushrod'}",
            f"the pushrod of {one.position.id}",
            one.distance_across,
        )
        for one in placed
    ]
    yield from run_out_faults(movement, places)
    drops = [movement.drop_at(one.distance_across) for one in pushrods]
    lengths = [one.length for one in pushrods]
    for fault, row in find_pushrod_faults(drops, lengths, [one.angle for one in pushrods]):
        one = placed[row]
        which, pointer = one.position.id, f"/positions/{one.place}/pushrod/geometry"
        match fault:
            case "no_length":
                yield Pointed(pointer, f"{which}: both ends of the pushrod are at the same point; measure them again")
            case "lies_across":
                yield Pointed(pointer, f"{which}: a pushrod 90 deg or more off the bore can't lift a rocker; check it")
            case "passes_its_end":
                by, long = say(drops[row], "length"), say(lengths[row], "length")
                detail = f"{which}: the head drops {by}, past the lifter end of a pushrod {long} long; check both"
                yield Pointed(pointer, detail)
