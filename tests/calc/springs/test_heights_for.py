"""Heights for loads of nested springs: published examples with equal and unequal free heights, laws."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from headbench.calc import FloatArray
from headbench.calc.coils.coils import DimensionedSpring, dimensioned_spring
from headbench.calc.coils.shapes import beehive, cone, cylinder
from headbench.calc.coils.stress import torsional_stress, wahl_factor
from headbench.calc.coils.wire import round_wire
from headbench.calc.springs.heights_for import heights_for
from headbench.calc.springs.one_curve import LoadCurve, rated_curve
from headbench.calc.springs.spring_set import SpringSet, of_load_alone

_G = 81.37e9
_DENSITY = 7850.0


def _cylinder(diameter: float, coils: float, wire: float, free_height: float) -> DimensionedSpring:
    pitch = (free_height - 2.0 * wire) / coils
    return dimensioned_spring(cylinder(diameter, coils, pitch), round_wire(wire), "squared and ground", _G, _DENSITY)


def _set(springs: Sequence[DimensionedSpring | LoadCurve | None], step: FloatArray) -> SpringSet:
    each = zip(springs, step.tolist(), strict=True)
    return SpringSet(tuple(of_load_alone(None, rise)._replace(curve=one) for one, rise in each), 0.0)


def nested_load(springs: Sequence[DimensionedSpring], height: FloatArray, step: FloatArray) -> FloatArray:
    return _set(springs, step).loads_and_rates(height)[0]


def nested_rate(springs: Sequence[DimensionedSpring], height: FloatArray, step: FloatArray) -> FloatArray:
    return _set(springs, step).loads_and_rates(height)[1]


def nested_height_for(springs: Sequence[DimensionedSpring], load: FloatArray, step: FloatArray) -> FloatArray:
    return np.array(heights_for(_set(springs, step), load.tolist()))


def nested_loads(springs: Sequence[DimensionedSpring], height: FloatArray, step: FloatArray) -> FloatArray:
    """Each spring's own load."""
    return np.stack(
        [nested_load([one], height - by, np.zeros(1)) for one, by in zip(springs, step.tolist(), strict=True)], axis=1
    )


loads = st.floats(10.0, 2000.0)


def test_two_springs_of_one_free_height_share_a_load_by_their_rates() -> None:
    # Bhandari, Design of Machine Elements, 3rd ed. (2010; edition from memory), Example 10.18: 2000 N; d 10, D 80 mm, 8
    # coils and d 8, D 64 mm, 12 coils; stresses by the Wahl factor 1.184
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
    # Bhandari, Design of Machine Elements, 3rd ed. (2010; edition from memory), Example 10.19: 1000 N; d 6, D 36 mm, 10
    # coils; d 5, D 30 mm, 8 coils, 15 mm shorter when free; stresses by the Wahl factor 1.2525
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
_BIND = max(spring.coil_bind_height + step for spring, step in zip(_SPRINGS, _STEP.tolist(), strict=True))
_FREE = max(spring.free_height + step for spring, step in zip(_SPRINGS, _STEP.tolist(), strict=True))


@settings(deadline=None)
@given(share=st.floats(0.0, 0.999))
def test_height_and_load_of_a_nest_are_each_others_inverse(share: float) -> None:
    height = np.array([_BIND + share * (_FREE - _BIND)])
    load = nested_load(_SPRINGS, height, _STEP)
    assert nested_height_for(_SPRINGS, load, _STEP)[0] == pytest.approx(height[0], rel=1e-9)


@given(order=st.permutations([0, 1, 2]), share=st.floats(0.0, 1.0))
def test_the_order_of_the_springs_does_not_matter(order: list[int], share: float) -> None:
    height = np.array([_BIND + share * (_FREE - _BIND)])
    turned = nested_load([_SPRINGS[place] for place in order], height, _STEP[order])
    assert turned[0] == pytest.approx(nested_load(_SPRINGS, height, _STEP)[0], rel=1e-12)


def test_a_nest_pushes_harder_the_lower_it_stands() -> None:
    heights = np.linspace(_FREE, _BIND, 200)
    assert (np.diff(nested_load(_SPRINGS, heights, _STEP)) > 0.0).all()


def test_one_spring_below_solid_leaves_no_number() -> None:
    below = np.array([_BIND - 1e-4])
    assert np.isnan(nested_load(_SPRINGS, below, _STEP)).all()
    assert np.isnan(nested_rate(_SPRINGS, below, _STEP)).all()


def test_loads_no_height_gives_have_none() -> None:
    most = nested_load(_SPRINGS, np.array([_BIND]), _STEP)[0]
    height = nested_height_for(_SPRINGS, np.array([-1.0, 1e-6, most * (1.0 - 1e-9), 1.01 * most, np.nan]), _STEP)
    assert np.isnan(height).tolist() == [True, False, False, True, True]
    assert height[1] == pytest.approx(_FREE, rel=1e-9)
    assert height[2] == pytest.approx(_BIND, rel=1e-9)


def test_an_unknown_spring_leaves_the_nest_unknown() -> None:
    unknown = dimensioned_spring(cylinder(np.nan, 5.0, 0.009), round_wire(0.003), "squared", _G, _DENSITY)
    assert np.isnan(nested_load([_SPRINGS[0], unknown], np.array([0.045]), np.zeros(2))).all()
    assert np.isnan(nested_height_for([_SPRINGS[0], unknown], np.array([300.0]), np.zeros(2))).all()


@given(outer=loads, inner=loads, wanted=st.floats(50.0, 3000.0), step=st.floats(0.0, 0.003))
def test_the_height_for_a_load_of_rated_springs_is_their_sums_inverse(
    outer: float, inner: float, wanted: float, step: float
) -> None:
    pair = _set([rated_curve(0.040, outer, 90e3), rated_curve(0.040, inner, 60e3)], np.array([0.0, step]))
    (height,) = heights_for(pair, [wanted])
    assert pair.load_at(height) == pytest.approx(wanted, rel=1e-9)


def test_a_kink_where_an_inner_spring_joins_in_does_not_hold_up_the_search() -> None:
    # by hand: the outer one alone gives 480 N down to 0.036, both 1000 N at 0.034: 480 + (40e3 + 220e3) * 0.002; a
    # straight line from either side of the kink passes it
    outer, inner = rated_curve(0.040, 320.0, 40e3), rated_curve(0.036, 0.0, 220e3)
    pair = _set([outer, inner], np.zeros(2))
    assert heights_for(pair, [480.0, 1000.0, 481.0, 479.0]) == pytest.approx(
        [0.036, 0.034, 0.036 - 1.0 / 260e3, 0.036 + 1.0 / 40e3], rel=1e-12
    )


def test_a_load_wanted_of_an_unknown_spring_has_no_height() -> None:
    rated = rated_curve(0.040, 500.0, 40e3)
    assert np.isnan(heights_for(_set([rated, None], np.zeros(2)), [600.0])).all()
    included = of_load_alone(None)._replace(has_own_load=False)
    assert heights_for(SpringSet((of_load_alone(rated), included), 0.0), [600.0]) == pytest.approx([0.0375])
