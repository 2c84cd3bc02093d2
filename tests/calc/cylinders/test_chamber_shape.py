from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator
from scipy.special import ellipe

from headbench.calc import FloatArray
from headbench.calc.cylinders.chamber_shape import ChamberShape, find_pour_faults, from_area, from_pours

INCH = 0.0254


@st.composite
def pours(draw: st.DrawFn) -> tuple[FloatArray, FloatArray]:
    """Depths from 0 and volumes that fall with them, by steps of any unevenness."""
    count = draw(st.integers(1, 6))
    depth_step = draw(st.lists(st.floats(0.1e-3, 2e-3), min_size=count, max_size=count))
    volume_step = draw(st.lists(st.floats(0.05e-6, 10e-6), min_size=count, max_size=count))
    return np.cumsum([0.0, *depth_step]), 90e-6 - np.cumsum([0.0, *volume_step])


def cone_below(depth: FloatArray, top_radius: float, height: float) -> FloatArray:
    """Volume of a cone standing on its point, below a level so deep under its base; Euclid XII.10."""
    return np.asarray(np.pi * top_radius**2 / (3.0 * height**2) * (height - depth) ** 3)


def test_a_cylinder_loses_area_times_depth() -> None:
    # pi 2^2/4 in2 by 0.030 in, in cubic centimeters of 16.387064 to the cubic inch (NIST SP 811 (2008), B.8)
    area = np.pi * (2.0 * INCH) ** 2 / 4.0
    removed = from_area(area).removed_by(np.array([0.030 * INCH]))
    assert removed[0] * 1e6 == pytest.approx(np.pi * 0.030 * 16.387064, rel=1e-12)


def circle_of_perimeter(perimeter: float) -> float:
    """The rule of thumb: area of the circle that has the chamber's perimeter."""
    return perimeter**2 / (4.0 * np.pi)


def test_the_perimeter_rule_holds_for_a_circle() -> None:
    radius = 1.3 * INCH
    by_area = from_area(np.pi * radius**2).removed_by(np.array([1e-3]))
    by_rule = from_area(circle_of_perimeter(2.0 * np.pi * radius)).removed_by(np.array([1e-3]))
    assert by_rule == pytest.approx(by_area, rel=1e-12)


def test_the_perimeter_rule_takes_a_tenth_too_much_from_an_oblong() -> None:
    # 2.0 by 3.5 in, half circles at the ends; exact area and perimeter from elementary geometry (own derivation)
    area, perimeter = (np.pi + 2.0 * 1.5) * INCH**2, (2.0 * np.pi + 3.0) * INCH
    by_area = from_area(area).removed_by(np.array([1e-3]))
    by_rule = from_area(circle_of_perimeter(perimeter)).removed_by(np.array([1e-3]))
    assert (1.0 - by_area / by_rule)[0] == pytest.approx(0.10, abs=0.01)


def test_the_perimeter_rule_takes_too_much_from_an_ellipse() -> None:
    # perimeter of an ellipse 4 a E(e^2): scipy.special.ellipe is the referee
    half_long, half_short = 1.75 * INCH, 1.0 * INCH
    perimeter = 4.0 * half_long * ellipe(1.0 - (half_short / half_long) ** 2)
    by_area = from_area(np.pi * half_long * half_short).removed_by(np.array([1e-3]))
    by_rule = from_area(circle_of_perimeter(perimeter)).removed_by(np.array([1e-3]))
    assert by_rule[0] > 1.05 * by_area[0]


def test_pours_of_a_cone_give_the_cone_between_the_pours() -> None:
    depth = np.linspace(0.0, 4e-3, 9)
    shape = from_pours(depth, cone_below(depth, 45e-3, 20e-3))
    between = np.linspace(0.0, 4e-3, 101)
    exact = cone_below(np.zeros(1), 45e-3, 20e-3) - cone_below(between, 45e-3, 20e-3)
    # the end slopes of the interpolant are second order in the spacing
    assert np.abs(shape.removed_by(between) - exact).max() < 3e-4 * exact[-1]
    # while one area times depth is out by the lean of the wall, some 19 % at the deepest
    by_area = from_area(np.pi * 45e-3**2).removed_by(between[-1:])
    assert by_area[0] > 1.15 * exact[-1]


