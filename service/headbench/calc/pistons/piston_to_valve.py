"""Piston to valve: what is left between them once the head has come down, leans, or the valve has been sunk."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Generic, Literal, overload

from headbench.calc import FloatArray
from headbench.calc.judging import rules
from headbench.calc.judging.alike import N, absolute, cos, each, sin
from headbench.calc.movement.cuts import sunk_valve_volume
from headbench.calc.movement.seats import sink_of_ground_seat


@overload
def angle_after_tilt(valve_angle: float, lean: float, tilt: float) -> float: ...
@overload
def angle_after_tilt(valve_angle: FloatArray, lean: FloatArray | float, tilt: float) -> FloatArray: ...
@overload
def angle_after_tilt(valve_angle: float, lean: FloatArray, tilt: float) -> FloatArray: ...
def angle_after_tilt(valve_angle: FloatArray | float, lean: FloatArray | float, tilt: float) -> FloatArray | float:
    """Valve angle once the head stands on a tilted deck, v + tilt toward the intake, v - tilt away from it.

    Parameters
    ----------
    valve_angle : float or array (V,)
        Between valve and bore axis before v, 0 or more [rad]
    lean : float or array (V,)
        Side of the bore axis that the stem's tip leans to: 1 toward the intake face, -1 away from it; NaN where
        it is not known, which matters to no upright valve [-]
    tilt : float
        Between old and new deck, positive with more off toward the intake face [rad]

    Returns
    -------
    float or array (V,)
        Angle after; negative where the stem now leans to the other side [rad]

    Notes
    -----
    The head turns as one piece until its new deck lies on the block: with more off toward the intake
    face that side goes down, and stems turn toward the intake with it. Own derivation; a valve that is
    canted along the crank as well by a few degrees turns as good as the same.

    >>> tilt, valves = math.radians(2.0), [(15.0, 1.0), (15.0, -1.0), (0.0, math.nan)]
    >>> [round(math.degrees(angle_after_tilt(math.radians(angle), lean, tilt)), 9) for angle, lean in valves]
    [17.0, 13.0, 2.0]
    """
    if not (isinstance(valve_angle, float) and isinstance(lean, float)):
        return each(angle_after_tilt, valve_angle, lean, tilt)
    if tilt == 0.0:
        return valve_angle
    return abs(tilt) if valve_angle == 0.0 else valve_angle + lean * tilt


@dataclass(frozen=True, slots=True)
class ClearanceLost(Generic[N]):
    """What a head that comes down takes from the clearance between piston and valve, by where it is measured.

    along_bore : float or array (V,), along the bore axis, over a flat crown [m]
    across_pocket : float or array (V,), square to a pocket that lay parallel to the valve head before [m]
    in_valve_travel : float or array (V,), in travel of the valve to a flat crown [m]
    """

    along_bore: N
    across_pocket: N
    in_valve_travel: N


def clearance_lost(
    head_drop: N, clearance: N, valve_angle: N | float, lean: N | float, head_diameter: N | float, tilt: float
) -> ClearanceLost[N]:
    """Clearance that the lowest edge of a valve's head loses, n + r (|sin w| - sin v) along the bore.

    Parameters
    ----------
    head_drop : float or array (V,)
        How far the head drops toward the crank at the valve n [m]
    clearance : float or array (V,)
        Clearance before; only valve travel after an angle cut asks for it [m]
    valve_angle : float or array (V,)
        Between valve and bore axis before v, below 90 degrees [rad]
    lean : float or array (V,)
        1 for a stem that leans toward the intake face, -1 away from it: `angle_after_tilt` gives w [-]
    head_diameter : float or array (V,)
        Diameter of the valve's head 2 r; only an angle cut asks for it [m]
    tilt : float
        Between old and new deck, positive with more off toward the intake face; 0 for a flat cut [rad]

    Returns
    -------
    ClearanceLost
        NaN where something is not known that matters [m]

    Notes
    -----
    The head of the valve is a disc square to its stem. Over a flat crown its lowest edge stands r sin v
    below its center, after an angle cut r |sin w|: it dips r (|sin w| - sin v) further than the center
    comes down. In a pocket that was cut parallel to it, it dips r sin |tilt|, and the center comes
    n cos v nearer. A dial reads travel along the stem: over a flat crown c cos v of height before, that
    less n and the dip after, over cos w. A flat cut leaves n, n cos v and n/cos v.

    Own derivation, in the plane square to the crank. Left out is how far the valve's head stands from
    the deck, times 1 - cos tilt: 0.0002 in at 1 degree and 1 in; in a pocket the sideways swing, that
    distance times sin tilt times sin v: 0.0018 in at 1 degree, 15 degrees and 0.4 in. The valve's
    timing is taken to stay; an overhead cam moves it: `cam_timing`.

    >>> lost = clearance_lost(1.0e-3, 3.0e-3, math.radians(60.0), 1.0, math.nan, 0.0)
    >>> round(lost.across_pocket * 1e3, 9), round(lost.in_valve_travel * 1e3, 9)
    (0.5, 2.0)
    >>> round(clearance_lost(1.0e-3, 3.0e-3, 0.0, math.nan, 0.050, math.radians(2.0)).along_bore * 1e3, 4)
    1.8725
    """
    after = angle_after_tilt(valve_angle, lean, tilt)
    if tilt == 0.0:
        # neither the valve's size nor what was read has a say
        return ClearanceLost(head_drop, head_drop * cos(valve_angle), head_drop / cos(after))
    radius = 0.5 * head_diameter
    along = head_drop + radius * (absolute(sin(after)) - sin(valve_angle))
    return ClearanceLost(
        along_bore=along,
        across_pocket=head_drop * cos(valve_angle) + radius * abs(math.sin(tilt)),
        in_valve_travel=along / cos(after) + clearance * (1.0 - cos(valve_angle) / cos(after)),
    )


@dataclass(frozen=True, slots=True)
class SunkValve(Generic[N]):
    """What follows from grinding a seat, nothing else changed.

    sink : float or array (V,), how much deeper the valve sits, along its axis [m]
    stem_height : float or array (V,), how much taller the stem stands over its seat in the head [m]
    installed_height : float or array (V,), how much taller the spring stands [m]
    chamber_volume : float or array (V,), what the chamber gains from this valve [m3]
    along_bore : float or array (V,), piston-to-valve clearance gained over a flat crown, along the bore axis [m]
    across_pocket : float or array (V,), gained square to a pocket that lies parallel to the valve head [m]
    in_valve_travel : float or array (V,), gained in travel of the valve [m]
    """

    sink: N
    stem_height: N
    installed_height: N
    chamber_volume: N
    along_bore: N
    across_pocket: N
    in_valve_travel: N


def sunk_valve(seat_ground: N, seat_angle: N | float, head_diameter: N | float, valve_angle: N | float) -> SunkValve[N]:
    """How deep grinding a seat sinks its valve, s = t/cos(seat angle), and what follows.

    Parameters
    ----------
    seat_ground : float or array (V,)
        What came off the seat, square to its face t [m]
    seat_angle : float or array (V,)
        Seat's face from the plane of the valve's head, below 90 degrees [rad]
    head_diameter : float or array (V,)
        Diameter of the valve's head [m]
    valve_angle : float or array (V,)
        Between valve and bore axis after the work v, below 90 degrees [rad]

    Returns
    -------
    SunkValve

    Notes
    -----
    The same sink serves for metal taken off the valve's own face. Own derivation.

    >>> sunk = sunk_valve(0.25e-3, math.radians(60.0), 0.050, 0.0)
    >>> round(sunk.sink * 1e3, 9), round(sunk.chamber_volume * 1e6, 4)
    (0.5, 0.9817)
    """
    sink = sink_of_ground_seat(seat_ground, seat_angle)
    return SunkValve(
        sink=sink,
        stem_height=sink,
        installed_height=sink,
        chamber_volume=sunk_valve_volume(sink, head_diameter),
        along_bore=sink * cos(valve_angle),
        across_pocket=sink,
        in_valve_travel=sink,
    )


def clearance_after(clearance: N, lost: N | float, gained: N | float) -> N:
    """Clearance between piston and valve after the work, c - lost + gained.

    Parameters
    ----------
    clearance : float or array (V,)
        Clearance before; NaN where it was not measured [m]
    lost : float or array (V,)
        What the head takes that comes down, by the same measure: a field of `clearance_lost` [m]
    gained : float or array (V,)
        What a sunk valve gives, by the same measure: a field of `sunk_valve`; 0 for none [m]

    Returns
    -------
    float or array (V,)
        Clearance after; negative where they would meet [m]

    >>> round(clearance_after(2.5e-3, 0.75e-3, 0.25e-3), 9)
    0.002
    """
    return clearance - lost + gained


@dataclass(frozen=True, slots=True)
class SmallestClearance:
    """Smallest clearance of a valve over a turn of the crank, as it was read.

    clearance : float, smallest reading; NaN where nothing was read [m]
    crank_angle : float, where that is [rad]
    smallest_clearance_before : float, lowest point of the parabola through it and its neighbors; the reading itself
        where it has none on one side [m]
    bracketed : bool, False where the smallest, or its equal, is the first or last reading: less may lie outside [-]
    spacing : float, from the smallest to the farther of its two neighbors; NaN where it is not bracketed [rad]
    """

    clearance: float
    crank_angle: float
    smallest_clearance_before: float
    bracketed: bool
    spacing: float


FARTHEST_READINGS: Final = rules.FARTHEST_READINGS.values[0]
"""How far apart dial readings around the smallest may be [rad]."""


def smallest_clearance(crank_angle: Sequence[float], clearance: Sequence[float]) -> SmallestClearance:
    """Smallest of the clearances read at several crank angles, and where.

    Parameters
    ----------
    crank_angle : sequence of float (A)
        Crank angles, all different, in any order, counted through (not from 0 again after a turn) [rad]
    clearance : sequence of float (A)
        Readings of one valve, by dial or from clay; NaN where none was taken [m]

    Returns
    -------
    SmallestClearance

    Notes
    -----
    Between readings the clearance can be less than any of them. Close to its minimum it is a
    parabola to second order; what is left out comes to 0.0002 in at readings 10 degrees apart, 0.002 in
    at 20 and 0.008 in at 30 (own derivation: sine-squared lifts of 0.45 to 0.70 in over pistons of 3 to 4
    in stroke), so FARTHEST_READINGS are the farthest that prove anything.

    >>> smallest = smallest_clearance([0.0, 0.1, 0.2], [3.0e-3, 2.0e-3, 2.5e-3])
    >>> smallest.clearance, smallest.crank_angle, smallest.bracketed
    (0.002, 0.1, True)
    """
    read = sorted((angle, value) for angle, value in zip(crank_angle, clearance, strict=True) if not math.isnan(value))
    if not read:
        return SmallestClearance(math.nan, math.nan, math.nan, bracketed=False, spacing=math.nan)
    values = [value for _, value in read]
    smallest = min(values)
    lowest = values.index(smallest)
    # of equal readings the last counts as well: at the end of the run it may go on falling
    last = len(values) - 1 - values[::-1].index(smallest)
    if lowest == 0 or last == len(values) - 1:
        return SmallestClearance(smallest, read[lowest][0], smallest, bracketed=False, spacing=math.nan)
    (x0, y0), (x1, y1), (x2, y2) = read[lowest - 1 : lowest + 2]
    if x1 in {x0, x2}:
        # two readings at one angle are none to draw a curve through: `find_angle_faults`
        return SmallestClearance(smallest, x1, smallest, bracketed=False, spacing=math.nan)
    fall, rise = (y1 - y0) / (x1 - x0), (y2 - y1) / (x2 - x1)
    bend = (rise - fall) / (x2 - x0)
    dip = smallest
    # three equal readings bend nowhere
    if bend > 0.0:
        vertex = 0.5 * (x0 + x1 - fall / bend)
        dip = y0 + fall * (vertex - x0) + bend * (vertex - x0) * (vertex - x1)
    return SmallestClearance(smallest, x1, dip, bracketed=True, spacing=max(x1 - x0, x2 - x1))


ValveFault = tuple[Literal["valve_lies_across", "seat_stands_upright"], int]
"""What is wrong with a valve, and its place."""


def find_valve_faults(
    valve_angle: FloatArray | Sequence[float], seat_angle: FloatArray | Sequence[float]
) -> list[ValveFault]:
    """Valves that stand so that no clearance or sink follows.

    Parameters
    ----------
    valve_angle : array (V,)
        Between valve and bore axis; NaN where it is not known [rad]
    seat_angle : float or array (V,)
        Seat's face from the plane of the valve's head; NaN where it is not known [rad]

    Returns
    -------
    list of (fault, place)
        "valve_lies_across": at 90 degrees to the bore or more; "seat_stands_upright": its face at
        90 degrees or more, so that grinding it never lets the valve sink [-]

    >>> find_valve_faults([math.pi / 2], [math.pi / 4])
    [('valve_lies_across', 0)]
    """
    right = 0.5 * math.pi
    faults: list[ValveFault] = [("valve_lies_across", place) for place, v in enumerate(valve_angle) if abs(v) >= right]
    faults += [("seat_stands_upright", place) for place, face in enumerate(seat_angle) if abs(face) >= right]
    return faults


def find_angle_faults(crank_angle: FloatArray | Sequence[float]) -> list[tuple[int, int]]:
    """Places of crank angles that were given twice.

    Parameters
    ----------
    crank_angle : array (A,)
        Crank angles of the readings [rad]

    Returns
    -------
    list of (place, place)
        Each later one with the first of its kind [-]

    >>> find_angle_faults([0.1, 0.2, 0.1])
    [(0, 2)]
    """
    first: dict[int, int] = {}
    found = []
    for place, angle in enumerate(crank_angle):
        # to a nanoradian
        kept = first.setdefault(round(float(angle) * 1e9), place)
        if kept != place:
            found.append((kept, place))
    return found
