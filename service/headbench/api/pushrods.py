"""Pushrods: their readings and lengths, as /v1/pushrod-length and /v1/milling take and answer them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.findings import OpenItem
from headbench.api.milled import (
    ACROSS,
    POSITION_COLUMNS,
    MovedPosition,
    Movement,
    open_places,
    run_out_faults,
    sunk_valves,
)
from headbench.api.quantities import (
    Angle,
    Columns,
    Length,
    Model,
    PositiveLength,
    Ratio,
    SignedLength,
    say,
)
from headbench.calc import FloatArray
from headbench.calc import pushrod_length as calc
from headbench.errors import Pointed
from headbench.units import Scales


class LengthAndAngle(Model, tag_field="kind", tag="length_and_angle", kw_only=True, frozen=True):
    """A pushrod by its length and how it leans."""

    length: Annotated[PositiveLength, Meta(description="Between its ends.")]
    angle: Annotated[Angle, Meta(description="Between pushrod and bore axis, valve shut.")]


class Point(Model, kw_only=True, frozen=True):
    """A place in the engine."""

    x: Annotated[SignedLength, Meta(description="Across the head.")]
    y: Annotated[SignedLength, Meta(description="Along the crank.")]
    z: Annotated[SignedLength, Meta(description="Along the bore, from the crank towards the head.")]


class TwoEnds(Model, tag_field="kind", tag="two_ends", kw_only=True, frozen=True):
    """A pushrod by where its ends are, valve shut, before anything comes off; from any origin."""

    lifter_end: Point
    rocker_end: Point


class Trial(Model, kw_only=True, frozen=True):
    """A checking pushrod and what the lifter shows with it, on the mock-up: everything cut, the new gasket in."""

    length: Annotated[PositiveLength, Meta(description="Length it was set to.")]
    preload: Annotated[SignedLength, Meta(description="Preload read with it, lifter on its heel; negative for lash.")]


class Pushrod(Model, kw_only=True, frozen=True):
    """What is known of one pushrod, each as far as it was measured."""

    geometry: Annotated[
        LengthAndAngle | TwoEnds | None, Meta(description="How the present pushrod stands, before anything comes off.")
    ] = None
    preload: Annotated[
        SignedLength | None,
        Meta(description="Preload of the lifter with it, before anything comes off; negative for lash at the lifter."),
    ] = None
    trial: Annotated[Trial | None, Meta(description="Null: not mocked up yet.")] = None
    distance_across: Annotated[
        Length | None, Meta(description=f"Where its rocker end stands; null: where the valve does. {ACROSS}")
    ] = None


class Lifters(Model, kw_only=True, frozen=True):
    """What the lifters want, and the lengths that pushrods are kept in."""

    preload_minimum: Annotated[
        SignedLength | None, Meta(description="Least preload; null: 0.020 in (0.508 mm). Negative for lash.")
    ] = None
    preload_maximum: Annotated[SignedLength | None, Meta(description="Most preload; null: 0.060 in (1.524 mm).")] = None
    wanted_preload: Annotated[
        SignedLength | None, Meta(description="Preload to aim at; null: the middle of the range.")
    ] = None
    stock_step: Annotated[
        PositiveLength | None, Meta(description="Step between lengths in stock; null: 0.050 in (1.27 mm).")
    ] = None


class Adjuster(Model, kw_only=True, frozen=True):
    """The nut of an adjustable rocker."""

    thread_pitch: Annotated[
        PositiveLength, Meta(description="Travel of the nut per turn; one inch over the threads per inch.")
    ]
    lever_ratio: Annotated[
        Ratio,
        Meta(
            description="Travel of the pushrod's end per travel of the nut: with the nut over the pivot 1 + the "
            "pushrod's distance from the pivot over the valve tip's; 1 with an adjuster over the pushrod."
        ),
    ] = 1.0


AdjusterField = Annotated[Adjuster | None, Meta(description="Null: the rockers are not adjustable.")]
RockerRatio = Annotated[Ratio | None, Meta(description="Rocker ratio; only a ground seat asks for it.")]


@dataclass(frozen=True, slots=True)
class PushrodStands:
    """How all pushrods stand, and how far the head comes down on them, in SI: arrays (V,).

    approach : NaN where a wedge's place is not known [m]
    length, angle : NaN where nobody gave them [m, rad]
    """

    approach: FloatArray
    length: FloatArray
    angle: FloatArray


@dataclass(frozen=True, slots=True)
class PushrodFit:
    """All pushrods before and after, in SI: arrays (V,).

    stands : PushrodStands
    shortening, from_sunk_valve, preload_before, preload : [m]
    trial_length, trial_preload : [m]
    by_trial : preload with the present pushrod after the work, as the mock-up tells it [m]
    least, most, wanted, step : float, what the lifters want [m]
    """

    stands: PushrodStands
    shortening: FloatArray
    from_sunk_valve: FloatArray
    preload_before: FloatArray
    preload: FloatArray
    trial_length: FloatArray
    trial_preload: FloatArray
    by_trial: FloatArray
    least: float
    most: float
    wanted: float
    step: float

    @property
    def judged(self) -> FloatArray:
        """Preload with the present pushrod after the work: the mock-up's word where there is one [m]."""
        return np.where(np.isnan(self.by_trial), self.preload, self.by_trial)


