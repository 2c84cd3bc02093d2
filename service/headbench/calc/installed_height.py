"""Installed height: from the gauge's reading to the spring's height with the valve shut and at full lift."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from headbench.calc import FloatArray
from headbench.calc.shims import Layout, lay_out


@dataclass(frozen=True, slots=True)
class Heights:
    """Every position's heights once its shims are chosen; NaN where a reading or the target is missing.

    bare_height : array (P,), height with no shim, H_0 [m]
    needed : array (P,), shim thickness that would meet the target exactly, negative if too short [m]
    shims : Layout, the stack chosen for every position [-]
    installed_height : array (P,), height with the chosen stack, valve shut, H [m]
    deviation : array (P,), installed height minus target [m]
    short_by : array (P,), how much too short the bare height is, 0 where it is not [m]
    """

    bare_height: FloatArray
    needed: FloatArray
    shims: Layout
    installed_height: FloatArray
    deviation: FloatArray
    short_by: FloatArray


def set_heights(
    measured_height: FloatArray,
    deduction: FloatArray,
    target_height: FloatArray,
    thicknesses: FloatArray,
    stack_maximum: float,
    in_stock: Sequence[int | None] | None,
) -> Heights:
    """Choose every position's shims and the height its spring then stands at.

    Parameters
    ----------
    measured_height : array (P,)
        Height gauge reading H_m, valve shut, no shim [m]
    deduction : array (P,)
        What the gauge reads too much, c [m]
    target_height : array (P,)
        Installed height wanted [m]
    thicknesses : array (T,)
        Shim sizes at hand [m]
    stack_maximum : float
        Thickest stack allowed in one pocket [m]
    in_stock : sequence (T,) of int or None
        How many of each size there are, None without end [-]

    Returns
    -------
    Heights

    Notes
    -----
    A position that is short already gets no shim: it stands at its bare height.

    >>> inch = 0.0254
    >>> heights = set_heights(
    ...     np.array([1.885]) * inch, np.array([0.090]) * inch, np.array([1.750]) * inch,
    ...     np.array([0.015, 0.030, 0.060]) * inch, 0.060 * inch, None,
    ... )
    >>> heights.shims.shims, (heights.installed_height / inch).round(9).tolist()
    (((1, 0),), [1.75])
    """
    bare = bare_height(measured_height, deduction)
    needed = bare - target_height
    shims = lay_out(needed, thicknesses, stack_maximum, in_stock)
    installed = installed_height(bare, shims.stack)
    return Heights(
        bare_height=bare,
        needed=needed,
        shims=shims,
        installed_height=installed,
        deviation=installed - target_height,
        short_by=np.maximum(-needed, 0.0),
    )


def bare_height(measured_height: FloatArray, deduction: FloatArray) -> FloatArray:
    """Height the spring would have with no shim, H_0 = H_m - c.

    Parameters
    ----------
    measured_height : array (P,)
        Height gauge reading H_m, valve shut, no shim [m]
    deduction : array (P,)
        What the gauge reads too much because it sits on another step of the retainer, c [m]

    Returns
    -------
    array (P,)
        Bare height H_0 [m]

    Notes
    -----
    Common practice, no source.

    >>> bare_height(np.array([47.5e-3]), np.array([2.25e-3])).round(9).tolist()
    [0.04525]
    """
    return measured_height - deduction


def installed_height(bare_height: FloatArray, shim_stack: FloatArray) -> FloatArray:
    """Height of the spring with the valve shut, H = H_0 - t.

    Parameters
    ----------
    bare_height : array (P,)
        Bare height H_0 [m]
    shim_stack : array (P,)
        Total thickness of the shims under the spring, t [m]

    Returns
    -------
    array (P,)
        Installed height H [m]

    Notes
    -----
    Common practice, no source.

    >>> installed_height(np.array([45.25e-3]), np.array([0.75e-3])).round(9).tolist()
    [0.0445]
    """
    return bare_height - shim_stack


def open_height(installed_height: FloatArray, valve_lift: FloatArray) -> FloatArray:
    """Height of the spring at full lift, H_L = H - L.

    Parameters
    ----------
    installed_height : array (P,)
        Installed height H [m]
    valve_lift : array (P,)
        Lift at the valve, L [m]

    Returns
    -------
    array (P,)
        Open height H_L [m]

    Notes
    -----
    Common practice, no source.

    >>> open_height(np.array([44.5e-3]), np.array([12.5e-3])).round(9).tolist()
    [0.032]
    """
    return installed_height - valve_lift
