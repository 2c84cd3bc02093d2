from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.piston_to_valve import (
    clearance_after,
    clearance_lost,
    find_angle_faults,
    find_valve_faults,
    smallest_clearance,
    sunk_valve,
)

INCH = 0.0254
NAN = math.nan

valve_angles = st.floats(0.0, 0.7)
approaches = st.floats(-1e-3, 2e-3)


def distance_to_line(point: complex, through: complex, direction: complex) -> float:
    """Distance of a point from a line, by the cross product; points as complex numbers."""
    return abs(((point - through).conjugate() * direction).imag) / abs(direction)


@given(st.floats(0.0, 2e-3), valve_angles)
def test_across_a_pocket_two_parallel_lines_come_nearer(approach: float, valve_angle: float) -> None:
    # own derivation in the plane of bore and valve: the valve's head and the pocket are lines square to the stem
    stem = complex(math.sin(valve_angle), math.cos(valve_angle))
    pocket, head = complex(0.0, 0.0), 5e-3 * stem
    before = distance_to_line(head, pocket, 1j * stem)
    after = distance_to_line(head - 1j * approach, pocket, 1j * stem)
    lost = clearance_lost(np.array([approach]), valve_angle)
    assert lost.across_pocket[0] == pytest.approx(before - after, abs=1e-15)


@given(st.floats(0.0, 2e-3), valve_angles)
def test_in_valve_travel_the_edge_meets_the_crown_sooner(approach: float, valve_angle: float) -> None:
    # own derivation: the edge runs down along the stem until it is at the crown's height
    stem = complex(math.sin(valve_angle), math.cos(valve_angle))
    edge = complex(3e-3, 6e-3)
    travel_before = edge.imag / stem.imag
    travel_after = (edge - 1j * approach).imag / stem.imag
    lost = clearance_lost(np.array([approach]), valve_angle)
    assert lost.in_valve_travel[0] == pytest.approx(travel_before - travel_after, abs=1e-15)
    assert lost.along_bore[0] == approach


def test_an_upright_valve_loses_the_approach_by_every_measure() -> None:
    lost = clearance_lost(np.array([0.030 * INCH]), 0.0)
    assert lost.along_bore[0] == lost.across_pocket[0] == lost.in_valve_travel[0]


def test_a_valve_at_twenty_degrees() -> None:
    # cos 20 degrees = 0.93969 (any table): 0.040 in becomes 0.0376 and 0.0426 in
    lost = clearance_lost(np.array([0.040]), math.radians(20.0))
    assert lost.across_pocket[0] == pytest.approx(0.0376, abs=5e-5)
    assert lost.in_valve_travel[0] == pytest.approx(0.0426, abs=5e-5)


@given(approaches, approaches, valve_angles)
def test_two_cuts_take_what_one_takes(first: float, second: float, valve_angle: float) -> None:
    parts = clearance_lost(np.array([first, second]), valve_angle)
    whole = clearance_lost(np.array([first + second]), valve_angle)
    assert parts.across_pocket.sum() == pytest.approx(whole.across_pocket[0], abs=1e-15)
    assert parts.in_valve_travel.sum() == pytest.approx(whole.in_valve_travel[0], abs=1e-15)


def test_a_forty_five_degree_seat_sinks_by_root_two() -> None:
    sunk = sunk_valve(np.array([0.010 * INCH]), math.radians(45.0), 2.02 * INCH, 0.0)
    assert sunk.sink[0] / INCH == pytest.approx(0.010 * math.sqrt(2.0), rel=1e-12)
    # what follows stands as much taller, and clears as much more
    for follows in (sunk.stem_height, sunk.installed_height, sunk.across_pocket, sunk.in_valve_travel, sunk.along_bore):
        assert follows[0] == pytest.approx(sunk.sink[0], rel=1e-12)


def test_a_thirty_degree_seat_sinks_less_than_a_forty_five() -> None:
    # 1/cos 30 = 1.1547, 1/cos 45 = 1.4142 (any table)
    sunk = sunk_valve(np.array([1.0, 1.0]), np.deg2rad([30.0, 45.0]), 0.05, 0.0)
    assert sunk.sink == pytest.approx(np.array([1.1547, 1.4142]), abs=5e-5)


@given(st.floats(0.0, 1e-3), st.floats(0.2, 1.2))
def test_a_sunk_seat_lies_deeper_by_what_was_ground_square_to_it(ground: float, seat_angle: float) -> None:
    # own derivation: the seat is a line; sinking it straight down must leave the ground thickness between
    along = complex(math.cos(seat_angle), math.sin(seat_angle))
    sink = float(sunk_valve(np.array([ground]), seat_angle, 0.05, 0.0).sink[0])
    assert distance_to_line(complex(0.0, sink), 0j, along) == pytest.approx(ground, abs=1e-15)


def test_a_sunk_valve_gains_less_along_the_bore_when_it_leans() -> None:
    sunk = sunk_valve(np.array([0.5e-3]), 0.0, 0.05, math.radians(60.0))
    assert sunk.along_bore[0] == pytest.approx(0.25e-3, rel=1e-12)
    # disc of 50 mm by 0.5 mm: 0.9817 cm3
    assert sunk.chamber_volume[0] * 1e6 == pytest.approx(0.9817, abs=5e-5)


def test_what_milling_takes_and_a_sunk_valve_gives() -> None:
    # by hand: 0.100 - 0.030 + 0.014 in; an unmeasured one stays unmeasured
    after = clearance_after(np.array([0.100, NAN]) * INCH, 0.030 * INCH, np.array([0.014, 0.0]) * INCH)
    assert after[0] / INCH == pytest.approx(0.084, rel=1e-12)
    assert math.isnan(after[1])


