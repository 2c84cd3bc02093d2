"""Piston to valve: what is left between them once the head has come down or the valve has been sunk."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headbench.calc import FloatArray


@dataclass(frozen=True, slots=True)
class ClearanceLost:
    """What an approach takes from the clearance between piston and valve, by where it is measured.

    along_bore : array (V,), along the bore axis [m]
    across_pocket : array (V,), square to a pocket that lies parallel to the valve head [m]
    in_valve_travel : array (V,), in travel of the valve to a flat crown [m]
    """

    along_bore: FloatArray
    across_pocket: FloatArray
    in_valve_travel: FloatArray


def clearance_lost(approach: FloatArray, valve_angle: FloatArray | float) -> ClearanceLost:
    """Clearance that an approach takes: n, n cos v and n/cos v.

    Parameters
    ----------
    approach : array (V,)
        Net approach of the head n [m]
    valve_angle : array (V,) or float
        Between valve and bore axis v, below 90 degrees [rad]

    Returns
    -------
    ClearanceLost

    Notes
    -----
    Clay in a pocket is measured across it, a dial on the retainer reads valve travel. The valve's
    timing is taken to stay; an overhead cam moves it: `cam_timing`.

    >>> lost = clearance_lost(np.array([1.0e-3]), np.deg2rad(60.0))
    >>> (lost.across_pocket * 1e3).round(9).tolist(), (lost.in_valve_travel * 1e3).round(9).tolist()
    ([0.5], [2.0])
    """
    cosine = np.cos(valve_angle)
    return ClearanceLost(
        along_bore=approach,
        across_pocket=np.asarray(approach * cosine, dtype=np.float64),
        in_valve_travel=np.asarray(approach / cosine, dtype=np.float64),
    )
