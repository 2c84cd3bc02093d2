"""Spring design: the cylindrical spring that gives two loads at two heights, within a stress."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headbench.calc import FloatArray
from headbench.calc.spring_wire import Wire, coil_stiffness


@dataclass(frozen=True, slots=True)
class TwoLoadDesign:
    """Cylindrical springs that give two loads at two heights.

    rate : array (P,), rate between the two [N/m]
    active_coils : array (P,), active coils that have this rate [-]
    free_height : array (P,), height without load, should the rate hold up to it [m]
    """

    rate: FloatArray
    active_coils: FloatArray
    free_height: FloatArray


def two_load_design(
    height: FloatArray, load: FloatArray, wire: Wire, mean_diameter: FloatArray, shear_modulus: float
) -> TwoLoadDesign:
    """Active coils for two loads at two heights, N_a = G d^4/(8 D^3 k), k = (F_2 - F_1)/(H_1 - H_2).

    Parameters
    ----------
    height : array (P, 2)
        Two heights, different ones, such as installed and open [m]
    load : array (P, 2)
        Loads wanted there [N]
    wire : Wire
        Round or ovate wire [m]
    mean_diameter : array (P,)
        Mean diameter D [m]
    shear_modulus : float
        Shear modulus of the wire G [Pa]

    Returns
    -------
    TwoLoadDesign

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, Eq. 10-9; V. B. Bhandari,
    Design of Machine Elements, Ex. 10.4.

    >>> from headbench.calc.spring_wire import round_wire
    >>> heights, loads = np.array([[0.035, 0.030]]), np.array([[150.0, 300.0]])
    >>> two_load_design(heights, loads, round_wire(0.004), np.array([0.024]), 81.37e9).active_coils.round(4).tolist()
    [6.2785]
    """
    rate = (load[:, 1] - load[:, 0]) / (height[:, 0] - height[:, 1])
    return TwoLoadDesign(
        rate=rate,
        active_coils=coil_stiffness(wire, shear_modulus) / (rate * (mean_diameter / 2.0) ** 3),
        free_height=height[:, 0] + load[:, 0] / rate,
    )


def spring_index_for(load: FloatArray, wire_diameter: FloatArray, stress: FloatArray) -> FloatArray:
    """Spring index at which round wire reaches a stress, tau = (4C + 2)/(4C - 3) 8 F C/(pi d^2).

    Parameters
    ----------
    load : array (P,)
        Load F [N]
    wire_diameter : array (P,)
        Wire diameter d [m]
    stress : array (P,)
        Stress tau allowed, by the Bergstraesser factor [Pa]

    Returns
    -------
    array (P,)
        Greatest spring index C that stays within it; NaN where the wire is too thin for any [-]

    Notes
    -----
    The greater root of 4 b C^2 + (2 b - 4 tau) C + 3 tau = 0, b = 8 F/(pi d^2). Published.

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, Eq. 10-23.

    >>> spring_index_for(np.array([500.0]), np.array([0.004]), np.array([700e6])).round(3).tolist()
    [7.406]
    """
    per_index = 8.0 * load / (np.pi * wire_diameter**2)
    half = 2.0 * stress - per_index
    root = half**2 - 12.0 * per_index * stress
    possible = (root >= 0.0) & (half > 0.0)
    return np.where(possible, (half + np.sqrt(np.where(possible, root, 0.0))) / (4.0 * per_index), np.nan)
