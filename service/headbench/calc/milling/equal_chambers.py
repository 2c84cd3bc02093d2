"""Equal chambers: what brings the chambers of a bank to one volume."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from headbench.calc.cylinders.chamber_shape import ChamberShape
from headbench.calc.movement.cuts import cut_for_volume


@dataclass(frozen=True, slots=True)
class EqualChambers:
    """What makes the chambers of a bank alike.

    wanted_volume : float, volume all are to have [m3]
    cut_each : list of float (C), cut that alone would bring each chamber to it; 0 where one is small enough already [m]
    common_cut : float, the largest of these: the least single cut after which no chamber is too large [m]
    chamber_volume : list of float (C), volumes after the common cut [m3]
    volume_to_open : list of float (C), what must still be ground out of each chamber [m3]
    spread : float, largest less smallest chamber after the common cut [m3]
    complete : bool, False where a chamber is not measured: a larger one may hide there [-]
    """

    wanted_volume: float
    cut_each: list[float]
    common_cut: float
    chamber_volume: list[float]
    volume_to_open: list[float]
    spread: float
    complete: bool


def equal_chambers(
    chamber_volume: Sequence[float], wanted_volume: float | None, shape: ChamberShape, deepest_cut: float
) -> EqualChambers:
    """Depth per chamber and least common cut that bring the chambers of a bank to one volume.

    Parameters
    ----------
    chamber_volume : sequence of float (C)
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
    >>> equal = equal_chambers([64.0e-6, 64.5e-6, 63.5e-6], None, from_area(50.0e-4), 2.0e-3)
    >>> round(equal.common_cut * 1e3, 9), [round(volume * 1e6, 9) for volume in equal.volume_to_open]
    (0.2, [0.5, 0.0, 1.0])
    """
    known = [volume for volume in chamber_volume if not math.isnan(volume)]
    largest, smallest = max(known, default=math.nan), min(known, default=math.nan)
    wanted = smallest if wanted_volume is None else wanted_volume
    common_cut = cut_for_volume(min(wanted, largest), largest, shape, deepest_cut)
    after = [volume - shape.removed_by(common_cut) for volume in chamber_volume]
    left = [volume for volume in after if not math.isnan(volume)]
    return EqualChambers(
        wanted_volume=wanted,
        cut_each=[
            math.nan if math.isnan(volume) else shape.cut_for(max(volume - wanted, 0.0)) for volume in chamber_volume
        ],
        common_cut=common_cut,
        chamber_volume=after,
        volume_to_open=[wanted - volume for volume in after],
        spread=max(left, default=math.nan) - min(left, default=math.nan),
        complete=len(known) == len(chamber_volume),
    )
