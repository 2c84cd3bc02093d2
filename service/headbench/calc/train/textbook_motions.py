"""Textbook motions: rises from the books that stand in for a lobe nobody has measured."""

from __future__ import annotations

from functools import cache
from typing import Final, Literal

import numpy as np

from headbench.calc import FloatArray
from headbench.calc.train.valve_motion import SAMPLES, Motion

Profile = Literal["harmonic", "cycloidal", "polynomial_345", "polynomial_4567", "modified sine"]
"""The profiles there are."""

_EXTREMES: Final[dict[Profile, tuple[float, ...]]] = {
    "harmonic": (),
    "cycloidal": (1 / 4,),
    "polynomial_345": ((1 - 3**-0.5) / 2,),
    "polynomial_4567": ((1 - 5**-0.5) / 2,),
    # its acceleration bends otherwise on either side: twice the same
    "modified sine": (1 / 8, 1 / 8),
}
"""Fractions of a rise at which it accelerates most: a motion has a sample on each, and where it brakes most [-]."""

_POLYNOMIALS: Final[dict[str, tuple[float, ...]]] = {
    # coefficients of u^0, u^1, ...
    "polynomial_345": (0.0, 0.0, 0.0, 10.0, -15.0, 6.0),
    "polynomial_4567": (0.0, 0.0, 0.0, 0.0, 35.0, -84.0, 70.0, -20.0),
}


def profile_values(profile: Profile, fraction: FloatArray) -> FloatArray:
    """Rise from 0 to 1 by a textbook profile, and its three derivatives.

    Parameters
    ----------
    profile : Profile
        Which profile [-]
    fraction : array (N,)
        How much of the rise's angle has gone by u, 0 to 1 [-]

    Returns
    -------
    array (4, N)
        y, y', y'' and y''' by u [-]

    Notes
    -----
    harmonic (1 - cos pi u)/2; cycloidal u - sin(2 pi u)/(2 pi); 3-4-5 10 u^3 - 15 u^4 + 6 u^5;
    4-5-6-7 35 u^4 - 84 u^5 + 70 u^6 - 20 u^7; modified sine: acceleration a quarter sine over the
    first and last eighth, half a sine of a third of that frequency between. Largest y'': pi^2/2,
    2 pi, 10/sqrt(3), 7.5132 and 4 pi^2/(4 + pi).

    References
    ----------
    R. L. Norton, Design of Machinery, 5th ed. (2012), chapter 8; from memory. H. A. Rothbart (ed.),
    Cam Design Handbook (2004), table 4.2 prints 4.9 (harmonic), 6.3, 5.8 and, a slip,
    7.3 (4-5-6-7).

    >>> profile_values("harmonic", np.array([0.5])).round(6).ravel().tolist()
    [0.5, 1.570796, 0.0, -15.503138]
    """
    u, pi = fraction, np.pi
    if profile == "harmonic":
        phase = pi * u
        return np.stack(
            [
                (1.0 - np.cos(phase)) / 2.0,
                pi / 2.0 * np.sin(phase),
                pi**2 / 2.0 * np.cos(phase),
                -(pi**3) / 2.0 * np.sin(phase),
            ]
        )
    if profile == "cycloidal":
        phase = 2.0 * pi * u
        return np.stack(
            [
                u - np.sin(phase) / (2.0 * pi),
                1.0 - np.cos(phase),
                2.0 * pi * np.sin(phase),
                4.0 * pi**2 * np.cos(phase),
            ]
        )
    if profile == "modified sine":
        return _modified_sine(u)
    polynomial = np.polynomial.Polynomial(_POLYNOMIALS[profile])
    return np.stack([polynomial.deriv(order)(u) if order else polynomial(u) for order in range(4)])


def _modified_sine(u: FloatArray) -> FloatArray:
    pi = np.pi
    middle = (u > 1 / 8) & (u < 7 / 8)
    # all three pieces are offset + pi u - amplitude sin(frequency u + phase), over 4 + pi
    offset = np.where(middle, 2.0, np.where(u >= 7 / 8, 4.0, 0.0))
    amplitude = np.where(middle, 9.0 / 4.0, 1.0 / 4.0)
    frequency = np.where(middle, 4.0 * pi / 3.0, 4.0 * pi)
    phase = frequency * u + np.where(middle, pi / 3.0, 0.0)
    pieces = [
        offset + pi * u - amplitude * np.sin(phase),
        pi - amplitude * frequency * np.cos(phase),
        amplitude * frequency**2 * np.sin(phase),
        amplitude * frequency**3 * np.cos(phase),
    ]
    return np.stack(pieces) / (4.0 + pi)


def motion_from_profile(profile: Profile, lift: float, rise: float, fall: float) -> Motion:
    """Motion of a stand-in lobe, L = lift y(u) up and down again, angles counted from its peak.

    Parameters
    ----------
    profile : Profile
        Which profile [-]
    lift : float
        Peak lift [m]
    rise : float
        Cam angle from opening to peak [rad]
    fall : float
        Cam angle from peak to closing [rad]

    Returns
    -------
    Motion
        The peak is there twice, once with each flank's acceleration [-]

    Notes
    -----
    A stand-in, never a measurement. These profiles were made for rises between dwells: all but the
    harmonic one fall to no acceleration at the peak and brake the valve hardest on the flanks, which
    no lobe made for a valve does, and the harmonic one starts with a step. A float speed from one is a
    rough guide and proves nothing.

    >>> motion = motion_from_profile("cycloidal", 0.012, 1.2, 1.3)
    >>> float(motion.lift.max()), motion.angle[[0, -1]].tolist()
    (0.012, [-1.2, 1.3])
    """
    u, unit = _unit_rise(profile)
    y = lift * unit
    scale = np.arange(4)[:, np.newaxis]
    opening = y / rise**scale
    closing = (y * (-1.0) ** scale / fall**scale)[:, ::-1]
    both = np.concatenate([opening, closing], axis=1)
    return Motion(
        angle=np.concatenate([rise * (u - 1.0), fall * u]),
        lift=both[0],
        velocity=both[1],
        acceleration=both[2],
        jerk=both[3],
        acceleration_uncertainty=np.zeros(2 * len(u)),
    )


@cache
def _unit_rise(profile: Profile) -> tuple[FloatArray, FloatArray]:
    """Fractions of a rise, and the rise from 0 to 1 there with its derivatives."""
    u = _samples(profile)
    return u, profile_values(profile, u)


def _samples(profile: Profile) -> FloatArray:
    """Fractions of a rise to sample it at: evenly, those nearest to the extremes moved onto them, both halves alike."""
    half = np.linspace(0.0, 0.5, SAMPLES // 4 + 1)
    free = half.copy()
    for extreme in _EXTREMES[profile]:
        nearest = int(np.nanargmin(np.abs(free - extreme)))
        half[nearest], free[nearest] = extreme, np.nan
    half = np.sort(half)
    return np.concatenate([half, 1.0 - half[-2::-1]])
