"""Buckling: published examples, and a column worked out independently."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from headbench.calc.coils.stability import (
    END_CONSTANT,
    EndSupport,
    critical_deflection,
    stable_free_height,
)

# common steel: E 30, G 11.5 Mpsi, for which the textbook rounds pi sqrt(2 (E - G)/(2 G + E)) to 2.63
_E, _G = np.array([30.0]), np.array([11.5])


@pytest.mark.parametrize(
    ("diameter", "height"),
    [
        # Shigley's MED, fixed ends: 9th ed. (2011), Example 10-1 (from memory); 11th ed. (2020), solution to Problem
        # 10-3; 8th ed. (2008; edition from memory), solution to Problem 10-26
        (0.400, 2.10),
        (28.5, 149.9),
        (12.004 * 0.105, 6.630),
        (13.851 * 0.112, 8.160),
    ],
)
def test_the_stable_free_height_is_that_of_worked_examples(diameter: float, height: float) -> None:
    found = stable_free_height(np.array([diameter]), _E, _G, "both ends fixed")
    assert found[0] == pytest.approx(height, rel=2.5e-3)


def test_end_constants_are_the_tables() -> None:
    # Shigley's MED, 9th ed. (2011), Table 10-2
    assert list(END_CONSTANT.values()) == [0.5, 0.707, 1.0, 2.0]


@pytest.mark.parametrize("support", list(END_CONSTANT))
@pytest.mark.parametrize("slenderness", [1.001, 1.3, 2.0, 5.0])
def test_the_critical_deflection_is_that_of_an_equivalent_column(support: EndSupport, slenderness: float) -> None:
    # Haringx: a column with the spring's own rigidities at its present length L buckles when
    # F/B (1 + F/S) = (pi/(alpha L))^2; per turn of radius R a moment tilts pi R (1/(E I) + 1/(G J)), a side force
    # shifts pi R^3/(E I), and the load F shortens 2 pi R^3/(G J); I = 1, J = 2
    elastic, shear, radius, turns = 200.0, 79.0, 1.0, 10.0
    diameter = np.array([2.0 * radius])
    free = slenderness * stable_free_height(diameter, np.array([elastic]), np.array([shear]), support)[0]

    def beyond(deflection: float) -> float:
        length = free - deflection
        load = deflection * shear * 2.0 / (2.0 * np.pi * radius**3 * turns)
        bending = length / (np.pi * radius * turns * (1.0 / elastic + 1.0 / (2.0 * shear)))
        shearing = length * elastic / (np.pi * radius**3 * turns)
        return float(load / bending * (1.0 + load / shearing) - (np.pi / (END_CONSTANT[support] * length)) ** 2)

    # the condition, times the length squared, is a parabola in the deflection; its lower root lies before its top
    top = free * elastic / (2.0 * (elastic - shear))
    expected = brentq(beyond, 0.0, min(top, 0.999999 * free), xtol=1e-13)
    found = critical_deflection(np.array([free]), diameter, np.array([elastic]), np.array([shear]), support)
    assert found[0] == pytest.approx(expected, rel=1e-8)


def test_a_spring_shorter_than_stable_never_buckles() -> None:
    diameter = np.array([0.030])
    stable = stable_free_height(diameter, _E, _G, "both ends fixed")
    assert np.isinf(critical_deflection(0.999 * stable, diameter, _E, _G, "both ends fixed")).all()
    assert np.isfinite(critical_deflection(1.001 * stable, diameter, _E, _G, "both ends fixed")).all()


@given(slenderness=st.floats(1.01, 20.0), size=st.floats(0.01, 10.0))
def test_buckling_scales_with_the_size_of_the_spring(slenderness: float, size: float) -> None:
    diameter = np.array([1.0])
    free = slenderness * stable_free_height(diameter, _E, _G, "both ends hinged")
    one = critical_deflection(free, diameter, _E, _G, "both ends hinged")
    grown = critical_deflection(free * size, diameter * size, _E * 7.0, _G * 7.0, "both ends hinged")
    assert grown[0] == pytest.approx(one[0] * size, rel=1e-9)


def test_slender_springs_buckle_early() -> None:
    free = np.linspace(2.0, 20.0, 30)
    ones = np.ones(30)
    found = critical_deflection(free, 0.3 * ones, 30.0 * ones, 11.5 * ones, "both ends fixed") / free
    assert (np.diff(found) < 0.0).all()


def test_what_is_not_known_stays_unknown() -> None:
    unknown, one = np.array([np.nan]), np.array([1.0])
    assert np.isnan(stable_free_height(unknown, _E, _G, "both ends fixed")).all()
    assert np.isnan(critical_deflection(unknown, one, _E, _G, "both ends fixed")).all()
