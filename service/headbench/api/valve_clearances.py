"""Valve clearances: what clay and dial show between piston and valve, as two rooms take and answer it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final, Literal

import numpy as np
from msgspec import Meta

from headbench.api.checks import LengthCheck, VerdictName, length_checks, worst_of
from headbench.api.findings import Note, OpenItem, note
from headbench.api.milled import POSITION_COLUMNS, MovedPosition, Movement, open_places, sunk_valves
from headbench.api.positions import PositionAnswer
from headbench.api.quantities import Angle, AngleOut, Answer, Columns, CrankAngle, Length, LengthOut, Model, say, shows
from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.grid import GRID
from headbench.calc.limits import PISTON_TO_EXHAUST_VALVE_MINIMUM, PISTON_TO_INTAKE_VALVE_MINIMUM
from headbench.calc.piston_to_valve import (
    clearance_after,
    clearance_lost,
    find_angle_faults,
    find_valve_faults,
    smallest_clearance,
)
from headbench.calc.touching import clearance_verdict
from headbench.calc.verdicts import accepted_if_proven
from headbench.errors import Pointed
from headbench.units import Scales

MOST_READINGS: Final = 60


class ValveClearanceLimits(Model, kw_only=True, frozen=True):
    """How near a valve may come to its piston; more with aluminium rods."""

    piston_to_intake_valve_minimum: Annotated[
        Length | None, Meta(description="Least clearance; null: 0.080 in (2.032 mm).")
    ] = None
    piston_to_exhaust_valve_minimum: Annotated[
        Length | None, Meta(description="Least clearance; null: 0.100 in (2.54 mm).")
    ] = None


class Clay(Model, tag_field="kind", tag="clay", kw_only=True, frozen=True):
    """Clay on the crown, the engine turned through: it keeps the smallest clearance of the turn."""

    thinnest: Annotated[
        Length,
        Meta(description="Where it is thinnest: square to a flat crown, in a pocket square to the pocket's floor."),
    ]


class DialReading(Model, kw_only=True, frozen=True):
    """One reading of the dial."""

    crank_angle: Annotated[
        CrankAngle,
        Meta(description="Crank degrees after top dead centre of the overlap, counted through; negative before it."),
    ]
    clearance: Annotated[Length, Meta(description="Travel by which the valve can be pushed until it meets the piston.")]


class Dial(Model, tag_field="kind", tag="dial", kw_only=True, frozen=True):
    """A dial on the retainer, the valve pushed down by hand at several crank angles."""

    readings: Annotated[
        list[DialReading],
        Meta(min_length=1, max_length=MOST_READINGS, description="In any order, closely around the smallest."),
    ]


class Clearance(Model, kw_only=True, frozen=True):
    """What was read between one valve and its piston, before anything comes off."""

    crown: Annotated[
        Literal["flat", "pocket"],
        Meta(description="What the valve would meet: a crown square to the bore, or a pocket parallel to its head."),
    ]
    valve_angle: Annotated[
        Angle | None, Meta(description="Between valve and bore axis; 0 for a valve along the bore, null: not known.")
    ] = None
    read: Annotated[Clay | Dial | None, Meta(description="Null: not read yet.")] = None


class ClearanceNumbers(PositionAnswer, kw_only=True, frozen=True):
    """One valve's clearance, all by the measure it was read in."""

    net_approach: Annotated[LengthOut | None, Meta(description="How much nearer the head comes to the crank there.")]
    smallest_reading: Annotated[LengthOut | None, Meta(description="The smallest that was read.")]
    crank_angle: Annotated[AngleOut | None, Meta(description="Where the dial read it.")]
    between_readings: Annotated[
        LengthOut | None, Meta(description="Lowest point of the parabola through it and its neighbours on the dial.")
    ]
    lost: Annotated[LengthOut | None, Meta(description="What the approach takes.")]
    gained: Annotated[LengthOut | None, Meta(description="What the ground seat gives.")]


class ClearanceLine(ClearanceNumbers, kw_only=True, frozen=True):
    """One valve's clearance after the work."""

    measure: Annotated[
        Literal["along_bore", "across_pocket", "in_valve_travel"],
        Meta(description="Clay on a flat crown: along the bore. In a pocket: square to it. Dial, flat: valve travel."),
    ]
    bracketed: Annotated[
        bool | None, Meta(description="False if the dial's smallest is its first or last; null without a dial.")
    ]
    piston_to_valve: Annotated[
        LengthCheck,
        Meta(
            description="between_readings - lost + gained, against the least for this valve; touching is rejected "
            "whatever that is, and nothing is accepted at a timing the cam no longer has."
        ),
    ]


class ClearanceSection(Answer, kw_only=True, frozen=True):
    """All valves' clearances after the work."""

    verdict: Annotated[VerdictName, Meta(description="The worst of all positions.")]
    positions: list[ClearanceLine]


