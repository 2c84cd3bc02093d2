from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.rigid_v import Head, V

from headbench.calc import FloatArray
from headbench.calc.intake.heads import ReadHeads, expected_readings, heads_from_readings, told_apart

MM = 1e-3
STEP, HOLE_STEP = 0.025 * MM, 0.25 * MM
NAN = math.nan

bank_angles = st.tuples(st.floats(20.0, 110.0), st.floats(-9.0, 20.0))
"""Bank angle and face tilt in degrees."""
drops = st.tuples(st.floats(-0.5, 2.0), st.floats(-0.5, 2.0))
moves = st.floats(-1.0, 1.0)


def felt(v: V) -> tuple[FloatArray, FloatArray]:
    """Gap at the middle of both faces and misalignment, from millimeters."""
    return v.gaps().mean(axis=1) * MM, v.holes() * MM


def in_radians(v: V) -> tuple[float, float]:
    return math.radians(v.bank_angle), math.radians(v.face_tilt)


def heads(v: V, gap: FloatArray, misalignment: FloatArray) -> ReadHeads:
    return heads_from_readings(gap, misalignment, *in_radians(v), gauge_step=STEP, misalignment_step=HOLE_STEP)


def test_one_head_down_and_the_other_up_come_back_from_a_manifold_at_rest() -> None:
    # a V of 90 degrees, faces 10 degrees back, one head 0.040 in down, the other 0.020 in up; rigid bodies
    inch = 25.4
    v = V(90.0, 10.0, Head(0.040 * inch), Head(-0.020 * inch)).at_rest(0.0)
    assert v.drop == pytest.approx(0.0, abs=1e-9)
    assert abs(v.sideways) > 0.1
    found = heads(v, *felt(v))
    assert found.head_drop == pytest.approx(np.array([0.040, -0.020]) * inch * MM, abs=1e-9)
    assert found.seat.sideways == pytest.approx(v.sideways * MM, abs=1e-9)


@given(bank_angles, drops, moves, moves, st.floats(0.0, 3.0))
def test_four_readings_give_both_heads_and_the_manifold_wherever_it_was_put(
    angle: tuple[float, float], drop: tuple[float, float], sideways: float, down: float, gasket: float
) -> None:
    v = V(*angle, Head(drop[0]), Head(0.5 * drop[1], 0.5 * drop[1]), gasket=gasket, sideways=sideways, drop=down)
    found = heads(v, *felt(v))
    assert found.head_drop == pytest.approx(np.array(drop) * MM, abs=1e-12)
    assert (found.seat.sideways, found.seat.drop) == pytest.approx((sideways * MM, down * MM), abs=1e-12)


@given(bank_angles, st.lists(st.sampled_from([-1.0, 1.0]), min_size=4, max_size=4))
def test_readings_out_by_their_steps_leave_the_heads_within_what_is_told(
    angle: tuple[float, float], signs: list[float]
) -> None:
    v = V(*angle)
    gap, holes = felt(v)
    gap = gap + np.array(signs[:2]) * STEP
    holes = holes + np.array(signs[2:]) * HOLE_STEP
    found = heads(v, gap, holes)
    assert (np.abs(found.head_drop) <= found.implied_head_drop_uncertainty * (1.0 + 1e-12)).all()


@given(bank_angles)
def test_one_set_of_readings_is_out_by_all_that_is_told(angle: tuple[float, float]) -> None:
    # own derivation: the worst of the sixteen ways four readings can be out
    v = V(*angle)
    zero = felt(v)
    worst = 0.0
    told = math.nan
    for way in itertools.product((-1.0, 1.0), repeat=4):
        gap = zero[0] + np.array(way[:2]) * STEP
        holes = zero[1] + np.array(way[2:]) * HOLE_STEP
        found = heads(v, gap, holes)
        told = found.implied_head_drop_uncertainty
        worst = max(worst, float(np.abs(found.head_drop).max()))
    assert told == pytest.approx(worst, rel=1e-9)


@pytest.mark.parametrize("missing", [0, 1, 2, 3])
def test_three_readings_tell_of_neither_head(missing: int) -> None:
    readings = np.zeros(4)
    readings[missing] = NAN
    found = heads(V(90.0, 0.0), readings[:2], readings[2:])
    assert np.isnan(found.head_drop).all()
    assert math.isnan(found.seat.drop)


@given(bank_angles, drops, st.floats(0.0, 3.0))
def test_what_milling_leaves_is_what_rigid_bodies_at_rest_show(
    angle: tuple[float, float], drop: tuple[float, float], gasket: float
) -> None:
    v = V(*angle, Head(drop[0]), Head(drop[1]), gasket=gasket).at_rest(0.0, gasket_in=False)
    found = expected_readings(np.array(drop) * MM, gasket * MM, *in_radians(v))
    assert found.gap[:, 0] == pytest.approx(v.gaps().mean(axis=1) * MM, abs=1e-9)
    assert found.misalignment == pytest.approx(v.holes() * MM, abs=1e-9)


def test_a_step_exactly_is_not_told_apart() -> None:
    # 0.3 - 0.275 is the step of 0.025 exactly, though not in binary numbers; 0.3 - 0.274 is more
    exactly, more = (np.array([0.3, one]) * MM for one in (0.275, 0.274))
    tapers = np.array([exactly[0] - exactly[1], more[0] - more[1]])
    assert told_apart(tapers, STEP).tolist() == [False, True]
    assert [told_apart(one, STEP) for one in tapers.tolist()] == [False, True]
