"""Retainer clearance: how near the retainer comes to the seal at full lift."""

from __future__ import annotations

from headbench.calc import FloatArray


def retainer_to_seal_clearance(retainer_to_seal: FloatArray, valve_lift: FloatArray) -> FloatArray:
    """Distance left between retainer and seal at full lift, g_s = distance shut - L.

    Parameters
    ----------
    retainer_to_seal : array (P,)
        Distance from the retainer's underside to the top of the seal, valve shut [m]
    valve_lift : array (P,)
        Lift at the valve, L [m]

    Returns
    -------
    array (P,)
        Retainer-to-seal clearance g_s [m]

    Notes
    -----
    Common practice, no source.

    >>> import numpy as np
    >>> retainer_to_seal_clearance(np.array([16e-3]), np.array([14e-3])).round(9).tolist()
    [0.002]
    """
    return retainer_to_seal - valve_lift
