from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import root
from tests.rigid_v import Head, V

from headbench.calc.intake.banks import BankCuts, HeadMoves, IntakeV, bank_cuts, bank_misfit, settled_seat
from headbench.calc.intake.faces import intake_cuts
from headbench.calc.intake.seat import ManifoldSeat

SPACING, WIDTH, HEIGHT = 0.25, 0.06, 0.055
LEVEL = ManifoldSeat(0.0, 0.0, 0.0)

angles = st.tuples(st.floats(math.radians(20.0), math.radians(55.0)), st.floats(math.radians(-9.0), math.radians(20.0)))
head_drops = st.tuples(st.floats(0.0, 2e-3), st.floats(0.0, 2e-3))
tilts = st.tuples(st.floats(-0.02, 0.02), st.floats(-0.02, 0.02))


def v_of(angle: tuple[float, float]) -> IntakeV:
    return IntakeV(2.0 * angle[0], angle[1], SPACING, WIDTH, HEIGHT)


def cut(deck_cut: Iterable[float], head_tilt: Iterable[float] = (0.0, 0.0)) -> HeadMoves:
    return HeadMoves(np.array(list(deck_cut)), np.zeros(2), np.array(list(head_tilt)))


class Face(NamedTuple):
    """Three points of an intake face."""

    top: complex
    middle: complex
    bottom: complex


def turn(angle: float) -> complex:
    return complex(math.cos(angle), math.sin(angle))


def mirrored(face: Face) -> Face:
    return Face(*(complex(-point.real, point.imag) for point in face))


def right_face(angle: tuple[float, float], head_drop: float, head_tilt: float) -> Face:
    """The right head's face after its deck has been milled and set down again.

    Own derivation, by moving points. In the head the old deck is the real axis with the valley to the left, the
    middle of the face stands over the origin. The new deck goes through `head_drop` above the origin and rises
    toward the valley with the tilt. Setting it down carries that point to the origin and its line
    onto the axis; then the bank leans right and stands where the manifold wants it.
    """
    up = turn(math.pi / 2.0 - angle[1])
    drawn = [HEIGHT * 1j + share * WIDTH * up for share in (0.5, 0.0, -0.5)]
    new_deck = -turn(-head_tilt)
    set_down = [(point - 1j * head_drop) / (new_deck / -1.0) for point in drawn]
    lean = turn(-angle[0])
    at = SPACING / 2.0 - HEIGHT * 1j * lean
    return Face(*(at + point * lean for point in set_down))


def faces(angle: tuple[float, float], head_drop: tuple[float, float], head_tilt: tuple[float, float]) -> list[Face]:
    return [mirrored(right_face(angle, head_drop[0], head_tilt[0])), right_face(angle, head_drop[1], head_tilt[1])]


def moved(face: Face, seat: ManifoldSeat) -> Face:
    return Face(*(point * turn(seat.tilt) + seat.sideways - 1j * seat.drop for point in face))


def outwards(face: Face, *, right: bool) -> complex:
    """Unit normal of a face toward the valley."""
    along = (face.top - face.bottom) / abs(face.top - face.bottom)
    return along * (1j if right else -1j)


def along(one: complex, direction: complex) -> float:
    return (one * direction.conjugate()).real


def simulated(
    angle: tuple[float, float], head_drop: tuple[float, float], head_tilt: tuple[float, float], manifold_tilt: float
) -> tuple[list[list[float]], float, float]:
    """Cuts (bank by top and bottom), shift and drop that put the middle holes of the manifold on the heads'."""
    manifold = faces(angle, (0.0, 0.0), (0.0, 0.0))
    heads = faces(angle, head_drop, head_tilt)

    def apart(unknown: np.ndarray[tuple[int], np.dtype[np.float64]]) -> list[float]:
        seat = ManifoldSeat(unknown[0], unknown[1], manifold_tilt)
        misses = []
        for bank, right in enumerate((False, True)):
            placed = moved(manifold[bank], seat)
            miss = heads[bank].middle - unknown[2 + bank] * outwards(placed, right=right) - placed.middle
            misses += [miss.real * 1e3, miss.imag * 1e3]
        return misses

    found = root(apart, [0.0, 1e-3, 1e-3, 1e-3], tol=1e-14)
    assert max(abs(miss) for miss in apart(found.x)) < 1e-12
    seat = ManifoldSeat(float(found.x[0]), float(found.x[1]), manifold_tilt)
    cuts = []
    for bank, right in enumerate((False, True)):
        placed = moved(manifold[bank], seat)
        normal = outwards(placed, right=right)
        cuts.append([along(point - placed.middle, normal) for point in (heads[bank].top, heads[bank].bottom)])
    return cuts, seat.sideways, seat.drop


