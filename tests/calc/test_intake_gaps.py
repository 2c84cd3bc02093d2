from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc import FloatArray
from headbench.calc.intake_gaps import against_milling, cuts_from_readings, face_gaps

MM = 1e-3
STEP = 0.025 * MM
NAN = math.nan

gaps = st.lists(st.floats(0.0, 1.0), min_size=8, max_size=8).map(lambda flat: np.array(flat).reshape(2, 2, 2) * MM)
small = st.floats(-0.2, 0.2)
half_angles = st.floats(math.radians(20.0), math.radians(55.0))
angles = st.tuples(half_angles, st.floats(math.radians(-9.0), math.radians(20.0)))
leaning_back = st.tuples(half_angles, st.floats(0.0, math.radians(20.0)))
"""Faces that open as the head comes down, so that the manifold stays on its rails."""

# front and rear, top and bottom as seen from the middle of the face
END = np.array([[0.5, 0.5], [-0.5, -0.5]])
EDGE = np.array([[0.5, -0.5], [0.5, -0.5]])


def both(left: FloatArray, right: FloatArray) -> FloatArray:
    return np.stack([left, right])


def saddle_of(corners: FloatArray) -> FloatArray:
    """How far the diagonals of each face miss one another; 0 for a flat cut."""
    return np.asarray(corners[:, 0, 0] + corners[:, 1, 1] - corners[:, 0, 1] - corners[:, 1, 0])


def test_a_parallel_gap_has_neither_taper_nor_twist() -> None:
    found = face_gaps(np.full((2, 2, 2), 0.3 * MM), STEP)
    assert found.gap == pytest.approx(np.full(2, 0.3 * MM), rel=1e-12)
    assert found.taper.tolist() == found.twist.tolist() == found.warp.tolist() == [0.0, 0.0]
    assert not found.out_of_true.any()
    assert found.cut_to_parallel.max() == 0.0


def test_a_face_open_at_the_top_is_cut_at_the_bottom() -> None:
    # by hand: 0.25 mm at the top and 0.05 mm at the bottom of the right face, front and rear alike
    right = np.array([[0.25, 0.05], [0.25, 0.05]]) * MM
    found = face_gaps(both(np.zeros((2, 2)), right), STEP)
    assert found.out_of_true.tolist() == [False, True]
    assert found.taper == pytest.approx(np.array([0.0, 0.2 * MM]), abs=1e-15)
    assert found.cut_to_parallel[1] == pytest.approx(np.array([[0.0, 0.2], [0.0, 0.2]]) * MM, abs=1e-15)
    assert found.parallel_gap == pytest.approx(np.array([0.0, 0.25 * MM]), abs=1e-15)


@given(small, small, small, small)
def test_gap_taper_twist_and_warp_come_back_from_the_corners_they_make(
    gap: float, taper: float, twist: float, warp: float
) -> None:
    # own derivation: corners built from a plane and a saddle
    corners = (gap + taper * EDGE + twist * END + 4.0 * warp * EDGE * END) * MM
    found = face_gaps(both(corners, np.zeros((2, 2))), STEP)
    for value, expected in ((found.gap, gap), (found.taper, taper), (found.twist, twist), (found.warp, warp)):
        assert value[0] == pytest.approx(expected * MM, abs=1e-15)


@given(gaps)
def test_after_the_wedge_only_the_warp_is_left_of_the_differences(feeler: FloatArray) -> None:
    found = face_gaps(feeler, STEP)
    after = feeler + found.cut_to_parallel
    off = np.abs(after - found.parallel_gap[:, np.newaxis, np.newaxis])
    assert off == pytest.approx(np.broadcast_to(np.abs(found.warp)[:, np.newaxis, np.newaxis], (2, 2, 2)), abs=1e-15)
    assert (found.cut_to_parallel >= 0.0).all()
    # and the wedge is flat: its diagonals meet
    assert saddle_of(found.cut_to_parallel) == pytest.approx(np.zeros(2), abs=1e-15)
    # nothing off the corner that stays
    assert found.cut_to_parallel.reshape(2, 4).min(axis=1).tolist() == [0.0, 0.0]


@given(gaps)
def test_the_plane_is_the_least_squares_plane(feeler: FloatArray) -> None:
    # referee: numpy's least squares over the four corners of the left face
    design = np.column_stack([np.ones(4), EDGE.ravel(), END.ravel()])
    solution = np.linalg.lstsq(design, feeler[0].ravel(), rcond=None)[0]
    found = face_gaps(feeler, STEP)
    assert [found.gap[0], found.taper[0], found.twist[0]] == pytest.approx(solution, abs=1e-15)


