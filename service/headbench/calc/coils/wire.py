"""Spring wire: its section, how coils of it lie on each other, and what the ends of a spring take up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

import numpy as np

from headbench.calc import FloatArray

EndType = Literal["plain", "plain and ground", "squared", "squared and ground"]
"""How the last coils of a spring are finished."""


@dataclass(frozen=True, slots=True)
class _End:
    """dead_coils: coils of both ends that carry no torsion; wires: thicknesses at coil bind beyond the active coils."""

    dead_coils: float
    wires: float


_ENDS: Final[Mapping[EndType, _End]] = MappingProxyType(
    {
        "plain": _End(0.0, 1.0),
        "plain and ground": _End(1.0, 1.0),
        "squared": _End(2.0, 3.0),
        "squared and ground": _End(2.0, 2.0),
    }
)


@dataclass(frozen=True, slots=True)
class Wire:
    """Section of a spring's wire, round or an ellipse.

    radial : float, size across the axis of the spring [m]
    axial : float, size along the axis of the spring [m]
    """

    radial: float
    axial: float


def round_wire(diameter: float) -> Wire:
    """Wire of circular section.

    Parameters
    ----------
    diameter : float
        Wire diameter d [m]

    Returns
    -------
    Wire

    >>> round_wire(0.004)
    Wire(radial=0.004, axial=0.004)
    """
    return Wire(radial=diameter, axial=diameter)


def torsion_constant(wire: Wire) -> float:
    """Torsion constant of the wire's section, J = pi a^3 b^3/(a^2 + b^2), a and b the semi-axes.

    Parameters
    ----------
    wire : Wire
        Round or ovate wire [m]

    Returns
    -------
    float
        Torsion constant J; pi d^4/32 for round wire [m4]

    Notes
    -----
    Exact for an ellipse (Saint-Venant). Egg-shaped wire is taken as the ellipse with its two sizes,
    which is an approximation. Published.

    References
    ----------
    W. C. Young and R. G. Budynas, Roark's Formulas for Stress and Strain, 7th ed. (2002), Table 10.1.

    >>> round(torsion_constant(round_wire(2.0)) / np.pi, 12)
    0.5
    """
    across, along = wire.radial, wire.axial
    return float(np.pi * (across * along) ** 3 / (16.0 * (across**2 + along**2)))


def coil_stiffness(wire: Wire, shear_modulus: float) -> float:
    """Stiffness of the wire in a coil, q = G J/(2 pi): a turn of mean radius R deflects F R^3/q.

    Parameters
    ----------
    wire : Wire
        Round or ovate wire [m]
    shear_modulus : float
        Shear modulus G [Pa]

    Returns
    -------
    float
        Stiffness q; G d^4/64 for round wire [N m2]

    Notes
    -----
    The load at the axis twists the wire with F R; over a turn the twist F R 2 pi R/(G J) shows as F R^3/q
    along the axis. Bending, direct shear and the slope of the coils are left out. Published.

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Eq. 10-8.

    >>> round(coil_stiffness(round_wire(0.004), 80e9), 9)
    0.32
    """
    return shear_modulus * torsion_constant(wire) / (2.0 * np.pi)


def contact_height(wire: Wire, radial_step: FloatArray) -> FloatArray:
    """Height of one coil above the next when they touch, c = h sqrt(1 - (dR/w)^2).

    Parameters
    ----------
    wire : Wire
        Round or ovate wire, w across and h along the spring's axis [m]
    radial_step : array (M,)
        Change of mean radius per turn dR, either sign [m]

    Returns
    -------
    array (M,)
        sqrt(d^2 - dR^2) for round wire; 0 where the coils pass through each other [m]

    Notes
    -----
    Where two equal ellipses touch, their centers lie on an ellipse of twice their size. Plane
    geometry; for round wire also in the reference.

    References
    ----------
    E. Rodriguez, M. Paredes and M. Sartor, Analytical behavior law for a constant pitch conical
    compression spring, J. Mech. Des. 128 (2006) 1352-1356 (from memory).

    >>> contact_height(round_wire(0.005), np.array([0.0, 0.003, -0.006])).round(9).tolist()
    [0.005, 0.004, 0.0]
    """
    nested = np.maximum(1.0 - (radial_step / wire.radial) ** 2, 0.0)
    return np.asarray(wire.axial * np.sqrt(nested), dtype=np.float64)


def active_coils(total_coils: float, ends: EndType) -> float:
    """Coils that carry torsion, N_a = N_t less the dead coils of the ends.

    Parameters
    ----------
    total_coils : float
        All coils of the spring N_t [-]
    ends : EndType
        How the ends are finished [-]

    Returns
    -------
    float
        Active coils N_a [-]

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Table 10-1.

    >>> [active_coils(10.0, ends) for ends in ("plain", "plain and ground", "squared", "squared and ground")]
    [10.0, 9.0, 8.0, 8.0]
    """
    return total_coils - _ENDS[ends].dead_coils


def dead_coils(ends: EndType) -> float:
    """Coils that carry no torsion, both ends together.

    Parameters
    ----------
    ends : EndType
        How the ends are finished [-]

    Returns
    -------
    float
        Dead coils, half of them at either end [-]

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Table 10-1.

    >>> dead_coils("squared")
    2.0
    """
    return _ENDS[ends].dead_coils


def end_height(ends: EndType, wire: Wire) -> float:
    """Height the ends add to the active coils, free or at coil bind.

    Parameters
    ----------
    ends : EndType
        How the ends are finished [-]
    wire : Wire
        Round or ovate wire [m]

    Returns
    -------
    float
        Coil-bind height less one wire per active coil [m]

    Notes
    -----
    So that the coil-bind height is d (N_t + 1) with ends left as cut and d N_t with ground ends. Ends of a
    telescoping spring count in full. Published.

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Table 10-1.

    >>> end_height("squared", round_wire(0.002))
    0.006
    """
    return _ENDS[ends].wires * wire.axial


def uniform_pitch(free_height: float, coils: float, ends: EndType, wire: Wire) -> float:
    """Pitch that gives a spring of one pitch its free height, p = (H_0 - ends)/N_a.

    Parameters
    ----------
    free_height : float
        Height of the unloaded spring [m]
    coils : float
        Active coils N_a [-]
    ends : EndType
        How the ends are finished [-]
    wire : Wire
        Round or ovate wire [m]

    Returns
    -------
    float
        Rise per active turn [m]

    Notes
    -----
    As tabulated for plain, squared and squared and ground ends. For plain and ground ends the
    table divides by N_a + 1, with which the gaps of the active coils do not add up to free less
    coil-bind height; here they do.

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Table 10-1.

    >>> round(uniform_pitch(0.050, 8.0, "squared and ground", round_wire(0.004)), 9)
    0.00525
    """
    return (free_height - end_height(ends, wire)) / coils
