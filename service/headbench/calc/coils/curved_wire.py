"""Curved wire: the greatest shear stress in a coil of ovate wire, by elasticity.

A straight bar of elliptic section is strained most at the ends of its short axis; winding it into a coil adds
to the strain at the inner end of the section and takes from the outer one. Where the short axis lies along
the spring the two do not meet, so that no factor for round wire is right there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Final

import numpy as np
from numpy.polynomial import chebyshev

from headbench.calc import FloatArray, IntArray

_DEGREE: Final = 8
"""Degree of the polynomials; the factor is then good to 1e-6 from an index of 2 up, to 1e-3 at 1.1."""

_NODES: Final = 20
_EDGE_POINTS: Final = 721


def curved_wire_factor(spring_index: FloatArray, flatness: float) -> FloatArray:
    """Greatest shear stress in a coil over that of the straight bar, tau = K 8 F D/(pi long short^2).

    Parameters
    ----------
    spring_index : array
        Mean diameter over the wire's size across the spring's axis C, above 1 [-]
    flatness : float
        The wire's size across the spring's axis over that along it [-]

    Returns
    -------
    array
        Factor K, curvature and direct shear together [-]

    Notes
    -----
    A ring sector with the load along the axis. With the stress function f, 0 at the edge of the section,
    the stresses are G c (R/r)^2 df/dz and -G c (R/r)^2 df/dr, and f_rr - 3 f_r/r + f_zz = -2/R^2 in the section
    (Goehner's equation). Solved by Ritz's method with polynomials that vanish at the edge; the load is
    the integral of 2 G c R^2 f/r^3. The slope of the coils is left out. Egg-shaped wire is taken as the ellipse
    with its two sizes. Round wire comes out within 0.05 % of Goehner's own series and 0.15 % of
    the Bergstraesser factor from C = 4 up.

    References
    ----------
    O. Goehner, Ingenieur-Archiv 2 (1931) and 3 (1932), as in A. M. Wahl, Mechanical Springs, 2nd ed. (1963), and
    S. P. Timoshenko and J. N. Goodier, Theory of Elasticity, 3rd ed. (1970), torsion of a ring sector (from
    memory; the equation is derived in the tests from the displacements).

    >>> curved_wire_factor(np.array([28.0 / 4.5]), 4.5 / 3.6).round(4).tolist()
    [1.0526]
    """
    index, places = np.unique(spring_index, return_inverse=True)
    factor = np.array([_factor(one, flatness) if np.isfinite(one) else np.nan for one in index.tolist()])
    return np.asarray(factor[places].reshape(spring_index.shape), dtype=np.float64)


@lru_cache(maxsize=4096)
def _factor(index: float, flatness: float) -> float:
    """The factor for one index; springs of one set share it. The section is the unit circle, squeezed to its shape."""
    inside, edge = _inside(), _edge()
    weight = inside.weight * (1.0 + inside.across / index) ** -3.0
    push = weight @ inside.value
    matrix = np.empty((len(push), len(push)))
    # summed without the threads of a matrix product, which cost more than such small ones gain
    half = np.einsum("q,qt->t", weight, _products(flatness))
    rows, columns = _pairs(len(push))
    matrix[rows, columns] = matrix[columns, rows] = half
    found = np.linalg.solve(matrix, 2.0 * push)
    slope = np.hypot(edge.by_across @ found, flatness * (edge.by_along @ found))
    stress = float((slope * (1.0 + edge.across / index) ** -2.0).max())
    # over 2/(pi long short^2) of the straight bar, sizes in halves of that across the axis
    straight = max(1.0, 1.0 / flatness) * min(1.0, 1.0 / flatness) ** 2
    return 0.25 * np.pi * straight * flatness * stress / float(push @ found)


@dataclass(frozen=True, slots=True)
class _Points:
    """Places in the section, and what each of the polynomials is there.

    across : array (Q,), place across the spring's axis, -1 at the inner end [-]
    weight : array (Q,), area each place stands for [-]
    value, by_across, by_along : array (Q, T), the polynomials and their slopes [-]
    """

    across: FloatArray
    weight: FloatArray
    value: FloatArray
    by_across: FloatArray
    by_along: FloatArray


@cache
def _inside() -> _Points:
    """Gauss points of one half of the section; the other is its mirror image."""
    node, weight = np.polynomial.legendre.leggauss(_NODES)
    share = 0.5 * (node + 1.0)
    angle = (np.arange(_NODES) + 0.5) * np.pi / _NODES
    area = np.outer(weight * share, np.full(_NODES, np.pi / _NODES)).ravel()
    return _points(np.outer(share, np.cos(angle)).ravel(), np.outer(share, np.sin(angle)).ravel(), area)


@cache
def _pairs(count: int) -> tuple[IntArray, IntArray]:
    """Every pair of so many polynomials, once."""
    rows, columns = np.triu_indices(count)
    return rows, columns


@lru_cache(maxsize=2)
def _products(flatness: float) -> FloatArray:
    """Slopes of every pair of polynomials multiplied, across the axis and along it together, a row per point."""
    inside = _inside()
    rows, columns = _pairs(inside.value.shape[1])
    across, along = (slope[:, rows] * slope[:, columns] for slope in (inside.by_across, inside.by_along))
    return np.asarray(across + flatness**2 * along, dtype=np.float64)


@cache
def _edge() -> _Points:
    angle = np.linspace(0.0, np.pi, _EDGE_POINTS)
    return _points(np.cos(angle), np.sin(angle), np.zeros(_EDGE_POINTS))


def _points(x: FloatArray, y: FloatArray, weight: FloatArray) -> _Points:
    """Products of Chebyshev polynomials, even along the axis, times 1 - x^2 - y^2."""
    degrees = [(i, j) for i in range(_DEGREE + 1) for j in range(0, _DEGREE + 1 - i, 2)]
    i, j = np.array(degrees).T
    slopes = np.zeros((_DEGREE + 1, _DEGREE + 1))
    slopes[:, :-1] = [np.pad(chebyshev.chebder(row), (0, _DEGREE))[:_DEGREE] for row in np.eye(_DEGREE + 1)]
    across, along = chebyshev.chebvander(x, _DEGREE), chebyshev.chebvander(y, _DEGREE)
    product = across[:, i] * along[:, j]
    bubble = (1.0 - x**2 - y**2)[:, np.newaxis]
    return _Points(
        across=x,
        weight=weight,
        value=bubble * product,
        by_across=bubble * (across @ slopes.T)[:, i] * along[:, j] - 2.0 * x[:, np.newaxis] * product,
        by_along=bubble * across[:, i] * (along @ slopes.T)[:, j] - 2.0 * y[:, np.newaxis] * product,
    )
