"""Spring stability: when a spring bows out sideways."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, Literal

import numpy as np

from headbench.calc import FloatArray

EndSupport = Literal["both ends fixed", "one end fixed, one hinged", "both ends hinged", "one end fixed, one free"]
"""How the ends of a spring are held against tilting."""

END_CONSTANT: Final[Mapping[EndSupport, float]] = MappingProxyType(
    {
        "both ends fixed": 0.5,
        "one end fixed, one hinged": 0.707,
        "both ends hinged": 1.0,
        "one end fixed, one free": 2.0,
    }
)
"""Constant alpha (Shigley's Mechanical Engineering Design, 9th ed. (2011), Table 10-2); fixed: squared and ground."""


def stable_free_height(
    mean_diameter: FloatArray, elastic_modulus: FloatArray, shear_modulus: FloatArray, support: EndSupport
) -> FloatArray:
    """Free height below which a cylindrical spring never buckles, H_0 < (pi D/alpha) sqrt(2 (E - G)/(2 G + E)).

    Parameters
    ----------
    mean_diameter : array (P,)
        Mean diameter D [m]
    elastic_modulus : array (P,)
        Elastic modulus E [Pa]
    shear_modulus : array (P,)
        Shear modulus G [Pa]
    support : EndSupport
        How the ends are held [-]

    Returns
    -------
    array (P,)
        Greatest stable free height; 2.63 D/alpha for steel [m]

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Eqs. 10-12 and 10-13.

    >>> stable_free_height(np.array([0.4]), np.array([28.6]), np.array([11.5]), "both ends fixed").round(2).tolist()
    [2.05]
    """
    ratio = 2.0 * (elastic_modulus - shear_modulus) / (2.0 * shear_modulus + elastic_modulus)
    return np.asarray(np.pi * mean_diameter / END_CONSTANT[support] * np.sqrt(ratio), dtype=np.float64)


def critical_deflection(
    free_height: FloatArray,
    mean_diameter: FloatArray,
    elastic_modulus: FloatArray,
    shear_modulus: FloatArray,
    support: EndSupport,
) -> FloatArray:
    """Deflection at which a cylindrical spring buckles, y = H_0 C1 (1 - sqrt(1 - C2/(alpha H_0/D)^2)).

    Parameters
    ----------
    free_height : array (P,)
        Free height H_0 [m]
    mean_diameter : array (P,)
        Mean diameter D [m]
    elastic_modulus : array (P,)
        Elastic modulus E [Pa]
    shear_modulus : array (P,)
        Shear modulus G [Pa]
    support : EndSupport
        How the ends are held [-]

    Returns
    -------
    array (P,)
        Deflection from the free height; infinite where the spring never buckles [m]

    Notes
    -----
    C1 = E/(2 (E - G)), C2 = 2 pi^2 (E - G)/(2 G + E). Published.

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Eqs. 10-10 and 10-11.

    >>> steel = np.array([28.6]), np.array([11.5])
    >>> critical_deflection(np.array([4.0]), np.array([0.4]), *steel, "both ends fixed").round(3).tolist()
    [0.471]
    """
    stable = stable_free_height(mean_diameter, elastic_modulus, shear_modulus, support)
    # C2/(alpha H_0/D)^2 is the square of stable over free height
    left = 1.0 - (stable / free_height) ** 2
    share = elastic_modulus / (2.0 * (elastic_modulus - shear_modulus)) * (1.0 - np.sqrt(np.maximum(left, 0.0)))
    return np.where(left < 0.0, np.inf, free_height * share)
