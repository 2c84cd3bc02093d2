"""Surge: the spring's own vibration between its ends, and what in the lobe stirs it up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy

from headbench.calc import FloatArray, IntArray
from headbench.calc.train.lift_table import TURN
from headbench.calc.train.valve_motion import CRANK_PER_CAM, Motion

_GRID: Final = 2048


@dataclass(frozen=True, slots=True)
class SurgeHarmonics:
    """Harmonics of a lift curve against the surge frequencies of S springs.

    order : array (N,), times per turn of the cam [-]
    amplitude : array (N,), of each harmonic of the lift [m]
    crank_speed : array (S, N), crank speed at which each harmonic meets the surge frequency [rad/s]
    nearest : array (S,), the order nearest to the surge frequency at the intended speed; 0 not known [-]
    nearest_amplitude : array (S,), its amplitude; NaN past the orders asked for, or not known [m]
    """

    order: IntArray
    amplitude: FloatArray
    crank_speed: FloatArray
    nearest: IntArray
    nearest_amplitude: FloatArray


def surge_frequency(rate: FloatArray, active_mass: FloatArray) -> FloatArray:
    """Lowest natural frequency of a spring, both ends held, f = 1/2 sqrt(k/m_a).

    Parameters
    ----------
    rate : array (S,)
        Rate of the spring k [N/m]
    active_mass : array (S,)
        Mass of its active coils m_a, dead coils left out [kg]

    Returns
    -------
    array (S,)
        Surge frequency [Hz]

    Notes
    -----
    Exact for an even spring, stiffness and mass spread alike along the wire; half a wave stands between its
    ends. For a beehive, a cone or a progressive spring `spring_motion.surge_factor` makes it right at one
    height; such a spring surges at another frequency at every height.

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Eq. 10-25 (from
    memory).

    >>> surge_frequency(np.array([50e3]), np.array([0.080])).round(3).tolist()
    [395.285]
    """
    return np.asarray(0.5 * np.sqrt(rate / active_mass), dtype=np.float64)


def surge_ratio(frequency: FloatArray, crank_speed: float) -> FloatArray:
    """Surge frequency over the cam's turning frequency, f/(w/(4 pi)) with w the crank speed.

    Parameters
    ----------
    frequency : array (S,)
        Surge frequency f [Hz]
    crank_speed : float
        Crank speed w, above 0 [rad/s]

    Returns
    -------
    array (S,)
        Ratio: which harmonic of the lobe meets the surge frequency [-]

    Notes
    -----
    What is enough stands in `limits.SURGE_RATIO_MINIMUM`. A lobe's harmonics are small by then.

    >>> surge_ratio(np.array([400.0]), 4.0 * np.pi * 50.0).round(9).tolist()
    [8.0]
    """
    return frequency / (crank_speed / (CRANK_PER_CAM * TURN))


def crank_speed_at_ratio(frequency: FloatArray, ratio: float) -> FloatArray:
    """Highest crank speed that keeps a surge ratio, w = 4 pi f/ratio.

    Parameters
    ----------
    frequency : array (S,)
        Surge frequency f [Hz]
    ratio : float
        Ratio to keep, above 0; also the order of a harmonic that is to meet the surge frequency [-]

    Returns
    -------
    array (S,)
        Crank speed [rad/s]

    >>> crank_speed_at_ratio(np.array([400.0]), 8.0).round(6).tolist()
    [628.318531]
    """
    return CRANK_PER_CAM * TURN * frequency / ratio


def surge_harmonics(motion: Motion, frequency: FloatArray, crank_speed: float, orders: int) -> SurgeHarmonics:
    """Amplitudes of the harmonics of a lobe's lift, and the speeds at which they meet the surge frequency.

    Parameters
    ----------
    motion : Motion
        Motion of one lobe at the valve, arrays (T,), within one turn [-]
    frequency : array (S,)
        Surge frequency of each spring [Hz]
    crank_speed : float
        Intended crank speed, above 0 [rad/s]
    orders : int
        How many harmonics to tell, 1 to 100 [-]

    Returns
    -------
    SurgeHarmonics

    Notes
    -----
    Lift = mean + sum of amplitude cos(n theta - phase) over one turn of the cam. The spring's end is
    moved by the lift, so a harmonic that turns n times per cam turn at the surge frequency drives it
    at resonance. What amplitude is too much is known from tests of like springs only; the comparison
    between lobes, or between speeds, is what the numbers are for. Harmonics of a smoothed table stop
    meaning anything where their amplitude falls under the readings' scatter.

    References
    ----------
    W. Marti, Valve-spring surge, NACA Technical Memorandum 818 (1937; from memory).

    >>> from headbench.calc.train.textbook_motions import motion_from_profile
    >>> lobe = motion_from_profile("harmonic", 0.012, 1.2, 1.2)
    >>> stirred = surge_harmonics(lobe, np.array([400.0]), 628.0, 12)
    >>> stirred.nearest.tolist(), stirred.amplitude[:2].round(6).tolist()
    ([8], [0.004168, 0.003098])
    """
    order = np.arange(1, orders + 1, dtype=np.int64)
    amplitude = _amplitudes(motion)[order]
    ratio = surge_ratio(frequency, crank_speed)
    nearest = np.where(np.isnan(ratio), 0.0, np.maximum(np.rint(ratio), 1.0)).astype(np.int64)
    padded = np.concatenate([[np.nan], amplitude, [np.nan]])
    return SurgeHarmonics(
        order=order,
        amplitude=amplitude,
        crank_speed=crank_speed_at_ratio(frequency, 1.0)[:, np.newaxis] / order,
        nearest=nearest,
        nearest_amplitude=padded[np.minimum(nearest, orders + 1)],
    )


def _amplitudes(motion: Motion) -> FloatArray:
    """Amplitudes of the harmonics 0 to _GRID/2 of one turn's lift."""
    if np.isnan(motion.lift).any():
        return np.full(_GRID // 2 + 1, np.nan)
    kept = np.append(True, np.diff(motion.angle) > 0.0)
    angle = motion.angle[kept]
    lift = scipy.interpolate.CubicHermiteSpline(angle, motion.lift[kept], motion.velocity[kept], extrapolate=False)
    # a turn that starts with the lobe; what lies past it is base circle
    turn = angle[0] + TURN / _GRID * np.arange(_GRID)
    return np.asarray(np.abs(np.fft.rfft(np.nan_to_num(lift(turn)))) * 2.0 / _GRID, dtype=np.float64)
