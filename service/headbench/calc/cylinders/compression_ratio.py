"""Compression ratio: what the piston sweeps against what is left over it, as it is and as it is wanted."""

from __future__ import annotations

from typing import Final, Literal

import numpy as np

from headbench.calc import FloatArray
from headbench.errors import NotReachable

# A thickness that misses the thinnest gasket by less than this is that gasket, written in another unit.
_ROUNDING: Final = 1e-12


def swept_volume(bore: FloatArray, stroke: FloatArray | float) -> FloatArray:
    """Volume one piston sweeps, V_s = pi D^2 S/4.

    Parameters
    ----------
    bore : array (C,)
        Cylinder bore D [m]
    stroke : array (C,) or float
        Piston stroke S, twice the crank's throw [m]

    Returns
    -------
    array (C,)
        Swept volume [m3]

    Notes
    -----
    With an offset pin the piston moves a little more than twice the throw: `piston_travel.piston_stroke`.

    References
    ----------
    J. B. Heywood, Internal Combustion Engine Fundamentals, 2nd ed. (2018), section 2.2, eq. (2.1) (from memory).

    >>> (swept_volume(np.array([0.100]), 0.080) * 1e6).round(3).tolist()
    [628.319]
    """
    return np.asarray(0.25 * np.pi * bore**2 * stroke, dtype=np.float64)


def clearance_volume(
    chamber_volume: FloatArray,
    gasket_volume: FloatArray | float,
    deck_volume: FloatArray | float,
    dish_volume: FloatArray | float,
    dome_volume: FloatArray | float,
    crevice_volume: FloatArray | float,
) -> FloatArray:
    """Volume over the piston at top dead center, V_0 = chamber + gasket + deck + dish - dome + crevice.

    Parameters
    ----------
    chamber_volume : array (C,)
        Chamber in the head, to the deck [m3]
    gasket_volume : array (C,) or float
        Opening of the compressed gasket: `gasket_volume` [m3]
    deck_volume : array (C,) or float
        Cylinder between crown and block deck, negative for a crown above it: `deck_volume` [m3]
    dish_volume : array (C,) or float
        Dish and valve pockets, below the flat of the crown [m3]
    dome_volume : array (C,) or float
        Dome, above the flat of the crown [m3]
    crevice_volume : array (C,) or float
        Gap around the piston above the top ring: `crevice_volume` [m3]

    Returns
    -------
    array (C,)
        Clearance volume; NaN where one of them is not measured [m3]

    Notes
    -----
    A burette through the plug hole measures all but the crevice at once: common practice, no source. The sum is own
    derivation.

    >>> cc = 1e-6
    >>> whole = clearance_volume(np.array([64.0]) * cc, 9.0 * cc, 3.0 * cc, 5.0 * cc, 0.0, 1.0 * cc)
    >>> (whole / cc).round(9).tolist()
    [82.0]
    """
    volume = chamber_volume + gasket_volume + deck_volume + dish_volume - dome_volume + crevice_volume
    return np.asarray(volume, dtype=np.float64)


def round_opening(gasket_bore: FloatArray) -> FloatArray:
    """Area of a round opening in a gasket, A = pi d^2/4.

    Parameters
    ----------
    gasket_bore : array (C,)
        Diameter of the opening d [m]

    Returns
    -------
    array (C,)
        Area, for `gasket_volume` [m2]

    >>> (round_opening(np.array([0.104])) * 1e4).round(3).tolist()
    [84.949]
    """
    return np.asarray(0.25 * np.pi * gasket_bore**2, dtype=np.float64)


def gasket_volume(gasket_area: FloatArray, gasket_thickness: FloatArray | float) -> FloatArray:
    """Volume inside the opening of the gasket, A t.

    Parameters
    ----------
    gasket_area : array (C,)
        Area of the opening; `round_opening` if it is round [m2]
    gasket_thickness : array (C,) or float
        Thickness once tightened down [m]

    Returns
    -------
    array (C,)
        Gasket volume [m3]

    Notes
    -----
    The compressed thickness counts, and the opening, which is larger than the bore and seldom round.

    >>> (gasket_volume(np.array([85.0e-4]), 1.0e-3) * 1e6).round(9).tolist()
    [8.5]
    """
    return np.asarray(gasket_area * gasket_thickness, dtype=np.float64)


