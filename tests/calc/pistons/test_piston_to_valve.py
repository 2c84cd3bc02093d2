from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc import BoolArray, FloatArray
from headbench.calc.pistons import piston_to_valve
from headbench.calc.pistons.piston_to_valve import (
    ClearanceLost,
    angle_after_tilt,
    clearance_after,
    clearance_lost,
    find_angle_faults,
    find_valve_faults,
    sunk_valve,
)

INCH = 0.0254
NAN = math.nan

valve_angles = st.floats(0.0, 0.7)
drops = st.floats(-1e-3, 2e-3)


@dataclass
class Smallest:
    """The smallest clearance of several valves, a row each."""

    clearance: FloatArray
    crank_angle: FloatArray
    smallest_clearance_before: FloatArray
    bracketed: BoolArray
    spacing: FloatArray


def smallest_clearance(crank_angle: FloatArray, clearance: FloatArray) -> Smallest:
    """Every row of readings by itself, all at the same crank angles."""
    found = [piston_to_valve.smallest_clearance(crank_angle.tolist(), row.tolist()) for row in clearance]
    return Smallest(*(np.array([getattr(one, field.name) for one in found]) for field in fields(Smallest)))


def lost_flat(drop: float | list[float], valve_angle: float) -> ClearanceLost[FloatArray]:
    """What a flat cut takes: neither lean, nor diameter, nor the clearance itself matters."""
    n = np.atleast_1d(np.array(drop))
    return clearance_lost(n, np.full(n.shape, NAN), np.full(n.shape, valve_angle), NAN, NAN, 0.0)


def distance_to_line(point: complex, through: complex, direction: complex) -> float:
    """Distance of a point from a line, by the cross product; points as complex numbers."""
    return abs(((point - through).conjugate() * direction).imag) / abs(direction)


@given(st.floats(0.0, 2e-3), valve_angles)
def test_across_a_pocket_two_parallel_lines_come_nearer(drop: float, valve_angle: float) -> None:
    # own derivation in the plane of bore and valve: the valve's head and the pocket are lines square to the stem
    stem = complex(math.sin(valve_angle), math.cos(valve_angle))
    pocket, head = complex(0.0, 0.0), 5e-3 * stem
    before = distance_to_line(head, pocket, 1j * stem)
    after = distance_to_line(head - 1j * drop, pocket, 1j * stem)
    lost = lost_flat(drop, valve_angle)
    assert lost.across_pocket[0] == pytest.approx(before - after, abs=1e-15)


@given(st.floats(0.0, 2e-3), valve_angles)
def test_in_valve_travel_the_edge_meets_the_crown_sooner(drop: float, valve_angle: float) -> None:
    # own derivation: the edge runs down along the stem until it is at the crown's height
    stem = complex(math.sin(valve_angle), math.cos(valve_angle))
    edge = complex(3e-3, 6e-3)
    travel_before = edge.imag / stem.imag
    travel_after = (edge - 1j * drop).imag / stem.imag
    lost = lost_flat(drop, valve_angle)
    assert lost.in_valve_travel[0] == pytest.approx(travel_before - travel_after, abs=1e-15)
    assert lost.along_bore[0] == drop


def test_an_upright_valve_loses_the_drop_by_every_measure() -> None:
    lost = lost_flat(0.030 * INCH, 0.0)
    assert lost.along_bore[0] == lost.across_pocket[0] == lost.in_valve_travel[0]


def test_a_valve_at_twenty_degrees() -> None:
    # cos 20 degrees = 0.93969 (any table): 0.040 in becomes 0.0376 and 0.0426 in
    lost = lost_flat(0.040, math.radians(20.0))
    assert lost.across_pocket[0] == pytest.approx(0.0376, abs=5e-5)
    assert lost.in_valve_travel[0] == pytest.approx(0.0426, abs=5e-5)


@given(drops, drops, valve_angles)
def test_two_cuts_take_what_one_takes(first: float, second: float, valve_angle: float) -> None:
    parts = lost_flat([first, second], valve_angle)
    whole = lost_flat(first + second, valve_angle)
    assert parts.across_pocket.sum() == pytest.approx(whole.across_pocket[0], abs=1e-15)
    assert parts.in_valve_travel.sum() == pytest.approx(whole.in_valve_travel[0], abs=1e-15)


