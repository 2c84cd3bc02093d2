from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from headbench.calc import FloatArray
from headbench.calc.milling import cam_timing
from headbench.calc.milling.cam_timing import CamDrive, cam_after
from headbench.calc.movement.movement import Movement

RADIUS, CRANK_RADIUS, CENTERS = 0.060, 0.030, 0.40


@dataclass
class Shift:
    """What several drops do to a drive, as arrays."""

    sprocket_retard: FloatArray
    cam_retard: FloatArray
    chain_slack: FloatArray


def cam_shift(drops: FloatArray, *drive: float) -> Shift:
    """Every drop by itself."""
    found = [cam_timing.cam_shift(drop, *drive) for drop in drops.tolist()]
    return Shift(*(np.array([getattr(one, field.name) for one in found]) for field in fields(Shift)))


def pulling_run(centers: float, cam_turn: float) -> float:
    """Chain from a mark on the crank sprocket, held, over the pulling run to a mark on the cam sprocket.

    Own derivation: outer tangent of two circles whose centers stand above one another, plus both wraps from the
    vertical's side; turning the cam back pays chain out.
    """
    lean = math.asin((RADIUS - CRANK_RADIUS) / centers)
    tangent = math.sqrt(centers**2 - (RADIUS - CRANK_RADIUS) ** 2)
    return tangent + RADIUS * (math.pi / 2.0 + lean) + CRANK_RADIUS * (math.pi / 2.0 - lean) + RADIUS * cam_turn


def test_the_cam_lags_until_the_chain_is_tight_again() -> None:
    drop = 0.5e-3
    length = pulling_run(CENTERS, 0.0)
    lag = brentq(lambda turn: pulling_run(CENTERS - drop, turn) - length, -0.1, 0.1, xtol=1e-15)
    lean = math.asin((RADIUS - CRANK_RADIUS) / CENTERS)
    shift = cam_shift(np.array([drop]), RADIUS, lean)
    # first order in the drop: half a millimeter on 400 mm leaves a few parts in a million
    assert shift.sprocket_retard[0] == pytest.approx(lag, rel=1e-5)


def test_the_slack_is_what_the_whole_chain_has_too_much() -> None:
    # both runs and both wraps, from the same circles
    drop = 0.5e-3
    slack = 2.0 * (pulling_run(CENTERS, 0.0) - pulling_run(CENTERS - drop, 0.0))
    lean = math.asin((RADIUS - CRANK_RADIUS) / CENTERS)
    assert cam_shift(np.array([drop]), RADIUS, lean).chain_slack[0] == pytest.approx(slack, rel=1e-5)


def test_a_cut_of_thirty_thousandths_over_a_two_inch_radius() -> None:
    # by hand: 0.030/2.0 rad = 0.015 rad = 0.859 degrees of cam, 1.719 of crank
    shift = cam_shift(np.array([0.030]), 2.0, 0.0)
    assert math.degrees(shift.sprocket_retard[0]) == pytest.approx(0.859, abs=5e-4)
    assert math.degrees(shift.cam_retard[0]) == pytest.approx(1.719, abs=5e-4)


@given(st.floats(-1e-3, 2e-3), st.floats(0.02, 0.1), st.floats(-0.5, 0.5))
def test_the_crank_turns_twice_as_far_as_the_cam(drop: float, radius: float, chain_angle: float) -> None:
    shift = cam_shift(np.array([drop]), radius, chain_angle)
    assert shift.cam_retard[0] == 2.0 * shift.sprocket_retard[0]


@given(st.floats(0.0, 2e-3), st.floats(-0.5, 0.5), st.floats(0.1, 10.0))
def test_angles_do_not_know_the_size_of_the_engine(drop: float, chain_angle: float, scale: float) -> None:
    small = cam_shift(np.array([drop]), RADIUS, chain_angle)
    large = cam_shift(np.array([scale * drop]), scale * RADIUS, chain_angle)
    assert large.sprocket_retard == pytest.approx(small.sprocket_retard, rel=1e-12)
    assert large.chain_slack == pytest.approx(scale * small.chain_slack, rel=1e-12)


@given(st.floats(0.0, 2e-3))
def test_two_half_cuts_retard_as_much_as_one(cut: float) -> None:
    halves = cam_shift(np.array([cut / 2.0, cut / 2.0]), RADIUS, 0.1)
    assert halves.sprocket_retard.sum() == pytest.approx(
        cam_shift(np.array([cut]), RADIUS, 0.1).sprocket_retard[0], rel=1e-12
    )


def test_a_head_that_moves_away_advances_the_cam() -> None:
    shift = cam_shift(np.array([-1e-3, 0.0, math.nan]), RADIUS, 0.0)
    assert shift.sprocket_retard[0] < 0.0
    assert shift.sprocket_retard[1] == 0.0
    assert math.isnan(shift.chain_slack[2])