@given(gaps)
def test_the_mirrored_engine_reads_mirrored(feeler: FloatArray) -> None:
    one, other = face_gaps(feeler, STEP), face_gaps(feeler[::-1], STEP)
    assert np.array_equal(one.taper, other.taper[::-1])
    assert one.manifold_tilt == -other.manifold_tilt


def test_a_manifold_askew_opens_one_side_at_the_top_and_the_other_at_the_bottom() -> None:
    # by hand: +0.1 mm taper right and -0.1 mm left is all tilt; +0.1 mm on both sides is none
    askew = both(-0.1 * MM * EDGE + 0.2 * MM, 0.1 * MM * EDGE + 0.2 * MM)
    assert face_gaps(askew, STEP).manifold_tilt == pytest.approx(0.1 * MM, abs=1e-15)
    alike = both(0.1 * MM * EDGE + 0.2 * MM, 0.1 * MM * EDGE + 0.2 * MM)
    assert face_gaps(alike, STEP).manifold_tilt == pytest.approx(0.0, abs=1e-15)


def test_with_one_end_unread_the_other_speaks_for_the_taper_alone() -> None:
    right = np.array([[0.25, 0.05], [NAN, NAN]]) * MM
    found = face_gaps(both(np.zeros((2, 2)), right), STEP)
    assert found.taper[1] == pytest.approx(0.2 * MM, rel=1e-12)
    assert np.isnan([found.gap[1], found.twist[1], found.warp[1], found.parallel_gap[1]]).all()
    assert np.isnan(found.cut_to_parallel[1]).all()
    assert found.out_of_true.tolist() == [False, True]


def test_a_face_not_felt_is_unknown_throughout() -> None:
    found = face_gaps(both(np.zeros((2, 2)), np.full((2, 2), NAN)), STEP)
    for value in (found.gap, found.taper, found.twist, found.warp, found.parallel_gap):
        assert value[0] == 0.0
        assert math.isnan(value[1])
    assert not found.out_of_true[1]


def uncut_readings(angle: tuple[float, float], approach: tuple[float, float]) -> tuple[FloatArray, FloatArray]:
    """Gap and misalignment of both faces after the heads came down, manifold where it was.

    Own derivation: the movement of each head, taken apart along and out of its face by dividing through the
    direction of the face.
    """
    half_angle, face_tilt = angle
    gap, misalignment = [], []
    for side, amount in zip((-1.0, 1.0), approach, strict=True):
        movement = -amount * complex(side * math.sin(half_angle), math.cos(half_angle))
        up = complex(side * math.sin(half_angle + face_tilt), math.cos(half_angle + face_tilt))
        in_face = movement / up
        misalignment.append(-in_face.real)
        # out of the face lies left of upwards on the right bank and right of it on the left one
        gap.append(-side * in_face.imag)
    return np.array(gap), np.array(misalignment)


@given(angles, st.tuples(st.floats(0.0, 2e-3), st.floats(0.0, 2e-3)))
def test_cuts_from_readings_put_the_manifold_on_both_faces(
    angle: tuple[float, float], approach: tuple[float, float]
) -> None:
    gap, misalignment = uncut_readings(angle, approach)
    cuts = cuts_from_readings(np.tile(gap[:, np.newaxis, np.newaxis], (1, 2, 2)), misalignment, *angle)
    # own derivation: the heads' holes, their faces cut, must lie where the moved manifold's are
    for bank, side in enumerate((-1.0, 1.0)):
        movement = -approach[bank] * complex(side * math.sin(angle[0]), math.cos(angle[0]))
        up = complex(side * math.sin(sum(angle)), math.cos(sum(angle)))
        head = movement - cuts.face_cut[bank, 0, 0] * up * 1j * side
        assert abs(head - complex(cuts.sideways, -cuts.drop)) < 1e-14


def test_a_ninety_degree_v_with_faces_ten_degrees_up() -> None:
    # factors 1.2328 and 1.7170 per unit of approach (own derivation by vectors); uncut n sin a and n cos a
    angle = math.radians(45.0), math.radians(10.0)
    feeler = np.full((2, 2, 2), math.sin(angle[1]) * MM)
    cuts = cuts_from_readings(feeler, np.full(2, math.cos(angle[1]) * MM), *angle)
    assert cuts.face_cut / MM == pytest.approx(np.full((2, 2, 2), 1.2328), abs=5e-5)
    assert cuts.drop / MM == pytest.approx(1.7170, abs=5e-5)
    assert cuts.missing.tolist() == [0.0, 0.0]


@given(gaps)
def test_taper_that_was_felt_is_cut_out_with_the_rest(feeler: FloatArray) -> None:
    angle = math.radians(45.0), 0.0
    cuts = cuts_from_readings(feeler, np.full(2, 1.0 * MM), *angle)
    assert saddle_of(cuts.face_cut) == pytest.approx(np.zeros(2), abs=1e-15)
    plane = feeler + cuts.face_cut
    # everything but the warp of each face is the same all over
    assert np.ptp(plane.reshape(2, 4), axis=1) == pytest.approx(2.0 * np.abs(face_gaps(feeler, STEP).warp), abs=1e-15)


