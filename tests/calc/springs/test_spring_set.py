"""Spring set: the springs of one valve together, each at its own height."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.coils.coils import dimensioned_spring
from headbench.calc.coils.shapes import cylinder
from headbench.calc.coils.wire import round_wire
from headbench.calc.springs.one_curve import rated_curve
from headbench.calc.springs.readings import curve_through
from headbench.calc.springs.spring_set import (
    OneSpring,
    SpringSet,
    bind_height,
    by_dimensions,
    known_bind_height,
    of_load_alone,
    spring_set,
)

loads = st.floats(10.0, 2000.0)
BY_DIMENSIONS = dimensioned_spring(cylinder(0.030, 5.0, 0.009), round_wire(0.004), "squared", 80e9, 7850.0)
RATED = rated_curve(0.040, 500.0, 40e3)


@given(outer=loads, inner=loads, step=st.floats(-0.003, 0.003))
def test_loads_of_nested_springs_add_each_at_its_own_height(outer: float, inner: float, step: float) -> None:
    curves = rated_curve(0.040, outer, 40e3), rated_curve(0.040, inner, 20e3)
    together = spring_set(curves[0], (curves[1], step)).load_at(0.038)
    assert together == pytest.approx(curves[0].load_at(0.038) + curves[1].load_at(0.038 - step), rel=1e-12)


def test_a_nested_spring_of_unknown_load_leaves_the_sum_unknown() -> None:
    assert math.isnan(spring_set(RATED, None).load_at(0.038))
    assert not spring_set(RATED, None).is_known
    assert spring_set(RATED).load_at(0.038) == pytest.approx(580.0)
    assert spring_set(RATED).is_known


def test_a_spring_whose_load_another_curve_includes_adds_nothing_and_leaves_nothing_unknown() -> None:
    included = of_load_alone(None)._replace(has_own_load=False)
    both = SpringSet((of_load_alone(RATED), included), 0.0)
    assert both.load_at(0.038) == pytest.approx(580.0)
    assert both.is_known
    read = of_load_alone(curve_through([0.040, 0.030], [500.0, 900.0]))
    assert SpringSet((read, included), 0.0).is_proven(0.035)
    # nor do readings of its own count
    far = of_load_alone(curve_through([0.060, 0.050], [500.0, 900.0]))._replace(has_own_load=False)
    assert SpringSet((read, far), 0.0).beyond_readings(0.035) == 0.0
    assert not SpringSet((read, far), 0.0).works_outside_readings(0.035)


def test_only_springs_read_on_a_tester_are_proven() -> None:
    read = curve_through([0.040, 0.030], [500.0, 900.0])
    assert spring_set(read).is_proven(0.035)
    assert not spring_set(None).is_proven(0.035)
    assert not spring_set(RATED).is_proven(0.035)
    assert not spring_set(read, RATED).is_proven(0.035)
    assert not SpringSet((of_load_alone(None)._replace(curve=BY_DIMENSIONS),), 0.0).is_proven(0.035)


def test_the_farthest_of_nested_springs_counts_as_beyond_the_readings() -> None:
    outer, inner = curve_through([0.040, 0.030], [500.0, 900.0]), curve_through([0.038, 0.032], [100.0, 200.0])
    pair = spring_set(outer, (inner, -0.001))
    # the inner one stands at 0.040, read up to 0.038
    assert pair.beyond_readings(0.039) == pytest.approx(0.002, rel=1e-9)
    assert pair.works_outside_readings(0.039)
    assert math.isnan(spring_set(RATED).beyond_readings(0.039))
    assert not spring_set(RATED).works_outside_readings(0.039)


def test_one_loose_spring_of_a_nest_is_noticed() -> None:
    # free at 0.040 + 500/40e3 = 0.0525 and 0.040 + 100/40e3 = 0.0425
    pair = spring_set(RATED, rated_curve(0.040, 100.0, 40e3))
    assert [pair.any_loose(height) for height in (0.042, 0.043, math.nan)] == [False, True, False]
    assert not spring_set(None).any_loose(0.042)


def test_a_spring_by_its_dimensions_pushes_what_they_say_and_nothing_is_known_below_solid() -> None:
    one = SpringSet((of_load_alone(None)._replace(curve=BY_DIMENSIONS, seat_rise=0.001),), 0.0)
    height = BY_DIMENSIONS.free_height - 0.005
    assert one.load_at(height + 0.001) == pytest.approx(BY_DIMENSIONS.load_at(np.array([height]))[0], rel=1e-9)
    assert math.isnan(one.load_at(BY_DIMENSIONS.coil_bind_height + 0.0009))


def test_the_first_of_a_set_to_bind_is_told_at_the_height_of_the_outer_one() -> None:
    outer = of_load_alone(RATED)._replace(coil_bind_height=0.028)
    inner = of_load_alone(None, 0.002)._replace(coil_bind_height=0.0265)
    # by hand: the inner one binds where the outer one stands 0.0265 + 0.002 = 0.0285
    assert bind_height(SpringSet((outer, inner), 0.0)) == pytest.approx(0.0285, rel=1e-12)
    assert bind_height(SpringSet((outer, of_load_alone(None, 0.002)), 0.0)) == 0.028
    assert math.isnan(bind_height(spring_set(RATED, None)))


def test_of_a_bind_height_that_was_read_and_one_by_dimensions_the_taller_counts() -> None:
    solid = BY_DIMENSIONS.coil_bind_height
    one = of_load_alone(None)._replace(curve=BY_DIMENSIONS)
    assert by_dimensions(one) == bind_height(SpringSet((one,), 0.0)) == solid
    for read, tallest in ((solid + 0.001, solid + 0.001), (solid - 0.001, solid)):
        assert bind_height(SpringSet((one._replace(coil_bind_height=read),), 0.0)) == tallest
    assert math.isnan(by_dimensions(one._replace(has_own_load=False)))


def test_the_moving_share_of_a_set_is_that_of_its_springs_by_their_active_mass() -> None:
    # by hand: 60 and 20 g of active coils, (0.38 * 60 + 20/3)/80; the whole set weighs 66 + 22 g
    outer = of_load_alone(RATED)._replace(mass=0.066, retainer_coils=0.003, seat_coils=0.003, moving_share=0.38)
    inner = of_load_alone(RATED)._replace(mass=0.022, retainer_coils=0.001, seat_coils=0.001)
    pair = SpringSet((outer, inner), 0.0)
    assert pair.moving_share == pytest.approx((0.38 * 60.0 + 20.0 / 3.0) / 80.0, rel=1e-12)
    assert pair.mass == pytest.approx(0.088, rel=1e-12)
    unweighed = SpringSet((outer, of_load_alone(RATED)), 0.0)
    assert math.isnan(unweighed.mass)
    assert math.isnan(unweighed.moving_share)


def bound(height: float, rise: float = 0.0, *, is_doubtful: bool = False) -> OneSpring:
    """A spring whose coils were read to touch at a height of its own."""
    return of_load_alone(None, rise)._replace(coil_bind_height=height, bind_doubtful=is_doubtful)


@pytest.mark.parametrize(
    ("springs", "tallest", "tightest", "all_read"),
    [
        # by hand: the inner one stands 2 mm up on its step, so that it binds at 29 + 2 of the outer's height
        ([bound(0.030), bound(0.029, 0.002)], 0.031, 1, True),
        ([bound(0.030), bound(0.027, 0.002)], 0.030, 0, True),
        ([bound(0.030), bound(math.nan, 0.002)], 0.030, 0, False),
        ([bound(math.nan), bound(0.029, 0.002)], 0.031, 1, False),
        ([bound(math.nan), bound(math.nan)], math.nan, 0, False),
        ([bound(0.030), bound(0.029, 0.002, is_doubtful=True)], 0.031, 1, False),
    ],
)
def test_the_spring_that_binds_first_is_the_tallest_on_its_own_step(
    springs: list[OneSpring], tallest: float, tightest: int, *, all_read: bool
) -> None:
    found = SpringSet(tuple(springs), 0.0)
    assert found.tallest_bind == pytest.approx(tallest, rel=1e-12, nan_ok=True)
    assert (found.tightest, found.binds_read) == (tightest, all_read)
    assert known_bind_height(found) == pytest.approx(tallest, rel=1e-12, nan_ok=True)


def test_where_coils_were_not_read_their_dimensions_say_where_they_touch() -> None:
    # the one within stands 1 mm up on its step
    within = of_load_alone(None, 0.001)._replace(curve=BY_DIMENSIONS)
    by_hand = BY_DIMENSIONS.coil_bind_height + 0.001
    assert by_hand > 0.030
    assert known_bind_height(SpringSet((bound(0.030), within), 0.0)) == pytest.approx(by_hand, rel=1e-12)
