"""Spring stress: torsion in the wire, and how much of its strength a spring uses, at rest and moving."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

import numpy as np

from headbench.calc import FloatArray
from headbench.calc.coils.coils import DimensionedSpring
from headbench.calc.coils.curved_wire import curved_wire_factor
from headbench.calc.coils.wire import Wire

_KPSI: Final = 6.894757293168361e6

TORSIONAL_ULTIMATE: Final = 0.67
"""Torsional ultimate over tensile strength, S_su/S_ut (Shigley's Mechanical Engineering Design, 9th ed. (2011),
Eq. 10-30)."""


def bergstraesser_factor(spring_index: FloatArray) -> FloatArray:
    """Stress factor for curvature and direct shear, K = (4C + 2)/(4C - 3).

    Parameters
    ----------
    spring_index : array (P,)
        Mean diameter over wire diameter C, above 1 [-]

    Returns
    -------
    array (P,)
        Factor K [-]

    Notes
    -----
    The factor of EN 13906-1:2013, written there (C + 0.5)/(C - 0.75). Published.

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Eq. 10-5; EN 13906-1:2013,
    stress correction factor k (from memory).

    >>> bergstraesser_factor(np.array([8.0])).round(4).tolist()
    [1.1724]
    """
    return (4.0 * spring_index + 2.0) / (4.0 * spring_index - 3.0)


def wahl_factor(spring_index: FloatArray) -> FloatArray:
    """Stress factor for curvature and direct shear, K = (4C - 1)/(4C - 4) + 0.615/C.

    Parameters
    ----------
    spring_index : array (P,)
        Mean diameter over wire diameter C, above 1 [-]

    Returns
    -------
    array (P,)
        Factor K, within 1.4 % of the Bergstraesser factor for C from 4 to 12 [-]

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Eq. 10-4.

    >>> wahl_factor(np.array([8.0])).round(4).tolist()
    [1.184]
    """
    return (4.0 * spring_index - 1.0) / (4.0 * spring_index - 4.0) + 0.615 / spring_index


def torsional_stress(
    load: FloatArray, mean_diameter: FloatArray, wire: Wire, factor: Callable[[FloatArray], FloatArray]
) -> FloatArray:
    """Greatest shear stress in the wire, tau = K 8 F D/(pi d^3).

    Parameters
    ----------
    load : array (P,)
        Load that twists the wire F [N]
    mean_diameter : array (P,)
        Mean diameter of the coil D [m]
    wire : Wire
        Round or ovate wire [m]
    factor : callable
        `bergstraesser_factor` or `wahl_factor`, for round wire [-]

    Returns
    -------
    array (P,)
        Stress tau [Pa]

    Notes
    -----
    Ovate wire goes by elasticity, see `curved_wire`: the factors are for round wire, and its greatest stress
    need not lie at the inner end of the section.

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Eq. 10-7.

    >>> from headbench.calc.coils.wire import round_wire
    >>> stress = torsional_stress(np.array([1000.0]), np.array([0.032]), round_wire(0.004), wahl_factor)
    >>> (stress / 1e6).round(1).tolist()
    [1507.5]
    """
    short, long = min(wire.radial, wire.axial), max(wire.radial, wire.axial)
    plain = 8.0 * load * mean_diameter / (np.pi * long * short**2)
    index = mean_diameter / wire.radial
    curved = factor(index) if wire.radial == wire.axial else curved_wire_factor(index, wire.radial / wire.axial)
    return np.asarray(curved * plain, dtype=np.float64)


def greatest_stress(
    spring: DimensionedSpring, height: FloatArray, wire: Wire, factor: Callable[[FloatArray], FloatArray]
) -> FloatArray:
    """Greatest shear stress anywhere in a spring of any shape, at a height.

    Parameters
    ----------
    spring : DimensionedSpring
        The spring [-]
    height : array (P,)
        Its heights [m]
    wire : Wire
        The wire it was made of [m]
    factor : callable
        `bergstraesser_factor` or `wahl_factor`, for round wire [-]

    Returns
    -------
    array (P,)
        Stress; NaN below the coil-bind height [Pa]

    Notes
    -----
    Coils that are closed keep the stress they closed with: see `DimensionedSpring.torsion_at`.

    >>> from headbench.calc.coils.coils import dimensioned_spring
    >>> from headbench.calc.coils.shapes import cylinder
    >>> from headbench.calc.coils.wire import round_wire
    >>> wire = round_wire(0.004)
    >>> spring = dimensioned_spring(cylinder(0.032, 5.0, 0.009), wire, "squared", 80e9, 7850.0)
    >>> (greatest_stress(spring, np.array([spring.coil_bind_height]), wire, wahl_factor) / 1e6).round(1).tolist()
    [588.9]
    """
    radius, load = spring.torsion_at(height)
    stress = torsional_stress(load, 2.0 * radius, wire, factor)
    return np.asarray(stress.max(axis=1, initial=0.0), dtype=np.float64)


def static_reserve(yield_strength: FloatArray, stress: FloatArray) -> FloatArray:
    """Reserve against taking a set, n_s = S_sy/tau.

    Parameters
    ----------
    yield_strength : array (P,)
        Torsional yield strength S_sy: a percentage of the tensile strength, see `wire_materials` [Pa]
    stress : array (P,)
        Greatest stress, usually that at the coil-bind height [Pa]

    Returns
    -------
    array (P,)
        Reserve; 1.2 at coil bind is the usual aim [-]

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Eq. 10-21.

    >>> static_reserve(np.array([900e6]), np.array([750e6])).round(9).tolist()
    [1.2]
    """
    return yield_strength / stress


Criterion = Literal["goodman", "gerber", "sines"]
"""How the mean stress a spring bears lessens the amplitude it bears."""


@dataclass(frozen=True, slots=True)
class EnduranceLimits:
    """One point known to be borne without end.

    amplitude : float, stress amplitude S_sa [Pa]
    mean : float, mean stress S_sm it was found at [Pa]
    """

    amplitude: float
    mean: float


ZIMMERLI: Final[Mapping[Literal["unpeened", "peened"], EnduranceLimits]] = MappingProxyType(
    {
        "unpeened": EnduranceLimits(35.0 * _KPSI, 55.0 * _KPSI),
        "peened": EnduranceLimits(57.5 * _KPSI, 77.5 * _KPSI),
    }
)
"""For steel wire under 3/8 in, whatever its strength: Zimmerli (1957), as in Shigley's Mechanical Engineering Design,
9th ed. (2011), Eqs. 10-28 and 10-29."""


def endurance_limit(limits: EnduranceLimits, ultimate: FloatArray, criterion: Criterion) -> FloatArray:
    """Amplitude borne without end at no mean stress, S_se, by a criterion through a known point.

    Parameters
    ----------
    limits : EnduranceLimits
        The point known: see ZIMMERLI [Pa]
    ultimate : array (P,)
        Mean stress at which no amplitude is borne: the torsional ultimate S_su [Pa]
    criterion : Criterion
        "goodman" S_sa/(1 - S_sm/S_su), "gerber" S_sa/(1 - (S_sm/S_su)^2), "sines" S_sa [-]

    Returns
    -------
    array (P,)
        Endurance limit S_se; NaN where S_su does not exceed S_sm [Pa]

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Ex. 10-4.

    >>> (endurance_limit(ZIMMERLI["unpeened"], np.array([190.3 * 6.894757e6]), "gerber") / 6.894757e6).round(1).tolist()
    [38.2]
    """
    share = limits.mean / ultimate
    left = {"goodman": 1.0 - share, "gerber": 1.0 - share**2, "sines": np.ones_like(share)}[criterion]
    return np.divide(limits.amplitude, left, out=np.full_like(left, np.nan), where=share < 1.0)


def fatigue_reserve(
    amplitude: FloatArray,
    mean: FloatArray,
    endurance: FloatArray,
    ultimate: FloatArray,
    criterion: Criterion,
    rest: FloatArray | float = 0.0,
) -> FloatArray:
    """Reserve against fatigue, n: how many times the stresses may grow along their load line.

    Parameters
    ----------
    amplitude : array (P,)
        Stress amplitude tau_a, half of greatest less least [Pa]
    mean : array (P,)
        Mean stress tau_m [Pa]
    endurance : array (P,)
        Endurance limit S_se by the same criterion: see `endurance_limit` [Pa]
    ultimate : array (P,)
        Torsional ultimate S_su [Pa]
    criterion : Criterion
        How mean stress counts: not at all by "sines" [-]
    rest : array (P,) or float
        Mean stress at which the load line begins: 0 when all loads grow alike, the stress of the
        installed spring when that stays and only the stroke grows [Pa]

    Returns
    -------
    array (P,)
        Reserve; infinite where nothing grows; NaN where the stress at rest is beyond the ultimate [-]

    Notes
    -----
    n tau_a/S_se + x = 1 (Goodman), n tau_a/S_se + x^2 = 1 (Gerber), x = (rest + n (tau_m - rest))/S_su.
    With the yield strength in the place of the ultimate, Goodman's line is Soderberg's.

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Ex. 10-4; R. L. Norton,
    Machine Design, 5th ed. (2014), ch. 14 (load line from the installed load; from memory).

    >>> reserve = fatigue_reserve(
    ...     np.array([29.7]), np.array([39.6]), np.array([38.2]), np.array([190.3]), "gerber"
    ... )
    >>> reserve.round(2).tolist()
    [1.21]
    """
    per_amplitude = amplitude / endurance
    at_rest, growth = rest / ultimate, (mean - rest) / ultimate
    if criterion == "gerber":
        # n^2 growth^2 + n (per_amplitude + 2 at_rest growth) + at_rest^2 - 1 = 0, its root that does not cancel
        linear = per_amplitude + 2.0 * at_rest * growth
        left = 1.0 - at_rest**2
        spent = (linear + np.sqrt(np.maximum(linear**2 + 4.0 * growth**2 * left, 0.0))) / 2.0
    elif criterion == "goodman":
        left, spent = 1.0 - at_rest, per_amplitude + growth
    else:
        left, spent = np.where(at_rest < 1.0, 1.0, -1.0), per_amplitude
    left, spent = np.broadcast_arrays(left, spent)
    reserve = np.divide(left, spent, out=np.full(spent.shape, np.inf), where=spent != 0.0)
    return np.where(left > 0.0, reserve, np.nan)
