"""Valve mass: what moves with the valve, reduced to the valve's axis, part by part."""

from __future__ import annotations

import math
import sys
from typing import Final, NamedTuple

STANDARD_GRAVITY: Final = 9.80665
"""What a scale that shows kilograms takes the free fall to be [m/s2]; a definition (CGPM 1901)."""

_NEWTON_STEPS: Final = 7
_SERIES_BELOW: Final = 0.1


class WeighedParts(NamedTuple):
    """What moves with one valve, as it came off the scale; 0 where there is no such part.

    valve : float [kg]
    retainer : float [kg]
    locks : float, both locks of one valve [kg]
    lash_cap : float [kg]
    springs : float, all springs on one valve, dead coils included, dampers not [kg]
    spring_share : float, what part of the active coils counts: SPRING_SHARE, or `spring_share` [-]
    retainer_coils : float, dead coils at the retainer, part of springs [kg]
    seat_coils : float, dead coils at the spring seat, part of springs [kg]
    dampers : float [kg]
    damper_share : float, what part of the dampers counts; 1 is whole [-]
    rocker : float, reduced to the valve, by one of the `rocker_mass_from_...` [kg]
    pushrod : float [kg]
    lifter : float [kg]
    rocker_ratio : float [-]
    """

    valve: float
    retainer: float
    locks: float
    lash_cap: float
    springs: float
    spring_share: float
    retainer_coils: float
    seat_coils: float
    dampers: float
    damper_share: float
    rocker: float
    pushrod: float
    lifter: float
    rocker_ratio: float

    @property
    def active_coils(self) -> float:
        """Mass of the springs' active coils [kg]."""
        return self.springs - self.retainer_coils - self.seat_coils


class MovingMass(NamedTuple):
    """What every part adds to the moving mass, and the sum on both sides of the rocker.

    valve, retainer, locks, lash_cap, springs, dampers, rocker, pushrod, lifter : float, at the valve [kg]
    total : float, moving mass m reduced to the valve [kg]
    lifter_side : float, the same m referred to the lifter [kg]
    """

    valve: float
    retainer: float
    locks: float
    lash_cap: float
    springs: float
    dampers: float
    rocker: float
    pushrod: float
    lifter: float
    total: float
    lifter_side: float


def moving_mass_by_part(parts: WeighedParts) -> MovingMass:
    """Moving mass m = valve + retainer + locks + cap + springs + dampers + rocker + (pushrod + lifter)/r^2.

    Parameters
    ----------
    parts : WeighedParts
        What was weighed [-]

    Returns
    -------
    MovingMass

    Notes
    -----
    The springs count share (springs - dead coils) + dead coils at the retainer: those move with it
    whole, those on the spring seat stand still. What moves 1/r of the valve's way holds 1/r^2 of the
    kinetic energy its mass would have there, hence the division; m r^2 is what the lifter feels.
    Equal kinetic energy is the definition of a reduced mass (own derivation). A third of a light
    spring moves with its end (Rayleigh's method: see `spring_share`); good to 0.4 % while the spring
    weighs at most half of what it moves, and `spring_share` is exact. A damper wound into the spring
    is pressed between the same two ends and counts as a spring does; one that slides counts whole.

    >>> from headbench.calc.coils.motion import SPRING_SHARE
    >>> weighed = dict(valve=0.1045, retainer=0.0198, locks=0.0051, lash_cap=0.0, springs=0.09,
    ...     spring_share=SPRING_SHARE, retainer_coils=0.006, seat_coils=0.006, dampers=0.01, damper_share=1.0,
    ...     rocker=0.03, pushrod=0.045, lifter=0.09, rocker_ratio=1.5)
    >>> mass = moving_mass_by_part(WeighedParts(**weighed))
    >>> round(mass.springs, 9), round(mass.total, 9), round(mass.lifter_side, 9)
    (0.032, 0.2614, 0.58815)
    """
    springs = parts.spring_share * parts.active_coils + parts.retainer_coils
    dampers = parts.damper_share * parts.dampers
    pushrod = seen_from_valve(parts.pushrod, parts.rocker_ratio)
    lifter = seen_from_valve(parts.lifter, parts.rocker_ratio)
    on_valve = parts.valve + parts.retainer + parts.locks + parts.lash_cap
    total = on_valve + springs + dampers + parts.rocker + pushrod + lifter
    return MovingMass(
        valve=parts.valve,
        retainer=parts.retainer,
        locks=parts.locks,
        lash_cap=parts.lash_cap,
        springs=springs,
        dampers=dampers,
        rocker=parts.rocker,
        pushrod=pushrod,
        lifter=lifter,
        total=total,
        lifter_side=total * parts.rocker_ratio**2,
    )