def cuts_for(
    angle: tuple[float, float], head_drop: tuple[float, float], head_tilt: tuple[float, float], manifold_tilt: float
) -> BankCuts:
    return bank_cuts(v_of(angle), cut(head_drop, head_tilt), manifold_tilt)


@given(angles, head_drops, tilts, st.floats(-0.01, 0.01))
def test_the_cuts_are_those_of_the_moved_points(
    angle: tuple[float, float], head_drop: tuple[float, float], head_tilt: tuple[float, float], manifold_tilt: float
) -> None:
    found = cuts_for(angle, head_drop, head_tilt, manifold_tilt)
    cuts, sideways, drop = simulated(angle, head_drop, head_tilt, manifold_tilt)
    assert found.face_cut == pytest.approx(np.array(cuts), abs=1e-12)
    assert found.seat.sideways == pytest.approx(sideways, abs=1e-12)
    assert found.seat.drop == pytest.approx(drop, abs=1e-12)


@given(angles, head_drops, tilts, st.floats(-2e-3, 2e-3), st.floats(-2e-3, 2e-3), st.floats(-0.01, 0.01))
def test_the_misfit_is_that_of_the_moved_points(
    angle: tuple[float, float],
    head_drop: tuple[float, float],
    head_tilt: tuple[float, float],
    sideways: float,
    drop: float,
    manifold_tilt: float,
) -> None:
    seat = ManifoldSeat(sideways, drop, manifold_tilt)
    face_cut = np.array([[0.1e-3, 0.2e-3], [0.3e-3, 0.4e-3]])
    found = bank_misfit(v_of(angle), cut(head_drop, head_tilt), face_cut, seat)
    manifold, heads = faces(angle, (0.0, 0.0), (0.0, 0.0)), faces(angle, head_drop, head_tilt)
    for bank, right in enumerate((False, True)):
        placed = moved(manifold[bank], seat)
        normal = outwards(placed, right=right)
        gap = [along(placed.middle - point, normal) for point in (heads[bank].top, heads[bank].bottom)]
        assert found.gap[bank] == pytest.approx(np.array(gap) + face_cut[bank], abs=1e-14)
        up = (placed.top - placed.bottom) / abs(placed.top - placed.bottom)
        assert found.misalignment[bank] == pytest.approx(along(placed.middle - heads[bank].middle, up), abs=1e-14)


@given(angles, st.floats(0.0, 2e-3))
def test_banks_alike_need_the_cuts_of_one_face(angle: tuple[float, float], head_drop: float) -> None:
    both = cuts_for(angle, (head_drop, head_drop), (0.0, 0.0), 0.0)
    one = intake_cuts(head_drop, 2.0 * angle[0], angle[1])
    assert both.face_cut == pytest.approx(np.full((2, 2), one.face_cut), abs=1e-13)
    assert both.seat.drop == pytest.approx(one.rail_cut, abs=1e-13)
    assert both.seat.sideways == pytest.approx(0.0, abs=1e-13)


@given(angles, head_drops, tilts, st.floats(-0.01, 0.01))
def test_the_mirrored_engine_needs_the_mirrored_cuts(
    angle: tuple[float, float], head_drop: tuple[float, float], head_tilt: tuple[float, float], manifold_tilt: float
) -> None:
    one = cuts_for(angle, head_drop, head_tilt, manifold_tilt)
    other = cuts_for(angle, head_drop[::-1], head_tilt[::-1], -manifold_tilt)
    assert other.face_cut == pytest.approx(one.face_cut[::-1], abs=1e-13)
    assert other.seat.sideways == pytest.approx(-one.seat.sideways, abs=1e-13)
    assert other.seat.drop == pytest.approx(one.seat.drop, abs=1e-13)


@given(angles, head_drops, tilts)
def test_after_the_cuts_nothing_is_open_or_out_of_line(
    angle: tuple[float, float], head_drop: tuple[float, float], head_tilt: tuple[float, float]
) -> None:
    cuts = cuts_for(angle, head_drop, head_tilt, 0.005)
    left = bank_misfit(v_of(angle), cut(head_drop, head_tilt), cuts.face_cut, cuts.seat)
    assert left.gap == pytest.approx(np.zeros((2, 2)), abs=1e-15)
    assert left.misalignment == pytest.approx(np.zeros(2), abs=1e-15)


@given(angles, head_drops)
def test_unequal_flat_cuts_leave_the_faces_parallel(angle: tuple[float, float], head_drop: tuple[float, float]) -> None:
    cuts = cuts_for(angle, head_drop, (0.0, 0.0), 0.0)
    assert cuts.face_cut[:, 0] == pytest.approx(cuts.face_cut[:, 1], abs=1e-13)


