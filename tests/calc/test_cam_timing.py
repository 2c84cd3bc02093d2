from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from headbench.calc.cam_timing import cam_shift

RADIUS, CRANK_RADIUS, CENTRES = 0.060, 0.030, 0.40


def pulling_run(centres: float, cam_turn: float) -> float:
    """Chain from a mark on the crank sprocket, held, over the pulling run to a mark on the cam sprocket.

    Own derivation: outer tangent of two circles whose centres stand above one another, plus both wraps from the
    vertical's side; turning the cam back pays chain out.
    """
    lean = math.asin((RADIUS - CRANK_RADIUS) / centres)
    tangent = math.sqrt(centres**2 - (RADIUS - CRANK_RADIUS) ** 2)
    return tangent + RADIUS * (math.pi / 2.0 + lean) + CRANK_RADIUS * (math.pi / 2.0 - lean) + RADIUS * cam_turn


def test_the_cam_lags_until_the_chain_is_tight_again() -> None:
    approach = 0.5e-3
    length = pulling_run(CENTRES, 0.0)
    lag = brentq(lambda turn: pulling_run(CENTRES - approach, turn) - length, -0.1, 0.1, xtol=1e-15)
    lean = math.asin((RADIUS - CRANK_RADIUS) / CENTRES)
    shift = cam_shift(np.array([approach]), RADIUS, lean)
    # first order in the approach: half a millimetre on 400 mm leaves a few parts in a million
    assert shift.cam_retard[0] == pytest.approx(lag, rel=1e-5)


def test_the_slack_is_what_the_whole_chain_has_too_much() -> None:
    # both runs and both wraps, from the same circles
    approach = 0.5e-3
    slack = 2.0 * (pulling_run(CENTRES, 0.0) - pulling_run(CENTRES - approach, 0.0))
    lean = math.asin((RADIUS - CRANK_RADIUS) / CENTRES)
    assert cam_shift(np.array([approach]), RADIUS, lean).chain_slack[0] == pytest.approx(slack, rel=1e-5)


def test_a_cut_of_thirty_thousandths_over_a_two_inch_radius() -> None:
    # by hand: 0.030/2.0 rad = 0.015 rad = 0.859 degrees of cam, 1.719 of crank
    shift = cam_shift(np.array([0.030]), 2.0, 0.0)
    assert math.degrees(shift.cam_retard[0]) == pytest.approx(0.859, abs=5e-4)
    assert math.degrees(shift.crank_retard[0]) == pytest.approx(1.719, abs=5e-4)


@given(st.floats(-1e-3, 2e-3), st.floats(0.02, 0.1), st.floats(-0.5, 0.5))
def test_the_crank_turns_twice_as_far_as_the_cam(approach: float, radius: float, chain_angle: float) -> None:
    shift = cam_shift(np.array([approach]), radius, chain_angle)
    assert shift.crank_retard[0] == 2.0 * shift.cam_retard[0]


@given(st.floats(0.0, 2e-3), st.floats(-0.5, 0.5), st.floats(0.1, 10.0))
def test_angles_do_not_know_the_size_of_the_engine(approach: float, chain_angle: float, scale: float) -> None:
    small = cam_shift(np.array([approach]), RADIUS, chain_angle)
    large = cam_shift(np.array([scale * approach]), scale * RADIUS, chain_angle)
    assert large.cam_retard == pytest.approx(small.cam_retard, rel=1e-12)
    assert large.chain_slack == pytest.approx(scale * small.chain_slack, rel=1e-12)


@given(st.floats(0.0, 2e-3))
def test_two_half_cuts_retard_as_much_as_one(cut: float) -> None:
    halves = cam_shift(np.array([cut / 2.0, cut / 2.0]), RADIUS, 0.1)
    assert halves.cam_retard.sum() == pytest.approx(cam_shift(np.array([cut]), RADIUS, 0.1).cam_retard[0], rel=1e-12)


def test_a_head_that_moves_away_advances_the_cam() -> None:
    shift = cam_shift(np.array([-1e-3, 0.0, math.nan]), RADIUS, 0.0)
    assert shift.cam_retard[0] < 0.0
    assert shift.cam_retard[1] == 0.0
    assert math.isnan(shift.chain_slack[2])