@dataclass(frozen=True, slots=True)
class Placed:
    """A position that has a pushrod, with its place in the request."""

    place: int
    position: MovedPosition
    pushrod: Pushrod
    rocker_ratio: float | None

    @property
    def distance_across(self) -> float | None:
        """Where its rocker end stands, as the caller wrote it."""
        own = self.pushrod.distance_across
        return self.position.distance_across if own is None else own


_PUSHROD = Columns(Pushrod)
_TRIAL = Columns(Trial)
_POINT = Columns(Point)
_LEAN = Columns(LengthAndAngle)
_LIFTERS = Columns(Lifters)
_BORE: Final = np.array([0.0, 0.0, 1.0])


def stand_pushrods(placed: Sequence[Placed], movement: Movement, scales: Scales) -> PushrodStands:
    """How every pushrod stands."""
    pushrods = [one.pushrod for one in placed]
    own = _PUSHROD.to_si(pushrods, scales)["distance_across"]
    valve = POSITION_COLUMNS.to_si([one.position for one in placed], scales)["distance_across"]
    distance = np.where(np.isnan(own), valve, own)
    leaning = [one.geometry if isinstance(one.geometry, LengthAndAngle) else None for one in pushrods]
    columns = _LEAN.to_si_where(leaning, scales)
    length, angle = columns["length"], columns["angle"]
    ends = [(place, one.geometry) for place, one in enumerate(pushrods) if isinstance(one.geometry, TwoEnds)]
    if ends:
        where = [place for place, _ in ends]
        lifter, rocker = (
            np.stack(list(_POINT.to_si(points, scales).values()), axis=-1)
            for points in ([one.lifter_end for _, one in ends], [one.rocker_end for _, one in ends])
        )
        stand = calc.pushrod_between(lifter, rocker, _BORE)
        length[where], angle[where] = stand.length, stand.angle
    return PushrodStands(approach=movement.approach_at(distance), length=length, angle=angle)


def fit_pushrods(placed: Sequence[Placed], stands: PushrodStands, lifters: Lifters, scales: Scales) -> PushrodFit:
    """What the movement does to every pushrod, once `pushrod_faults` finds nothing wrong with how it stands."""
    positions = [one.position for one in placed]
    pushrods = [one.pushrod for one in placed]
    # a head that has not moved shortens nothing, however its pushrods stand
    shortening = calc.pushrod_shortening(stands.approach, stands.length, stands.angle)
    shortening = np.where(stands.approach == 0.0, 0.0, shortening)
    # and a seat that was not ground presses nothing down, whatever the rocker's ratio
    unasked = np.full(len(positions), np.nan)
    sink = sunk_valves(positions, unasked, unasked, scales).sink
    ratio = np.array([one.rocker_ratio for one in placed], dtype=np.float64)
    from_sunk_valve = np.where(sink == 0.0, 0.0, calc.preload_from_sunk_valve(sink, ratio))
    before = _PUSHROD.to_si(pushrods, scales)["preload"]
    trial = _TRIAL.to_si_where([one.trial for one in pushrods], scales)
    wants = {name: float(column[0]) for name, column in _LIFTERS.to_si([lifters], scales).items()}
    least = calc.PRELOAD_MINIMUM if lifters.preload_minimum is None else wants["preload_minimum"]
    most = calc.PRELOAD_MAXIMUM if lifters.preload_maximum is None else wants["preload_maximum"]
    return PushrodFit(
        stands=stands,
        shortening=shortening,
        from_sunk_valve=from_sunk_valve,
        preload_before=before,
        preload=calc.preload_after(before, shortening + from_sunk_valve),
        trial_length=trial["length"],
        trial_preload=trial["preload"],
        # the present pushrod presses as much more as it is longer than the checking one
        by_trial=calc.preload_after(trial["preload"], stands.length - trial["length"]),
        least=least,
        most=most,
        wanted=0.5 * (least + most) if lifters.wanted_preload is None else wants["wanted_preload"],
        step=calc.STOCK_STEP if lifters.stock_step is None else wants["stock_step"],
    )


