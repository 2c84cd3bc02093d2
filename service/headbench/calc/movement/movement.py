"""Milling: how far a cut lets the head drop, what it takes from the chambers, and how deep to cut for a target."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from headbench.calc import FloatArray
from headbench.calc.cylinders.chamber_shape import ChamberShape
from headbench.calc.cylinders.compression_ratio import clearance_for_ratio, static_ratio
from headbench.calc.judging.grid import GRID
from headbench.errors import NotReachable

# A wanted volume that misses the one there is by less than this is the same volume in another unit.
_ROUNDING: Final = 1e-12
# Less than half a nanometer either way is what the decimals of inch and millimeter leave of nothing.
_NOTHING: Final = 0.5 * GRID


def head_drop(
    deck_cut: FloatArray, block_decked: FloatArray | float, gasket_thickness_change: FloatArray | float
) -> FloatArray:
    """How far the head drops toward the crank, n = d + e - dt.

    Parameters
    ----------
    deck_cut : array (C,)
        What comes off the head's deck at each chamber d [m]
    block_decked : array (C,) or float
        What comes off the block's deck e [m]
    gasket_thickness_change : array (C,) or float
        New compressed gasket less the old one dt [m]

    Returns
    -------
    array (C,)
        Head drop n; negative if the head rises, 0 where less than half a nanometer is left [m]

    Notes
    -----
    The chambers follow the deck cut alone; intake face, pushrods, piston to valve and overhead-cam
    timing follow the head drop alone. Own derivation.

    >>> head_drop(np.array([0.75e-3]), 0.25e-3, 0.4e-3).round(9).tolist()
    [0.0006]
    """
    return _or_nothing(deck_cut + block_decked - gasket_thickness_change)


def _or_nothing(length: FloatArray) -> FloatArray:
    return np.asarray(np.where(np.abs(length) < _NOTHING, 0.0, length), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class ChamberCut:
    """Chambers after a cut.

    chamber_volume : array (C,), volume to the new deck; NaN where it was not measured [m3]
    removed : array (C,), what the cut took [m3]
    beyond_pours : array (C,), how far the cut goes deeper than the chamber was poured [m]
    """

    chamber_volume: FloatArray
    removed: FloatArray
    beyond_pours: FloatArray


def cut_chambers(
    chamber_volume: FloatArray, deck_cut: FloatArray, shape: ChamberShape, sunk_volume: FloatArray | float
) -> ChamberCut:
    """Chamber volumes after a cut, V_c - removed(d) + sunk.

    Parameters
    ----------
    chamber_volume : array (C,)
        Measured volume to the old deck V_c [m3]
    deck_cut : array (C,)
        What comes off the deck at each chamber's middle d: the centroid of its area [m]
    shape : ChamberShape
        Volume that a depth takes: `chamber_shape.from_area`, `chamber_shape.from_pours` [-]
    sunk_volume : array (C,) or float
        What sunk valves add: `sunk_valve_volume` [m3]

    Returns
    -------
    ChamberCut

    Notes
    -----
    A wedge takes area times the depth at the area's centroid, exactly so for walls square to the
    deck: the depth is linear over the area, and the mean of a linear function is its value at the
    centroid. So a flat cut and a wedge differ in `deck_cut` only. A round chamber of radius R whose
    walls lean in by k per depth loses pi k s^2 R^3/2 less under a wedge of slope s, some thousandths
    of what the cut takes. Own derivation.

    >>> from headbench.calc.cylinders.chamber_shape import from_area
    >>> cut = cut_chambers(np.array([64.0e-6]), np.array([1.0e-3]), from_area(50.0e-4), 0.5e-6)
    >>> (cut.chamber_volume * 1e6).round(9).tolist()
    [59.5]
    """
    removed = shape.removed_by(deck_cut)
    return ChamberCut(
        chamber_volume=np.asarray(chamber_volume - removed + sunk_volume, dtype=np.float64),
        removed=removed,
        beyond_pours=shape.beyond_pours(deck_cut),
    )


def cut_for_volume(wanted_volume: float, chamber_volume: float, shape: ChamberShape, deepest_cut: float) -> float:
    """Depth that leaves a wanted chamber volume, d such that V_c - removed(d) = wanted.

    Parameters
    ----------
    wanted_volume : float
        Chamber volume wanted, to the new deck [m3]
    chamber_volume : float
        Chamber volume now, sunk valves included V_c [m3]
    shape : ChamberShape
        Volume that a depth takes [-]
    deepest_cut : float
        The most that may come off; infinite for no limit [m]

    Returns
    -------
    float
        Milled depth d, 0 or more; NaN where the chamber is not measured [m]

    Raises
    ------
    NotReachable
        The chamber is smaller already, or the cut would go too deep; the nearest volume there is.

    >>> from headbench.calc.cylinders.chamber_shape import from_area
    >>> round(cut_for_volume(59.0e-6, 64.0e-6, from_area(50.0e-4), 2.0e-3) * 1e3, 9)
    1.0
    """
    excess = chamber_volume - wanted_volume
    if excess < -_ROUNDING * abs(chamber_volume):
        raise NotReachable("the chamber is smaller than that already, and milling only takes away", chamber_volume)
    if math.isnan(excess):
        return math.nan
    depth = _depth_for(shape, max(excess, 0.0))
    if wanted_volume <= 0.0 or depth > deepest_cut * (1.0 + _ROUNDING):
        # no cut goes deeper than the chamber
        whole = _depth_for(shape, chamber_volume)
        most = min(deepest_cut, whole)
        raise NotReachable(
            "the cut would leave the head too thin" if deepest_cut < whole else "the cut would take the whole chamber",
            chamber_volume - float(shape.removed_by(np.array([most]))[0]),
        )
    return depth


def _depth_for(shape: ChamberShape, removed: float) -> float:
    return float(shape.cut_for(np.array([removed]))[0])


def cut_for_ratio(
    wanted_ratio: float,
    swept_volume: float,
    other_volume: float,
    chamber_volume: float,
    shape: ChamberShape,
    deepest_cut: float,
) -> float:
    """Depth that gives a wanted static compression ratio.

    Parameters
    ----------
    wanted_ratio : float
        Static compression ratio wanted, above 1 [-]
    swept_volume : float
        Swept volume [m3]
    other_volume : float
        Clearance volume without the chamber, with the new gasket and the block as it will be decked [m3]
    chamber_volume : float
        Chamber volume now, sunk valves included [m3]
    shape : ChamberShape
        Volume that a depth takes [-]
    deepest_cut : float
        The most that may come off; infinite for no limit [m]

    Returns
    -------
    float
        Milled depth d, 0 or more; NaN where the chamber is not measured [m]

    Raises
    ------
    NotReachable
        The ratio is higher already, or the cut would go too deep; the nearest ratio there is.

    >>> from headbench.calc.cylinders.chamber_shape import from_area
    >>> round(cut_for_ratio(10.0, 720.0e-6, 16.0e-6, 69.0e-6, from_area(50.0e-4), 2.0e-3) * 1e3, 9)
    1.0
    """
    wanted_volume = float(clearance_for_ratio(np.asarray(wanted_ratio), swept_volume)) - other_volume
    try:
        return cut_for_volume(wanted_volume, chamber_volume, shape, deepest_cut)
    except NotReachable as short:
        nearest = static_ratio(swept_volume, np.asarray(short.nearest + other_volume))
        raise NotReachable(str(short), float(nearest)) from short


def volume_per_depth(volume_before: FloatArray, volume_after: FloatArray, deck_cut: FloatArray | float) -> FloatArray:
    """Chamber volume that goes per depth, from pouring before and after a first cut, (V_1 - V_2)/d.

    Parameters
    ----------
    volume_before : array (C,)
        Chamber volume poured before the cut V_1 [m3]
    volume_after : array (C,)
        Chamber volume poured after it V_2 [m3]
    deck_cut : array (C,) or float
        What the cut took, above 0 d [m]

    Returns
    -------
    array (C,)
        Volume per depth, which is the mean area over the cut: for `chamber_shape.from_area` [m2]

    >>> (volume_per_depth(np.array([64.0e-6]), np.array([61.5e-6]), 0.5e-3) * 1e4).round(9).tolist()
    [50.0]
    """
    return np.asarray((volume_before - volume_after) / deck_cut, dtype=np.float64)


def wedge_cut(
    position: FloatArray, first_position: float, first_cut: float, second_position: float, second_cut: float
) -> FloatArray:
    """Depth that a wedge cut (angle mill) takes at each place, on the straight line through two depths.

    Parameters
    ----------
    position : array (C,)
        Each chamber's middle, the centroid of its area at the deck, measured across the head [m]
    first_position : float
        Where the first depth was read, measured the same way [m]
    first_cut : float
        Depth taken there [m]
    second_position : float
        Where the second depth was read, not the first place again [m]
    second_cut : float
        Depth taken there [m]

    Returns
    -------
    array (C,)
        Milled depth, square to the old deck; negative where the wedge has run out [m]

    >>> (wedge_cut(np.array([0.060]), 0.0, 0.2e-3, 0.150, 1.7e-3) * 1e3).round(9).tolist()
    [0.8]
    """
    slope = (second_cut - first_cut) / (second_position - first_position)
    return _or_nothing(first_cut + slope * (position - first_position))


def wedge_cut_from_tilt(position: FloatArray, known_position: float, known_cut: float, tilt: float) -> FloatArray:
    """Depth that a wedge cut takes at each place, d + (x - x_0) tan(tilt).

    Parameters
    ----------
    position : array (C,)
        Each chamber's middle, the centroid of its area at the deck, measured across the head [m]
    known_position : float
        Where the depth is known x_0, measured the same way [m]
    known_cut : float
        Depth taken there d [m]
    tilt : float
        Angle between old and new deck, positive when the cut deepens with the position [rad]

    Returns
    -------
    array (C,)
        Milled depth, square to the old deck; negative where the wedge has run out [m]

    >>> (wedge_cut_from_tilt(np.array([0.100]), 0.0, 0.5e-3, math.atan(0.01)) * 1e3).round(9).tolist()
    [1.5]
    """
    return wedge_cut(position, known_position, known_cut, known_position + 1.0, known_cut + math.tan(tilt))


def sunk_valve_volume(sink: FloatArray, head_diameter: FloatArray | float) -> FloatArray:
    """Volume that a chamber gains from a valve that sits deeper, pi D^2 s/4.

    Parameters
    ----------
    sink : array (V,)
        How much deeper the valve sits, along its axis s [m]
    head_diameter : array (V,) or float
        Diameter of the valve's head D [m]

    Returns
    -------
    array (V,)
        Volume gained by that valve's chamber [m3]

    Notes
    -----
    What the head's underside leaves behind; the ring of seat ground away beside it comes on top.
    A chamber gains the sum over its valves. Own derivation.

    >>> (sunk_valve_volume(np.array([0.5e-3]), 0.050) * 1e6).round(4).tolist()
    [0.9817]
    """
    return np.asarray(0.25 * np.pi * np.square(head_diameter) * sink, dtype=np.float64)


def head_thickness_after(head_thickness: FloatArray, deck_cut: FloatArray | float) -> FloatArray:
    """Thickness of the head after a cut, deck to cover rail, T - d.

    Parameters
    ----------
    head_thickness : array (P,)
        Thickness measured at each place before the cut T [m]
    deck_cut : array (P,) or float
        What comes off there d [m]

    Returns
    -------
    array (P,)
        Thickness left, to hold against the least the maker allows [m]

    >>> head_thickness_after(np.array([0.130]), 1.0e-3).round(9).tolist()
    [0.129]
    """
    return np.asarray(head_thickness - deck_cut, dtype=np.float64)


CutFault = tuple[Literal["deeper_than_chamber", "deeper_than_head", "misses_chamber"], int]
"""What is wrong with a cut, and the place of the chamber or of the thickness reading."""


def find_cut_faults(
    deck_cut: FloatArray, chamber_volume: FloatArray, shape: ChamberShape, head_thickness: FloatArray
) -> list[CutFault]:
    """Cuts that leave no chamber or no head, or that pass a chamber by.

    Parameters
    ----------
    deck_cut : array (C,)
        What comes off at each chamber's middle [m]
    chamber_volume : array (C,)
        Measured volumes; NaN where one is not measured [m3]
    shape : ChamberShape
        Volume that a depth takes [-]
    head_thickness : array (C,)
        Thickness of the head at each chamber; NaN where it is not measured [m]

    Returns
    -------
    list of (fault, place)
        "deeper_than_chamber": nothing of the chamber is left; "deeper_than_head": nothing of the head;
        "misses_chamber": a wedge that has run out before the chamber's middle [-]

    >>> from headbench.calc.cylinders.chamber_shape import from_area
    >>> find_cut_faults(np.array([15.0e-3]), np.array([64.0e-6]), from_area(50.0e-4), np.array([0.120]))
    [('deeper_than_chamber', 0)]
    """
    empty = shape.removed_by(deck_cut) >= chamber_volume
    gone = deck_cut >= head_thickness
    faults: list[CutFault] = [("deeper_than_chamber", place) for place in np.flatnonzero(empty).tolist()]
    faults += [("deeper_than_head", place) for place in np.flatnonzero(gone).tolist()]
    faults += [("misses_chamber", place) for place in np.flatnonzero(deck_cut < 0.0).tolist()]
    return faults
