"""Spring motion: how the wire between seat and retainer moves, for its surge and for the mass that counts as moving.

Coils that are closed move as one; closed ones at the seat stand still, closed ones at the retainer go with it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np

from headbench.calc import FloatArray
from headbench.calc.coils.coils import DimensionedSpring
from headbench.calc.coils.shapes import CoilProfile

_TERMS: Final = 16
"""Terms of the series the lowest wave is found with; that of an even spring goes as 1/(2 n + 1)!."""

_MOST_STEPS: Final = 60
"""Steps after which an iteration ends; about six are usual."""

_NODES: Final = 16
"""Gauss points per stretch of open coils."""

_FINEST: Final = 1e-15
"""Share of the square of a frequency below which a step no longer matters."""

_ROUNDING: Final = 1e-9
"""Share of a stretch below which what is still open is none."""


SPRING_SHARE: Final = 1.0 / 3.0
"""The part of a spring's active mass that counts as moving with its end [-]; Rayleigh's method (see `spring_share`)."""

BEEHIVE_SHARE: Final = 0.38
"""Moving share of a beehive of which only the shape is known [-]; an estimate, own derivation: `moving_share` of
beehives of 4 to 5 coils, 1.5 to 2.5 of them tapered down to 0.7 to 0.75 of the mean diameter."""

BEEHIVE_SHARE_WITHIN: Final = 0.02
"""How far off that may be [-]; own derivation, the same beehives."""


def surge_factor(spring: DimensionedSpring, height: FloatArray) -> FloatArray:
    """Surge frequency over that of an even spring of the same rate and active mass, f/(1/2 sqrt(k/m_a)).

    Parameters
    ----------
    spring : DimensionedSpring
        The spring [-]
    height : array (P,)
        Its heights [m]

    Returns
    -------
    array (P,)
        Factor; 1 for a cylinder of one pitch, NaN where no coil is open or the height is not known [-]

    Notes
    -----
    The lowest eigenvalue of d/dx (c^-1 du/dx) + w^2 m u = 0 along the open wire, both ends held; the mass m of
    a turn goes as its mean radius, its compliance c as the third power of that. What a wave that begins at the
    seat shows at the retainer is a power series in w^2, its terms integrals along the wire, and is zero where both
    are held; all its zeros are real, so that Newton's steps from 0 never pass the first. Own derivation.

    >>> from headbench.calc.coils.coils import dimensioned_spring
    >>> from headbench.calc.coils.shapes import cylinder
    >>> from headbench.calc.coils.wire import round_wire
    >>> spring = dimensioned_spring(cylinder(0.030, 5.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
    >>> surge_factor(spring, np.array([0.050, 0.020])).round(9).tolist()
    [1.0, nan]
    """
    return _for_each(spring, height, _lowest_wave)


def moving_share(spring: DimensionedSpring, height: FloatArray) -> FloatArray:
    """Part of the active coils' mass that counts as moving with the retainer, integral of u^2 dm/m_a.

    Parameters
    ----------
    spring : DimensionedSpring
        The spring, its last active end at the retainer [-]
    height : array (P,)
        Its heights; NaN for the free spring [m]

    Returns
    -------
    array (P,)
        Share; a third for a cylinder of one pitch [-]

    Notes
    -----
    u is the share of the retainer's way that a piece of wire goes while the spring is pressed slowly: Rayleigh's
    method with the static shape. It holds for a spring that is light against what it
    moves; for the even spring `valve_mass.spring_share` is exact. At coil bind nothing moves: NaN.

    References
    ----------
    S. S. Rao, Mechanical Vibrations, 5th ed. (2011), Rayleigh's method (from memory).

    >>> from headbench.calc.coils.coils import dimensioned_spring
    >>> from headbench.calc.coils.shapes import cylinder
    >>> from headbench.calc.coils.wire import round_wire
    >>> spring = dimensioned_spring(cylinder(0.030, 5.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
    >>> moving_share(spring, np.array([np.nan])).round(9).tolist()
    [0.333333333]
    """
    return _for_each(spring, np.where(np.isnan(height), spring.free_height, height), _square_of_way)


def shared_by_mass(share: Sequence[float], active_mass: Sequence[float]) -> float:
    """One moving share for nested springs, the mean of theirs by active mass, sum s m/sum m.

    Parameters
    ----------
    share : sequence (K,)
        Moving share of each spring [-]
    active_mass : sequence (K,)
        Mass of its active coils; NaN not weighed [kg]

    Returns
    -------
    float
        Share of all of them; NaN where one was not weighed [-]

    >>> round(shared_by_mass([0.38, 1.0 / 3.0], [0.06, 0.02]), 6)
    0.368333
    """
    weight = sum(active_mass)
    return sum(s * m for s, m in zip(share, active_mass, strict=True)) / weight if weight > 0.0 else math.nan


@dataclass(frozen=True, slots=True)
class _Masses:
    """The wire under a load: E stretches of open coils, and closed ones before, between and after them.

    A place is told by the way it goes, from 0 at the seat to 1 at the retainer; a mass by its share of the active one.

    edge : array (E + 1,), way where the stretches meet [-]
    way : array (E, Q), way of points on each stretch [-]
    slope : array (E, Q), way gained there per share of the stretch [-]
    density : array (E, Q), mass there per share of the stretch [-]
    closed : array (E + 1,), mass of the closed coils at each edge [-]
    """

    edge: FloatArray
    way: FloatArray
    slope: FloatArray
    density: FloatArray
    closed: FloatArray


def _square_of_way(masses: _Masses) -> float:
    along = (masses.density * masses.way**2) @ _points().weight
    return float(along.sum() + (masses.closed * masses.edge**2).sum())


def _lowest_wave(masses: _Masses) -> float:
    """Root of the lowest eigenvalue over pi, which is that of an even spring."""
    points = _points()
    way, edge, series = masses.way, masses.edge, [1.0]
    for _ in range(_TERMS):
        # what moves as the term before calls for a force that grows along the wire, and that for the next way
        inertia = masses.density * way
        before = np.concatenate([[0.0], inertia[:-1] @ points.weight]) + masses.closed[:-1] * edge[:-1]
        stretched = masses.slope * (np.cumsum(before)[:, np.newaxis] + inertia @ points.up_to)
        edge = np.concatenate([[0.0], np.cumsum(stretched @ points.weight)])
        way = edge[:-1, np.newaxis] + stretched @ points.up_to
        series.append(-float(edge[-1]) * math.copysign(1.0, series[-1]))
    square = 0.0
    for _ in range(_MOST_STEPS):
        value, slope = 0.0, 0.0
        for term in reversed(series):
            value, slope = value * square + term, slope * square + value
        step = -value / slope
        square += step
        if not step > _FINEST * square:
            break
    return math.sqrt(square) / math.pi


def _for_each(spring: DimensionedSpring, height: FloatArray, number: Callable[[_Masses], float]) -> FloatArray:
    """A number of the moving wire at every height; NaN where nothing moves, or the height is not known."""
    heights, places = np.unique(height, return_inverse=True)
    found = np.full(len(heights), np.nan)
    for place, load in enumerate(spring.load_at(heights).tolist()):
        masses = None if np.isnan(load) else _masses(spring, load)
        if masses is not None:
            found[place] = number(masses)
    return np.asarray(found[places], dtype=np.float64)


def _masses(spring: DimensionedSpring, load: float) -> _Masses | None:
    """The wire under a load; None where all of it is closed."""
    parts = spring.stretches
    closed = parts.closed_share(np.array([load]))[0]
    open_ = closed < 1.0 - _ROUNDING
    if not open_.any():
        return None
    radius = np.stack([parts.radius + parts.taper * closed, parts.end_radius], axis=1)[open_]
    place = np.stack([parts.begin + closed * (parts.end - parts.begin), parts.end], axis=1)[open_]
    backward = place[:, 0] > place[:, 1]
    for ends in (radius, place):
        ends[backward] = ends[backward][:, ::-1]
    order = np.argsort(place[:, 0])
    radius, place = radius[order], place[order]
    turns = np.diff(place)
    first, last = radius[:, :1], radius[:, 1:]
    share = _points().share
    here = first + (last - first) * share
    # compliance from the beginning of a stretch to each of its points, and to its end
    inside = turns * share * (first**2 + here**2) * (first + here)
    whole = (turns * (first**2 + last**2) * (first + last))[:, 0]
    edge = np.concatenate([[0.0], np.cumsum(whole)])
    # what is closed: at the seat, between stretches that are open, at the retainer
    wound = _wound(spring.profile, np.concatenate([[0.0], place.ravel(), spring.profile.turn[-1:]]))
    closed = np.maximum(wound[1::2] - wound[::2], 0.0)
    return _Masses(
        edge=edge / edge[-1],
        way=(edge[:-1, np.newaxis] + inside) / edge[-1],
        slope=4.0 * turns * here**3 / edge[-1],
        density=turns * here / wound[-1],
        closed=closed / wound[-1],
    )


@dataclass(frozen=True, slots=True)
class _Points:
    """Gauss points between 0 and 1, and what integrates a row of values at them.

    share : array (Q,), the points [-]
    weight : array (Q,), for the integral over all of the stretch [-]
    up_to : array (Q, Q), for the integrals from its beginning to each point [-]
    """

    share: FloatArray
    weight: FloatArray
    up_to: FloatArray


@cache
def _points() -> _Points:
    node, weight = np.polynomial.legendre.leggauss(_NODES)
    # Legendre's polynomial n through values at the points, and its integral (P(n + 1) - P(n - 1))/(2 n + 1)
    values = np.polynomial.legendre.legvander(node, _NODES)
    order = np.arange(1, _NODES)
    integral = np.column_stack([node + 1.0, (values[:, 2:] - values[:, :-2]) / (2.0 * order + 1.0)])
    through = (np.arange(_NODES) + 0.5) * weight[:, np.newaxis] * values[:, :-1]
    return _Points(share=0.5 * (node + 1.0), weight=0.5 * weight, up_to=0.5 * through @ integral.T)


def _wound(profile: CoilProfile, turn: FloatArray) -> FloatArray:
    """Wire wound up to each turn, as the integral of the mean radius [m]."""
    length = np.diff(profile.turn)
    slope = np.diff(profile.radius) / np.where(length > 0.0, length, np.inf)
    sums = np.concatenate([[0.0], np.cumsum(length * (profile.radius[:-1] + profile.radius[1:]) / 2.0)])
    stretch = (np.searchsorted(profile.turn, turn, side="right") - 1).clip(0, len(length) - 1)
    beyond = turn - profile.turn[stretch]
    return np.asarray(
        sums[stretch] + beyond * (profile.radius[stretch] + 0.5 * slope[stretch] * beyond), dtype=np.float64
    )