def test_holes_in_line_but_faces_open_means_metal_is_missing() -> None:
    cuts = cuts_from_readings(np.full((2, 2, 2), 0.2 * MM), np.zeros(2), math.radians(45.0), 0.0)
    assert cuts.missing == pytest.approx(np.full(2, 0.2 * MM), rel=1e-12)


def test_holes_not_measured_leave_the_cuts_unknown() -> None:
    cuts = cuts_from_readings(np.zeros((2, 2, 2)), np.array([NAN, 1.0 * MM]), 0.7, 0.1)
    assert np.isnan(cuts.face_cut).all()
    assert math.isnan(cuts.drop)
    assert np.isnan(cuts.missing).all()


@given(leaning_back, st.tuples(st.floats(0.0, 2e-3), st.floats(0.0, 2e-3)))
def test_readings_of_a_head_that_only_came_down_imply_its_approach(
    angle: tuple[float, float], approach: tuple[float, float]
) -> None:
    gap, misalignment = uncut_readings(angle, approach)
    found = against_milling(gap, misalignment, np.array(approach), *angle)
    assert found.implied_approach == pytest.approx(np.array(approach), abs=1e-15)
    for nothing in (found.gap_excess, found.misalignment_excess, found.unexplained):
        assert nothing == pytest.approx(np.zeros(2), abs=1e-15)


@given(leaning_back, st.floats(-0.5e-3, 0.5e-3))
def test_a_head_that_also_slid_along_its_deck_is_told(angle: tuple[float, float], slid: float) -> None:
    # own derivation: a slide of the right head away from the valley, square to its bore, taken apart as above
    gap, misalignment = uncut_readings(angle, (1e-3, 1e-3))
    slide = slid * complex(math.cos(angle[0]), -math.sin(angle[0]))
    in_face = slide / complex(math.sin(sum(angle)), math.cos(sum(angle)))
    gap[1] -= in_face.imag
    misalignment[1] -= in_face.real
    found = against_milling(gap, misalignment, np.array([1e-3, 1e-3]), *angle)
    assert found.implied_approach == pytest.approx(np.full(2, 1e-3), abs=1e-15)
    assert found.unexplained == pytest.approx(np.array([0.0, slid]), abs=1e-15)


def test_a_head_milled_before_shows_as_more_than_is_known() -> None:
    gap, misalignment = uncut_readings((0.7, 0.1), (1e-3, 1.4e-3))
    found = against_milling(gap, misalignment, np.array([1e-3, 1e-3]), 0.7, 0.1)
    assert found.implied_approach - 1e-3 == pytest.approx(np.array([0.0, 0.4e-3]), abs=1e-15)
    # what the unknown cut opens and puts out, by the uncut factors n sin a and n cos a
    assert found.gap_excess[1] == pytest.approx(0.4e-3 * math.sin(0.1), rel=1e-9)
    assert found.misalignment_excess[1] == pytest.approx(0.4e-3 * math.cos(0.1), rel=1e-9)


@given(half_angles, st.floats(math.radians(-9.0), math.radians(-0.5)), st.floats(0.1e-3, 2e-3))
def test_a_manifold_that_rides_on_faces_that_meet_early_tells_the_approach(
    half_angle: float, face_tilt: float, amount: float
) -> None:
    # own derivation: raised straight up until the gap along the normal, negative in place, is none
    gap, misalignment = uncut_readings((half_angle, face_tilt), (amount, amount))
    raised = -gap / math.sin(half_angle + face_tilt)
    misalignment += raised * math.cos(half_angle + face_tilt)
    found = against_milling(np.zeros(2), misalignment, np.full(2, amount), half_angle, face_tilt)
    assert found.implied_approach == pytest.approx(np.full(2, amount), abs=1e-14)
    for nothing in (found.expected_gap, found.gap_excess, found.misalignment_excess):
        assert nothing == pytest.approx(np.zeros(2), abs=1e-14)
    assert np.isnan(found.unexplained).all()


@pytest.mark.parametrize(
    ("corners", "out"),
    # 0.3 - 0.275 is the gauge's step of 0.025 exactly, though not in binary numbers; 0.3 - 0.274 is more
    [((0.3, 0.275), False), ((0.3, 0.274), True)],
)
def test_exactly_the_gauges_step_is_not_out_of_true(corners: tuple[float, float], *, out: bool) -> None:
    face = np.array([corners, corners]) * MM
    assert face_gaps(both(face, np.zeros((2, 2))), STEP).out_of_true.tolist() == [out, False]