@given(pours())
def test_inside_the_pours_scipy_is_the_referee(readings: tuple[FloatArray, FloatArray]) -> None:
    depth, volume = readings
    inside = np.linspace(0.0, depth[-1], 23)
    referee = PchipInterpolator(depth, volume)
    assert from_pours(depth, volume).removed_by(inside) == pytest.approx(
        volume[0] - referee(inside), rel=1e-9, abs=1e-18
    )


@given(pours())
def test_every_pour_is_met(readings: tuple[FloatArray, FloatArray]) -> None:
    depth, volume = readings
    assert from_pours(depth, volume).removed_by(depth) == pytest.approx(volume[0] - volume, rel=1e-12, abs=1e-18)


@given(pours(), st.data())
def test_the_order_of_the_pours_does_not_matter(readings: tuple[FloatArray, FloatArray], data: st.DataObject) -> None:
    depth, volume = readings
    shuffled = data.draw(st.permutations(range(len(depth))))
    where = np.linspace(0.0, 1.3 * depth[-1], 17)
    one, other = from_pours(depth, volume), from_pours(depth[shuffled], volume[shuffled])
    assert np.array_equal(one.removed_by(where), other.removed_by(where))


@given(pours())
def test_a_deeper_cut_always_takes_more(readings: tuple[FloatArray, FloatArray]) -> None:
    depth, volume = readings
    removed = from_pours(depth, volume).removed_by(np.linspace(0.0, 2.0 * depth[-1], 50))
    assert (np.diff(removed) > 0.0).all()


@given(pours(), st.lists(st.floats(0.0, 1.5), min_size=1, max_size=8))
def test_cut_for_inverts_removed_by(readings: tuple[FloatArray, FloatArray], shares: list[float]) -> None:
    depth, volume = readings
    shape = from_pours(depth, volume)
    cut = np.array(shares) * depth[-1]
    removed = shape.removed_by(cut)
    back = shape.cut_for(removed)
    # where the section is nearly nothing a depth cannot be told from its volume: the volume decides
    assert shape.removed_by(back) == pytest.approx(removed, rel=1e-9, abs=1e-9 * (volume[0] - volume[-1]))


@given(st.floats(1e-4, 1e-2), st.lists(st.floats(0.0, 5e-3), min_size=1, max_size=8))
def test_cut_for_inverts_area_times_depth(area: float, cuts: list[float]) -> None:
    shape = from_area(area)
    assert shape.cut_for(shape.removed_by(np.array(cuts))) == pytest.approx(np.array(cuts), rel=1e-9, abs=1e-15)


def test_cut_for_inverts_a_real_looking_table_to_the_ninth_digit() -> None:
    shape = from_pours(np.array([0.0, 0.5, 1.0, 1.5, 2.0]) * 1e-3, np.array([64.0, 60.8, 58.0, 55.6, 53.6]) * 1e-6)
    cut = np.linspace(0.0, 3e-3, 61)
    assert shape.cut_for(shape.removed_by(cut)) == pytest.approx(cut, rel=1e-9, abs=1e-15)


@given(pours())
def test_two_cuts_take_what_one_takes(readings: tuple[FloatArray, FloatArray]) -> None:
    depth, volume = readings
    first, whole = 0.4 * depth[1], depth[1]
    shape = from_pours(depth, volume)
    # after the first cut the same chamber, poured again from its new deck, still meets the deeper levels
    left = volume[0] - shape.removed_by(np.array([first]))[0]
    again = from_pours(np.append(0.0, depth[1:] - first), np.append(left, volume[1:]))
    both = shape.removed_by(np.array([first]))[0] + again.removed_by(np.array([whole - first]))[0]
    assert both == pytest.approx(shape.removed_by(np.array([whole]))[0], rel=1e-9)


