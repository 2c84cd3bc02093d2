"""Movement: what a cut takes from the chambers and from the head, and how deep to cut for a target."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Generic, Literal

from headbench.calc import FloatArray
from headbench.calc.cylinders.chamber_shape import ChamberShape
from headbench.calc.cylinders.compression_ratio import clearance_for_ratio, static_ratio
from headbench.calc.judging.alike import N
from headbench.errors import NotReachable

# A wanted volume that misses the one there is by less than this is the same volume in another unit.
_ROUNDING: Final = 1e-12


@dataclass(frozen=True, slots=True)
class ChamberCut(Generic[N]):
    """A chamber after a cut, or chambers.

    chamber_volume : float or array (C,), volume to the new deck; NaN where it was not measured [m3]
    removed : float or array (C,), what the cut took [m3]
    beyond_pours : float or array (C,), how far the cut goes deeper than the chamber was poured [m]
    """

    chamber_volume: N
    removed: N
    beyond_pours: N


def cut_chambers(chamber_volume: N, deck_cut: N, shape: ChamberShape, sunk_volume: N | float) -> ChamberCut[N]:
    """Chamber volumes after a cut, V_c - removed(d) + sunk.

    Parameters
    ----------
    chamber_volume : float or array (C,)
        Measured volume to the old deck V_c [m3]
    deck_cut : float or array (C,)
        What comes off the deck at each chamber's middle d: the centroid of its area [m]
    shape : ChamberShape
        Volume that a depth takes: `chamber_shape.from_area`, `chamber_shape.from_pours` [-]
    sunk_volume : float or array (C,)
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
    >>> cut = cut_chambers(64.0e-6, 1.0e-3, from_area(50.0e-4), 0.5e-6)
    >>> round(cut.chamber_volume * 1e6, 9)
    59.5
    """
    removed = shape.removed_by(deck_cut)
    return ChamberCut(
        chamber_volume=chamber_volume - removed + sunk_volume,
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
    depth = shape.cut_for(max(excess, 0.0))
    if wanted_volume <= 0.0 or depth > deepest_cut * (1.0 + _ROUNDING):
        # no cut goes deeper than the chamber
        whole = shape.cut_for(chamber_volume)
        most = min(deepest_cut, whole)
        raise NotReachable(
            "the cut would leave the head too thin" if deepest_cut < whole else "the cut would take the whole chamber",
            chamber_volume - shape.removed_by(most),
        )
    return depth


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
    wanted_volume = clearance_for_ratio(wanted_ratio, swept_volume) - other_volume
    try:
        return cut_for_volume(wanted_volume, chamber_volume, shape, deepest_cut)
    except NotReachable as short:
        raise NotReachable(str(short), static_ratio(swept_volume, short.nearest + other_volume)) from short


def volume_per_depth(volume_before: N, volume_after: N, deck_cut: N | float) -> N:
    """Chamber volume that goes per depth, from pouring before and after a first cut, (V_1 - V_2)/d.

    Parameters
    ----------
    volume_before : float or array (C,)
        Chamber volume poured before the cut V_1 [m3]
    volume_after : float or array (C,)
        Chamber volume poured after it V_2 [m3]
    deck_cut : float or array (C,)
        What the cut took, above 0 d [m]

    Returns
    -------
    float or array (C,)
        Volume per depth, which is the mean area over the cut: for `chamber_shape.from_area` [m2]

    >>> round(volume_per_depth(64.0e-6, 61.5e-6, 0.5e-3) * 1e4, 9)
    50.0
    """
    return (volume_before - volume_after) / deck_cut


def sunk_valve_volume(sink: N, head_diameter: N | float) -> N:
    """Volume that a chamber gains from a valve that sits deeper, pi D^2 s/4.

    Parameters
    ----------
    sink : float or array (V,)
        How much deeper the valve sits, along its axis s [m]
    head_diameter : float or array (V,)
        Diameter of the valve's head D [m]

    Returns
    -------
    float or array (V,)
        Volume gained by that valve's chamber [m3]

    Notes
    -----
    What the head's underside leaves behind; the ring of seat ground away beside it comes on top.
    A chamber gains the sum over its valves. Own derivation.

    >>> round(sunk_valve_volume(0.5e-3, 0.050) * 1e6, 4)
    0.9817
    """
    return 0.25 * math.pi * head_diameter**2 * sink


def head_thickness_after(head_thickness: N, deck_cut: N | float) -> N:
    """Thickness of the head after a cut, deck to cover rail, T - d.

    Parameters
    ----------
    head_thickness : float or array (P,)
        Thickness measured at each place before the cut T [m]
    deck_cut : float or array (P,)
        What comes off there d [m]

    Returns
    -------
    float or array (P,)
        Thickness left, to hold against the least the maker allows [m]

    >>> round(head_thickness_after(0.130, 1.0e-3), 9)
    0.129
    """
    return head_thickness - deck_cut


CutFault = tuple[Literal["deeper_than_chamber", "deeper_than_head", "misses_chamber"], int]
"""What is wrong with a cut, and the place of the chamber or of the thickness reading."""


def find_cut_faults(
    deck_cut: FloatArray | Sequence[float],
    chamber_volume: FloatArray | Sequence[float],
    shape: ChamberShape,
    head_thickness: FloatArray | Sequence[float],
) -> list[CutFault]:
    """Cuts that leave no chamber or no head, or that pass a chamber by.

    Parameters
    ----------
    deck_cut : array (C,) or sequence of float
        What comes off at each chamber's middle [m]
    chamber_volume : array (C,) or sequence of float
        Measured volumes; NaN where one is not measured [m3]
    shape : ChamberShape
        Volume that a depth takes [-]
    head_thickness : array (C,) or sequence of float
        Thickness of the head at each chamber; NaN where it is not measured [m]

    Returns
    -------
    list of (fault, place)
        "deeper_than_chamber": nothing of the chamber is left; "deeper_than_head": nothing of the head;
        "misses_chamber": a wedge that has run out before the chamber's middle [-]

    >>> from headbench.calc.cylinders.chamber_shape import from_area
    >>> find_cut_faults([15.0e-3], [64.0e-6], from_area(50.0e-4), [0.120])
    [('deeper_than_chamber', 0)]
    """
    cuts = list(enumerate(zip(deck_cut, chamber_volume, head_thickness, strict=True)))
    faults: list[CutFault] = [
        ("deeper_than_chamber", place) for place, (cut, volume, _) in cuts if shape.removed_by(float(cut)) >= volume
    ]
    faults += [("deeper_than_head", place) for place, (cut, _, thickness) in cuts if cut >= thickness]
    faults += [("misses_chamber", place) for place, (cut, *_) in cuts if cut < 0.0]
    return faults
