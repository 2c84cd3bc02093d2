from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.movement.movement import Movement, head_drop, slope_between, slope_of_tilt, wedge_cut

INCH = 0.0254


def test_cut_and_decking_bring_the_head_nearer_and_a_thicker_gasket_takes_it_back() -> None:
    # 0.020 + 0.010 - 0.015 in: definition in the trade's words, summed by hand
    drop = head_drop(np.array([0.020]) * INCH, 0.010 * INCH, 0.015 * INCH)
    assert drop[0] / INCH == pytest.approx(0.015, abs=1e-12)


def test_a_wedge_from_two_depths_is_the_wedge_from_its_tilt() -> None:
    position = np.array([-0.01, 0.03, 0.09])
    tilt = math.atan2(1.2e-3, 0.15)
    by_tilt = wedge_cut(position, 0.02, 0.5e-3, slope_of_tilt(tilt))
    by_depths = wedge_cut(position, 0.02, 0.5e-3, slope_between(0.02, 0.5e-3, 0.17, 1.7e-3))
    assert by_tilt == pytest.approx(by_depths, rel=1e-12)


def test_a_wedge_seen_from_the_other_side_of_the_head_is_the_same() -> None:
    position, width = np.array([0.04, 0.09]), 0.15
    one = wedge_cut(position, 0.0, 0.2e-3, slope_between(0.0, 0.2e-3, width, 1.4e-3))
    mirrored = wedge_cut(width - position, width, 0.2e-3, slope_between(width, 0.2e-3, 0.0, 1.4e-3))
    assert one == pytest.approx(mirrored, rel=1e-12)


def test_a_wedge_of_equal_depths_is_a_flat_cut() -> None:
    assert slope_between(0.0, 1e-3, 0.15, 1e-3) == 0.0


def test_a_gasket_as_thick_as_what_comes_off_leaves_no_drop() -> None:
    # 0.1 + 0.2 - 0.3 mm; binary numbers leave 4e-20 m of it
    assert head_drop(np.array([0.1e-3]), 0.2e-3, 0.3e-3).tolist() == [0.0]
    # one nanometer is something
    assert head_drop(np.array([1e-9]), 0.0, 0.0).tolist() == [1e-9]


@pytest.mark.parametrize(
    ("left", "drop"),
    [(0.4e-9, 0.0), (-0.4e-9, 0.0), (0.5e-9, 0.5e-9), (-0.5e-9, -0.5e-9), (1e-9, 1e-9), (-1e-9, -1e-9)],
)
def test_less_than_half_a_nanometer_either_way_is_nothing_for_one_chamber_as_for_many(left: float, drop: float) -> None:
    assert head_drop(left, 0.0, 0.0) == drop
    assert head_drop(np.array([left]), 0.0, 0.0).tolist() == [drop]


@pytest.mark.parametrize(("deeper", "slope"), [(0.9e-9, 0.0), (-0.9e-9, 0.0), (1e-9, 2e-9), (-1e-9, -2e-9)])
def test_depths_that_are_the_same_to_a_nanometer_are_a_flat_cut(deeper: float, slope: float) -> None:
    # half a meter apart, so that the slope is twice what is deeper, exactly
    assert slope_between(0.0, 0.0, 0.5, deeper) == slope


@pytest.mark.parametrize(("tilt", "slope"), [(0.9e-9, 0.0), (-0.9e-9, 0.0), (1e-9, 1e-9), (-1e-9, -1e-9)])
def test_a_tilt_of_less_than_a_nanometer_in_a_meter_is_a_flat_cut(tilt: float, slope: float) -> None:
    # the tangent of so small an angle is the angle
    assert slope_of_tilt(tilt) == slope


@given(st.floats(-0.1, 0.3), st.floats(0.0, 2e-3), st.floats(-0.02, 0.02))
def test_a_flat_cut_is_a_wedge_without_slope(place: float, depth: float, slope: float) -> None:
    flat = Movement(depth=depth, place=place)
    assert flat.depth_at(math.nan) == flat.depth_at(0.2) == depth
    # own derivation: the wedge's depth lies on the straight line through its place
    wedge = Movement(depth=depth, place=place, slope=slope)
    assert wedge.depth_at(0.2) == pytest.approx(depth + slope * (0.2 - place), abs=1e-9)
    assert wedge.flat == (slope == 0.0)


def test_a_place_nobody_gave_leaves_a_wedge_open() -> None:
    assert math.isnan(Movement(depth=1e-3, slope=0.01).drop_at(math.nan))


def test_block_and_gasket_move_the_head_and_leave_its_deck() -> None:
    # by hand, mm: 0.75 off the head, 0.25 off the block, a gasket 0.4 thicker
    moved = Movement(depth=0.75e-3, block_decked=0.25e-3, gasket_thickness_change=0.4e-3)
    assert moved.depth_at(0.0) == 0.75e-3
    assert moved.drop_at(0.0) == pytest.approx(0.6e-3, rel=1e-12)
    assert not moved.nothing_cut
    assert Movement(block_decked=0.25e-3).nothing_cut
