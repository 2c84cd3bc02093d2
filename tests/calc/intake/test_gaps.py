from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.rigid_v import Head, V

from headbench.calc import FloatArray
from headbench.calc.intake.gaps import (
    cuts_from_readings,
    face_gaps,
    sealing_from_readings,
    seated,
)

MM = 1e-3
STEP, HOLE_STEP = 0.025 * MM, 0.25 * MM
NAN = math.nan

gaps = st.lists(st.floats(0.0, 1.0), min_size=8, max_size=8).map(lambda flat: np.array(flat).reshape(2, 2, 2) * MM)
small = st.floats(-0.2, 0.2)
half_angles = st.floats(math.radians(20.0), math.radians(55.0))
angles = st.tuples(half_angles, st.floats(math.radians(-9.0), math.radians(20.0)))

# front and rear, top and bottom as seen from the middle of the face
END = np.array([[0.5, 0.5], [-0.5, -0.5]])
EDGE = np.array([[0.5, -0.5], [0.5, -0.5]])


def both(left: FloatArray, right: FloatArray) -> FloatArray:
    return np.stack([left, right])


def banked(angle: tuple[float, float]) -> tuple[float, float]:
    """Half the bank angle, as the derivations here take it, to the whole."""
    return 2.0 * angle[0], angle[1]


def saddle_of(corners: FloatArray) -> FloatArray:
    """How far the diagonals of each face miss one another; 0 for a flat cut."""
    return np.asarray(corners[:, 0, 0] + corners[:, 1, 1] - corners[:, 0, 1] - corners[:, 1, 0])


def test_a_parallel_gap_has_neither_taper_nor_twist() -> None:
    found = face_gaps(np.full((2, 2, 2), 0.3 * MM))
    assert found.gap == pytest.approx(np.full(2, 0.3 * MM), rel=1e-12)
    assert found.taper.tolist() == found.twist.tolist() == found.warp.tolist() == [0.0, 0.0]


SQUARE = math.radians(90.0), 0.0


def test_a_face_open_at_the_top_is_cut_at_the_bottom() -> None:
    # by hand: 0.25 mm at the top and 0.05 mm at the bottom of the right face, front and rear alike
    right = np.array([[0.25, 0.05], [0.25, 0.05]]) * MM
    readings = both(np.zeros((2, 2)), right)
    assert face_gaps(readings).taper == pytest.approx(np.array([0.0, 0.2 * MM]), abs=1e-15)
    found = sealing_from_readings(readings, np.zeros(2), *SQUARE)
    assert found.face_cut[1] == pytest.approx(np.array([0.0, 0.2, 0.0, 0.2]) * MM, abs=1e-15)
    # 0.25 mm on one side closes half by coming down and half sideways, at 45 degrees: 0.25/sqrt 2 each
    assert found.seat.drop == pytest.approx(0.25 / math.sqrt(2.0) * MM, rel=1e-12)
    assert found.seat.sideways == pytest.approx(0.25 / math.sqrt(2.0) * MM, rel=1e-12)


@given(small, small, small, small)
def test_gap_taper_twist_and_warp_come_back_from_the_corners_they_make(
    gap: float, taper: float, twist: float, warp: float
) -> None:
    # own derivation: corners built from a plane and a saddle
    corners = (gap + taper * EDGE + twist * END + 4.0 * warp * EDGE * END) * MM
    found = face_gaps(both(corners, np.zeros((2, 2))))
    for value, expected in ((found.gap, gap), (found.taper, taper), (found.twist, twist), (found.warp, warp)):
        assert value[0] == pytest.approx(expected * MM, abs=1e-15)


@given(gaps)
def test_after_the_wedge_only_the_warp_is_left_of_the_differences(feeler: FloatArray) -> None:
    found = sealing_from_readings(feeler, np.zeros(2), *SQUARE).face_cut.reshape(2, 2, 2)
    after = feeler + found
    middle = after.mean(axis=(1, 2), keepdims=True)
    warp = np.abs(face_gaps(feeler).warp)[:, np.newaxis, np.newaxis]
    assert np.abs(after - middle) == pytest.approx(np.broadcast_to(warp, (2, 2, 2)), abs=1e-15)
    assert (found >= 0.0).all()
    # and the wedge is flat: its diagonals meet
    assert saddle_of(found) == pytest.approx(np.zeros(2), abs=1e-15)
    # nothing off the corner that stays
    assert found.reshape(2, 4).min(axis=1).tolist() == [0.0, 0.0]


