"""Valve train: from the cam's lobe to the lift at the valve."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import isnan
from typing import Final, TypeVar

import numpy as np

from headbench.calc import FloatArray

_STEPS: Final = 500

Lifts = TypeVar("Lifts", float, FloatArray)


@dataclass(frozen=True, slots=True)
class LiftPath:
    """How one kind of valve gets its lift; NaN where that is not known.

    valve_lift : float, full lift as it was measured at the valve [m]
    lobe_lift : float, full lift of the lobe [m]
    rocker_ratio : array (N,), one, or as read at several lobe lifts [-]
    at_lobe_lift : array (N,), lobe lifts the ratios were read at, ascending; not used for a single ratio [m]
    lash : float, running clearance at the valve; 0 with hydraulic lifters [m]
    """

    valve_lift: float
    lobe_lift: float
    rocker_ratio: FloatArray
    at_lobe_lift: FloatArray
    lash: float

    @property
    def full_ratio(self) -> float:
        """Rocker ratio at full lift, where the valve is slowed down [-].

        Where the lobe lift is not given, the highest lift that a ratio was read at stands for it.
        """
        if len(self.rocker_ratio) == 1:
            return float(self.rocker_ratio[0])
        full = self.at_lobe_lift[-1] if isnan(self.lobe_lift) else self.lobe_lift
        return float(rocker_ratio_over_lift(self.rocker_ratio, self.at_lobe_lift, np.array([full]))[0, 0])

    @property
    def full_lift(self) -> float:
        """Full lift at the valve, as measured there, else the lobe's over its rocker [m]."""
        if isnan(self.valve_lift):
            return valve_lift(self.lobe_lift, self.full_ratio, self.lash)
        return self.valve_lift

    @property
    def full_lobe_lift(self) -> float:
        """Full lift on the cam's side, as stated there, else the measured valve's back over its rocker [m]."""
        if isnan(self.lobe_lift):
            return (self.valve_lift + self.lash) / self.full_ratio
        return self.lobe_lift


def valve_lift(lobe_lift: Lifts, rocker_ratio: Lifts, lash: Lifts) -> Lifts:
    """Lift at the valve from the lift at the lobe, L = l r - s.

    Parameters
    ----------
    lobe_lift : array (V,)
        Lift of the lobe, on the cam's side of the rocker, l [m]
    rocker_ratio : array (V,)
        Rocker ratio r [-]
    lash : array (V,)
        Running clearance at the valve s; 0 with hydraulic lifters [m]

    Returns
    -------
    array (V,)
        Valve lift L [m]

    Notes
    -----
    Leaves out what bends: the lift at the valve of a running engine is less. Common practice, no source.

    >>> valve_lift(np.array([8e-3]), np.array([1.5]), np.array([0.5e-3])).round(9).tolist()
    [0.0115]
    """
    return lobe_lift * rocker_ratio - lash


def rocker_ratio_over_lift(rocker_ratio: FloatArray, at_lobe_lift: FloatArray, lobe_lift: FloatArray) -> FloatArray:
    """Rocker ratio r(l) and its three derivatives by the lobe's lift, through ratios read at several lifts.

    Parameters
    ----------
    rocker_ratio : array (N,)
        Rocker ratio r: one, or the valve's lift over the lobe's as read at several lobe lifts [-]
    at_lobe_lift : array (N,)
        Lobe lifts the ratios were read at, ascending; not used for a single ratio [m]
    lobe_lift : array (T,)
        Lobe lifts to know the ratio at l [m]

    Returns
    -------
    array (4, T)
        The ratio, then its first to third derivative [-], [1/m], [1/m2], [1/m3]

    Notes
    -----
    Between its readings a natural cubic spline, straight beyond them, so that the ratio and its first
    two derivatives have no steps: the valve's acceleration takes both.

    >>> read = rocker_ratio_over_lift(np.array([1.4, 1.5]), np.array([2e-3, 8e-3]), np.array([5e-3, 11e-3]))
    >>> read[0].round(9).tolist(), read[1].round(9).tolist()
    ([1.45, 1.55], [16.666666667, 16.666666667])
    """
    table = np.array(_pieces(rocker_ratio.tolist(), at_lobe_lift.tolist())).T
    base, ratio, slope, half_bend, sixth = table
    # the last piece that begins at or below each lift; the first one runs on below the readings
    piece = np.searchsorted(at_lobe_lift, lobe_lift, side="right")
    ratio, slope, half_bend, sixth = ratio[piece], slope[piece], half_bend[piece], sixth[piece]
    over = lobe_lift - base[piece]
    return np.stack(
        [
            ratio + over * (slope + over * (half_bend + over * sixth)),
            slope + over * (2.0 * half_bend + 3.0 * over * sixth),
            2.0 * half_bend + 6.0 * over * sixth,
            6.0 * sixth,
        ]
    )