def seen_from_the_head(drop: float, tilt: float, lean: float, height: float, *, toward: int) -> float:
    """How far the cam lags its head once head and cam have dropped and leaned, in cam angle.

    Own derivation, exact: x goes toward the intake side, y up the bore. The head's deck, `height` below the cam, drops
    and turns by `tilt` as a rigid body. The chain runs from a mark held on the crank sprocket around to P1, straight
    to P2 and around to a mark on the cam sprocket, on the side where the sprocket's teeth go down.
    """

    def mark(cam: tuple[float, float], length: float | None) -> float:
        # clockwise angles from straight up; a sprocket that turns the other way is looked at from behind
        across, up = toward * cam[0], cam[1]
        apart = math.hypot(across, up)
        run = math.atan2(across, up) + math.asin((RADIUS - CRANK_RADIUS) / apart)
        touches = run + math.pi / 2.0
        straight = math.sqrt(apart**2 - (RADIUS - CRANK_RADIUS) ** 2)
        on_crank = CRANK_RADIUS * (1.5 * math.pi - touches)
        if length is None:
            return on_crank + straight + RADIUS * touches  # the cam's mark straight up
        return touches - (length - on_crank - straight) / RADIUS

    # the pulling run leans by `lean` toward the intake side; the center line leans otherwise by the sprockets' sizes
    center_line = toward * (toward * lean - math.asin((RADIUS - CRANK_RADIUS) / CENTERS))
    before = CENTERS * math.sin(center_line), CENTERS * math.cos(center_line)
    after = before[0] + height * math.sin(tilt), before[1] - drop - height * (1.0 - math.cos(tilt))
    turned = mark(after, mark(before, None))
    return toward * tilt - turned


@pytest.mark.parametrize("toward", [1, -1])
@pytest.mark.parametrize("lean", [math.radians(10.0), 0.0, math.radians(-7.0)])
@pytest.mark.parametrize("tilt", [math.radians(0.3), math.radians(-0.2)])
def test_an_angle_cut_leans_the_head_under_a_cam_that_the_chain_holds(tilt: float, lean: float, toward: int) -> None:
    drop, height = 0.4e-3, 0.120
    exact = seen_from_the_head(drop, tilt, lean, height, toward=toward)
    shift = cam_shift(np.array([drop]), RADIUS, lean, tilt, height, float(toward))
    # second order: h (1 - cos t) is 1.6 um, the square of 0.63 mm sideways over twice 400 mm is 0.5 um, on 60 mm
    assert shift.sprocket_retard[0] == pytest.approx(exact, abs=4.0e-5)
    # what the lean of the head alone makes is far more than that
    assert abs(tilt) > 80 * 4.0e-5


def test_a_leaned_head_needs_to_be_told_which_way_the_cam_turns_and_how_high_it_stands() -> None:
    nothing = math.nan
    assert math.isnan(cam_shift(np.array([1e-3]), RADIUS, 0.0, 0.005, nothing, nothing).cam_retard[0])
    # along the bore no height is needed, and the chain's slack needs no direction
    assert not math.isnan(cam_shift(np.array([1e-3]), RADIUS, 0.0, 0.005, nothing, 1.0).cam_retard[0])
    assert not math.isnan(cam_shift(np.array([1e-3]), RADIUS, 0.1, 0.005, 0.12, nothing).chain_slack[0])
    assert math.isnan(cam_shift(np.array([1e-3]), RADIUS, 0.1, 0.005, nothing, 1.0).chain_slack[0])
    # a flat cut needs neither
    assert not math.isnan(cam_shift(np.array([1e-3]), RADIUS, 0.1, 0.0, nothing, nothing).cam_retard[0])


def test_a_head_that_has_not_moved_turns_no_cam_whatever_its_sprocket() -> None:
    assert cam_shift(np.zeros(1), math.nan, 0.1).cam_retard[0] == 0.0


def test_a_drive_is_moved_by_what_its_own_place_drops() -> None:
    # by hand: 0.2 mm at 0 and 1 in 100 more make 1.2 mm at 0.1 m; over 60 mm that is 0.02 rad of cam
    after = cam_after(
        CamDrive(pitch_radius=0.060, distance_across=0.1, turns_toward=math.nan), Movement(depth=0.2e-3, slope=0.01)
    )
    assert after.head_drop == pytest.approx(1.2e-3, rel=1e-12)
    assert after.shift.chain_slack == pytest.approx(2.4e-3, rel=1e-12)
    # which way it turns was not said, and what is not known is no promise that the timing stays
    assert math.isnan(after.shift.cam_retard)
    assert after.timing_moved
    assert not cam_after(CamDrive(pitch_radius=0.060, retimed=True), Movement(depth=1e-3)).timing_moved
    assert not cam_after(CamDrive(), Movement()).timing_moved