def deck_volume(bore: FloatArray, deck_clearance: FloatArray | float) -> FloatArray:
    """Volume of the cylinder between the crown and the block's deck, pi D^2 x/4.

    Parameters
    ----------
    bore : array (C,)
        Cylinder bore D [m]
    deck_clearance : array (C,) or float
        Crown below (+) or above (-) the deck at top dead center, x [m]

    Returns
    -------
    array (C,)
        Deck volume; negative for a crown that stands out [m3]

    Notes
    -----
    The ring around a crown that stands out is not subtracted: it is part of the crevice.

    >>> (deck_volume(np.array([0.100, 0.100]), np.array([0.5e-3, -0.5e-3])) * 1e6).round(3).tolist()
    [3.927, -3.927]
    """
    return np.asarray(0.25 * np.pi * bore**2 * deck_clearance, dtype=np.float64)


def crevice_volume(bore: FloatArray, land_diameter: FloatArray | float, land_height: FloatArray | float) -> FloatArray:
    """Volume of the gap around the piston above its top ring, pi (D^2 - d^2) h/4.

    Parameters
    ----------
    bore : array (C,)
        Cylinder bore D [m]
    land_diameter : array (C,) or float
        Diameter of the piston above the top ring d [m]
    land_height : array (C,) or float
        Crown to the top ring h [m]

    Returns
    -------
    array (C,)
        Ring crevice volume [m3]

    Notes
    -----
    Cold sizes; the gap closes as the piston warms.

    >>> (crevice_volume(np.array([0.100]), 0.099, 6.0e-3) * 1e6).round(4).tolist()
    [0.9378]
    """
    return np.asarray(0.25 * np.pi * (bore**2 - np.square(land_diameter)) * land_height, dtype=np.float64)


def static_ratio(swept_volume: FloatArray | float, clearance_volume: FloatArray) -> FloatArray:
    """Compression ratio from dead center to dead center, r = (V_s + V_0)/V_0.

    Parameters
    ----------
    swept_volume : array (C,) or float
        Swept volume V_s [m3]
    clearance_volume : array (C,)
        Clearance volume V_0, above 0 [m3]

    Returns
    -------
    array (C,)
        Static compression ratio [-]

    References
    ----------
    J. B. Heywood, Internal Combustion Engine Fundamentals, 2nd ed. (2018), section 2.2, eq. (2.1) (from memory).

    >>> static_ratio(720.0e-6, np.array([80.0e-6])).round(9).tolist()
    [10.0]
    """
    return np.asarray(1.0 + swept_volume / clearance_volume, dtype=np.float64)


def clearance_for_ratio(wanted_ratio: FloatArray, swept_volume: FloatArray | float) -> FloatArray:
    """Clearance volume that gives a wanted ratio, V_0 = V_s/(r - 1): the inverse of `static_ratio`.

    Parameters
    ----------
    wanted_ratio : array (C,)
        Static compression ratio wanted r, above 1 [-]
    swept_volume : array (C,) or float
        Swept volume V_s [m3]

    Returns
    -------
    array (C,)
        Clearance volume [m3]

    >>> (clearance_for_ratio(np.array([10.0]), 720.0e-6) * 1e6).round(9).tolist()
    [80.0]
    """
    return np.asarray(swept_volume / (wanted_ratio - 1.0), dtype=np.float64)


def chamber_for_ratio(wanted_ratio: float, swept_volume: float, other_volume: float) -> float:
    """Chamber volume that gives a wanted ratio, V_c = V_s/(r - 1) - others.

    Parameters
    ----------
    wanted_ratio : float
        Static compression ratio wanted r, above 1 [-]
    swept_volume : float
        Swept volume V_s [m3]
    other_volume : float
        Clearance volume without the chamber: gasket, deck, dish less dome, crevice [m3]

    Returns
    -------
    float
        Chamber volume, above 0 [m3]

    Raises
    ------
    NotReachable
        Even no chamber at all leaves too much; the nearest ratio is the one it would give.

    >>> round(chamber_for_ratio(10.0, 720.0e-6, 16.0e-6) * 1e6, 9)
    64.0
    """
    chamber = float(clearance_for_ratio(np.asarray(wanted_ratio), swept_volume)) - other_volume
    if chamber <= 0.0:
        raise NotReachable(
            "gasket, deck and dish alone are too much volume",
            float(static_ratio(swept_volume, np.asarray(other_volume))),
        )
    return chamber


