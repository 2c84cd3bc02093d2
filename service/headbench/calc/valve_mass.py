"""Valve mass: what moves with the valve, reduced to the valve's axis."""

from __future__ import annotations

from typing import Final

from headbench.calc import FloatArray

SPRING_SHARE: Final = 1.0 / 3.0
"""The part of a spring's mass that counts as moving with its end [-]."""


def moving_mass(
    valve: FloatArray,
    retainer: FloatArray,
    locks: FloatArray,
    lash_cap: FloatArray,
    springs: FloatArray,
) -> FloatArray:
    """Mass reduced to the valve's axis, valve side only, m = valve + retainer + locks + cap + springs/3.

    Parameters
    ----------
    valve : array (P,)
        Mass of the valve [kg]
    retainer : array (P,)
        Mass of the retainer [kg]
    locks : array (P,)
        Mass of the locks of one valve [kg]
    lash_cap : array (P,)
        Mass of the lash cap, 0 where there is none [kg]
    springs : array (P,)
        Mass of all springs on one valve [kg]

    Returns
    -------
    array (P,)
        Moving mass m [kg]

    Notes
    -----
    A third of a spring's mass moves with its end (Rayleigh's method, any vibration text); good to
    0.4 % while the spring weighs at most half of what it moves.

    >>> import numpy as np
    >>> grams = [np.array([value * 1e-3]) for value in (104.5, 19.8, 5.1, 0.0, 90.0)]
    >>> moving_mass(*grams).round(9).tolist()
    [0.1594]
    """
    return valve + retainer + locks + lash_cap + SPRING_SHARE * springs
