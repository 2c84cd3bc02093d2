"""Equal chambers: what brings the chambers of a bank to one volume."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headbench.calc import FloatArray
from headbench.calc.cylinders.chamber_shape import ChamberShape
from headbench.calc.movement.movement import cut_for_volume


@dataclass(frozen=True, slots=True)
class EqualChambers:
    """What makes the chambers of a bank alike.

    wanted_volume : float, volume all are to have [m3]
    cut_each : array (C,), cut that alone would bring each chamber to it; 0 where one is small enough already [m]
    common_cut : float, the largest of these: the least single cut after which no chamber is too large [m]
    chamber_volume : array (C,), volumes after the common cut [m3]
    volume_to_open : array (C,), what must still be ground out of each chamber [m3]
    spread : float, largest less smallest chamber after the common cut [m3]
    complete : bool, False where a chamber is not measured: a larger one may hide there [-]
    """

    wanted_volume: float
    cut_each: FloatArray
    common_cut: float
    chamber_volume: FloatArray
    volume_to_open: FloatArray
    spread: float
    complete: bool


def equal_chambers(
    chamber_volume: FloatArray, wanted_volume: float | None, shape: ChamberShape, deepest_cut: float
) -> EqualChambers:
    """Depth per chamber and least common cut that bring the chambers of a bank to one volume.

    Parameters
    ----------
    chamber_volume : array (C,)
        Measured volumes; NaN where one is not measured [m3]
    wanted_volume : float or None
        Volume wanted of all; None for that of the smallest chamber [m3]
    shape : ChamberShape
        Volume that a depth takes [-]
    deepest_cut : float
        The most that may come off; infinite for no limit [m]

    Returns
    -------
    EqualChambers

    Raises
    ------
    NotReachable
        The largest chamber would need too deep a cut; the nearest volume it can have.

    Notes
    -----
    One cut takes the same from all, so it never makes unequal chambers equal: it can only bring
    the largest down, and the others are opened by grinding. Own derivation.

    >>> from headbench.calc.cylinders.chamber_shape import from_area
    >>> equal = equal_chambers(np.array([64.0, 64.5, 63.5]) * 1e-6, None, from_area(50.0e-4), 2.0e-3)
    >>> round(equal.common_cut * 1e3, 9), (equal.volume_to_open * 1e6).round(9).tolist()
    (0.2, [0.5, 0.0, 1.0])
    """
    largest = float(np.fmax.reduce(chamber_volume))
    wanted = float(np.fmin.reduce(chamber_volume)) if wanted_volume is None else wanted_volume
    common_cut = cut_for_volume(min(wanted, largest), largest, shape, deepest_cut)
    after = np.asarray(chamber_volume - shape.removed_by(np.array([common_cut])), dtype=np.float64)
    return EqualChambers(
        wanted_volume=wanted,
        cut_each=shape.cut_for(np.maximum(chamber_volume - wanted, 0.0)),
        common_cut=common_cut,
        chamber_volume=after,
        volume_to_open=wanted - after,
        spread=float(np.fmax.reduce(after) - np.fmin.reduce(after)),
        complete=not bool(np.isnan(chamber_volume).any()),
    )