def turn(tilt: float) -> FloatArray:
    """How the head turns about the crank's direction: with a positive tilt its intake side (+x) goes down."""
    c, s = math.cos(tilt), math.sin(tilt)
    return np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])


def put_on_block(points: FloatArray, tilt: float, depth_at_0: float) -> FloatArray:
    """Points of the head once its new deck z = depth_at_0 + x tan(tilt) lies on the block, z = 0, held at x = 0."""
    return np.asarray((points - np.array([0.0, 0.0, depth_at_0])) @ turn(tilt).T, dtype=np.float64)


class RigidHead:
    """A valve's head as a ring of points round its stem, open and near its piston. Own derivation, in space.

    Axes: x across the head toward the intake face, y along the crank, z up the bore; the old deck is z = 0. The valve
    is open by as much as it is where it comes nearest, so that `center` is where its head is then.
    """

    def __init__(self, valve_angle: float, lean: float, radius: float, center: FloatArray, cant: float = 0.0) -> None:
        across = lean * math.tan(valve_angle) * math.cos(cant)
        along = math.tan(valve_angle) * math.sin(cant)
        self.stem = np.array([across, along, 1.0]) / math.hypot(across, along, 1.0)
        first = np.cross(self.stem, [0.0, 1.0, 0.0])
        first /= np.linalg.norm(first)
        second = np.cross(self.stem, first)
        round_it = np.linspace(0.0, 2.0 * math.pi, 7201)[:, np.newaxis]
        self.edge = center + radius * (np.cos(round_it) * first + np.sin(round_it) * second)

    def lost(self, tilt: float, depth_at_0: float, clearance: float) -> dict[str, float]:
        """What every measure loses, the piston's crown or pocket standing as far below the edge as it was read."""
        edge, stem = put_on_block(self.edge, tilt, depth_at_0), turn(tilt) @ self.stem
        up = np.array([0.0, 0.0, 1.0])
        crown = float(self.edge[:, 2].min()) - clearance
        crown_by_dial = float(self.edge[:, 2].min()) - clearance * float(self.stem @ up)
        pocket = float((self.edge @ self.stem).min()) - clearance
        return {
            "along_bore": clearance - (float(edge[:, 2].min()) - crown),
            "across_pocket": clearance - (float((edge @ self.stem).min()) - pocket),
            "in_valve_travel": clearance - (float(edge[:, 2].min()) - crown_by_dial) / float(stem @ up),
        }


leans = st.sampled_from([1.0, -1.0])
tilts = st.floats(-0.06, 0.06)


@given(valve_angles, leans, tilts, st.floats(0.010, 0.030), st.floats(-0.05, 0.05), st.floats(0.5e-3, 6e-3))
def test_an_angle_cut_takes_what_a_rigid_head_loses(
    valve_angle: float, lean: float, tilt: float, radius: float, across: float, clearance: float
) -> None:
    # the ring stands at the old deck's height; what is left out beside it is of second order
    head = RigidHead(valve_angle, lean, radius, np.array([across, 0.0, 0.0]))
    depth_at_0 = 1.5e-3
    drop = depth_at_0 + across * math.tan(tilt)
    expected = head.lost(tilt, depth_at_0, clearance)
    lost = clearance_lost(np.array([drop]), np.array([clearance]), valve_angle, lean, 2.0 * radius, tilt)
    # the drop, and the place across as far as the valve leans, shrink by 1 - cos; the ring is drawn by 7200 points;
    # held at x = 0, a deck that went down by 1.5 mm swings a point of it sideways by that times sin
    second_order = (1.0 - math.cos(tilt)) * (abs(drop) + abs(across)) + 2.0 * radius * (math.pi / 7200.0) ** 2
    sideways = abs(depth_at_0 * math.sin(tilt))
    allowed = {
        "along_bore": second_order,
        "across_pocket": second_order + sideways * math.sin(valve_angle),
        "in_valve_travel": second_order / math.cos(abs(valve_angle) + abs(tilt)),
    }
    for measure, value in expected.items():
        assert getattr(lost, measure)[0] == pytest.approx(value, abs=1.01 * allowed[measure] + 1e-12), measure