def seen_from_valve(on_lifter_side: float, rocker_ratio: float) -> float:
    """What a mass on the lifter's side of the rocker counts at the valve, m/r^2.

    Parameters
    ----------
    on_lifter_side : float
        The mass, or what a mass is worth, as it is there m [kg]
    rocker_ratio : float
        Rocker ratio r; NaN not known [-]

    Returns
    -------
    float
        The same at the valve [kg]

    Notes
    -----
    See `moving_mass_by_part`.

    >>> seen_from_valve(0.09, 1.5)
    0.04
    """
    return on_lifter_side / rocker_ratio**2


def moved_by_springs(parts: WeighedParts) -> float:
    """What moves with the end of the springs' active coils, all of the moving mass but these.

    Parameters
    ----------
    parts : WeighedParts
        What was weighed [-]

    Returns
    -------
    float
        Mass at the valve [kg]

    >>> from headbench.calc.coils.motion import SPRING_SHARE
    >>> weighed = dict(valve=0.1045, retainer=0.0198, locks=0.0051, lash_cap=0.0, springs=0.09,
    ...     spring_share=SPRING_SHARE, retainer_coils=0.006, seat_coils=0.006, dampers=0.01, damper_share=1.0,
    ...     rocker=0.03, pushrod=0.045, lifter=0.09, rocker_ratio=1.5)
    >>> round(moved_by_springs(WeighedParts(**weighed)), 9)
    0.2354
    """
    return moving_mass_by_part(parts._replace(spring_share=0.0)).total


def spring_share(active_mass: float, moved_mass: float) -> float:
    """Exact part of a spring's mass that counts, 1/x^2 - m/m_s with x tan x = m_s/m.

    Parameters
    ----------
    active_mass : float
        Mass of the spring's active coils m_s [kg]
    moved_mass : float
        Mass of everything else that moves with its end m, above 0 [kg]

    Returns
    -------
    float
        The share; a third for a light spring, 4/pi^2 = 0.405 for one that moves nothing but itself [-]

    Notes
    -----
    The share that makes sqrt(k/(m + share m_s)) the lowest natural frequency of a uniform spring, one
    end held, with a mass m on the other. A third in its place puts the frequency 0.01 % high at
    m_s/m = 0.1, 0.2 % at 0.5, 0.7 % at 1. It is a share of free vibration: a spring driven by a cam
    near its surge frequency follows neither.

    References
    ----------
    S. S. Rao, Mechanical Vibrations, 5th ed. (2011), 8.3 (longitudinal vibration of a bar with a mass at
    its end; a uniform spring obeys the same equation); from memory. The roots are recomputed in the tests.

    >>> round(spring_share(0.0, 0.16), 6), round(spring_share(0.08, 0.16), 6)
    (0.333333, 0.34322)
    """
    ratio = active_mass / moved_mass
    # right at both ends, so that Newton's method needs no safeguard in between
    x = math.sqrt(ratio / (1.0 + 4.0 * ratio / math.pi**2))
    for _ in range(_NEWTON_STEPS):
        sine, cosine = math.sin(x), math.cos(x)
        x -= (x * sine - ratio * cosine) / ((1.0 + ratio) * sine + x * cosine + sys.float_info.min)
    # (1 - x cot x)/x^2 is the same share with m/m_s put in terms of x; its series keeps the digits
    # that the difference of two near equals would lose
    square = x * x
    if x < _SERIES_BELOW:
        return 1 / 3 + square * (1 / 45 + square * (2 / 945 + square * (1 / 4725 + square * 2 / 93555)))
    return (1.0 - x / math.tan(x)) / square


