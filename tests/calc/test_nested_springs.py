"""Nested springs: published examples with equal and unequal free heights, laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from headbench.calc.nested_springs import nested_height_for, nested_load, nested_loads, nested_rate
from headbench.calc.spring_coils import DimensionedSpring, dimensioned_spring
from headbench.calc.spring_shapes import beehive, cone, cylinder
from headbench.calc.spring_stress import torsional_stress, wahl_factor
from headbench.calc.spring_wire import round_wire

_G = 81.37e9
_DENSITY = 7850.0


def _cylinder(diameter: float, coils: float, wire: float, free_height: float) -> DimensionedSpring:
    pitch = (free_height - 2.0 * wire) / coils
    return dimensioned_spring(cylinder(diameter, coils, pitch), round_wire(wire), "squared and ground", _G, _DENSITY)


def test_two_springs_of_one_free_height_share_a_load_by_their_rates() -> None:
    # Bhandari, Design of Machine Elements, Example 10.18: 2000 N; d 10, D 80 mm, 8 coils and d 8, D 64 mm, 12 coils;
    # stresses by the Wahl factor 1.184
    springs = [_cylinder(0.080, 8.0, 0.010, 0.240), _cylinder(0.064, 12.0, 0.008, 0.240)]
    step = np.zeros(2)
    height = nested_height_for(springs, np.array([2000.0]), step)
    assert (0.240 - height[0]) * 1e3 == pytest.approx(52.526569, abs=1e-6)
    loads = nested_loads(springs, height, step)[0]
    assert loads.tolist() == pytest.approx([1304.347826, 695.652174], abs=1e-6)
    outer = torsional_stress(loads[:1], np.array([0.080]), round_wire(0.010), wahl_factor)[0]
    inner = torsional_stress(loads[1:], np.array([0.064]), round_wire(0.008), wahl_factor)[0]
    assert [outer / 1e6, inner / 1e6] == pytest.approx([314.616701, 262.180584], rel=3e-4)


def test_a_shorter_inner_spring_joins_in_later() -> None:
    # Bhandari, Design of Machine Elements, Example 10.19: 1000 N; d 6, D 36 mm, 10 coils; d 5, D 30 mm, 8 coils, 15 mm
    # shorter when free; stresses by the Wahl factor 1.2525
    springs = [_cylinder(0.036, 10.0, 0.006, 0.140), _cylinder(0.030, 8.0, 0.005, 0.125)]
    step = np.zeros(2)
    height = nested_height_for(springs, np.array([1000.0]), step)
    assert (0.140 - height[0]) * 1e3 == pytest.approx(24.988839, abs=1e-6)
    assert (0.125 - height[0]) * 1e3 == pytest.approx(9.988839, abs=1e-6)
    loads = nested_loads(springs, height, step)[0]
    assert loads.tolist() == pytest.approx([706.021471, 293.978529], abs=1e-6)
    outer = torsional_stress(loads[:1], np.array([0.036]), round_wire(0.006), wahl_factor)[0]
    inner = torsional_stress(loads[1:], np.array([0.030]), round_wire(0.005), wahl_factor)[0]
    assert [outer / 1e6, inner / 1e6] == pytest.approx([375.305136, 225.032219], rel=1e-6)
    # before it is reached, the inner spring adds neither load nor rate
    alone = np.array([0.130])
    assert nested_loads(springs, alone, step)[0, 1] == 0.0
    assert nested_rate(springs, alone, step)[0] == pytest.approx(706.021471 / 0.024988839, rel=1e-6)
    assert nested_rate(springs, height, step)[0] == pytest.approx(
        706.021471 / 0.024988839 + 293.978529 / 0.009988839, rel=1e-6
    )


def test_a_step_of_the_seat_counts_like_a_longer_inner_spring() -> None:
    outer = _cylinder(0.036, 10.0, 0.006, 0.140)
    raised = nested_load([outer, _cylinder(0.024, 9.0, 0.004, 0.120)], np.array([0.118]), np.array([0.0, 0.010]))
    longer = _cylinder(0.024, 9.0, 0.004, 0.120).load_at(np.array([0.108])) + outer.load_at(np.array([0.118]))
    assert raised.tolist() == longer.tolist()


_SPRINGS = [
    dimensioned_spring(beehive(0.034, 0.024, 3.0, 2.5, 0.0095), round_wire(0.0045), "squared and ground", _G, _DENSITY),
    dimensioned_spring(cone(0.024, 0.017, 6.0, 0.0075), round_wire(0.0032), "squared and ground", _G, _DENSITY),
    _cylinder(0.012, 9.0, 0.0022, 0.045),
]
_STEP = np.array([0.0, 0.0015, 0.003])
_SOLID = max(spring.solid_height + step for spring, step in zip(_SPRINGS, _STEP.tolist(), strict=True))
_FREE = max(spring.free_height + step for spring, step in zip(_SPRINGS, _STEP.tolist(), strict=True))


@settings(deadline=None)
@given(share=st.floats(0.0, 1.0))
def test_height_and_load_of_a_nest_are_each_others_inverse(share: float) -> None:
    height = np.array([_SOLID + share * (_FREE - _SOLID)])
    load = nested_load(_SPRINGS, height, _STEP)
    assert nested_height_for(_SPRINGS, load, _STEP)[0] == pytest.approx(height[0], rel=1e-9)


@given(order=st.permutations([0, 1, 2]), share=st.floats(0.0, 1.0))
def test_the_order_of_the_springs_does_not_matter(order: list[int], share: float) -> None:
    height = np.array([_SOLID + share * (_FREE - _SOLID)])
    turned = nested_load([_SPRINGS[place] for place in order], height, _STEP[order])
    assert turned[0] == pytest.approx(nested_load(_SPRINGS, height, _STEP)[0], rel=1e-12)


def test_a_nest_pushes_harder_the_lower_it_stands() -> None:
    heights = np.linspace(_FREE, _SOLID, 200)
    assert (np.diff(nested_load(_SPRINGS, heights, _STEP)) > 0.0).all()


def test_one_spring_below_solid_leaves_no_number() -> None:
    below = np.array([_SOLID - 1e-4])
    assert np.isnan(nested_load(_SPRINGS, below, _STEP)).all()
    assert np.isnan(nested_rate(_SPRINGS, below, _STEP)).all()


def test_loads_no_height_gives_have_none() -> None:
    most = nested_load(_SPRINGS, np.array([_SOLID]), _STEP)[0]
    height = nested_height_for(_SPRINGS, np.array([-1.0, 0.0, most, 1.01 * most, np.nan]), _STEP)
    assert np.isnan(height).tolist() == [True, False, False, True, True]
    assert height[1] == pytest.approx(_FREE, rel=1e-9)
    assert height[2] == pytest.approx(_SOLID, rel=1e-9)


def test_an_unknown_spring_leaves_the_nest_unknown() -> None:
    unknown = dimensioned_spring(cylinder(np.nan, 5.0, 0.009), round_wire(0.003), "squared", _G, _DENSITY)
    assert np.isnan(nested_load([_SPRINGS[0], unknown], np.array([0.045]), np.zeros(2))).all()
    assert np.isnan(nested_height_for([_SPRINGS[0], unknown], np.array([300.0]), np.zeros(2))).all()