@given(valve_angles, leans, tilts)
def test_a_stem_turns_with_the_head(valve_angle: float, lean: float, tilt: float) -> None:
    # own derivation: the stem's direction turned by the matrix, its angle by the arctangent
    stem = turn(tilt) @ RigidHead(valve_angle, lean, 0.02, np.zeros(3)).stem
    expected = math.atan2(lean * stem[0], stem[2])
    after = float(angle_after_tilt(np.array([valve_angle]), lean, tilt)[0])
    assert abs(after) == pytest.approx(abs(expected), abs=1e-12)
    if valve_angle > 0.0:
        assert after == pytest.approx(expected, abs=1e-12)


@given(st.floats(0.1, 0.5), leans, st.floats(-0.04, 0.04), st.floats(-0.2, 0.2))
def test_a_valve_canted_along_the_crank_loses_as_good_as_the_same(
    valve_angle: float, lean: float, tilt: float, cant: float
) -> None:
    # leaning by 11 degrees less than straight across, its edge dips r tilt (1 - cos 11 deg) less to first order
    radius = 0.025
    head = RigidHead(valve_angle, lean, radius, np.zeros(3), cant)
    lost = clearance_lost(np.array([0.0]), np.array([2e-3]), valve_angle, lean, 2.0 * radius, tilt)
    first = radius * abs(tilt) * (1.0 - math.cos(cant))
    second = radius * tilt**2
    assert lost.along_bore[0] == pytest.approx(head.lost(tilt, 0.0, 2e-3)["along_bore"], abs=first + second + 1e-8)


def test_the_edge_of_a_valve_that_leans_with_its_head_decides() -> None:
    # by hand, inches: 0.030 at 3.0 and tan 1 = 0.017455 an inch make 0.047455 at 4.0; radius 1.01 and
    # sin 16 - sin 15 = 0.275637 - 0.258819 dip another 0.016986; away from the intake sin 14 = 0.241922 gives 0.017066
    # back; a pocket: 0.047455 cos 15 + 1.01 sin 1 = 0.045838 + 0.017627
    drop, read = np.full(2, 0.047455), np.full(2, 0.130)
    lost = clearance_lost(drop, read, math.radians(15.0), np.array([1.0, -1.0]), 2.02, math.radians(1.0))
    assert lost.along_bore == pytest.approx(np.array([0.064441, 0.030389]), abs=2e-6)
    assert lost.across_pocket == pytest.approx(np.full(2, 0.063465), abs=2e-6)


def test_an_upright_valve_leans_by_the_tilt_whichever_way_it_is_said_to_lean() -> None:
    after = angle_after_tilt(np.zeros(3), np.array([1.0, -1.0, NAN]), math.radians(-1.0))
    assert after == pytest.approx(np.full(3, math.radians(1.0)), rel=1e-12)


@pytest.mark.parametrize("missing", ["lean", "head_diameter"])
def test_what_an_angle_cut_asks_for_leaves_the_loss_open(missing: str) -> None:
    known = {"lean": 1.0, "head_diameter": 0.05} | {missing: NAN}
    lost = clearance_lost(np.array([1e-3]), np.array([3e-3]), np.array([0.3]), tilt=0.02, **known)
    assert math.isnan(lost.along_bore[0])
    assert math.isnan(lost.in_valve_travel[0])
    # a pocket lies as the valve's head did: whichever way that leans, it tips by the tilt
    assert math.isnan(lost.across_pocket[0]) == (missing == "head_diameter")


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
    assert (found.smallest_clearance_before <= found.clearance).all()


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
    assert found.smallest_clearance_before[0] == pytest.approx(least * 1e-3, rel=1e-7)


def true_clearance(crank_angle: FloatArray) -> FloatArray:
    """Valve travel to a flat crown, inches: a crank of 3.5 stroke and 6.0 rod, a lift of 0.6 sin^2 from 45 BTDC on."""
    down = 1.75 * (1.0 - np.cos(crank_angle)) + 6.0 - np.sqrt(36.0 - np.square(1.75 * np.sin(crank_angle)))
    open_part = np.clip((crank_angle + math.radians(45.0)) / math.radians(300.0), 0.0, 1.0)
    return np.asarray(0.3 + down - 0.6 * np.square(np.sin(np.pi * open_part)), dtype=np.float64)