def test_beyond_the_pours_the_curve_goes_on_straight_and_says_so() -> None:
    shape = from_pours(np.array([0.0, 1e-3, 2e-3]), np.array([64.0, 58.0, 53.0]) * 1e-6)
    outside = np.array([2e-3, 2.5e-3, 3e-3, 9e-3])
    removed = shape.removed_by(outside)
    slope = np.diff(removed) / np.diff(outside)
    assert slope == pytest.approx(np.full(3, slope[0]), rel=1e-9)
    assert shape.beyond_pours(outside) == pytest.approx(np.array([0.0, 0.5e-3, 1e-3, 7e-3]), rel=1e-9, abs=1e-15)


def test_beyond_the_pours_the_end_slope_goes_on() -> None:
    depth, volume = np.array([0.0, 1e-3, 2e-3]), np.array([64.0, 58.0, 53.0]) * 1e-6
    # referee: scipy's slope at the deepest pour
    slope = -float(PchipInterpolator(depth, volume)(2e-3, 1))
    beyond, end = from_pours(depth, volume).removed_by(np.array([3e-3, 2e-3]))
    assert beyond - end == pytest.approx(1e-3 * slope, rel=1e-9)


def test_beyond_sharply_bent_pours_half_the_last_chord_goes_on() -> None:
    depth, volume = np.array([0.0, 1e-3, 2e-3]), np.array([64.0, 54.0, 52.0]) * 1e-6
    # the interpolant itself ends level here, which no chamber does; by hand: half of 2 cc per mm
    assert float(PchipInterpolator(depth, volume)(2e-3, 1)) == 0.0
    beyond = from_pours(depth, volume).removed_by(np.array([2.5e-3]))
    assert beyond[0] == pytest.approx(12.5e-6, rel=1e-9)


def test_a_wedge_that_has_run_out_goes_on_straight_above_the_deck() -> None:
    depth, volume = np.array([0.0, 1e-3, 2e-3]), np.array([64.0, 58.0, 53.0]) * 1e-6
    shape = from_pours(depth, volume)
    near, far = shape.removed_by(np.array([-0.1e-3, -0.3e-3]))
    # referee: scipy's slope at the deck
    assert near == pytest.approx(0.1e-3 * float(PchipInterpolator(depth, volume)(0.0, 1)), rel=1e-9)
    assert far == pytest.approx(3.0 * near, rel=1e-9)
    assert shape.cut_for(np.array([near, far])) == pytest.approx(np.array([-0.1e-3, -0.3e-3]), rel=1e-9)


def test_an_area_is_never_exceeded() -> None:
    assert from_area(5e-3).beyond_pours(np.array([0.0, 10e-3])).tolist() == [0.0, 0.0]


@pytest.mark.parametrize("shape", [from_area(5e-3), from_pours(np.array([0.0, 1e-3]), np.array([64e-6, 59e-6]))])
def test_a_missing_reading_stays_missing(shape: ChamberShape) -> None:
    nothing = np.array([np.nan])
    assert np.isnan(shape.removed_by(nothing)).all()
    assert np.isnan(shape.cut_for(nothing)).all()
    assert np.isnan(shape.beyond_pours(nothing)).all() or shape.deepest == np.inf


def test_an_unread_chamber_does_not_spoil_the_others() -> None:
    shape = from_pours(np.array([0.0, 1e-3, 2e-3]), np.array([64.0, 58.0, 53.0]) * 1e-6)
    both = shape.cut_for(np.array([np.nan, 4e-6]))
    assert both[1] == shape.cut_for(np.array([4e-6]))[0]


def test_good_pours_have_no_fault() -> None:
    assert find_pour_faults(np.array([2e-3, 0.0, 1e-3]), np.array([53e-6, 64e-6, 58e-6])) == []


def test_every_faulty_pour_is_named() -> None:
    depth = np.array([0.5e-3, 1e-3, 1e-3, 2e-3, 3e-3])
    volume = np.array([60e-6, 58e-6, 57e-6, 59e-6, 59e-6])
    assert find_pour_faults(depth, volume) == [
        ("no_full_pour", 0, 0),
        ("repeats", 1, 2),
        ("doubles_back", 2, 3),
        ("doubles_back", 3, 4),
    ]


def test_no_pours_have_no_fault_of_their_own() -> None:
    assert find_pour_faults(np.array([]), np.array([])) == []