@dataclass(frozen=True, slots=True)
class PlacedClearance:
    """A position that has clearance readings, with its place in the request."""

    place: int
    position: MovedPosition
    clearance: Clearance


@dataclass(frozen=True, slots=True)
class ClearanceFit:
    """All clearances before and after, in SI: arrays (V,).

    approach, smallest, crank_angle, between, lost, gained, after, limit : [m, crank_angle rad]
    bracketed : bool, True where clay was used, which keeps the smallest by itself [-]
    needs_angle : bool, whether the valve's angle is missing and matters [-]
    timing_moved : one bool for all, whether the cam no longer runs as it did when they were read [-]
    """

    approach: FloatArray
    smallest: FloatArray
    crank_angle: FloatArray
    between: FloatArray
    lost: FloatArray
    gained: FloatArray
    after: FloatArray
    limit: FloatArray
    bracketed: BoolArray
    needs_angle: BoolArray
    timing_moved: bool

    def verdict(self) -> IntArray:
        """Verdict codes; a smallest reading at the end of its row, or at another timing, proves nothing good."""
        proven = self.bracketed & (not self.timing_moved)
        return accepted_if_proven(clearance_verdict(self.after, self.limit), proven)


_READING = Columns(DialReading)
_NUMBERS = Columns(ClearanceNumbers)
_CLEARANCE = Columns(Clearance)
_LIMITS = Columns(ValveClearanceLimits)


def _readings_to_si(clearances: Sequence[Clearance], scales: Scales) -> tuple[FloatArray, FloatArray]:
    """Crank angles and clearances, arrays (V, A), NaN where none was read; clay stands in the first column."""
    read = [one.read for one in clearances]
    most = max([1, *(len(one.readings) for one in read if isinstance(one, Dial))])
    angle, clearance = np.zeros((len(read), most)), np.full((len(read), most), np.nan)
    for row, one in enumerate(read):
        match one:
            case Clay(thinnest=thinnest):
                clearance[row, 0] = scales["length"].to_si(thinnest)
            case Dial(readings=readings):
                columns = _READING.to_si(readings, scales)
                angle[row, : len(readings)] = columns["crank_angle"]
                clearance[row, : len(readings)] = columns["clearance"]
            case None:
                continue
    return angle, clearance


def _measure(clearance: Clearance) -> Literal["along_bore", "across_pocket", "in_valve_travel"]:
    if clearance.crown == "pocket":
        return "across_pocket"
    return "in_valve_travel" if isinstance(clearance.read, Dial) else "along_bore"


def fit_clearances(
    placed: Sequence[PlacedClearance],
    limits: ValveClearanceLimits,
    movement: Movement,
    scales: Scales,
    *,
    timing_moved: bool = False,
) -> ClearanceFit:
    """What the movement does to every clearance; with the timing moved what was read proves nothing good."""
    positions = [one.position for one in placed]
    columns = POSITION_COLUMNS.to_si(positions, scales)
    approach = movement.approach_at(columns["distance_across"])
    stands = _CLEARANCE.to_si([one.clearance for one in placed], scales)["valve_angle"]
    sunk = sunk_valves(positions, np.full(len(positions), np.nan), stands, scales)
    measures = np.array([_measure(one.clearance) for one in placed], dtype=np.str_)
    # where nothing moved, how the valve leans does not matter
    lost = clearance_lost(approach, np.where(approach == 0.0, 0.0, stands))
    takes = np.select([measures == name for name in _MEASURES], [getattr(lost, name) for name in _MEASURES])
    gives = np.select([measures == name for name in _MEASURES], [getattr(sunk, name) for name in _MEASURES])
    found = smallest_clearance(*_readings_to_si([one.clearance for one in placed], scales))
    is_dial = np.array([isinstance(one.clearance.read, Dial) for one in placed], dtype=np.bool_)
    defaults = {
        "piston_to_intake_valve_minimum": PISTON_TO_INTAKE_VALVE_MINIMUM.value,
        "piston_to_exhaust_valve_minimum": PISTON_TO_EXHAUST_VALVE_MINIMUM.value,
    }
    given = {name: float(column[0]) for name, column in _LIMITS.to_si([limits], scales).items()}
    by_name = {name: default if np.isnan(given[name]) else given[name] for name, default in defaults.items()}
    return ClearanceFit(
        approach=approach,
        smallest=found.clearance,
        crank_angle=np.where(is_dial, found.crank_angle, np.nan),
        between=found.between_readings,
        lost=takes,
        gained=gives,
        after=clearance_after(found.between_readings, takes, gives),
        limit=np.array([by_name[f"piston_to_{one.position.valve}_valve_minimum"] for one in placed]),
        bracketed=found.bracketed | ~is_dial,
        # what a place that nobody gave still hides, no angle is asked for twice by
        needs_angle=np.isnan(stands) & (np.isnan(gives) | ((measures != "along_bore") & (approach != 0.0))),
        timing_moved=timing_moved,
    )


