"""Piston to valve: what is left between them once the head has come down, leans, or the valve has been sunk."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from headbench.calc import BoolArray, FloatArray
from headbench.calc.judging import rules
from headbench.calc.movement.movement import sunk_valve_volume


def angle_after_tilt(valve_angle: FloatArray | float, lean: FloatArray | float, tilt: float) -> FloatArray:
    """Valve angle once the head stands on a tilted deck, v + tilt toward the intake, v - tilt away from it.

    Parameters
    ----------
    valve_angle : array (V,) or float
        Between valve and bore axis before v, 0 or more [rad]
    lean : array (V,) or float
        Side of the bore axis that the stem's tip leans to: 1 toward the intake face, -1 away from it; NaN where
        it is not known, which matters to no upright valve [-]
    tilt : float
        Between old and new deck, positive with more off toward the intake face [rad]

    Returns
    -------
    array (V,)
        Angle after; negative where the stem now leans to the other side [rad]

    Notes
    -----
    The head turns as one piece until its new deck lies on the block: with more off toward the intake
    face that side goes down, and stems turn toward the intake with it. Own derivation; a valve that is
    canted along the crank as well by a few degrees turns as good as the same.

    >>> np.rad2deg(angle_after_tilt(np.deg2rad([15.0, 15.0, 0.0]), np.array([1.0, -1.0, np.nan]), np.deg2rad(2.0)))
    array([17., 13.,  2.])
    """
    turned = valve_angle + lean * np.full(np.shape(valve_angle), tilt)
    turned = np.where(np.asarray(valve_angle) == 0.0, abs(tilt), turned)
    return np.asarray(valve_angle if tilt == 0.0 else turned, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class ClearanceLost:
    """What a head that comes down takes from the clearance between piston and valve, by where it is measured.

    along_bore : array (V,), along the bore axis, over a flat crown [m]
    across_pocket : array (V,), square to a pocket that lay parallel to the valve head before [m]
    in_valve_travel : array (V,), in travel of the valve to a flat crown [m]
    """

    along_bore: FloatArray
    across_pocket: FloatArray
    in_valve_travel: FloatArray


def clearance_lost(
    head_drop: FloatArray,
    clearance: FloatArray,
    valve_angle: FloatArray | float,
    lean: FloatArray | float,
    head_diameter: FloatArray | float,
    tilt: float,
) -> ClearanceLost:
    """Clearance that the lowest edge of a valve's head loses, n + r (|sin w| - sin v) along the bore.

    Parameters
    ----------
    head_drop : array (V,)
        How far the head drops toward the crank at the valve n [m]
    clearance : array (V,)
        Clearance before; only valve travel after an angle cut asks for it [m]
    valve_angle : array (V,) or float
        Between valve and bore axis before v, below 90 degrees [rad]
    lean : array (V,) or float
        1 for a stem that leans toward the intake face, -1 away from it: `angle_after_tilt` gives w [-]
    head_diameter : array (V,) or float
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

    >>> drop, read, upright = np.array([1.0e-3]), np.array([3.0e-3]), np.array([0.0])
    >>> lost = clearance_lost(drop, read, np.deg2rad([60.0]), 1.0, np.nan, 0.0)
    >>> (lost.across_pocket * 1e3).round(9).tolist(), (lost.in_valve_travel * 1e3).round(9).tolist()
    ([0.5], [2.0])
    >>> (clearance_lost(drop, read, upright, np.nan, 0.050, np.deg2rad(2.0)).along_bore * 1e3).round(4).tolist()
    [1.8725]
    """
    after = angle_after_tilt(valve_angle, lean, tilt)
    radius = 0.5 * np.asarray(head_diameter)
    if tilt == 0.0:
        dip = dip_in_pocket = np.zeros(np.shape(head_drop))
        turned = dip
    else:
        dip = radius * (np.abs(np.sin(after)) - np.sin(valve_angle))
        dip_in_pocket = radius * abs(np.sin(tilt))
        turned = clearance * (1.0 - np.cos(valve_angle) / np.cos(after))
    along = np.asarray(head_drop + dip, dtype=np.float64)
    return ClearanceLost(
        along_bore=along,
        across_pocket=np.asarray(head_drop * np.cos(valve_angle) + dip_in_pocket, dtype=np.float64),
        in_valve_travel=np.asarray(along / np.cos(after) + turned, dtype=np.float64),
    )


@dataclass(frozen=True, slots=True)
class SunkValve:
    """What follows from grinding a seat, nothing else changed.

    sink : array (V,), how much deeper the valve sits, along its axis [m]
    stem_height : array (V,), how much taller the stem stands over its seat in the head [m]
    installed_height : array (V,), how much taller the spring stands [m]
    chamber_volume : array (V,), what the chamber gains from this valve [m3]
    along_bore : array (V,), piston-to-valve clearance gained over a flat crown, along the bore axis [m]
    across_pocket : array (V,), gained square to a pocket that lies parallel to the valve head [m]
    in_valve_travel : array (V,), gained in travel of the valve [m]
    """

    sink: FloatArray
    stem_height: FloatArray
    installed_height: FloatArray
    chamber_volume: FloatArray
    along_bore: FloatArray
    across_pocket: FloatArray
    in_valve_travel: FloatArray


def sunk_valve(
    seat_ground: FloatArray,
    seat_angle: FloatArray | float,
    head_diameter: FloatArray | float,
    valve_angle: FloatArray | float,
) -> SunkValve:
    """How deep grinding a seat sinks its valve, s = t/cos(seat angle), and what follows.

    Parameters
    ----------
    seat_ground : array (V,)
        What came off the seat, square to its face t [m]
    seat_angle : array (V,) or float
        Seat's face from the plane of the valve's head, below 90 degrees [rad]
    head_diameter : array (V,) or float
        Diameter of the valve's head [m]
    valve_angle : array (V,) or float
        Between valve and bore axis after the work v, below 90 degrees [rad]

    Returns
    -------
    SunkValve

    Notes
    -----
    The same sink serves for metal taken off the valve's own face. Own derivation.

    >>> sunk = sunk_valve(np.array([0.25e-3]), np.deg2rad(60.0), 0.050, 0.0)
    >>> (sunk.sink * 1e3).round(9).tolist(), (sunk.chamber_volume * 1e6).round(4).tolist()
    ([0.5], [0.9817])
    """
    sink = np.asarray(seat_ground / np.cos(seat_angle), dtype=np.float64)
    return SunkValve(
        sink=sink,
        stem_height=sink,
        installed_height=sink,
        chamber_volume=sunk_valve_volume(sink, head_diameter),
        along_bore=np.asarray(sink * np.cos(valve_angle), dtype=np.float64),
        across_pocket=sink,
        in_valve_travel=sink,
    )


def clearance_after(clearance: FloatArray, lost: FloatArray | float, gained: FloatArray | float) -> FloatArray:
    """Clearance between piston and valve after the work, c - lost + gained.

    Parameters
    ----------
    clearance : array (V,)
        Clearance before; NaN where it was not measured [m]
    lost : array (V,) or float
        What the head takes that comes down, by the same measure: a field of `clearance_lost` [m]
    gained : array (V,) or float
        What a sunk valve gives, by the same measure: a field of `sunk_valve`; 0 for none [m]

    Returns
    -------
    array (V,)
        Clearance after; negative where they would meet [m]

    >>> clearance_after(np.array([2.5e-3]), 0.75e-3, 0.25e-3).round(9).tolist()
    [0.002]
    """
    return np.asarray(clearance - lost + gained, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class SmallestClearance:
    """Smallest clearance of each valve over a turn of the crank, as it was read.

    clearance : array (V,), smallest reading; NaN where nothing was read [m]
    crank_angle : array (V,), where that is [rad]
    smallest_clearance_before : array (V,), lowest point of the parabola through it and its neighbors; the reading
        itself where it has none on one side [m]
    bracketed : array (V,), False where the smallest, or its equal, is the first or last reading: less may lie
        outside [-]
    spacing : array (V,), from the smallest to the farther of its two neighbors; NaN where it is not bracketed [rad]
    """

    clearance: FloatArray
    crank_angle: FloatArray
    smallest_clearance_before: FloatArray
    bracketed: BoolArray
    spacing: FloatArray


FARTHEST_READINGS: Final = rules.FARTHEST_READINGS.values[0]
"""How far apart dial readings around the smallest may be [rad]."""


def smallest_clearance(crank_angle: FloatArray, clearance: FloatArray) -> SmallestClearance:
    """Smallest of the clearances read at several crank angles, and where.

    Parameters
    ----------
    crank_angle : array (A,) or (V, A)
        Crank angles, for all valves or each its own, all different, in any order, counted through (not from 0
        again after a turn) [rad]
    clearance : array (V, A)
        Readings of each valve, by dial or from clay; NaN where none was taken [m]

    Returns
    -------
    SmallestClearance

    Notes
    -----
    Between readings the clearance can be less than any of them. Close to its minimum it is a
    parabola to second order; what is left out comes to 0.0002 in at readings 10 degrees apart, 0.002 in
    at 20 and 0.008 in at 30 (own derivation: sine-squared lifts of 0.45 to 0.70 in over pistons of 3 to 4
    in stroke), so FARTHEST_READINGS are the farthest that prove anything.

    >>> smallest = smallest_clearance(np.array([0.0, 0.1, 0.2]), np.array([[3.0e-3, 2.0e-3, 2.5e-3]]))
    >>> smallest.clearance.tolist(), smallest.crank_angle.tolist(), smallest.bracketed.tolist()
    ([0.002], [0.1], [True])
    """
    # readings that were not taken go last in their row
    angles = np.where(np.isnan(clearance), np.inf, crank_angle)
    order = np.argsort(angles, axis=1)
    angles = np.take_along_axis(angles, order, axis=1)
    read = np.take_along_axis(clearance, order, axis=1)
    count = np.isfinite(angles).sum(axis=1)
    row, most = np.arange(len(read)), read.shape[1] - 1
    lowest = np.where(np.isnan(read), np.inf, read).argmin(axis=1)
    # of equal readings the last counts as well: at the end of its row it may go on falling
    last = most - np.where(np.isnan(read), np.inf, read)[:, ::-1].argmin(axis=1)
    bracketed = (lowest > 0) & (last < count - 1)
    middle = np.where(bracketed, lowest, 1)
    x = [angles[row, np.clip(middle + side, 0, most)] for side in (-1, 0, 1)]
    y = [read[row, np.clip(middle + side, 0, most)] for side in (-1, 0, 1)]
    with np.errstate(divide="ignore", invalid="ignore"):
        spacing = np.maximum(x[1] - x[0], x[2] - x[1])
        fall, rise = (y[1] - y[0]) / (x[1] - x[0]), (y[2] - y[1]) / (x[2] - x[1])
        bend = (rise - fall) / (x[2] - x[0])
        vertex = 0.5 * (x[0] + x[1] - fall / bend)
        dip = y[0] + fall * (vertex - x[0]) + bend * (vertex - x[0]) * (vertex - x[1])
    smallest = read[row, lowest]
    # three equal readings bend nowhere
    curved = bracketed & (bend > 0.0)
    return SmallestClearance(
        clearance=smallest,
        crank_angle=np.where(count > 0, angles[row, lowest], np.nan),
        smallest_clearance_before=np.where(curved, dip, smallest),
        bracketed=bracketed,
        spacing=np.where(bracketed, spacing, np.nan),
    )


ValveFault = tuple[Literal["valve_lies_across", "seat_stands_upright"], int]
"""What is wrong with a valve, and its place."""


def find_valve_faults(valve_angle: FloatArray, seat_angle: FloatArray) -> list[ValveFault]:
    """Valves that stand so that no clearance or sink follows.

    Parameters
    ----------
    valve_angle : array (V,)
        Between valve and bore axis; NaN where it is not known [rad]
    seat_angle : array (V,)
        Seat's face from the plane of the valve's head; NaN where it is not known [rad]

    Returns
    -------
    list of (fault, place)
        "valve_lies_across": at 90 degrees to the bore or more; "seat_stands_upright": its face at
        90 degrees or more, so that grinding it never lets the valve sink [-]

    >>> find_valve_faults(np.array([np.pi / 2]), np.array([np.pi / 4]))
    [('valve_lies_across', 0)]
    """
    across, upright = np.abs(valve_angle) >= 0.5 * np.pi, np.abs(seat_angle) >= 0.5 * np.pi
    faults: list[ValveFault] = [("valve_lies_across", place) for place in np.flatnonzero(across).tolist()]
    faults += [("seat_stands_upright", place) for place in np.flatnonzero(upright).tolist()]
    return faults


def find_angle_faults(crank_angle: FloatArray) -> list[tuple[int, int]]:
    """Places of crank angles that were given twice.

    Parameters
    ----------
    crank_angle : array (A,)
        Crank angles of the readings [rad]

    Returns
    -------
    list of (place, place)
        Each later one with the first of its kind [-]

    >>> find_angle_faults(np.array([0.1, 0.2, 0.1]))
    [(0, 2)]
    """
    grid = np.rint(crank_angle * 1e9)
    _, first, which = np.unique(grid, return_index=True, return_inverse=True)
    place = np.arange(len(grid))
    again = first[which] != place
    return list(zip(first[which][again].tolist(), place[again].tolist(), strict=True))
