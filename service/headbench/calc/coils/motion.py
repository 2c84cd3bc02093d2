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
import scipy

from headbench.calc import FloatArray
from headbench.calc.coils.coils import DimensionedSpring
from headbench.calc.coils.shapes import CoilProfile

_DEGREE: Final = 8
"""Degree of the polynomials on each stretch of open coils; the lowest wave is then good to 1e-6."""

_NODES: Final = 16
"""Gauss points per stretch of open coils."""

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
    a turn goes as its mean radius, its compliance c as the third power of that. By Ritz's method with
    polynomials on every stretch. Own derivation.

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
    share : array (E, Q), mass that each point stands for [-]
    closed : array (E + 1,), mass of the closed coils at each edge [-]
    """

    edge: FloatArray
    way: FloatArray
    share: FloatArray
    closed: FloatArray


def _square_of_way(masses: _Masses) -> float:
    return float((masses.share * masses.way**2).sum() + (masses.closed * masses.edge**2).sum())


def _lowest_wave(masses: _Masses) -> float:
    """Root of the lowest eigenvalue over pi, which is that of an even spring."""
    count, width = len(masses.way), np.diff(masses.edge)
    inner, bubbles = count - 1, _DEGREE - 1
    stiffness = np.diag(np.concatenate([1.0 / width[:-1] + 1.0 / width[1:], np.repeat(2.0 / width, bubbles)]))
    beside = np.arange(inner - 1)
    stiffness[beside, beside + 1] = stiffness[beside + 1, beside] = -1.0 / width[1:-1]
    mass = np.zeros_like(stiffness)
    mass[np.arange(inner), np.arange(inner)] = masses.closed[1:-1]
    for place in range(count):
        # on a stretch: a slope up from its beginning, one up to its end, and polynomials that vanish at both
        share = (masses.way[place] - masses.edge[place]) / width[place]
        legendre = np.polynomial.legendre.legvander(2.0 * share - 1.0, _DEGREE)
        order = np.arange(2, _DEGREE + 1)
        shapes = np.column_stack(
            [1.0 - share, share, (legendre[:, 2:] - legendre[:, :-2]) / np.sqrt(2.0 * (2.0 * order - 1.0))]
        )
        row = np.concatenate([[place - 1, place], inner + place * bubbles + np.arange(bubbles)])
        # the ends of the spring are held
        free = (row >= 0) & ((row != inner) | (np.arange(len(row)) > 1))
        own = shapes[:, free].T @ (masses.share[place][:, np.newaxis] * shapes[:, free])
        mass[np.ix_(row[free], row[free])] += own
    greatest = scipy.linalg.eigh(mass, stiffness, eigvals_only=True, subset_by_index=[len(mass) - 1, len(mass) - 1])[0]
    return float(1.0 / (np.pi * np.sqrt(greatest)))


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
    under = parts.under(np.array([load]))
    closed = under.closed_share[0]
    open_ = closed < 1.0 - _ROUNDING
    if not open_.any():
        return None
    radius = np.stack([under.closed_radius[0], parts.end_radius], axis=1)[open_]
    place = np.stack([parts.begin + closed * (parts.end - parts.begin), parts.end], axis=1)[open_]
    backward = place[:, 0] > place[:, 1]
    for ends in (radius, place):
        ends[backward] = ends[backward][:, ::-1]
    order = np.argsort(place[:, 0])
    radius, place = radius[order], place[order]
    turns = np.diff(place)
    first, last = radius[:, :1], radius[:, 1:]
    share, weight = _gauss()
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
        share=weight * turns * here / wound[-1],
        closed=closed / wound[-1],
    )


@cache
def _gauss() -> tuple[FloatArray, FloatArray]:
    """Gauss points between 0 and 1, and their weights."""
    node, weight = np.polynomial.legendre.leggauss(_NODES)
    return 0.5 * (node + 1.0), 0.5 * weight


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