def test_the_smallest_of_both_valves_and_where() -> None:
    angle = np.deg2rad([-15.0, -10.0, -5.0, 0.0, 5.0, 10.0, 15.0])
    exhaust = [0.130, 0.118, 0.112, 0.120, 0.141, 0.170, 0.2]
    intake = [0.2, 0.160, 0.132, 0.110, 0.096, 0.090, 0.094]
    found = smallest_clearance(angle, np.array([intake, exhaust]) * INCH)
    assert found.clearance / INCH == pytest.approx(np.array([0.090, 0.112]), rel=1e-12)
    assert np.rad2deg(found.crank_angle) == pytest.approx(np.array([10.0, -5.0]), rel=1e-12)
    assert found.bracketed.tolist() == [True, True]
    assert (found.between_readings <= found.clearance).all()


@given(
    st.floats(0.5, 4.0),
    st.floats(1.0, 50.0),
    st.floats(-0.1, 0.1),
    st.lists(st.integers(-12, 12), min_size=4, max_size=8, unique=True),
)
def test_between_readings_a_parabola_is_met_exactly(least: float, bend: float, where: float, places: list[int]) -> None:
    # own derivation: the readings lie on a parabola whose lowest point is known
    angle = np.array([*places, -20, 20]) * 0.03
    reading = (least + bend * (angle - where) ** 2) * 1e-3
    found = smallest_clearance(angle, reading[np.newaxis])
    assert found.bracketed[0]
    assert found.between_readings[0] == pytest.approx(least * 1e-3, rel=1e-7)


@given(st.permutations(range(6)))
def test_the_order_of_the_readings_does_not_matter(order: list[int]) -> None:
    angle = np.array([-0.2, -0.1, 0.0, 0.1, 0.2, 0.3])
    reading = np.array([[3.0, 2.4, NAN, 2.5, 2.9, 4.0]]) * 1e-3
    one, other = smallest_clearance(angle, reading), smallest_clearance(angle[order], reading[:, order])
    assert one.clearance == other.clearance
    assert one.crank_angle == other.crank_angle
    assert one.between_readings == pytest.approx(other.between_readings, rel=1e-12)


def test_a_reading_not_taken_is_stepped_over() -> None:
    with_hole = smallest_clearance(np.array([0.0, 0.1, 0.2, 0.3]), np.array([[3.0, NAN, 2.0, 2.6]]) * 1e-3)
    without = smallest_clearance(np.array([0.0, 0.2, 0.3]), np.array([[3.0, 2.0, 2.6]]) * 1e-3)
    assert with_hole.between_readings == pytest.approx(without.between_readings, rel=1e-12)
    assert with_hole.bracketed[0]


@pytest.mark.parametrize(
    "readings", [[1.0, 2.0, 3.0], [3.0, 2.0, 1.0], [NAN, 1.0, 2.0], [1.0, 1.1, 3.0], [3.0, 1.1, 1.0]]
)
def test_a_smallest_reading_at_the_end_is_told_as_open(readings: list[float]) -> None:
    found = smallest_clearance(np.array([0.0, 0.1, 0.2]), np.array([readings]) * 1e-3)
    assert not found.bracketed[0]
    assert found.between_readings[0] == found.clearance[0] == pytest.approx(1e-3)


def test_clay_gives_one_reading_and_nothing_between() -> None:
    found = smallest_clearance(np.array([0.1]), np.array([[2.0e-3], [NAN]]))
    assert found.clearance[0] == found.between_readings[0] == 2.0e-3
    assert found.crank_angle[0] == 0.1
    assert math.isnan(found.clearance[1])
    assert math.isnan(found.crank_angle[1])
    assert not found.bracketed.any()


def test_equal_readings_bend_nowhere() -> None:
    found = smallest_clearance(np.array([0.0, 0.1, 0.2, 0.3]), np.array([[3.0, 2.0, 2.0, 2.0]]) * 1e-3)
    assert found.between_readings[0] <= 2.0e-3
    flat = smallest_clearance(np.array([0.0, 0.1, 0.2]), np.array([[2.0, 2.0, 2.0]]) * 1e-3)
    assert flat.between_readings[0] == 2.0e-3


def test_valves_that_cannot_stand_so_are_named() -> None:
    faults = find_valve_faults(np.array([math.pi / 2.0, 0.3, NAN]), np.array([0.8, math.pi / 2.0, NAN]))
    assert faults == [("valve_lies_across", 0), ("seat_stands_upright", 1)]


def test_angles_given_twice_are_named_with_the_first() -> None:
    assert find_angle_faults(np.array([0.1, 0.2, 0.1, 0.3, 0.1])) == [(0, 2), (0, 4)]
    assert find_angle_faults(np.array([0.1, 0.2])) == []


@pytest.mark.parametrize(
    ("readings", "bracketed"),
    [
        # both ends of a row alike: what equals the smallest there may go on falling outside
        ((0.11, 0.10, 0.10), False),
        ((0.10, 0.10, 0.11), False),
        ((0.11, 0.10, 0.10, 0.11), True),
        ((0.10, 0.10, 0.10), False),
    ],
)
def test_a_smallest_reading_that_its_end_repeats_is_not_bracketed(
    readings: tuple[float, ...], *, bracketed: bool
) -> None:
    found = smallest_clearance(np.arange(len(readings), dtype=np.float64), np.array([readings]))
    assert found.bracketed.tolist() == [bracketed]
