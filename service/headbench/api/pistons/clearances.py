"""Valve clearances: what clay and dial show between piston and valve, and what the work leaves of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final, Literal

import numpy as np
from msgspec import Meta

from headbench.api.cylinders.cylinder import RodMaterial
from headbench.api.movement.moved import POSITION_COLUMNS, MovedPosition, Movement, sunk_valves
from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.quantities import Angle, Columns, CrankAngle, Length, Model, PositiveLength
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import by_default, in_both_units
from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.judging.limits import PISTON_TO_EXHAUST_VALVE_MINIMUM, PISTON_TO_INTAKE_VALVE_MINIMUM
from headbench.calc.judging.rules import PISTON_TO_VALVE_WITH_ALUMINUM_RODS
from headbench.calc.judging.touching import clearance_verdict
from headbench.calc.judging.verdicts import accepted_if_proven
from headbench.calc.pistons.piston_to_valve import (
    FARTHEST_READINGS,
    angle_after_tilt,
    clearance_after,
    clearance_lost,
    find_angle_faults,
    find_valve_faults,
    smallest_clearance,
)
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


Measure = Literal["along_bore", "across_pocket", "in_valve_travel"]
_MEASURES: Final[tuple[Measure, ...]] = ("along_bore", "across_pocket", "in_valve_travel")
_LEAN: Final = {"toward_intake": 1.0, "away_from_intake": -1.0, None: np.nan}


@dataclass(frozen=True, slots=True)
class PlacedClearance:
    """A position that has clearance readings, with its place in the request."""

    place: int
    position: MovedPosition
    clearance: Clearance
    head_diameter: float | None


@dataclass(frozen=True, slots=True)
class ClearanceFit:
    """All clearances before and after: arrays (V,).

    head_drop, smallest, crank_angle, between, lost, gained, after, limit : [m, crank_angle rad]
    valve_angle, angle_after : before and after the work, NaN not known [rad]
    bracketed : bool, True where clay was used, which keeps the smallest by itself [-]
    far_apart : bool, whether the readings around the smallest leave too much unread [-]
    tilt : one for all, of the new deck [rad]
    needs_angle : bool, whether the valve's angle is missing and matters [-]
    timing_moved : one bool for all, whether the cam no longer runs as it did when they were read [-]
    """

    head_drop: FloatArray
    smallest: FloatArray
    crank_angle: FloatArray
    between: FloatArray
    lost: FloatArray
    gained: FloatArray
    after: FloatArray
    limit: FloatArray
    valve_angle: FloatArray
    angle_after: FloatArray
    bracketed: BoolArray
    far_apart: BoolArray
    tilt: float
    needs_angle: BoolArray
    timing_moved: bool

    def verdict(self) -> IntArray:
        """Verdict codes; a smallest reading at the end of its run, alone, or at an old timing proves nothing good."""
        proven = self.bracketed & ~self.far_apart & (not self.timing_moved)
        return accepted_if_proven(clearance_verdict(self.after, self.limit), proven)


_READING = Columns(DialReading)
_CLEARANCE = Columns(Clearance)
_LIMITS = Columns(ValveClearanceLimits)


def _head_readings(clearances: Sequence[Clearance]) -> tuple[FloatArray, FloatArray]:
    """Crank angles and clearances, arrays (V, A), NaN where none was read; clay stands in the first column."""
    read = [one.read for one in clearances]
    most = max([1, *(len(one.readings) for one in read if isinstance(one, Dial))])
    angle, clearance = np.zeros((len(read), most)), np.full((len(read), most), np.nan)
    for row, one in enumerate(read):
        match one:
            case Clay(thinnest_clay=thinnest):
                clearance[row, 0] = thinnest
            case Dial(readings=readings):
                columns = _READING.of(readings)
                angle[row, : len(readings)] = columns["crank_angle"]
                clearance[row, : len(readings)] = columns["clearance"]
            case None:
                continue
    return angle, clearance


def measure_of(clearance: Clearance) -> Measure:
    """How a clearance is measured, which is how it is judged."""
    if clearance.crown == "pocket":
        return "across_pocket"
    return "in_valve_travel" if isinstance(clearance.read, Dial) else "along_bore"


def fit_clearances(
    placed: Sequence[PlacedClearance],
    limits: ValveClearanceLimits,
    movement: Movement,
    *,
    rod_material: RodMaterial | None,
    timing_moved: bool = False,
) -> ClearanceFit:
    """What the movement does to every clearance; with the timing moved what was read proves nothing good."""
    positions, tilt = [one.position for one in placed], movement.tilt
    drop = movement.drop_at(POSITION_COLUMNS.of(positions)["distance_across"])
    angle, lean = _stands(placed)
    angle_after = angle_after_tilt(angle, lean, tilt)
    diameter = np.array([one.head_diameter for one in placed], dtype=np.float64)
    found = smallest_clearance(*_head_readings([one.clearance for one in placed]))
    # where nothing moved, how the valve leans does not matter
    stands = np.where((drop == 0.0) & (tilt == 0.0), 0.0, angle)
    lost = clearance_lost(drop, found.smallest_clearance_before, stands, lean, diameter, tilt)
    sunk = sunk_valves(positions, np.full(len(positions), np.nan), angle_after)
    measures = np.array([measure_of(one.clearance) for one in placed], dtype=np.str_)
    takes = np.select([measures == name for name in _MEASURES], [getattr(lost, name) for name in _MEASURES])
    gives = np.select([measures == name for name in _MEASURES], [getattr(sunk, name) for name in _MEASURES])
    is_dial = np.array([isinstance(one.clearance.read, Dial) for one in placed], dtype=np.bool_)
    by_kind = _minimums(limits, rod_material)
    return ClearanceFit(
        head_drop=drop,
        smallest=found.clearance,
        crank_angle=np.where(is_dial, found.crank_angle, np.nan),
        between=found.smallest_clearance_before,
        lost=takes,
        gained=gives,
        after=clearance_after(found.smallest_clearance_before, takes, gives),
        limit=np.array([by_kind[one.position.valve] for one in placed]),
        valve_angle=angle,
        angle_after=angle_after,
        bracketed=found.bracketed | ~is_dial,
        far_apart=found.spacing > FARTHEST_READINGS * (1.0 + 1e-9),
        tilt=tilt,
        # what a place that nobody gave still hides, no angle is asked for twice by
        needs_angle=np.isnan(angle) & ((tilt != 0.0) | np.isnan(gives) | ((measures != "along_bore") & (drop != 0.0))),
        timing_moved=timing_moved,
    )


def _stands(placed: Sequence[PlacedClearance]) -> tuple[FloatArray, FloatArray]:
    """How every valve stands before the work: its angle [rad], and which way it leans, as `angle_after_tilt` has it."""
    clearances = [one.clearance for one in placed]
    angle = _CLEARANCE.of(clearances)["valve_angle"]
    return angle, np.array([_LEAN[one.stem_leans] for one in clearances], dtype=np.float64)


_DEFAULTS: Final = {"intake": PISTON_TO_INTAKE_VALVE_MINIMUM, "exhaust": PISTON_TO_EXHAUST_VALVE_MINIMUM}


def _minimums(limits: ValveClearanceLimits, rod_material: RodMaterial | None) -> dict[ValveKind, float]:
    """Least clearance of every kind of valve [m]."""
    given = _LIMITS.of([limits])
    more = PISTON_TO_VALVE_WITH_ALUMINUM_RODS.values[0] if rod_material == "aluminum" else 0.0
    named = {kind: float(given[f"piston_to_{kind}_valve_minimum"][0]) for kind in KINDS}
    return {kind: _DEFAULTS[kind].value + more if np.isnan(own) else own for kind, own in named.items()}


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
    after = angle_after_tilt(*_stands(placed), movement.tilt)
    for _, row in find_valve_faults(after, np.zeros(len(placed))):
        one = placed[row]
        leans = say(abs(float(after[row])), "angle")
        detail = (
            f"{one.position.id}: after this angle cut the valve would lie at {leans} to the bore; check its angle "
            f"and the cut"
        )
        yield Pointed(f"/positions/{one.place}/piston_to_valve/valve_angle", detail)


def clearance_faults(placed: Sequence[PlacedClearance]) -> Iterator[Pointed]:
    """Valves that lie across, and crank angles that were read twice."""
    stands = _CLEARANCE.of([one.clearance for one in placed])["valve_angle"]
    for _, row in find_valve_faults(stands, np.zeros(len(placed))):
        one = placed[row]
        detail = f"{one.position.id}: a valve at 90 deg to the bore can't reach the piston; check its angle"
        yield Pointed(f"/positions/{one.place}/piston_to_valve/valve_angle", detail)
    for one in placed:
        read = one.clearance.read
        if not isinstance(read, Dial):
            continue
        columns = _READING.of(read.readings)
        for first, second in find_angle_faults(columns["crank_angle"]):
            at = say(read.readings[second].crank_angle, "angle")
            detail = f"{one.position.id}: readings {first + 1} and {second + 1} are both at {at}; keep one"
            yield Pointed(f"/positions/{one.place}/piston_to_valve/read/readings/{second}/crank_angle", detail)