def lifter_faults(lifters: Lifters, scales: Scales, prefix: str) -> Iterator[Pointed]:
    """Ranges of preload that are none."""
    unit = scales["length"].factor
    least = calc.PRELOAD_MINIMUM if lifters.preload_minimum is None else lifters.preload_minimum * unit
    most = calc.PRELOAD_MAXIMUM if lifters.preload_maximum is None else lifters.preload_maximum * unit
    low, high = say(least, "length", scales), say(most, "length", scales)
    if least > most:
        yield Pointed(f"{prefix}/preload_maximum", f"the most preload, {high}, is less than the least, {low}")
    elif lifters.wanted_preload is not None and not least <= lifters.wanted_preload * unit <= most:
        wanted = say(lifters.wanted_preload * unit, "length", scales)
        yield Pointed(
            f"{prefix}/wanted_preload", f"the preload wanted, {wanted}, is outside its range, {low} to {high}"
        )


def pushrod_faults(
    placed: Sequence[Placed], stands: PushrodStands, movement: Movement, scales: Scales
) -> Iterator[Pointed]:
    """Pushrods that cannot stand as they are said to, or that a wedge never reaches."""
    places = [
        (
            f"/positions/{one.place}{'' if one.pushrod.distance_across is None else '/pushrod'}",
            f"the pushrod of position {one.position.id}",
            one.distance_across,
        )
        for one in placed
    ]
    yield from run_out_faults(movement, places)
    for fault, row in calc.find_pushrod_faults(stands.approach, stands.length, stands.angle):
        one = placed[row]
        which, pointer = f"position {one.position.id}", f"/positions/{one.place}/pushrod/geometry"
        match fault:
            case "no_length":
                yield Pointed(pointer, f"{which}: both ends of the pushrod are at one place")
            case "lies_across":
                yield Pointed(pointer, f"{which}: a pushrod square to the bore, or past it, lifts no rocker")
            case "passes_its_end":
                by, long = (say(float(column[row]), "length", scales) for column in (stands.approach, stands.length))
                detail = f"{which}: the head comes down {by}, past the lifter's end of a pushrod of {long}"
                yield Pointed(pointer, detail)


_LENGTHS: Final = ["length_for_same_preload", "length_for_wanted_preload"]
_JUDGED: Final = ["preload_deviation", "stock_steps_shorter"]
_PRELOAD: Final = ["preload", *_JUDGED]


def open_pushrods(placed: Sequence[Placed], fit: PushrodFit, movement: Movement) -> Iterator[OpenItem]:
    """What is still to be measured of the pushrods."""
    places = [
        (f"/positions/{one.place}", f"Position {one.position.id}", one.position.id, one.distance_across)
        for one in placed
    ]
    yield from open_places(movement, places, ["net_approach", "shortening", *_LENGTHS, *_PRELOAD])
    for one, approach in zip(placed, fit.stands.approach.tolist(), strict=True):
        pushrod, position = one.pushrod, one.position

        def item(field: str, needed_for: list[str], detail: str, one: Placed = one) -> OpenItem:
            return OpenItem(
                pointer=f"/positions/{one.place}/{field}",
                position=one.position.id,
                spring=None,
                needed_for=needed_for,
                detail=f"Position {one.position.id}: {detail}",
            )

        detail = "measure its pushrod between the ends, and how far it leans from the bore."
        if pushrod.geometry is None and pushrod.trial is None and approach != 0.0:
            yield item("pushrod/geometry", ["shortening", *_LENGTHS, *_PRELOAD], detail)
        elif pushrod.geometry is None and pushrod.trial is not None and pushrod.preload is not None:
            # a mock-up tells of the present pushrod only by how much longer that is
            moved = [] if approach == 0.0 else ["shortening", *_PRELOAD]
            yield item("pushrod/geometry", [*moved, *_LENGTHS, "preload_by_trial"], detail)
        if pushrod.preload is None and pushrod.trial is None:
            detail = "read the lifter's preload, or mock it up with a checking pushrod."
            yield item("pushrod/preload", ["length_for_wanted_preload", *_PRELOAD], detail)
        if position.seat_ground > 0.0 and one.rocker_ratio is None:
            yield item("rocker_ratio", ["from_sunk_valve", *_LENGTHS, *_PRELOAD], "state the rocker ratio.")
