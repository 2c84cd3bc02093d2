"""Pushrods: their readings and lengths, as /v1/pushrod-length and /v1/milling take and answer them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.movement.moved import POSITION_COLUMNS, MovedPosition, Movement, run_out_faults, sunk_valves
from headbench.api.pushrods.lifters import Lifters, lifters_of
from headbench.api.vocabulary.places import ACROSS
from headbench.api.vocabulary.quantities import Angle, Columns, Length, Model, PositiveLength, Ratio, SignedLength
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import OffTarget
from headbench.calc import BoolArray, FloatArray
from headbench.calc.pushrods import pushrod_length as calc
from headbench.calc.pushrods.lifter_preload import bottom_proven
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
class PushrodStands:
    """How all pushrods stand, and how far the head comes down on them: arrays (V,).

    head_drop : NaN where a wedge's place is not known [m]
    length, angle : NaN where nobody gave them [m, rad]
    """

    head_drop: FloatArray
    length: FloatArray
    angle: FloatArray


@dataclass(frozen=True, slots=True)
class PushrodFit:
    """All pushrods before and after: arrays (V,).

    stands : PushrodStands
    shortening, from_sunk_valve, preload_before, preload : [m]
    mock_up_length, mock_up_preload : [m]
    by_mock_up : preload with the present pushrod after the work, as the mock-up tells it [m]
    minimum, maximum, plunger_travel, step : float, what the lifters want; plunger_travel NaN where not measured [m]
    maximum_named, range_named : bool, whether the job names the maximum, or either end [-]
    wanted : float, preload to aim at; wanted_named whether the job names it [m, -]
    flat : bool, whether every place lost the same, so that no rocker swung [-]
    """

    stands: PushrodStands
    shortening: FloatArray
    from_sunk_valve: FloatArray
    preload_before: FloatArray
    preload: FloatArray
    mock_up_length: FloatArray
    mock_up_preload: FloatArray
    by_mock_up: FloatArray
    minimum: float
    maximum: float
    maximum_named: bool
    range_named: bool
    plunger_travel: float
    wanted: float
    wanted_named: bool
    step: float
    flat: bool

    @property
    def judged(self) -> FloatArray:
        """Preload with the present pushrod after the work: the mock-up's word where there is one [m]."""
        return np.where(np.isnan(self.mock_up_preload), self.preload, self.by_mock_up)

    @property
    def proven(self) -> BoolArray:
        """Whether it can be called good: what an angle cut swings sideways, a mock-up alone shows [-]."""
        return ~np.isnan(self.by_mock_up) | self.flat

    @property
    def off_bottom(self) -> BoolArray:
        """Whether it is known to keep the plunger off its bottom, or held against a maximum that was named [-]."""
        return bottom_proven(self.judged, self.plunger_travel) | self.maximum_named


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


_PUSHROD = Columns(Pushrod)
_MOCK_UP = Columns(MockUp)
_POINT = Columns(Point)
_LEAN = Columns(LengthAndAngle)
_BORE: Final = np.array([0.0, 0.0, 1.0])


def stand_pushrods(placed: Sequence[Placed], movement: Movement) -> PushrodStands:
    """How every pushrod stands."""
    pushrods = [one.pushrod for one in placed]
    own = _PUSHROD.of(pushrods)["distance_across"]
    valve = POSITION_COLUMNS.of([one.position for one in placed])["distance_across"]
    distance = np.where(np.isnan(own), valve, own)
    leaning = [one.geometry if isinstance(one.geometry, LengthAndAngle) else None for one in pushrods]
    columns = _LEAN.of_where(leaning)
    length, angle = columns["length"], columns["angle"]
    ends = [(place, one.geometry) for place, one in enumerate(pushrods) if isinstance(one.geometry, TwoEnds)]
    if ends:
        where = [place for place, _ in ends]
        lifter, rocker = (
            np.stack(list(_POINT.of(points).values()), axis=-1)
            for points in ([one.lifter_end for _, one in ends], [one.rocker_end for _, one in ends])
        )
        stand = calc.pushrod_between(lifter, rocker, _BORE)
        length[where], angle[where] = stand.length, stand.angle
    return PushrodStands(head_drop=movement.drop_at(distance), length=length, angle=angle)


def fit_pushrods(placed: Sequence[Placed], stands: PushrodStands, lifters: Lifters, movement: Movement) -> PushrodFit:
    """What the movement does to every pushrod, once `pushrod_faults` finds nothing wrong with how it stands."""
    positions = [one.position for one in placed]
    pushrods = [one.pushrod for one in placed]
    # a head that has not moved shortens nothing, however its pushrods stand
    shortening = calc.pushrod_shortening(stands.head_drop, stands.length, stands.angle)
    shortening = np.where(stands.head_drop == 0.0, 0.0, shortening)
    # and a seat that was not ground presses nothing down, whatever the rocker's ratio
    unasked = np.full(len(positions), np.nan)
    sink = sunk_valves(positions, unasked, unasked).sink
    ratio = np.array([one.rocker_ratio for one in placed], dtype=np.float64)
    from_sunk_valve = np.where(sink == 0.0, 0.0, calc.preload_from_sunk_valve(sink, ratio))
    before = _PUSHROD.of(pushrods)["preload"]
    mock_up = _MOCK_UP.of_where([one.mock_up for one in pushrods])
    wants = lifters_of(lifters)
    return PushrodFit(
        stands=stands,
        shortening=shortening,
        from_sunk_valve=from_sunk_valve,
        preload_before=before,
        preload=calc.preload_after(before, shortening + from_sunk_valve),
        mock_up_length=mock_up["length"],
        mock_up_preload=mock_up["preload"],
        # the present pushrod presses as much more as it is longer than the checking one
        by_mock_up=calc.preload_after(mock_up["preload"], stands.length - mock_up["length"]),
        minimum=wants.minimum,
        maximum=wants.maximum,
        maximum_named=lifters.preload_maximum is not None,
        range_named=lifters.preload_minimum is not None or lifters.preload_maximum is not None,
        plunger_travel=wants.plunger_travel,
        wanted=0.5 * (wants.minimum + wants.maximum) if np.isnan(wants.wanted) else wants.wanted,
        wanted_named=lifters.target_preload is not None,
        step=wants.step,
        flat=movement.flat,
    )


def pushrod_faults(placed: Sequence[Placed], stands: PushrodStands, movement: Movement) -> Iterator[Pointed]:
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
    for fault, row in calc.find_pushrod_faults(stands.head_drop, stands.length, stands.angle):
        one = placed[row]
        which, pointer = one.position.id, f"/positions/{one.place}/pushrod/geometry"
        match fault:
            case "no_length":
                yield Pointed(pointer, f"{which}: both ends of the pushrod are at the same point; measure them again")
            case "lies_across":
                yield Pointed(pointer, f"{which}: a pushrod 90 deg or more off the bore can't lift a rocker; check it")
            case "passes_its_end":
                by, long = (say(float(column[row]), "length") for column in (stands.head_drop, stands.length))
                detail = f"{which}: the head drops {by}, past the lifter end of a pushrod {long} long; check both"
                yield Pointed(pointer, detail)
