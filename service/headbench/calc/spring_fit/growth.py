"""Growth: how much wider a helical spring's coils become as they close."""

from __future__ import annotations

import math

from headbench.calc.spring_fit.limits import TWIST_OVER_BEND


def growth_ends_held(mean_diameter: float, pitch: float, closed_pitch: float) -> float:
    """Growth of a spring whose ends can't turn, dD = sqrt(D^2 + (p^2 - p_c^2)/pi^2) - D.

    Parameters
    ----------
    mean_diameter : float
        Middle of the wire, spring free, D [m]
    pitch : float
        Wire to wire, spring free, p [m]
    closed_pitch : float
        The same as it is closed, p_c: the wire's height once coils touch [m]

    Returns
    -------
    float
        How much the mean diameter grows, and inside and outside diameter with it [m]

    Notes
    -----
    The turns stay as many, and each stays as long: (pi D)^2 + p^2 is kept. Own derivation; to first order it is
    0.0507 (p^2 - d^2)/D, which is printed as 0.05 (p^2 - d^2)/D (A. M. Wahl, Mechanical Springs, and EN 13906-1,
    both from memory).

    >>> round(growth_ends_held(30e-3, 9e-3, 4.5e-3) * 1e3, 6)
    0.102413
    """
    return math.sqrt(mean_diameter**2 + (pitch**2 - closed_pitch**2) / math.pi**2) - mean_diameter


def growth_ends_free(mean_diameter: float, pitch: float, closed_pitch: float) -> float:
    """Growth of a spring whose ends turn as they like, D_c/D = (c_c^4 + m s_c^2 c_c^2)/(c^2 c_c^2 + m s c s_c c_c).

    Parameters
    ----------
    mean_diameter : float
        Middle of the wire, spring free, D [m]
    pitch : float
        Wire to wire, spring free, p [m]
    closed_pitch : float
        The same as it is closed, p_c [m]

    Returns
    -------
    float
        How much the mean diameter grows [m]

    Notes
    -----
    s and c are sine and cosine of the helix angle, free and closed, m torsional over bending stiffness of the wire
    (`limits.TWIST_OVER_BEND`). At every height the wire takes the diameter of least energy, its length kept:
    B (kappa - kappa_0)^2 + C (tau - tau_0)^2 with kappa = c^2/R and tau = s c/R. Own derivation; to first order it
    is 0.101 (p^2 - m p d - (1 - m) d^2)/D, which is printed as 0.10 (p^2 - 0.8 p d - 0.2 d^2)/D (A. M. Wahl,
    Mechanical Springs, and EN 13906-1, both from memory).

    >>> round(growth_ends_free(30e-3, 9e-3, 4.5e-3) * 1e3, 2)
    0.15
    """
    # the wire of one free turn is kept, and so what a turn of the helix climbs per length of it
    wire = math.hypot(math.pi * mean_diameter, pitch)
    sine = pitch / wire
    # closed coils lie p_c apart at a diameter that is still to be found: a few rounds settle it
    diameter = mean_diameter
    for _ in range(_ROUNDS):
        closed_sine = closed_pitch / math.hypot(math.pi * diameter, closed_pitch)
        diameter = mean_diameter * _ratio(sine, closed_sine)
    return diameter - mean_diameter


_ROUNDS = 8


def _ratio(sine: float, closed_sine: float) -> float:
    twist = TWIST_OVER_BEND.values[0]
    cosine, closed_cosine = math.sqrt(1.0 - sine * sine), math.sqrt(1.0 - closed_sine * closed_sine)
    above = closed_cosine**4 + twist * (closed_sine * closed_cosine) ** 2
    return above / ((cosine * closed_cosine) ** 2 + twist * sine * cosine * closed_sine * closed_cosine)
