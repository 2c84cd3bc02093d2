"""Designing a cylindrical spring backwards: published examples and scipy's root finder."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from headbench.calc.spring_design import spring_index_for, two_load_design
from headbench.calc.spring_wire import round_wire

_INCH, _LBF, _PSI = 0.0254, 4.4482216152605, 6894.757293168361


def test_a_valve_spring_for_two_loads_has_the_published_coils() -> None:
    # Bhandari, Design of Machine Elements, Example 10.4: 150 N at 35 mm, 300 N at 30 mm, d 4, D 24 mm, G 81370 MPa
    design = two_load_design(
        np.array([[0.035, 0.030]]), np.array([[150.0, 300.0]]), round_wire(0.004), np.array([0.024]), 81.37e9
    )
    assert design.active_coils[0] == pytest.approx(6.278549, abs=1e-6)
    assert design.rate[0] == pytest.approx(30e3, rel=1e-12)
    # a straight line through both loads meets zero at 35 + 150/30 mm
    assert design.free_height[0] == pytest.approx(0.040, rel=1e-12)


def test_a_heavy_spring_for_a_rate_has_the_published_coils() -> None:
    # Bhandari, Design of Machine Elements, Example 10.3: d 21, D 150 mm, 75 N/mm, G 81370 MPa: 7.814775 coils
    design = two_load_design(
        np.array([[0.4, 0.3]]), np.array([[0.0, 7500.0]]), round_wire(0.021), np.array([0.150]), 81.37e9
    )
    assert design.active_coils[0] == pytest.approx(7.814775, abs=1e-6)


def test_the_textbook_design_finds_its_coil() -> None:
    # Shigley's Mechanical Engineering Design, Example 10-2 (quoted from memory): d 0.080 in, 20 lbf with 15 % to spare,
    # S_sy = 0.45*201/d^0.145 kpsi over 1.2: C 10.53, D 0.843 in; 20 lbf in 2 in: N_a 10.1
    allowed = 0.45 * 201e3 / 0.080**0.145 / 1.2 * _PSI
    index = spring_index_for(np.array([1.15 * 20.0 * _LBF]), np.array([0.080 * _INCH]), np.array([allowed]))
    assert index[0] == pytest.approx(10.53, abs=0.006)
    diameter = index * 0.080 * _INCH
    assert diameter[0] / _INCH == pytest.approx(0.843, abs=5e-4)
    loads = np.array([[0.0, 20.0 * _LBF]])
    design = two_load_design(np.array([[3.0, 1.0]]) * _INCH, loads, round_wire(0.080 * _INCH), diameter, 11.75e6 * _PSI)
    assert design.active_coils[0] == pytest.approx(10.1, abs=0.05)


@given(load=st.floats(50.0, 2000.0), diameter=st.floats(2e-3, 8e-3), index=st.floats(3.0, 20.0))
def test_the_index_found_is_where_the_stress_is_reached(load: float, diameter: float, index: float) -> None:
    # scipy's brentq on the stress written out; it rises with C from 1.8 on
    def stress(at: float) -> float:
        return (4.0 * at + 2.0) / (4.0 * at - 3.0) * 8.0 * load * at / (np.pi * diameter**2)

    wanted = stress(index)
    expected = brentq(lambda at: stress(at) - wanted, 2.0, 40.0, xtol=1e-14, rtol=1e-14)
    found = spring_index_for(np.array([load]), np.array([diameter]), np.array([wanted]))
    assert found[0] == pytest.approx(expected, rel=1e-9)


def test_wire_too_thin_for_the_stress_has_no_index() -> None:
    # the stress is least at C 1.8, 3.94*8 F/(pi d^2): 1000 N on 2 mm wire cannot come below 2.5 GPa
    found = spring_index_for(np.full(3, 1000.0), np.full(3, 0.002), np.array([500e6, 2.50e9, 2.51e9]))
    assert np.isnan(found).tolist() == [True, True, False]


def test_what_is_not_known_stays_unknown() -> None:
    assert np.isnan(spring_index_for(np.array([np.nan]), np.array([0.004]), np.array([500e6]))).all()
    design = two_load_design(
        np.array([[0.035, np.nan]]), np.array([[150.0, 300.0]]), round_wire(0.004), np.array([0.024]), 81.37e9
    )
    assert np.isnan([design.rate[0], design.active_coils[0], design.free_height[0]]).all()
