from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.rigid_v import Head, V

from headbench.calc.intake.seat import ManifoldSeat, closed_seat, misalignment_at, rail_cut, sealing_cuts

rigid_angles = st.tuples(st.floats(30.0, 110.0), st.floats(-12.0, 20.0))
"""Bank angle and face tilt in degrees."""
rigid_heads = st.tuples(st.floats(-0.03, 0.06), st.floats(0.0, 0.04), st.floats(-1.5, 1.5)).map(lambda one: Head(*one))


@given(rigid_angles, rigid_heads, rigid_heads)
def test_sealing_takes_off_the_least_that_closes_both_faces(
    angle: tuple[float, float], left: Head, right: Head
) -> None:
    v = V(*angle, left, right)
    cuts = sealing_cuts(v.gaps(), v.holes(), math.radians(angle[0]), math.radians(angle[1]))
    # nothing is added, one edge of each face stays as it is, and the manifold lies on all four edges
    assert cuts.face_cut.min(axis=1).tolist() == [0.0, 0.0]
    placed = V(*angle, left, right, sideways=cuts.seat.sideways, drop=cuts.seat.drop)
    assert placed.gaps() + cuts.face_cut == pytest.approx(np.zeros((2, 2)), abs=1e-12)
    assert cuts.misalignment == pytest.approx(placed.holes(), abs=1e-12)


@given(rigid_angles, st.floats(-0.03, 0.06), st.floats(-0.03, 0.06), st.floats(0.0, 0.05))
def test_a_manifold_goes_where_a_linear_program_puts_it(
    angle: tuple[float, float], left: float, right: float, rail_room: float
) -> None:
    v = V(*angle, Head(left), Head(right))
    home = v.at_rest(rail_room)
    seat = closed_seat(v.gaps().min(axis=1), math.radians(angle[0]), math.radians(angle[1]), rail_room)
    assert (seat.sideways, seat.drop) == pytest.approx((home.sideways, home.drop), abs=1e-7)


@given(rigid_angles, st.floats(-0.03, 0.06), st.floats(-0.1, 0.1), st.floats(-0.1, 0.1))
def test_holes_follow_a_manifold_that_is_moved(
    angle: tuple[float, float], down: float, sideways: float, drop: float
) -> None:
    v = V(*angle, Head(down), Head(0.0))
    moved_to = V(*angle, Head(down), Head(0.0), sideways=sideways, drop=drop)
    found = misalignment_at(
        v.holes(), ManifoldSeat(sideways, drop, 0.0), math.radians(angle[0]), math.radians(angle[1])
    )
    assert found == pytest.approx(moved_to.holes(), abs=1e-12)


def test_between_upright_faces_a_manifold_neither_rides_up_nor_closes_a_gap() -> None:
    angle = math.radians(90.0), -math.radians(45.0)
    wide = closed_seat(np.array([-1e-3, -1e-3]), *angle, 5e-3)
    assert (wide.sideways, wide.drop) == (0.0, 0.0)
    loose = closed_seat(np.array([1e-3, 0.0]), *angle, 5e-3)
    assert (loose.sideways, loose.drop) == pytest.approx((-0.5e-3, 5e-3), abs=1e-15)
    assert math.isnan(closed_seat(np.array([1e-3, 1e-3]), *angle, math.inf).drop)
    assert math.isnan(closed_seat(np.array([math.nan, 1e-3]), *angle, 5e-3).drop)


@pytest.mark.parametrize(("drop", "room", "cut"), [(1.4, 1.0, 0.4), (1.4, 2.0, 0.0), (-0.3, 0.0, 0.0)])
def test_rails_lose_what_the_room_under_them_does_not_give(drop: float, room: float, cut: float) -> None:
    # by hand
    assert rail_cut(drop, room) == pytest.approx(cut, abs=1e-15)
    assert math.isnan(rail_cut(math.nan, room))
