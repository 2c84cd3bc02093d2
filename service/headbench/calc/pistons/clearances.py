"""Clearances: what clay and dial show between piston and valve, and what the work leaves of it, valve by valve."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from headbench.calc.judging.limits import PISTON_TO_EXHAUST_VALVE_MINIMUM, PISTON_TO_INTAKE_VALVE_MINIMUM
from headbench.calc.judging.rules import PISTON_TO_VALVE_WITH_ALUMINUM_RODS
from headbench.calc.judging.touching import clearance_verdict
from headbench.calc.judging.verdicts import accepted_if_proven
from headbench.calc.movement.movement import Movement
from headbench.calc.movement.seats import Seat
from headbench.calc.pistons.piston_to_valve import (
    FARTHEST_READINGS,
    SmallestClearance,
    SunkValve,
    angle_after_tilt,
    clearance_after,
    clearance_lost,
    smallest_clearance,
    sunk_valve,
)

Measure = Literal["along_bore", "across_pocket", "in_valve_travel"]
"""How a clearance is measured, which is how it is judged."""


@dataclass(frozen=True, slots=True)
class ValveOverPiston:
    """One valve, and what was read between it and its piston before the work.

    minimum : float, the least that is good: `usual_minimum`, or what the engine's maker asks for [m]
    crown : str, "flat" for a crown square to the bore, "pocket" for one whose floor lies parallel to the valve's head
    clay : float, clay where it is thinnest; NaN where none was laid [m]
    dial : tuple of (crank angle, travel), of a dial on the retainer, at crank angles that all differ [rad, m]
    valve_angle : float, between valve and bore axis, below 90 degrees; NaN not measured [rad]
    lean : float, side that the stem's tip leans to: 1 toward the intake face, -1 away from it; NaN not known [-]
    head_diameter : float, of the valve; an angle cut asks for it; NaN not measured [m]
    distance_across : float, where its head stands; an angle cut asks for it; NaN not measured [m]
    seat : Seat, what was done to its seat [-]
    """

    minimum: float
    crown: Literal["flat", "pocket"] = "flat"
    clay: float = math.nan
    dial: tuple[tuple[float, float], ...] = ()
    valve_angle: float = math.nan
    lean: float = math.nan
    head_diameter: float = math.nan
    distance_across: float = math.nan
    seat: Seat = Seat()  # noqa: RUF009 - it is frozen

    @property
    def measure(self) -> Measure:
        """How its clearance is measured."""
        if self.crown == "pocket":
            return "across_pocket"
        return "in_valve_travel" if self.dial else "along_bore"


@dataclass(frozen=True, slots=True)
class ClearanceLeft:
    """One valve's clearance before and after the work, by the measure it was read in; NaN where a reading is missing.

    measure : str, along the bore, square to the pocket, or in travel of the valve
    head_drop : float, how far the head drops toward the crank at the valve [m]
    smallest : float, the smallest reading [m]
    crank_angle : float, where the dial showed it [rad]
    before : float, smallest clearance, between the readings of a dial too [m]
    lost : float, what the head takes that comes down [m]
    gained : float, what a sunk valve gives [m]
    after : float, what is left; negative where they would meet [m]
    minimum : float, the least that is good [m]
    valve_angle : float, before the work [rad]
    angle_after : float, after it; negative where the valve leans the other way [rad]
    bracketed : bool, False where the smallest dial reading is the first or the last of its run [-]
    far_apart : bool, whether the dial readings around it leave too much unread [-]
    needs_angle : bool, whether the valve's angle is missing and matters [-]
    verdict : int, Verdict code; what proves nothing good is not accepted [-]
    """

    measure: Measure
    head_drop: float
    smallest: float
    crank_angle: float
    before: float
    lost: float
    gained: float
    after: float
    minimum: float
    valve_angle: float
    angle_after: float
    bracketed: bool
    far_apart: bool
    needs_angle: bool
    verdict: int


_USUAL: Final = {"intake": PISTON_TO_INTAKE_VALVE_MINIMUM, "exhaust": PISTON_TO_EXHAUST_VALVE_MINIMUM}


def usual_minimum(valve: Literal["intake", "exhaust"], rods: Literal["steel", "aluminum"] | None) -> float:
    """Least piston-to-valve clearance of a kind of valve where nobody names one, more with aluminum rods.

    Parameters
    ----------
    valve : str
        Intake or exhaust [-]
    rods : str or None
        What the rods are made of; None not known, taken as steel [-]

    Returns
    -------
    float
        `limits.PISTON_TO_INTAKE_VALVE_MINIMUM`, `limits.PISTON_TO_EXHAUST_VALVE_MINIMUM` and
        `rules.PISTON_TO_VALVE_WITH_ALUMINUM_RODS` say what it rests on [m]

    >>> round(usual_minimum("exhaust", None) / 0.0254, 9)
    0.1
    """
    return _USUAL[valve].value + (PISTON_TO_VALVE_WITH_ALUMINUM_RODS.values[0] if rods == "aluminum" else 0.0)


def sunk_by(seat: Seat, head_diameter: float, valve_angle: float) -> SunkValve[float]:
    """What follows from the work on one seat: `sunk_valve` of what was ground off it, or of the sink that was measured.

    Parameters
    ----------
    seat : Seat
        What was done to it [-]
    head_diameter : float
        Diameter of the valve's head; for the chamber's gain only [m]
    valve_angle : float
        Between valve and bore axis after the work; for what is gained along the bore only [rad]

    Returns
    -------
    SunkValve

    >>> round(sunk_by(Seat(sink=-0.5e-3), 0.050, 0.0).chamber_volume * 1e6, 4)
    -0.9817
    """
    if not seat.moved:
        # a seat that is as it was sinks no valve, however little is known of it
        return sunk_valve(0.0, 0.0, 0.0, 0.0)
    if math.isnan(seat.sink):
        return sunk_valve(seat.ground, seat.angle, head_diameter, valve_angle)
    # a sink that was measured is what a seat square to the valve's axis would have lost
    return sunk_valve(seat.sink, 0.0, head_diameter, valve_angle)


def clearances_left(
    valves: Sequence[ValveOverPiston], movement: Movement, *, timing_moved: bool = False
) -> list[ClearanceLeft]:
    """Clearance between every valve and its piston after the work, by the measure it was read in.

    Parameters
    ----------
    valves : sequence of ValveOverPiston (V)
        The valves as they were read before the work [-]
    movement : Movement
        What lets the head drop [-]
    timing_moved : bool
        Whether the cam no longer runs as it did when they were read: then nothing is accepted [-]

    Returns
    -------
    list of ClearanceLeft (V)

    Notes
    -----
    `clearance_lost`, `sunk_valve` and `smallest_clearance` say what each part rests on; `find_valve_faults` and
    `find_angle_faults` find what cannot be. A smallest reading at the end of its run, or one whose neighbors are
    farther off than FARTHEST_READINGS, proves nothing good.

    >>> valve = ValveOverPiston(minimum=2.0e-3, crown="pocket", clay=3.3e-3, valve_angle=math.radians(60.0))
    >>> (left,) = clearances_left([valve], Movement(depth=1.0e-3))
    >>> round(left.after * 1e3, 9), left.verdict
    (2.8, 0)
    """
    return [_left(valve, movement, timing_moved=timing_moved) for valve in valves]


def _left(valve: ValveOverPiston, movement: Movement, *, timing_moved: bool) -> ClearanceLeft:
    drop, tilt, measure = movement.drop_at(valve.distance_across), movement.tilt, valve.measure
    angle = valve.valve_angle
    angle_after = angle_after_tilt(angle, valve.lean, tilt)
    read = _smallest(valve)
    # where nothing moved, how the valve leans does not matter
    stands = 0.0 if drop == 0.0 and tilt == 0.0 else angle
    lost = clearance_lost(drop, read.smallest_clearance_before, stands, valve.lean, valve.head_diameter, tilt)
    takes: float = getattr(lost, measure)
    gives: float = getattr(sunk_by(valve.seat, math.nan, angle_after), measure)
    after = clearance_after(read.smallest_clearance_before, takes, gives)
    far_apart = read.spacing > FARTHEST_READINGS * (1.0 + 1e-9)
    proven = read.bracketed and not far_apart and not timing_moved
    matters = tilt != 0.0 or math.isnan(gives) or (measure != "along_bore" and drop != 0.0)
    return ClearanceLeft(
        measure=measure,
        head_drop=drop,
        smallest=read.clearance,
        crank_angle=read.crank_angle,
        before=read.smallest_clearance_before,
        lost=takes,
        gained=gives,
        after=after,
        minimum=valve.minimum,
        valve_angle=angle,
        angle_after=angle_after,
        bracketed=read.bracketed,
        far_apart=far_apart,
        # what a place that nobody gave still hides, no angle is asked for twice by
        needs_angle=math.isnan(angle) and matters,
        verdict=accepted_if_proven(clearance_verdict(after, valve.minimum), proven),
    )


def _smallest(valve: ValveOverPiston) -> SmallestClearance:
    """The smallest clearance that was read; clay keeps it by itself."""
    if valve.dial:
        return smallest_clearance(*zip(*valve.dial, strict=True))
    return SmallestClearance(valve.clay, math.nan, valve.clay, bracketed=True, spacing=math.nan)
