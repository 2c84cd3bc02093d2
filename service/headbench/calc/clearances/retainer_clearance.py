"""Retainer clearance: how near the retainer comes to the seal at full lift."""

from __future__ import annotations

import numpy as np

from headbench.calc import FloatArray, IntArray
from headbench.calc.judging.touching import clearance_verdict
from headbench.calc.judging.verdicts import only_rejects, worst


def retainer_to_seal_clearance(retainer_to_seal: FloatArray, valve_lift: FloatArray) -> FloatArray:
    """Distance left between retainer and seal at full lift, g_s = distance closed - L.

    Parameters
    ----------
    retainer_to_seal : array (P,)
        Distance from the retainer's underside to the top of the seal, valve closed [m]
    valve_lift : array (P,)
        Lift at the valve, L [m]

    Returns
    -------
    array (P,)
        Retainer-to-seal clearance g_s [m]

    Notes
    -----
    Common practice, no source.

    >>> retainer_to_seal_clearance(np.array([16e-3]), np.array([14e-3])).round(9).tolist()
    [0.002]
    """
    return retainer_to_seal - valve_lift


def retainer_verdict(clearance: FloatArray, retainer_to_seal: FloatArray, limit: FloatArray | float) -> IntArray:
    """Verdict on the retainer-to-seal clearance, with what the closed valve says already.

    Parameters
    ----------
    clearance : array (P,)
        At full lift; NaN while the lift is not known [m]
    retainer_to_seal : array (P,)
        Distance with the valve closed, which is the most it can ever be [m]
    limit : array (P,) or float
        The least that is good [m]

    Returns
    -------
    array (P,) of Verdict codes
        REJECT where even the closed valve leaves too little [-]

    >>> retainer_verdict(np.array([np.nan, np.nan]), np.array([1e-3, 16e-3]), 1.27e-3).tolist()
    [3, 2]
    """
    return worst(
        np.stack([clearance_verdict(clearance, limit), only_rejects(clearance_verdict(retainer_to_seal, limit))])
    )
