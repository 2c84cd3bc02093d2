"""Piston travel: where the crank has the piston, and what compression is left once the intake valve has closed."""

from __future__ import annotations

from typing import Literal

import numpy as np

from headbench.calc import FloatArray
from headbench.calc.cylinders.compression_ratio import static_ratio, swept_volume


def piston_travel(
    crank_angle: FloatArray, stroke: FloatArray | float, rod_length: FloatArray | float, pin_offset: FloatArray | float
) -> FloatArray:
    """How far the piston stands below its top dead center, exactly, by slider and crank.

    Parameters
    ----------
    crank_angle : array (N,)
        Crank angle after the piston's top dead center [rad]
    stroke : array (N,) or float
        Twice the crank's throw S = 2 R [m]
    rod_length : array (N,) or float
        Connecting rod between its centers L [m]
    pin_offset : array (N,) or float
        Piston pin from the plane of the crank's axis, positive toward the major thrust side e [m]

    Returns
    -------
    array (N,)
        Distance below top dead center [m]

    Notes
    -----
    The pin stands sqrt(L^2 - (R sin q + e)^2) + R cos q over the crank, q from the bore's direction.
    With an offset pin the piston is highest where crank and rod lie in one line, at
    sin q = -e/(L + R), which is where `crank_angle` counts from.

    References
    ----------
    R. L. Norton, Design of Machinery, 5th ed. (2012), section 4.6, eq. (4.16), offset crank-slider (from memory).

    >>> piston_travel(np.array([0.0, np.pi]), 0.080, 0.150, 0.0).round(9).tolist()
    [0.0, 0.08]
    """
    throw = 0.5 * np.asarray(stroke)
    angle = crank_angle + _top_angle(throw, rod_length, pin_offset)
    height = throw * np.cos(angle) + np.sqrt(np.square(rod_length) - (throw * np.sin(angle) + pin_offset) ** 2)
    return np.asarray(_top_height(throw, rod_length, pin_offset) - height, dtype=np.float64)


def piston_stroke(stroke: FloatArray, rod_length: FloatArray | float, pin_offset: FloatArray | float) -> FloatArray:
    """How far the piston moves between its dead centers, sqrt((L + R)^2 - e^2) - sqrt((L - R)^2 - e^2).

    Parameters
    ----------
    stroke : array (C,)
        Twice the crank's throw S = 2 R [m]
    rod_length : array (C,) or float
        Connecting rod between its centers L [m]
    pin_offset : array (C,) or float
        Piston pin from the plane of the crank's axis, either way e [m]

    Returns
    -------
    array (C,)
        Travel of the piston; S itself without an offset [m]

    >>> piston_stroke(np.array([0.080]), 0.150, 0.0).round(9).tolist()
    [0.08]
    """
    throw = 0.5 * stroke
    bottom = np.sqrt(np.square(rod_length - throw) - np.square(pin_offset))
    return np.asarray(_top_height(throw, rod_length, pin_offset) - bottom, dtype=np.float64)


def bottom_angle(stroke: FloatArray, rod_length: FloatArray | float, pin_offset: FloatArray | float) -> FloatArray:
    """Crank angle from the piston's top to its bottom dead center, pi - asin(e/(L - R)) + asin(e/(L + R)).

    Parameters
    ----------
    stroke : array (C,)
        Twice the crank's throw S = 2 R [m]
    rod_length : array (C,) or float
        Connecting rod between its centers L [m]
    pin_offset : array (C,) or float
        Piston pin from the plane of the crank's axis, positive toward the major thrust side e [m]

    Returns
    -------
    array (C,)
        Crank angle; half a turn without an offset [rad]

    >>> np.rad2deg(bottom_angle(np.array([0.080]), 0.150, 0.001)).round(3).tolist()
    [179.781]
    """
    throw = 0.5 * stroke
    bottom = np.pi - np.arcsin(pin_offset / (rod_length - throw))
    return np.asarray(bottom - _top_angle(throw, rod_length, pin_offset), dtype=np.float64)