def quench(deck_clearance: FloatArray, gasket_thickness: FloatArray | float) -> FloatArray:
    """Distance from the flat of the crown to the flat of the head at top dead center, x + t.

    Parameters
    ----------
    deck_clearance : array (C,)
        Crown below (+) or above (-) the block's deck x [m]
    gasket_thickness : array (C,) or float
        Thickness of the gasket once tightened down t [m]

    Returns
    -------
    array (C,)
        Quench [m]

    Notes
    -----
    Milling the head does not change it: its deck is cut, the distance of the deck is not.

    >>> quench(np.array([0.2e-3]), 1.0e-3).round(9).tolist()
    [0.0012]
    """
    return np.asarray(deck_clearance + gasket_thickness, dtype=np.float64)


def gasket_for_quench(wanted_quench: float, deck_clearance: float, thinnest_gasket: float) -> float:
    """Gasket thickness that gives a wanted quench, t = q - x: the inverse of `quench`.

    Parameters
    ----------
    wanted_quench : float
        Distance wanted between the flats of crown and head q [m]
    deck_clearance : float
        Crown below (+) or above (-) the block's deck, as it will be decked x [m]
    thinnest_gasket : float
        The thinnest gasket there is, tightened down [m]

    Returns
    -------
    float
        Thickness once tightened down; NaN where the deck clearance is not measured [m]

    Raises
    ------
    NotReachable
        Even the thinnest gasket is too thick; the nearest quench is what it gives.

    >>> round(gasket_for_quench(1.0e-3, 0.2e-3, 0.4e-3) * 1e3, 9)
    0.8
    """
    thickness = wanted_quench - deck_clearance
    if thickness < thinnest_gasket * (1.0 - _ROUNDING):
        nearest = quench(np.asarray(deck_clearance), thinnest_gasket)
        raise NotReachable("the piston sits too far below the deck, even with the thinnest gasket", float(nearest))
    return thickness


def gasket_for_ratio(
    wanted_ratio: float, swept_volume: float, other_volume: float, gasket_area: float, thinnest_gasket: float
) -> float:
    """Gasket thickness that gives a wanted static ratio, t = (V_s/(r - 1) - others)/A.

    Parameters
    ----------
    wanted_ratio : float
        Static compression ratio wanted r, above 1 [-]
    swept_volume : float
        Swept volume V_s [m3]
    other_volume : float
        Clearance volume without the gasket: chamber, deck, dish less dome, crevice [m3]
    gasket_area : float
        Area of the gasket's opening A [m2]
    thinnest_gasket : float
        The thinnest gasket there is, tightened down [m]

    Returns
    -------
    float
        Thickness once tightened down; NaN where a volume is not measured [m]

    Raises
    ------
    NotReachable
        Even the thinnest gasket leaves too much room; the nearest ratio is what it gives.

    >>> round(gasket_for_ratio(10.0, 720.0e-6, 71.5e-6, 85.0e-4, 0.4e-3) * 1e3, 9)
    1.0
    """
    thickness = (float(clearance_for_ratio(np.asarray(wanted_ratio), swept_volume)) - other_volume) / gasket_area
    if thickness < thinnest_gasket * (1.0 - _ROUNDING):
        least = other_volume + gasket_volume(np.asarray(gasket_area), thinnest_gasket)
        nearest = static_ratio(swept_volume, np.asarray(least))
        raise NotReachable("even the thinnest gasket leaves too much volume", float(nearest))
    return thickness


RatioFault = tuple[Literal["not_above_1", "no_room"], int]
"""What is wrong with a cylinder, and its place."""


def find_ratio_faults(wanted_ratio: FloatArray, clearance_volume: FloatArray) -> list[RatioFault]:
    """Cylinders whose ratio, wanted or there, cannot be.

    Parameters
    ----------
    wanted_ratio : array (C,)
        Static compression ratio wanted, NaN where none is [-]
    clearance_volume : array (C,)
        Clearance volume there, NaN where it is not measured [m3]

    Returns
    -------
    list of (fault, place)
        "not_above_1": no clearance is large enough for such a ratio; "no_room": dome or crown
        height fill more than there is over the piston [-]

    >>> find_ratio_faults(np.array([1.0, 10.0]), np.array([80.0e-6, -1.0e-6]))
    [('not_above_1', 0), ('no_room', 1)]
    """
    faults: list[RatioFault] = [("not_above_1", place) for place in np.flatnonzero(wanted_ratio <= 1.0).tolist()]
    faults += [("no_room", place) for place in np.flatnonzero(clearance_volume <= 0.0).tolist()]
    return faults