def rocker_mass_from_inertia(inertia: float, valve_arm: float) -> float:
    """Rocker reduced to the valve from its moment of inertia, I/x^2.

    Parameters
    ----------
    inertia : float
        Moment of inertia about the rocker's pivot I [kg m2]
    valve_arm : float
        Distance from pivot to valve tip x [m]

    Returns
    -------
    float
        Reduced mass [kg]

    >>> round(rocker_mass_from_inertia(4.8e-5, 0.040), 9)
    0.03
    """
    return inertia / valve_arm**2


def rocker_mass_from_weight(weight: float, other_arm: float) -> float:
    """Rocker reduced to the valve from what it weighs, as an even bar, m (1 - s + s^2)/3.

    Parameters
    ----------
    weight : float
        Mass of the whole rocker m [kg]
    other_arm : float
        Arm of its other end over the valve arm s: one over the ratio where the pivot lies between the ends, 0 for a
        finger that pivots at its end [-]

    Returns
    -------
    float
        Reduced mass [kg]

    Notes
    -----
    An even slender bar of arms x and s x about its pivot has I = m (x^2 - x s x + (s x)^2)/3 (any
    dynamics text). An estimate: a rocker whose metal sits round its pivot counts less, one with a
    heavy roller or adjuster more. `rocker_mass_from_swing` needs no such guess.

    >>> round(rocker_mass_from_weight(0.108, 1 / 1.5), 9), round(rocker_mass_from_weight(0.108, 0.0), 9)
    (0.028, 0.036)
    """
    return weight * (1.0 - other_arm + other_arm**2) / 3.0


def rocker_mass_from_scale(tip_reading: float, tail_reading: float, other_arm: float) -> float:
    """Rocker reduced to the valve from weighing its ends, tip + tail s^2.

    Parameters
    ----------
    tip_reading : float
        What a scale shows under the contact with the valve while the other contact rests beside it, level [kg]
    tail_reading : float
        The same with the scale under the other contact, the pivot of a finger [kg]
    other_arm : float
        Arm of the other contact over the valve arm s: one over the ratio where the pivot lies between them, 0 for a
        finger that pivots at its end [-]

    Returns
    -------
    float
        Reduced mass; not too small where all of the rocker lies between its two contacts [kg]

    Notes
    -----
    Puts the whole rocker into two points at its contacts with the same sum and center of mass, as a
    rod is weighed for balancing. Metal between them is moved outward by that, so the answer is too
    large for it, and errs toward an early float; metal beyond a contact (a roller, an adjuster, a
    long tail) is moved inward and counts too little. `rocker_mass_from_swing` has neither error.

    >>> round(rocker_mass_from_scale(0.045, 0.036, 1 / 1.5), 9)
    0.061
    """
    return tip_reading + tail_reading * other_arm**2


def rocker_mass_from_swing(tip_reading: float, valve_arm: float, period: float) -> float:
    """Rocker reduced to the valve from its swing about its own pivot, R g (T/2 pi)^2/x.

    Parameters
    ----------
    tip_reading : float
        What a scale shows under the valve tip while the pivot is held level with it R [kg]
    valve_arm : float
        Distance from pivot to valve tip x [m]
    period : float
        Time of one small full swing about the pivot, tip hanging down T [s]

    Returns
    -------
    float
        Reduced mass I/x^2 [kg]

    Notes
    -----
    A body that swings about a fixed axis has T = 2 pi sqrt(I/(m g c)) (physical pendulum, own
    derivation), and R x = m c on the scale, so neither m nor c is needed. It takes the center of
    mass to lie on the line from pivot to tip: off that line by an angle the answer is too small by its
    cosine. Friction at the pivot and a wide swing lengthen the period, by 0.4 % at 15 degrees either
    way. A rocker whose tail balances its tip hardly swings and cannot be taken this way.

    >>> round(rocker_mass_from_swing(0.030, 0.040, 0.33), 4)
    0.0203
    """
    inertia = tip_reading * STANDARD_GRAVITY * valve_arm * (period / (2.0 * math.pi)) ** 2
    return rocker_mass_from_inertia(inertia, valve_arm)