@given(gaps)
def test_the_plane_is_the_least_squares_plane(feeler: FloatArray) -> None:
    # referee: numpy's least squares over the four corners of the left face
    design = np.column_stack([np.ones(4), EDGE.ravel(), END.ravel()])
    solution = np.linalg.lstsq(design, feeler[0].ravel(), rcond=None)[0]
    found = face_gaps(feeler)
    assert [found.gap[0], found.taper[0], found.twist[0]] == pytest.approx(solution, abs=1e-15)


@given(gaps)
def test_the_mirrored_engine_reads_mirrored(feeler: FloatArray) -> None:
    one, other = face_gaps(feeler), face_gaps(feeler[::-1])
    assert np.array_equal(one.taper, other.taper[::-1])
    assert one.manifold_tilt == -other.manifold_tilt


def test_a_manifold_askew_opens_one_side_at_the_top_and_the_other_at_the_bottom() -> None:
    # by hand: +0.1 mm taper right and -0.1 mm left is all tilt; +0.1 mm on both sides is none
    askew = both(-0.1 * MM * EDGE + 0.2 * MM, 0.1 * MM * EDGE + 0.2 * MM)
    assert face_gaps(askew).manifold_tilt == pytest.approx(0.1 * MM, abs=1e-15)
    alike = both(0.1 * MM * EDGE + 0.2 * MM, 0.1 * MM * EDGE + 0.2 * MM)
    assert face_gaps(alike).manifold_tilt == pytest.approx(0.0, abs=1e-15)


def test_with_one_end_unread_the_other_speaks_for_the_taper_alone() -> None:
    right = np.array([[0.25, 0.05], [NAN, NAN]]) * MM
    readings = both(np.zeros((2, 2)), right)
    found = face_gaps(readings)
    assert found.taper[1] == pytest.approx(0.2 * MM, rel=1e-12)
    assert np.isnan([found.gap[1], found.twist[1], found.warp[1]]).all()
    assert np.isnan(sealing_from_readings(readings, np.zeros(2), *SQUARE).face_cut[1]).all()
    assert np.isnan(seated(readings, np.zeros(2), 0.0, *SQUARE).gap).all()


def test_a_face_not_felt_is_unknown_throughout() -> None:
    found = face_gaps(both(np.zeros((2, 2)), np.full((2, 2), NAN)))
    for value in (found.gap, found.taper, found.twist, found.warp):
        assert value[0] == 0.0
        assert math.isnan(value[1])


def uncut_readings(angle: tuple[float, float], head_drop: tuple[float, float]) -> tuple[FloatArray, FloatArray]:
    """Gap and misalignment of both faces after the heads came down, manifold where it was.

    Own derivation: the movement of each head, taken apart along and out of its face by dividing through the
    direction of the face.
    """
    half_angle, face_tilt = angle
    gap, misalignment = [], []
    for side, amount in zip((-1.0, 1.0), head_drop, strict=True):
        movement = -amount * complex(side * math.sin(half_angle), math.cos(half_angle))
        up = complex(side * math.sin(half_angle + face_tilt), math.cos(half_angle + face_tilt))
        in_face = movement / up
        misalignment.append(-in_face.real)
        # out of the face lies left of upward on the right bank and right of it on the left one
        gap.append(-side * in_face.imag)
    return np.array(gap), np.array(misalignment)


@given(angles, st.tuples(st.floats(0.0, 2e-3), st.floats(0.0, 2e-3)))
def test_cuts_from_readings_put_the_manifold_on_both_faces(
    angle: tuple[float, float], head_drop: tuple[float, float]
) -> None:
    gap, misalignment = uncut_readings(angle, head_drop)
    cuts = cuts_from_readings(np.tile(gap[:, np.newaxis, np.newaxis], (1, 2, 2)), misalignment, *banked(angle))
    # own derivation: the heads' holes, their faces cut, must lie where the moved manifold's are
    for bank, side in enumerate((-1.0, 1.0)):
        movement = -head_drop[bank] * complex(side * math.sin(angle[0]), math.cos(angle[0]))
        up = complex(side * math.sin(sum(angle)), math.cos(sum(angle)))
        head = movement - cuts.face_cut[bank, 0, 0] * up * 1j * side
        assert abs(head - complex(cuts.seat.sideways, -cuts.seat.drop)) < 1e-14