def top_after_bottom(stroke: FloatArray, rod_length: FloatArray, pin_offset: FloatArray) -> FloatArray:
    """Crank angle from the piston's bottom dead center to its next top one, 2 pi - `bottom_angle`.

    Parameters
    ----------
    stroke : array (C,)
        Twice the crank's throw S = 2 R [m]
    rod_length : array (C,)
        Connecting rod between its centers L; NaN where it is not known [m]
    pin_offset : array (C,)
        Piston pin from the plane of the crank's axis, positive toward the major thrust side e [m]

    Returns
    -------
    array (C,)
        Crank angle; half a turn where the rod is not known, or too short to turn [rad]

    >>> np.rad2deg(top_after_bottom(np.array([0.080]), np.array([0.150]), np.array([0.001]))).round(3).tolist()
    [180.219]
    """
    turns = rod_length > 0.5 * stroke + np.abs(pin_offset)
    # a rod far longer than any throw stands in where none turns, and leaves half a turn
    bottom = bottom_angle(
        np.where(turns, stroke, 0.0), np.where(turns, rod_length, 1.0), np.where(turns, pin_offset, 0.0)
    )
    return np.asarray(2.0 * np.pi - bottom, dtype=np.float64)


def effective_ratio(
    bore: FloatArray,
    stroke: FloatArray,
    rod_length: FloatArray | float,
    pin_offset: FloatArray | float,
    closing_angle: FloatArray | float,
    clearance_volume: FloatArray | float,
) -> FloatArray:
    """Compression ratio from the closing of the intake valve, (V at closing)/V_0.

    Parameters
    ----------
    bore : array (C,)
        Cylinder bore D [m]
    stroke : array (C,)
        Twice the crank's throw S [m]
    rod_length : array (C,) or float
        Connecting rod between its centers L [m]
    pin_offset : array (C,) or float
        Piston pin from the plane of the crank's axis, positive toward the major thrust side e [m]
    closing_angle : array (C,) or float
        Intake closing after the piston's bottom dead center [rad]
    clearance_volume : array (C,) or float
        Clearance volume V_0, above 0 [m3]

    Returns
    -------
    array (C,)
        Effective compression ratio [-]

    Notes
    -----
    Geometry alone: at speed the charge goes on coming in after bottom dead center. It counts from the
    lift the closing angle was read at: closing angles at 0.050 in of lift come some tens of degrees
    before the valve is on its seat, and make the ratio too high.

    References
    ----------
    J. B. Heywood, Internal Combustion Engine Fundamentals, 2nd ed. (2018), section 2.2, eqs. (2.1) and (2.4)
    (from memory).

    >>> square = np.array([0.080])
    >>> effective_ratio(square, square, 0.150, 0.0, 0.0, swept_volume(square, 0.080) / 9.0).round(9).tolist()
    [10.0]
    """
    at_closing = bottom_angle(stroke, rod_length, pin_offset) + closing_angle
    travel = piston_travel(at_closing, stroke, rod_length, pin_offset)
    return static_ratio(swept_volume(bore, travel), np.asarray(clearance_volume))


def _top_angle(throw: FloatArray, rod_length: FloatArray | float, pin_offset: FloatArray | float) -> FloatArray:
    return np.asarray(-np.arcsin(pin_offset / (rod_length + throw)), dtype=np.float64)


def _top_height(throw: FloatArray, rod_length: FloatArray | float, pin_offset: FloatArray | float) -> FloatArray:
    return np.asarray(np.sqrt(np.square(rod_length + throw) - np.square(pin_offset)), dtype=np.float64)


CrankFault = tuple[Literal["rod_too_short", "closes_past_top"], int]
"""What is wrong with a cylinder, and its place."""


def find_crank_faults(
    stroke: FloatArray, rod_length: FloatArray, pin_offset: FloatArray, closing_angle: FloatArray
) -> list[CrankFault]:
    """Cylinders whose crank cannot turn, or whose intake valve closes after the next top dead center.

    Parameters
    ----------
    stroke : array (C,)
        Twice the crank's throw [m]
    rod_length : array (C,)
        Connecting rod between its centers [m]
    pin_offset : array (C,)
        Piston pin from the plane of the crank's axis, either way [m]
    closing_angle : array (C,)
        Intake closing after bottom dead center [rad]

    Returns
    -------
    list of (fault, place)
        "rod_too_short": no longer than throw and offset together; "closes_past_top": the piston is
        on its way down again [-]

    >>> find_crank_faults(np.array([0.08]), np.array([0.03]), np.array([0.0]), np.array([1.0]))
    [('rod_too_short', 0)]
    """
    short = rod_length <= 0.5 * stroke + np.abs(pin_offset)
    faults: list[CrankFault] = [("rod_too_short", place) for place in np.flatnonzero(short).tolist()]
    past = closing_angle >= top_after_bottom(stroke, rod_length, pin_offset)
    faults += [("closes_past_top", place) for place in np.flatnonzero(past).tolist()]
    return faults