@given(angles, st.floats(0.1e-3, 1e-3))
def test_two_heads_turned_the_same_way_round_only_tilt_the_manifold(angle: tuple[float, float], turned: float) -> None:
    # the left head turned toward the valley and the right one away from it: both the same way round
    cuts = cuts_for(angle, (1e-3, 1e-3), (-turned, turned), turned)
    assert cuts.face_cut[:, 0] == pytest.approx(cuts.face_cut[:, 1], abs=1e-12)


@given(angles, st.floats(0.001, 0.02))
def test_heads_turned_toward_the_valley_are_cut_deeper_at_the_top(angle: tuple[float, float], turned: float) -> None:
    cuts = cuts_for(angle, (1e-3, 1e-3), (turned, turned), 0.0)
    taper = cuts.face_cut[:, 0] - cuts.face_cut[:, 1]
    # the face turns as the head does: width times the sine of the turn (own derivation)
    assert taper == pytest.approx(np.full(2, WIDTH * math.sin(turned)), rel=1e-9)


def test_a_difference_too_large_leaves_metal_missing_on_the_bank_that_came_down_more() -> None:
    cuts = cuts_for((math.radians(45.0), 0.0), (0.0, 1.0e-3), (0.0, 0.0), 0.0)
    # by hand in a 90-degree V with square faces: T = (s, s) and (-s, s) with s = 1/sqrt 2 must carry 1 mm right and
    # 0 left, so the manifold goes s mm left and s mm down, straight along the left face; the right face is
    # met as it is, and the left one must give 1 mm
    assert cuts.seat.sideways == pytest.approx(-1e-3 / math.sqrt(2.0), rel=1e-12)
    assert cuts.seat.drop == pytest.approx(1e-3 / math.sqrt(2.0), rel=1e-12)
    assert cuts.face_cut == pytest.approx(np.array([[1e-3, 1e-3], [0.0, 0.0]]), abs=1e-15)
    steep = cuts_for((math.radians(30.0), 0.0), (0.0, 1.0e-3), (0.0, 0.0), 0.0)
    assert steep.missing[0] == 0.0
    assert steep.missing[1] == pytest.approx(-steep.face_cut[1, 0], rel=1e-12)
    assert steep.missing[1] > 0.0


@given(st.floats(0.012, 0.02))
def test_a_taper_misses_metal_at_the_edge_where_it_would_have_to_be_added(turned: float) -> None:
    # turned away from the valley, the face leans off the manifold's, most at its top
    cuts = cuts_for((math.radians(45.0), 0.0), (0.8e-3, 0.8e-3), (-turned, -turned), 0.0)
    top, bottom = cuts.face_cut[0]
    assert top < 0.0 < bottom
    assert cuts.missing == pytest.approx(np.full(2, -top), rel=1e-9)


@given(angles, head_drops, tilts)
def test_a_free_manifold_settles_on_both_faces(
    angle: tuple[float, float], head_drop: tuple[float, float], head_tilt: tuple[float, float]
) -> None:
    face_cut = np.array([[0.2e-3, 0.1e-3], [0.0, 0.3e-3]])
    inputs = v_of(angle), cut(head_drop, head_tilt), face_cut
    seat = settled_seat(*inputs, math.inf)
    assert seat.tilt == 0.0
    assert bank_misfit(*inputs, seat).gap.min(axis=1) == pytest.approx(np.zeros(2), abs=1e-14)


@given(angles, head_drops)
def test_on_its_rails_a_manifold_is_open_alike_on_both_sides(
    angle: tuple[float, float], head_drop: tuple[float, float]
) -> None:
    inputs = v_of(angle), cut(head_drop), np.full((2, 2), 3e-3)
    seat = settled_seat(*inputs, 0.1e-3)
    assert seat.drop == 0.1e-3
    left, right = bank_misfit(*inputs, seat).gap.min(axis=1)
    assert left == pytest.approx(right, abs=1e-14)
    assert left > 0.0


def test_an_unknown_head_drop_leaves_the_cuts_unknown() -> None:
    cuts = cuts_for((0.7, 0.1), (math.nan, 1e-3), (0.0, 0.0), 0.0)
    assert np.isnan(cuts.face_cut).all()
    assert math.isnan(cuts.seat.drop)
    assert math.isnan(settled_seat(v_of((0.7, 0.1)), cut((math.nan, 1e-3)), np.zeros((2, 2)), 0.0).drop)