def test_a_ninety_degree_v_with_faces_ten_degrees_up() -> None:
    # factors 1.2328 and 1.7170 per unit of head_drop (own derivation by vectors); uncut n sin a and n cos a
    angle = math.radians(90.0), math.radians(10.0)
    feeler = np.full((2, 2, 2), math.sin(angle[1]) * MM)
    cuts = cuts_from_readings(feeler, np.full(2, math.cos(angle[1]) * MM), *angle)
    assert cuts.face_cut / MM == pytest.approx(np.full((2, 2, 2), 1.2328), abs=5e-5)
    assert cuts.seat.drop / MM == pytest.approx(1.7170, abs=5e-5)
    assert cuts.missing.tolist() == [0.0, 0.0]


@given(gaps)
def test_taper_that_was_felt_is_cut_out_with_the_rest(feeler: FloatArray) -> None:
    angle = math.radians(90.0), 0.0
    cuts = cuts_from_readings(feeler, np.full(2, 1.0 * MM), *angle)
    assert saddle_of(cuts.face_cut) == pytest.approx(np.zeros(2), abs=1e-15)
    plane = feeler + cuts.face_cut
    # everything but the warp of each face is the same all over
    assert np.ptp(plane.reshape(2, 4), axis=1) == pytest.approx(2.0 * np.abs(face_gaps(feeler).warp), abs=1e-15)


def test_holes_in_line_but_faces_open_means_metal_is_missing() -> None:
    cuts = cuts_from_readings(np.full((2, 2, 2), 0.2 * MM), np.zeros(2), math.radians(90.0), 0.0)
    assert cuts.missing == pytest.approx(np.full(2, 0.2 * MM), rel=1e-12)


def test_holes_not_measured_leave_the_cuts_unknown() -> None:
    cuts = cuts_from_readings(np.zeros((2, 2, 2)), np.array([NAN, 1.0 * MM]), 0.7, 0.1)
    assert np.isnan(cuts.face_cut).all()
    assert math.isnan(cuts.seat.drop)
    assert np.isnan(cuts.missing).all()


bank_angles = st.tuples(st.floats(20.0, 110.0), st.floats(-9.0, 20.0))
"""Bank angle and face tilt in degrees."""
drops = st.tuples(st.floats(-0.5, 2.0), st.floats(-0.5, 2.0))
moves = st.floats(-1.0, 1.0)


def felt(v: V) -> tuple[FloatArray, FloatArray]:
    """Gap at the middle of both faces and misalignment, from millimeters."""
    return v.gaps().mean(axis=1) * MM, v.holes() * MM


def in_radians(v: V) -> tuple[float, float]:
    return math.radians(v.bank_angle), math.radians(v.face_tilt)


@given(bank_angles, drops, moves, moves, st.floats(0.0, 3.0), st.floats(0.0, 1.0))
def test_a_manifold_pushed_home_sits_where_rigid_bodies_come_to_rest(
    angle: tuple[float, float], drop: tuple[float, float], sideways: float, down: float, gasket: float, room: float
) -> None:
    as_felt = V(*angle, Head(drop[0]), Head(drop[1]), gasket=gasket, sideways=sideways, drop=down)
    home = as_felt.at_rest(down + room)
    corners = np.repeat(as_felt.gaps()[:, np.newaxis, :], 2, axis=1) * MM
    found = seated(corners, as_felt.holes() * MM, room * MM, *in_radians(as_felt))
    assert found.gap == pytest.approx(home.gaps().mean(axis=1) * MM, abs=1e-9)
    assert found.misalignment == pytest.approx(home.holes() * MM, abs=1e-9)
    assert found.rail_gap == pytest.approx((down + room - home.drop) * MM, abs=1e-9)
    assert found.rail_gap >= -1e-15


