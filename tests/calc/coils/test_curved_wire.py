from __future__ import annotations

import numpy as np
import pytest

from headbench.calc.coils.curved_wire import curved_wire_factor
from headbench.calc.coils.stress import bergstraesser_factor, torsional_stress, wahl_factor
from headbench.calc.coils.wire import Wire


def greatest_by_displacements(mean_diameter: float, radial: float, axial: float, degree: int = 15) -> float:
    """Greatest shear stress per load [Pa/N] of a coil of elliptic wire, from its displacements.

    An independent derivation. In a closely coiled helix loaded along its axis every section turns and moves along the
    axis alike, c per radian, and warps by v(r, z) around the axis. The strains are dv/dr - v/r and dv/dz + c/r; the
    warping is the one of least energy, integral of G/2 (strains)^2 r dr dz. The load follows from F = integral of the
    axial stress. (Headbench solves for a stress function instead.)
    """
    middle, a, b = mean_diameter / 2.0, radial / 2.0, axial / 2.0
    node, weight = np.polynomial.legendre.leggauss(40)
    share, turn = (node + 1.0) / 2.0, np.arange(80) * 2.0 * np.pi / 80.0
    x, y = (np.outer(share, wave(turn)).ravel() for wave in (np.cos, np.sin))
    area = np.outer(weight / 2.0 * share, np.full(80, 2.0 * np.pi / 80.0)).ravel() * a * b

    def strains(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        powers = [(i, j) for i in range(degree + 1) for j in range(1, degree + 1, 2) if i + j <= degree]
        r = middle + a * x
        by_r = [(i * x ** max(i - 1, 0) / a - x**i / r) * y**j for i, j in powers]
        by_z = [x**i * j * y ** (j - 1) / b for i, j in powers]
        return np.array(by_r).T, np.array(by_z).T, 1.0 / r

    across, along, push = strains(x, y)
    root = np.sqrt(area * (middle + a * x))[:, np.newaxis]
    rows, wanted = np.concatenate([across * root, along * root]), np.concatenate([0.0 * push, -push * root[:, 0]])
    found, *_ = np.linalg.lstsq(rows, wanted, rcond=1e-13)
    load = float(((along @ found + push) * area).sum())
    edge = np.linspace(0.0, 2.0 * np.pi, 3601)
    across, along, push = strains(np.cos(edge), np.sin(edge))
    return float(np.hypot(across @ found, along @ found + push).max() / load)


@pytest.mark.parametrize(
    ("mean_diameter", "radial", "axial"),
    [(28.0, 4.5, 3.6), (28.0, 3.6, 4.5), (20.0, 5.0, 3.0), (24.0, 4.0, 3.9), (60.0, 4.0, 2.0), (12.0, 4.0, 5.0)],
)
def test_the_stress_of_ovate_wire_is_that_of_elasticity(mean_diameter: float, radial: float, axial: float) -> None:
    wire = Wire(radial=radial, axial=axial)
    stress = torsional_stress(np.array([1.0]), np.array([mean_diameter]), wire, bergstraesser_factor)
    assert stress[0] == pytest.approx(greatest_by_displacements(mean_diameter, radial, axial), rel=1e-5)


@pytest.mark.parametrize("index", [4.0, 5.0, 6.0, 8.0, 10.0, 12.0])
def test_round_wire_by_elasticity_is_what_goehner_published(index: float) -> None:
    # O. Goehner, Ingenieur-Archiv 2 (1931) and 3 (1932), as in A. M. Wahl, Mechanical Springs, 2nd ed. (1963),
    # from memory: K = 1 + 5/(4 C) + 7/(8 C^2) + 1/C^3, broken off there
    goehner = 1.0 + 5.0 / (4.0 * index) + 7.0 / (8.0 * index**2) + 1.0 / index**3
    assert curved_wire_factor(np.array([index]), 1.0)[0] == pytest.approx(goehner, rel=5e-4)


@pytest.mark.parametrize("index", [4.0, 6.0, 8.0, 10.0, 12.0, 16.0])
def test_round_wire_by_elasticity_agrees_with_the_curvature_factor_of_the_standard(index: float) -> None:
    # EN 13906-1:2013 (stress correction factor k), which is Bergstraesser's, Shigley, 9th ed. (2011), Eq. 10-5
    factor = (4.0 * index + 2.0) / (4.0 * index - 3.0)
    assert curved_wire_factor(np.array([index]), 1.0)[0] == pytest.approx(factor, rel=1.5e-3)


@pytest.mark.parametrize("flatness", [0.2, 0.8, 1.0, 1.25, 5.0])
def test_a_straight_bar_has_the_stress_of_an_ellipse_in_torsion(flatness: float) -> None:
    # Roark's Formulas for Stress and Strain, 7th ed. (2002), Table 10.1, case 2: tau = 2 T/(pi a b^2) at the ends of
    # the short axis, which is what the factor counts from
    assert curved_wire_factor(np.array([1e9]), flatness)[0] == pytest.approx(1.0, rel=1e-6)


def test_narrow_wire_on_edge_is_hardest_pressed_at_the_inner_end() -> None:
    # the curvature raises the stress at the inner end of the section: all of it counts where that is the place of
    # greatest torsion anyway (wire taller than wide), little of it where the wire lies flat
    tall, flat = curved_wire_factor(np.array([6.0]), 0.8)[0], curved_wire_factor(np.array([6.0]), 1.25)[0]
    assert tall > wahl_factor(np.array([6.0]))[0] * 0.97
    assert flat < 1.0 + 0.4 * (tall - 1.0)


def test_many_indices_at_once_are_each_their_own_and_unknown_ones_stay_unknown() -> None:
    together = curved_wire_factor(np.array([[5.0, np.nan], [9.0, 5.0]]), 1.2)
    each = [curved_wire_factor(np.array([index]), 1.2)[0] for index in (5.0, 9.0)]
    assert together[0, 0] == together[1, 1] == pytest.approx(each[0], rel=1e-14)
    assert together[1, 0] == pytest.approx(each[1], rel=1e-14)
    assert np.isnan(together[0, 1])