_MEASURES: Final = ("along_bore", "across_pocket", "in_valve_travel")


def clearance_faults(placed: Sequence[PlacedClearance], scales: Scales) -> Iterator[Pointed]:
    """Valves that lie across, and crank angles that were read twice."""
    stands = _CLEARANCE.to_si([one.clearance for one in placed], scales)["valve_angle"]
    for _, row in find_valve_faults(stands, np.zeros(len(placed))):
        one = placed[row]
        detail = f"position {one.position.id}: a valve square to the bore never meets the piston"
        yield Pointed(f"/positions/{one.place}/piston_to_valve/valve_angle", detail)
    for one in placed:
        read = one.clearance.read
        if not isinstance(read, Dial):
            continue
        columns = _READING.to_si(read.readings, scales)
        for first, second in find_angle_faults(columns["crank_angle"]):
            at = f"{read.readings[second].crank_angle:g} deg"
            detail = f"position {one.position.id}: readings {first + 1} and {second + 1} are both at {at}"
            yield Pointed(f"/positions/{one.place}/piston_to_valve/read/readings/{second}/crank_angle", detail)


def clearance_section(placed: Sequence[PlacedClearance], fit: ClearanceFit, scales: Scales) -> ClearanceSection:
    """All clearances as they are answered."""
    checks = length_checks(fit.after, fit.limit, "at_least", fit.verdict(), scales, check_class="damage")
    numbers = _NUMBERS.from_si(
        {
            "net_approach": fit.approach,
            "smallest_reading": fit.smallest,
            "crank_angle": fit.crank_angle,
            "between_readings": fit.between,
            "lost": fit.lost,
            "gained": fit.gained,
        },
        scales,
    )
    lines = [
        ClearanceLine(
            id=one.position.id,
            valve=one.position.valve,
            measure=_measure(one.clearance),
            bracketed=bracketed if isinstance(one.clearance.read, Dial) else None,
            piston_to_valve=check,
            **row,
        )
        for one, bracketed, check, row in zip(placed, fit.bracketed.tolist(), checks, numbers, strict=True)
    ]
    return ClearanceSection(verdict=worst_of([check.verdict for check in checks]), positions=lines)


def open_clearances(placed: Sequence[PlacedClearance], fit: ClearanceFit, movement: Movement) -> Iterator[OpenItem]:
    """What is still to be measured between valves and pistons."""
    places = [
        (f"/positions/{one.place}", f"Position {one.position.id}", one.position.id, one.position.distance_across)
        for one in placed
    ]
    yield from open_places(movement, places, ["net_approach", "lost", "piston_to_valve"])
    rows = zip(placed, fit.needs_angle.tolist(), fit.bracketed.tolist(), strict=True)
    for one, needs_angle, bracketed in rows:

        def item(field: str, needed_for: list[str], detail: str, one: PlacedClearance = one) -> OpenItem:
            return OpenItem(
                pointer=f"/positions/{one.place}/{field}",
                position=one.position.id,
                spring=None,
                needed_for=needed_for,
                detail=f"Position {one.position.id}: {detail}",
            )

        if needs_angle:
            yield item(
                "piston_to_valve/valve_angle",
                ["lost", "gained", "piston_to_valve"],
                "measure how its valve leans from the bore.",
            )
        if one.clearance.read is None:
            detail = "read the clearance to the piston, with clay or by the dial."
            yield item("piston_to_valve/read", ["smallest_reading", "piston_to_valve"], detail)
        elif not bracketed:
            detail = "the smallest reading is the first or the last; read on beyond it until the clearance grows."
            yield item("piston_to_valve/read/readings", ["piston_to_valve"], detail)
        if fit.timing_moved and one.clearance.read is not None:
            detail = "the cam's timing moves with the head; read piston to valve again at the timing it will run at."
            yield item("piston_to_valve/read", ["piston_to_valve"], detail)


def clearance_notes(placed: Sequence[PlacedClearance], fit: ClearanceFit, scales: Scales) -> Iterator[Note]:
    """Valves that would meet their pistons."""
    for row in np.flatnonzero(fit.after < GRID).tolist():
        meets = -float(fit.after[row])
        how = f"meet by {say(meets, 'length', scales)}" if shows(meets, "length", scales) else "touch"
        detail = f"Position {placed[row].position.id}: valve and piston would {how}. Do not turn this engine over."
        yield note("valve_meets_piston", f"/positions/{placed[row].place}/piston_to_valve", detail)