@pytest.mark.parametrize(("step", "allowed"), [(5, 0.00005), (10, 0.0002), (20, 0.002)])
def test_close_readings_find_what_lies_between_them(step: int, allowed: float) -> None:
    # own derivation: the curve itself, read at every hundredth of a degree, against readings that start anywhere
    least = float(true_clearance(np.deg2rad(np.arange(-60.0, 80.0, 0.01))).min())
    for start in range(-60, -60 + step):
        angle = np.deg2rad(np.arange(start, 80.0, step))
        found = smallest_clearance(angle, true_clearance(angle)[np.newaxis])
        assert found.smallest_clearance_before[0] == pytest.approx(least, abs=allowed)
        assert found.spacing[0] == pytest.approx(math.radians(step), rel=1e-9)


@given(st.permutations(range(6)))
def test_the_order_of_the_readings_does_not_matter(order: list[int]) -> None:
    angle = np.array([-0.2, -0.1, 0.0, 0.1, 0.2, 0.3])
    reading = np.array([[3.0, 2.4, NAN, 2.5, 2.9, 4.0]]) * 1e-3
    one, other = smallest_clearance(angle, reading), smallest_clearance(angle[order], reading[:, order])
    assert one.clearance == other.clearance
    assert one.crank_angle == other.crank_angle
    assert one.smallest_clearance_before == pytest.approx(other.smallest_clearance_before, rel=1e-12)


def test_a_reading_not_taken_is_stepped_over() -> None:
    with_hole = smallest_clearance(np.array([0.0, 0.1, 0.2, 0.3]), np.array([[3.0, NAN, 2.0, 2.6]]) * 1e-3)
    without = smallest_clearance(np.array([0.0, 0.2, 0.3]), np.array([[3.0, 2.0, 2.6]]) * 1e-3)
    assert with_hole.smallest_clearance_before == pytest.approx(without.smallest_clearance_before, rel=1e-12)
    assert with_hole.bracketed[0]


@pytest.mark.parametrize(
    "readings", [[1.0, 2.0, 3.0], [3.0, 2.0, 1.0], [NAN, 1.0, 2.0], [1.0, 1.1, 3.0], [3.0, 1.1, 1.0]]
)
def test_a_smallest_reading_at_the_end_is_told_as_open(readings: list[float]) -> None:
    found = smallest_clearance(np.array([0.0, 0.1, 0.2]), np.array([readings]) * 1e-3)
    assert not found.bracketed[0]
    assert found.smallest_clearance_before[0] == found.clearance[0] == pytest.approx(1e-3)


def test_two_readings_at_one_angle_prove_nothing() -> None:
    found = piston_to_valve.smallest_clearance([0.0, 0.1, 0.1, 0.2], [3.0e-3, 2.0e-3, 2.5e-3, 3.0e-3])
    assert (found.smallest_clearance_before, found.bracketed) == (2.0e-3, False)


def test_clay_gives_one_reading_and_nothing_between() -> None:
    found = smallest_clearance(np.array([0.1]), np.array([[2.0e-3], [NAN]]))
    assert found.clearance[0] == found.smallest_clearance_before[0] == 2.0e-3
    assert found.crank_angle[0] == 0.1
    assert math.isnan(found.clearance[1])
    assert math.isnan(found.crank_angle[1])
    assert not found.bracketed.any()


def test_equal_readings_bend_nowhere() -> None:
    found = smallest_clearance(np.array([0.0, 0.1, 0.2, 0.3]), np.array([[3.0, 2.0, 2.0, 2.0]]) * 1e-3)
    assert found.smallest_clearance_before[0] <= 2.0e-3
    flat = smallest_clearance(np.array([0.0, 0.1, 0.2]), np.array([[2.0, 2.0, 2.0]]) * 1e-3)
    assert flat.smallest_clearance_before[0] == 2.0e-3


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