@given(angles, head_drops, st.floats(0.1, 10.0))
def test_cuts_scale_with_the_engine(angle: tuple[float, float], head_drop: tuple[float, float], scale: float) -> None:
    small = bank_cuts(v_of(angle), cut(head_drop, (0.01, 0.0)), 0.002)
    v = IntakeV(2.0 * angle[0], angle[1], scale * SPACING, scale * WIDTH, scale * HEIGHT)
    large = bank_cuts(v, cut([scale * one for one in head_drop], (0.01, 0.0)), 0.002)
    assert large.face_cut == pytest.approx(scale * small.face_cut, abs=1e-13 * scale)
    assert large.seat.drop == pytest.approx(scale * small.seat.drop, abs=1e-13 * scale)
    assert large.seat.tilt == small.seat.tilt == 0.002


rigid_angles = st.tuples(st.floats(30.0, 110.0), st.floats(-12.0, 20.0))
"""Bank angle and face tilt in degrees."""
rigid_heads = st.tuples(st.floats(-0.03, 0.06), st.floats(0.0, 0.04), st.floats(-1.5, 1.5)).map(lambda one: Head(*one))


def made(v: V) -> IntakeV:
    return IntakeV(math.radians(v.bank_angle), math.radians(v.face_tilt), v.spacing, v.width, v.height)


def moves(v: V) -> HeadMoves:
    pair = v.left, v.right
    return HeadMoves(
        np.array([head.cut for head in pair]),
        np.array([head.decked for head in pair]),
        np.array([math.radians(head.wedge) for head in pair]),
    )


UNCUT = np.zeros((2, 2))


def put(v: V) -> ManifoldSeat:
    return ManifoldSeat(v.sideways, v.drop, math.radians(v.cock))


@given(rigid_angles, rigid_heads, rigid_heads, st.floats(-0.1, 0.1), st.floats(-0.1, 0.1), st.floats(-0.5, 0.5))
def test_the_misfit_is_that_of_rigid_bodies_block_decked_and_all(
    angle: tuple[float, float], left: Head, right: Head, sideways: float, drop: float, cock: float
) -> None:
    v = V(*angle, left, right, sideways=sideways, drop=drop, cock=cock)
    found = bank_misfit(made(v), moves(v), UNCUT, put(v))
    assert found.gap == pytest.approx(v.gaps(), abs=1e-12)
    assert found.misalignment == pytest.approx(v.holes(), abs=1e-12)


@pytest.mark.parametrize("wedge", [0.0, 1.2, -1.2])
def test_decking_the_block_moves_no_gap_at_a_square_face(wedge: float) -> None:
    # the block's deck stays square to the bore and a square face runs along it: 0.030 off the block lets the head
    # down along the manifold's face, whatever angle was cut on the head
    before, after = (V(90.0, 0.0, Head(0.01, decked, wedge), Head(0.01, decked, wedge)) for decked in (0.0, 0.030))
    assert after.gaps() == pytest.approx(before.gaps(), abs=1e-15)
    one, other = (bank_misfit(made(v), moves(v), UNCUT, LEVEL) for v in (before, after))
    assert other.gap == pytest.approx(one.gap, abs=1e-15)
    assert other.misalignment - one.misalignment == pytest.approx(np.full(2, 0.030), abs=1e-15)


@given(rigid_angles, st.floats(-0.03, 0.06), st.floats(-0.03, 0.06), st.floats(0.0, 0.05))
def test_a_manifold_comes_to_rest_where_a_linear_program_puts_it(
    angle: tuple[float, float], left: float, right: float, rail_room: float
) -> None:
    v = V(*angle, Head(left), Head(right)).at_rest(rail_room)
    seat = settled_seat(made(v), moves(v), UNCUT, rail_room)
    assert (seat.sideways, seat.drop) == pytest.approx((v.sideways, v.drop), abs=1e-7)


UPRIGHT = math.radians(45.0), -math.radians(45.0)


def test_between_upright_faces_heads_alike_need_the_cuts_of_one_face() -> None:
    # by hand: sin 45 and cos 45 of 1 mm
    cuts = cuts_for(UPRIGHT, (1e-3, 1e-3), (0.0, 0.0), 0.0)
    assert cuts.face_cut == pytest.approx(np.full((2, 2), math.sqrt(0.5) * 1e-3), rel=1e-12)
    assert (cuts.seat.sideways, cuts.seat.drop) == pytest.approx((0.0, math.sqrt(0.5) * 1e-3), abs=1e-15)


def test_between_upright_faces_no_place_serves_heads_that_came_down_unlike() -> None:
    cuts = cuts_for(UPRIGHT, (1e-3, 0.5e-3), (0.0, 0.0), 0.0)
    assert np.isnan(cuts.face_cut).all()
    assert math.isnan(cuts.seat.drop)
