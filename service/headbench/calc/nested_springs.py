"""Nested springs: what dimensioned springs under one retainer do together, each at its own height."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.optimize import elementwise

from headbench.calc import FloatArray
from headbench.calc.spring_coils import DimensionedSpring


def nested_loads(springs: Sequence[DimensionedSpring], height: FloatArray, seat_step: FloatArray) -> FloatArray:
    """Load of each spring under one retainer, F_i(H - step_i).

    Parameters
    ----------
    springs : sequence (K,) of DimensionedSpring
        The springs, in any order [-]
    height : array (P,)
        Distance from the outer spring's seat to the retainer H [m]
    seat_step : array (K,)
        How much shorter than that each spring stands; 0 for the outer one [m]

    Returns
    -------
    array (P, K)
        Loads; 0 for a spring too short to reach, NaN for one that would be below solid [N]

    >>> from headbench.calc.spring_coils import dimensioned_spring
    >>> from headbench.calc.spring_shapes import cylinder
    >>> from headbench.calc.spring_wire import round_wire
    >>> outer = dimensioned_spring(cylinder(0.030, 5.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
    >>> nested_loads([outer, outer], np.array([0.056]), np.array([0.0, 0.002])).round(6).tolist()
    [[18.962963, 56.888889]]
    """
    each = [spring.load_at(height - step) for spring, step in zip(springs, seat_step.tolist(), strict=True)]
    return np.stack(each, axis=1)


def nested_load(springs: Sequence[DimensionedSpring], height: FloatArray, seat_step: FloatArray) -> FloatArray:
    """Load of all springs under one retainer, F = sum F_i(H - step_i).

    Parameters
    ----------
    springs : sequence (K,) of DimensionedSpring
        The springs, in any order [-]
    height : array (P,)
        Distance from the outer spring's seat to the retainer H [m]
    seat_step : array (K,)
        How much shorter than that each spring stands; 0 for the outer one [m]

    Returns
    -------
    array (P,)
        Load on the retainer; NaN where one of the springs would be below solid [N]

    Notes
    -----
    Springs side by side carry the sum of their loads at heights that differ by a constant only. A
    spring with a shorter free height joins in when the retainer reaches it. Published.

    References
    ----------
    V. B. Bhandari, Design of Machine Elements, ch. 10, concentric springs.

    >>> from headbench.calc.spring_coils import dimensioned_spring
    >>> from headbench.calc.spring_shapes import cylinder
    >>> from headbench.calc.spring_wire import round_wire
    >>> outer = dimensioned_spring(cylinder(0.030, 5.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
    >>> nested_load([outer, outer], np.array([0.056]), np.array([0.0, 0.002])).round(6).tolist()
    [75.851852]
    """
    return np.asarray(nested_loads(springs, height, seat_step).sum(axis=1), dtype=np.float64)


def nested_rate(springs: Sequence[DimensionedSpring], height: FloatArray, seat_step: FloatArray) -> FloatArray:
    """Rate of all springs under one retainer, k = sum k_i(H - step_i).

    Parameters
    ----------
    springs : sequence (K,) of DimensionedSpring
        The springs, in any order [-]
    height : array (P,)
        Distance from the outer spring's seat to the retainer H [m]
    seat_step : array (K,)
        How much shorter than that each spring stands; 0 for the outer one [m]

    Returns
    -------
    array (P,)
        Rate at the retainer; NaN where one of the springs has none [N/m]

    >>> from headbench.calc.spring_coils import dimensioned_spring
    >>> from headbench.calc.spring_shapes import cylinder
    >>> from headbench.calc.spring_wire import round_wire
    >>> outer = dimensioned_spring(cylinder(0.030, 5.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
    >>> nested_rate([outer, outer], np.array([0.058, 0.056]), np.array([0.0, 0.002])).round(6).tolist()
    [18962.962963, 37925.925926]
    """
    each = [spring.rate_at(height - step) for spring, step in zip(springs, seat_step.tolist(), strict=True)]
    return np.asarray(np.sum(each, axis=0), dtype=np.float64)


def nested_height_for(springs: Sequence[DimensionedSpring], load: FloatArray, seat_step: FloatArray) -> FloatArray:
    """Height at which all springs together push a load: the inverse of `nested_load`.

    Parameters
    ----------
    springs : sequence (K,) of DimensionedSpring
        The springs, in any order [-]
    load : array (P,)
        Loads on the retainer [N]
    seat_step : array (K,)
        How much shorter than the outer spring each stands; 0 for the outer one [m]

    Returns
    -------
    array (P,)
        Distance from the outer spring's seat to the retainer; where the first spring touches for a load
        of 0; NaN below 0 or above what the springs push when the first of them is solid [m]

    >>> from headbench.calc.spring_coils import dimensioned_spring
    >>> from headbench.calc.spring_shapes import cylinder
    >>> from headbench.calc.spring_wire import round_wire
    >>> outer = dimensioned_spring(cylinder(0.030, 5.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
    >>> nested_height_for([outer, outer], np.array([75.851851852]), np.array([0.0, 0.002])).round(9).tolist()
    [0.056]
    """
    tallest = max(spring.free_height + step for spring, step in zip(springs, seat_step.tolist(), strict=True))
    solid = max(spring.solid_height + step for spring, step in zip(springs, seat_step.tolist(), strict=True))
    most = float(nested_load(springs, np.array([solid]), seat_step)[0])
    possible = (load >= 0.0) & (load <= most * (1.0 + 1e-12))
    wanted = np.clip(load[possible], 0.0, most)
    height = np.full(len(load), np.nan)
    if len(wanted) > 0:

        def excess(at: FloatArray, target: FloatArray) -> FloatArray:
            return nested_load(springs, at, seat_step) - target

        found = elementwise.find_root(
            excess, (np.full_like(wanted, solid), np.full_like(wanted, tallest)), args=(wanted,)
        )
        height[possible] = found.x
    return height