def _pieces(ratio: Sequence[float], at: Sequence[float]) -> list[tuple[float, float, float, float, float]]:
    """The N + 1 pieces of a natural cubic spline, straight ones at both ends: where each starts, and its coefficients.

    Plain floats: a rocker is read at a few lifts.
    """
    step = [right - left for left, right in pairwise(at)]
    rise = [(right - left) / width for (left, right), width in zip(pairwise(ratio), step, strict=True)]
    bend = _natural_bends(step, rise)
    inside = [
        (at[i], ratio[i], rise[i] - step[i] * (2.0 * bend[i] + bend[i + 1]) / 6.0, bend[i] / 2.0,
         (bend[i + 1] - bend[i]) / (6.0 * step[i]))
        for i in range(len(step))
    ]  # fmt: skip
    first = inside[0][2] if inside else 0.0
    last = rise[-1] + step[-1] * (bend[-2] + 2.0 * bend[-1]) / 6.0 if inside else 0.0
    return [(at[0], ratio[0], first, 0.0, 0.0), *inside, (at[-1], ratio[-1], last, 0.0, 0.0)]


def _natural_bends(step: Sequence[float], rise: Sequence[float]) -> list[float]:
    """Second derivatives (N,) of the natural cubic spline at its readings, from its steps and slopes (N - 1,).

    h_i M_i + 2 (h_i + h_i+1) M_i+1 + h_i+1 M_i+2 = 6 (rise_i+1 - rise_i), eliminated from the top (C. de Boor, A
    Practical Guide to Splines (1978), chapter IV; from memory).
    """
    share, part = [0.0], [0.0]
    for (before, after), (low, high) in zip(pairwise(step), pairwise(rise), strict=True):
        pivot = 2.0 * (before + after) - before * share[-1]
        part.append((6.0 * (high - low) - before * part[-1]) / pivot)
        share.append(after / pivot)
    bend = [0.0]
    for own, shared in zip(reversed(part), reversed(share), strict=True):
        bend.append(own - shared * bend[-1])
    return bend[::-1]


def valve_returns_at(rocker_ratio: FloatArray, at_lobe_lift: FloatArray, full_lift: float) -> float:
    """Least lobe lift at which the valve comes back while the lobe still lifts, where l r(l) stops growing.

    Parameters
    ----------
    rocker_ratio : array (N,)
        Rocker ratio r, read at several lobe lifts [-]
    at_lobe_lift : array (N,)
        Lobe lifts the ratios were read at, ascending [m]
    full_lift : float
        Highest lift of the lobe, looked at as far as that [m]

    Returns
    -------
    float
        That lobe lift; NaN where the valve goes on opening all the way [m]

    Notes
    -----
    The ratio is that of `rocker_ratio_over_lift`, between and beyond the readings. Looked for in five
    hundred steps: a return narrower than a step is no more than the width of a line.

    >>> round(valve_returns_at(np.array([2.0, 1.2]), np.array([0.1, 0.2]), 0.325), 3)
    0.175
    >>> valve_returns_at(np.array([1.4, 1.5]), np.array([0.1, 0.2]), 0.325)
    nan
    """
    if _opens_throughout(rocker_ratio.tolist(), at_lobe_lift.tolist(), full_lift):
        return np.nan
    at = np.linspace(0.0, full_lift, _STEPS + 1)
    lift = at * rocker_ratio_over_lift(rocker_ratio, at_lobe_lift, at)[0]
    back = np.flatnonzero(np.diff(lift) <= 0.0)
    return float(at[back[0]]) if len(back) else np.nan


def _opens_throughout(ratio: Sequence[float], at: Sequence[float], full_lift: float) -> bool:
    """Whether l r(l) grows all the way for sure: its slope's Bernstein coefficients on every piece are above 0.

    A polynomial lies between the least and the largest of them (G. Farin, Curves and Surfaces for CAGD, 5th ed.
    (2002), chapter 4; from memory).
    """
    ends = [0.0, *at[1:], full_lift]
    for (base, ratio_there, slope, half_bend, sixth), end in zip(_pieces(ratio, at), ends, strict=True):
        # r + l r' over t = l - base, times powers of the piece's width; the first one runs back to no lift
        width = end - base
        constant = ratio_there + base * slope
        linear = 2.0 * (slope + base * half_bend) * width
        square = 3.0 * (half_bend + base * sixth) * width**2
        cube = 4.0 * sixth * width**3
        second, third = constant + linear / 3.0, constant + 2.0 * linear / 3.0 + square / 3.0
        if min(constant, second, third, constant + linear + square + cube) <= 0.0:
            return False
    return True
