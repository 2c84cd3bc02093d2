"""Compression ratio: what the piston sweeps against what is left over it, as it is and as it is wanted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, Literal

from headbench.calc import FloatArray
from headbench.calc.judging.alike import N
from headbench.errors import NotReachable

# A thickness that misses the thinnest gasket by less than this is that gasket, written in another unit.
_ROUNDING: Final = 1e-12


def swept_volume(bore: N, stroke: N | float) -> N:
    """Volume one piston sweeps, V_s = pi D^2 S/4.

    Parameters
    ----------
    bore : float or array (C,)
        Cylinder bore D [m]
    stroke : float or array (C,)
        Piston stroke S, twice the crank's throw [m]

    Returns
    -------
    float or array (C,)
        Swept volume [m3]

    Notes
    -----
    With an offset pin the piston moves a little more than twice the throw: `piston_travel.piston_stroke`.

    References
    ----------
    J. B. Heywood, Internal Combustion Engine Fundamentals, 2nd ed. (2018), section 2.2, eq. (2.1) (from memory).

    >>> round(swept_volume(0.100, 0.080) * 1e6, 3)
    628.319
    """
    return 0.25 * math.pi * bore**2 * stroke


def clearance_volume(
    chamber_volume: N,
    gasket_volume: N | float,
    deck_volume: N | float,
    dish_volume: N | float,
    dome_volume: N | float,
    crevice_volume: N | float,
) -> N:
    """Volume over the piston at top dead center, V_0 = chamber + gasket + deck + dish - dome + crevice.

    Parameters
    ----------
    chamber_volume : float or array (C,)
        Chamber in the head, to the deck [m3]
    gasket_volume : float or array (C,)
        Opening of the compressed gasket: `gasket_volume` [m3]
    deck_volume : float or array (C,)
        Cylinder between crown and block deck, negative for a crown above it: `deck_volume` [m3]
    dish_volume : float or array (C,)
        Dish and valve pockets, below the flat of the crown [m3]
    dome_volume : float or array (C,)
        Dome, above the flat of the crown [m3]
    crevice_volume : float or array (C,)
        Gap around the piston above the top ring: `crevice_volume` [m3]

    Returns
    -------
    float or array (C,)
        Clearance volume; NaN where one of them is not measured [m3]

    Notes
    -----
    A burette through the plug hole measures all but the crevice at once: common practice, no source. The sum is own
    derivation.

    >>> cc = 1e-6
    >>> whole = clearance_volume(64.0 * cc, 9.0 * cc, 3.0 * cc, 5.0 * cc, 0.0, 1.0 * cc)
    >>> round(whole / cc, 9)
    82.0
    """
    return chamber_volume + gasket_volume + deck_volume + dish_volume - dome_volume + crevice_volume


def round_opening(gasket_bore: N) -> N:
    """Area of a round opening in a gasket, A = pi d^2/4.

    Parameters
    ----------
    gasket_bore : float or array (C,)
        Diameter of the opening d [m]

    Returns
    -------
    float or array (C,)
        Area, for `gasket_volume` [m2]

    >>> round(round_opening(0.104) * 1e4, 3)
    84.949
    """
    return 0.25 * math.pi * gasket_bore**2


def gasket_volume(gasket_area: N, gasket_thickness: N | float) -> N:
    """Volume inside the opening of the gasket, A t.

    Parameters
    ----------
    gasket_area : float or array (C,)
        Area of the opening; `round_opening` if it is round [m2]
    gasket_thickness : float or array (C,)
        Thickness once tightened down [m]

    Returns
    -------
    float or array (C,)
        Gasket volume [m3]

    Notes
    -----
    The compressed thickness counts, and the opening, which is larger than the bore and seldom round.

    >>> round(gasket_volume(85.0e-4, 1.0e-3) * 1e6, 9)
    8.5
    """
    return gasket_area * gasket_thickness


def deck_volume(bore: N, deck_clearance: N | float) -> N:
    """Volume of the cylinder between the crown and the block's deck, pi D^2 x/4.

    Parameters
    ----------
    bore : float or array (C,)
        Cylinder bore D [m]
    deck_clearance : float or array (C,)
        Crown below (+) or above (-) the deck at top dead center, x [m]

    Returns
    -------
    float or array (C,)
        Deck volume; negative for a crown that stands out [m3]

    Notes
    -----
    The ring around a crown that stands out is not subtracted: it is part of the crevice.

    >>> round(deck_volume(0.100, 0.5e-3) * 1e6, 3), round(deck_volume(0.100, -0.5e-3) * 1e6, 3)
    (3.927, -3.927)
    """
    return 0.25 * math.pi * bore**2 * deck_clearance


def crevice_volume(bore: N, land_diameter: N | float, land_height: N | float) -> N:
    """Volume of the gap around the piston above its top ring, pi (D^2 - d^2) h/4.

    Parameters
    ----------
    bore : float or array (C,)
        Cylinder bore D [m]
    land_diameter : float or array (C,)
        Diameter of the piston above the top ring d [m]
    land_height : float or array (C,)
        Crown to the top ring h [m]

    Returns
    -------
    float or array (C,)
        Ring crevice volume [m3]

    Notes
    -----
    Cold sizes; the gap closes as the piston warms.

    >>> round(crevice_volume(0.100, 0.099, 6.0e-3) * 1e6, 4)
    0.9378
    """
    return 0.25 * math.pi * (bore**2 - land_diameter**2) * land_height


def static_ratio(swept_volume: N | float, clearance_volume: N) -> N:
    """Compression ratio from dead center to dead center, r = (V_s + V_0)/V_0.

    Parameters
    ----------
    swept_volume : float or array (C,)
        Swept volume V_s [m3]
    clearance_volume : float or array (C,)
        Clearance volume V_0, above 0 [m3]

    Returns
    -------
    float or array (C,)
        Static compression ratio [-]

    References
    ----------
    J. B. Heywood, Internal Combustion Engine Fundamentals, 2nd ed. (2018), section 2.2, eq. (2.1) (from memory).

    >>> round(static_ratio(720.0e-6, 80.0e-6), 9)
    10.0
    """
    return 1.0 + swept_volume / clearance_volume


def clearance_for_ratio(wanted_ratio: N, swept_volume: N | float) -> N:
    """Clearance volume that gives a wanted ratio, V_0 = V_s/(r - 1): the inverse of `static_ratio`.

    Parameters
    ----------
    wanted_ratio : float or array (C,)
        Static compression ratio wanted r, above 1 [-]
    swept_volume : float or array (C,)
        Swept volume V_s [m3]

    Returns
    -------
    float or array (C,)
        Clearance volume [m3]

    >>> round(clearance_for_ratio(10.0, 720.0e-6) * 1e6, 9)
    80.0
    """
    return swept_volume / (wanted_ratio - 1.0)


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
    chamber = clearance_for_ratio(wanted_ratio, swept_volume) - other_volume
    if chamber <= 0.0:
        raise NotReachable(
            "gasket, deck and dish alone are too much volume",
            static_ratio(swept_volume, other_volume),
        )
    return chamber


def quench(deck_clearance: N, gasket_thickness: N | float) -> N:
    """Distance from the flat of the crown to the flat of the head at top dead center, x + t.

    Parameters
    ----------
    deck_clearance : float or array (C,)
        Crown below (+) or above (-) the block's deck x [m]
    gasket_thickness : float or array (C,)
        Thickness of the gasket once tightened down t [m]

    Returns
    -------
    float or array (C,)
        Quench [m]

    Notes
    -----
    Milling the head does not change it: its deck is cut, the distance of the deck is not.

    >>> round(quench(0.2e-3, 1.0e-3), 9)
    0.0012
    """
    return deck_clearance + gasket_thickness


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
        nearest = quench(deck_clearance, thinnest_gasket)
        raise NotReachable("the piston sits too far below the deck, even with the thinnest gasket", nearest)
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
    thickness = (clearance_for_ratio(wanted_ratio, swept_volume) - other_volume) / gasket_area
    if thickness < thinnest_gasket * (1.0 - _ROUNDING):
        nearest = static_ratio(swept_volume, other_volume + gasket_volume(gasket_area, thinnest_gasket))
        raise NotReachable("even the thinnest gasket leaves too much volume", nearest)
    return thickness


RatioFault = tuple[Literal["not_above_1", "no_room"], int]
"""What is wrong with a cylinder, and its place."""


def find_ratio_faults(
    wanted_ratio: FloatArray | Sequence[float], clearance_volume: FloatArray | Sequence[float]
) -> list[RatioFault]:
    """Cylinders whose ratio, wanted or there, cannot be.

    Parameters
    ----------
    wanted_ratio : float or array (C,)
        Static compression ratio wanted, NaN where none is [-]
    clearance_volume : float or array (C,)
        Clearance volume there, NaN where it is not measured [m3]

    Returns
    -------
    list of (fault, place)
        "not_above_1": no clearance is large enough for such a ratio; "no_room": dome or crown
        height fill more than there is over the piston [-]

    >>> find_ratio_faults([1.0, 10.0], [80.0e-6, -1.0e-6])
    [('not_above_1', 0), ('no_room', 1)]
    """
    faults: list[RatioFault] = [("not_above_1", place) for place, ratio in enumerate(wanted_ratio) if ratio <= 1.0]
    faults += [("no_room", place) for place, volume in enumerate(clearance_volume) if volume <= 0.0]
    return faults