@given(bank_angles, st.floats(-0.3, 0.3))
def test_a_cocked_manifold_is_told_from_faces_by_tapers_that_oppose(angle: tuple[float, float], cock: float) -> None:
    # own derivation: the manifold's face turns by the cock, its edges by the width times the sine of that
    v = V(*angle, cock=cock)
    corners = np.repeat(v.gaps()[:, np.newaxis, :], 2, axis=1) * MM
    assert face_gaps(corners).manifold_tilt == pytest.approx(v.width * math.sin(math.radians(cock)) * MM, abs=1e-12)


def test_on_its_rails_a_manifold_is_shifted_until_faces_or_bolts_are_served() -> None:
    # by hand in a 90-degree V: tapered 0.4 mm on the left, means 0.5 and 0.3 and least gaps 0.3 each; sideways by
    # 0.1 sqrt 2 to the left makes both 0.4, well inside the 0.3 sqrt 2 either way that the faces leave
    corners = both(np.array([[0.7, 0.3]] * 2), np.array([[0.3, 0.3]] * 2)) * MM
    found = seated(corners, np.array([0.8, 0.4]) * MM, 0.0, *SQUARE)
    assert found.gap == pytest.approx(np.full(2, 0.4) * MM, rel=1e-12)
    assert found.seat.sideways == pytest.approx(-0.1 * math.sqrt(2.0) * MM, rel=1e-12)
    assert (found.held_open, found.held_up) == pytest.approx((0.3 * MM, 0.3 * math.sqrt(2.0) * MM), rel=1e-12)
    # that takes the holes 0.1 mm further apart; bolts enter best with both 0.6 out
    assert found.misalignment == pytest.approx(np.array([0.9, 0.3]) * MM, rel=1e-12)
    assert found.entry == pytest.approx(np.array([0.6, 0.6]) * MM, rel=1e-12)
    # holes further apart than the faces let it shift: 0.3 mm along each is all
    far = seated(corners, np.array([2.0, 0.0]) * MM, 0.0, *SQUARE)
    assert far.entry == pytest.approx(np.array([1.7, 0.3]) * MM, rel=1e-12)
    # on its faces it is not free at all
    down = seated(corners, np.array([0.8, 0.4]) * MM, 1.0 * MM, *SQUARE)
    assert down.entry == pytest.approx(down.misalignment, abs=1e-15)
    assert down.held_open == pytest.approx(0.0, abs=1e-15)
    assert np.isnan(seated(corners, np.array([NAN, 0.0]), 0.0, *SQUARE).entry).all()


def test_a_thick_gasket_lifts_the_manifold_and_its_bolt_holes() -> None:
    # by hand: faces touch as measured, a gasket of 1.5 mm goes between: at 45 degrees the manifold rises 1.5 sqrt 2 and
    # its holes slide 1.5 mm up each face
    found = seated(np.full((2, 2, 2), -1.5 * MM), np.zeros(2), 0.0, *SQUARE)
    assert found.gap == pytest.approx(np.zeros(2), abs=1e-15)
    assert found.misalignment == pytest.approx(np.full(2, 1.5 * MM), rel=1e-12)
    assert found.rail_gap == pytest.approx(1.5 * math.sqrt(2.0) * MM, rel=1e-12)


def test_between_upright_faces_one_height_serves_both_sides_or_none() -> None:
    upright = math.radians(90.0), -math.radians(45.0)
    gaps_apart = both(np.full((2, 2), 0.4 * MM), np.full((2, 2), 0.2 * MM))
    # by hand: 1 mm down brings both sides' holes in line; the manifold in the middle, 0.3 mm is open on each side
    alike = cuts_from_readings(gaps_apart, np.full(2, 1.0 * MM), *upright)
    assert (alike.seat.sideways, alike.seat.drop) == pytest.approx((-0.1 * MM, 1.0 * MM), abs=1e-15)
    assert alike.missing == pytest.approx(np.full(2, 0.3 * MM), rel=1e-12)
    unlike = cuts_from_readings(gaps_apart, np.array([1.0, 0.5]) * MM, *upright)
    assert np.isnan(unlike.face_cut).all()
    # too wide by 0.2 mm a side: it does not go in, and that is told as an overlap
    wide = seated(np.full((2, 2, 2), -0.2 * MM), np.zeros(2), 1.0 * MM, *upright)
    assert wide.gap == pytest.approx(np.full(2, -0.2 * MM), rel=1e-12)
