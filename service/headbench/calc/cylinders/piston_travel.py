"""Piston travel: where the crank has the piston, and what compression is left once the intake valve has closed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Literal

from headbench.calc import FloatArray
from headbench.calc.cylinders.compression_ratio import static_ratio, swept_volume
from headbench.calc.judging.alike import N, arcsin, cos, sin, sqrt


def piston_travel(crank_angle: N, stroke: N | float, rod_length: N | float, pin_offset: N | float) -> N:
    """How far the piston stands below its top dead center, exactly, by slider and crank.

    Parameters
    ----------
    crank_angle : float or array (N,)
        Crank angle after the piston's top dead center [rad]
    stroke : float or array (N,)
        Twice the crank's throw S = 2 R [m]
    rod_length : float or array (N,)
        Connecting rod between its centers L [m]
    pin_offset : float or array (N,)
        Piston pin from the plane of the crank's axis, positive toward the major thrust side e [m]

    Returns
    -------
    float or array (N,)
        Distance below top dead center [m]

    Notes
    -----
    The pin stands sqrt(L^2 - (R sin q + e)^2) + R cos q over the crank, q from the bore's direction.
    With an offset pin the piston is highest where crank and rod lie in one line, at
    sin q = -e/(L + R), which is where `crank_angle` counts from.

    References
    ----------
    R. L. Norton, Design of Machinery, 5th ed. (2012), section 4.6, eq. (4.16), offset crank-slider (from memory).

    >>> round(piston_travel(math.pi, 0.080, 0.150, 0.0), 9)
    0.08
    """
    throw = 0.5 * stroke
    angle = crank_angle + _top_angle(throw, rod_length, pin_offset)
    height = throw * cos(angle) + sqrt(rod_length**2 - (throw * sin(angle) + pin_offset) ** 2)
    below: N = _top_height(throw, rod_length, pin_offset) - height
    return below


def piston_stroke(stroke: N, rod_length: N | float, pin_offset: N | float) -> N:
    """How far the piston moves between its dead centers, sqrt((L + R)^2 - e^2) - sqrt((L - R)^2 - e^2).

    Parameters
    ----------
    stroke : float or array (C,)
        Twice the crank's throw S = 2 R [m]
    rod_length : float or array (C,)
        Connecting rod between its centers L [m]
    pin_offset : float or array (C,)
        Piston pin from the plane of the crank's axis, either way e [m]

    Returns
    -------
    float or array (C,)
        Travel of the piston; S itself without an offset [m]

    >>> round(piston_stroke(0.080, 0.150, 0.0), 9)
    0.08
    """
    throw = 0.5 * stroke
    bottom = sqrt((rod_length - throw) ** 2 - pin_offset**2)
    travel: N = _top_height(throw, rod_length, pin_offset) - bottom
    return travel


def bottom_angle(stroke: N, rod_length: N | float, pin_offset: N | float) -> N:
    """Crank angle from the piston's top to its bottom dead center, pi - asin(e/(L - R)) + asin(e/(L + R)).

    Parameters
    ----------
    stroke : float or array (C,)
        Twice the crank's throw S = 2 R [m]
    rod_length : float or array (C,)
        Connecting rod between its centers L [m]
    pin_offset : float or array (C,)
        Piston pin from the plane of the crank's axis, positive toward the major thrust side e [m]

    Returns
    -------
    float or array (C,)
        Crank angle; half a turn without an offset [rad]

    >>> round(math.degrees(bottom_angle(0.080, 0.150, 0.001)), 3)
    179.781
    """
    throw = 0.5 * stroke
    bottom = math.pi - arcsin(pin_offset / (rod_length - throw))
    turned: N = bottom - _top_angle(throw, rod_length, pin_offset)
    return turned


def top_after_bottom(stroke: float, rod_length: float, pin_offset: float) -> float:
    """Crank angle from the piston's bottom dead center to its next top one, 2 pi - `bottom_angle`.

    Parameters
    ----------
    stroke : float
        Twice the crank's throw S = 2 R; NaN where it is not known [m]
    rod_length : float
        Connecting rod between its centers L; NaN where it is not known [m]
    pin_offset : float
        Piston pin from the plane of the crank's axis, positive toward the major thrust side e [m]

    Returns
    -------
    float
        Crank angle; half a turn where crank or rod is not known, or the rod too short to turn [rad]

    >>> round(math.degrees(top_after_bottom(0.080, 0.150, 0.001)), 3)
    180.219
    """
    turns = rod_length > 0.5 * stroke + abs(pin_offset)
    return 2.0 * math.pi - bottom_angle(stroke, rod_length, pin_offset) if turns else math.pi


def effective_ratio(
    bore: N,
    stroke: N,
    rod_length: N | float,
    pin_offset: N | float,
    closing_angle: N | float,
    clearance_volume: N,
) -> N:
    """Compression ratio from the closing of the intake valve, (V at closing)/V_0.

    Parameters
    ----------
    bore : float or array (C,)
        Cylinder bore D [m]
    stroke : float or array (C,)
        Twice the crank's throw S [m]
    rod_length : float or array (C,)
        Connecting rod between its centers L [m]
    pin_offset : float or array (C,)
        Piston pin from the plane of the crank's axis, positive toward the major thrust side e [m]
    closing_angle : float or array (C,)
        Intake closing after the piston's bottom dead center [rad]
    clearance_volume : float or array (C,)
        Clearance volume V_0, above 0 [m3]

    Returns
    -------
    float or array (C,)
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

    >>> round(effective_ratio(0.080, 0.080, 0.150, 0.0, 0.0, swept_volume(0.080, 0.080) / 9.0), 9)
    10.0
    """
    at_closing = bottom_angle(stroke, rod_length, pin_offset) + closing_angle
    travel = piston_travel(at_closing, stroke, rod_length, pin_offset)
    return static_ratio(swept_volume(bore, travel), clearance_volume)


def _top_angle(throw: FloatArray | float, rod_length: FloatArray | float, pin_offset: FloatArray | float) -> Any:
    return -arcsin(pin_offset / (rod_length + throw))


def _top_height(throw: FloatArray | float, rod_length: FloatArray | float, pin_offset: FloatArray | float) -> Any:
    return sqrt((rod_length + throw) ** 2 - pin_offset**2)


CrankFault = tuple[Literal["rod_too_short", "closes_past_top"], int]
"""What is wrong with a cylinder, and its place."""


def find_crank_faults(
    stroke: FloatArray | Sequence[float],
    rod_length: FloatArray | Sequence[float],
    pin_offset: FloatArray | Sequence[float],
    closing_angle: FloatArray | Sequence[float],
) -> list[CrankFault]:
    """Cylinders whose crank cannot turn, or whose intake valve closes after the next top dead center.

    Parameters
    ----------
    stroke : array (C,) or sequence of float
        Twice the crank's throw [m]
    rod_length : array (C,) or sequence of float
        Connecting rod between its centers [m]
    pin_offset : array (C,) or sequence of float
        Piston pin from the plane of the crank's axis, either way [m]
    closing_angle : array (C,) or sequence of float
        Intake closing after bottom dead center [rad]

    Returns
    -------
    list of (fault, place)
        "rod_too_short": no longer than throw and offset together; "closes_past_top": the piston is
        on its way down again [-]

    >>> find_crank_faults([0.08], [0.03], [0.0], [1.0])
    [('rod_too_short', 0)]
    """
    cranks = list(enumerate(zip(stroke, rod_length, pin_offset, closing_angle, strict=True)))
    faults: list[CrankFault] = [
        ("rod_too_short", place) for place, (twice, rod, offset, _) in cranks if rod <= 0.5 * twice + abs(offset)
    ]
    faults += [
        ("closes_past_top", place)
        for place, (twice, rod, offset, closing) in cranks
        if closing >= top_after_bottom(twice, rod, offset)
    ]
    return faults
