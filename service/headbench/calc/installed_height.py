"""Heights: from the gauge's reading to the spring's height with the valve shut and at full lift."""

from __future__ import annotations

from headbench.calc import FloatArray


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

    >>> import numpy as np
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

    >>> import numpy as np
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

    >>> import numpy as np
    >>> open_height(np.array([44.5e-3]), np.array([12.5e-3])).round(9).tolist()
    [0.032]
    """
    return installed_height - valve_lift
