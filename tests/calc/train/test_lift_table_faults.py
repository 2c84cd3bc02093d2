from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.polynomial import Polynomial

from headbench.calc import FloatArray
from headbench.calc.judging.rules import COARSE_ABOVE
from headbench.calc.train.lift_table import motion_from_readings
from headbench.calc.train.lift_table_faults import (
    LiftTableFault,
    Spacing,
    find_lift_table_faults,
    find_smoothed_faults,
    halved,
    judge_spacing,
    with_error,
)

HALF_WIDTH, LIFT, NOISE = 1.2, 8e-3, 2e-6


def hump(exponents: tuple[int, ...]) -> Polynomial:
    """1 + sum c_i x^i, three derivatives 0 at +-1: the polynomial valve cam, coefficients solved for."""
    falling = [[math.prod(power - down for down in range(order)) for power in exponents] for order in range(4)]
    coefficients = np.zeros(exponents[-1] + 1)
    coefficients[0] = 1.0
    coefficients[list(exponents)] = np.linalg.solve(np.array(falling, dtype=np.float64), [-1.0, 0.0, 0.0, 0.0])
    return Polynomial(coefficients)


GENTLE, SHARP = hump((2, 6, 10, 14)), hump((2, 14, 26, 38))


def lobe(angle: FloatArray, shape: Polynomial = GENTLE) -> FloatArray:
    x = angle / HALF_WIDTH
    return np.asarray(np.where(np.abs(x) < 1.0, LIFT * shape(np.clip(x, -1.0, 1.0)), 0.0), dtype=np.float64)


def around(spacing_degrees: float = 2.0, last_degrees: float = 360.0) -> FloatArray:
    angle: FloatArray = np.radians(np.arange(0.0, last_degrees, spacing_degrees))
    return angle


def found(angle: FloatArray, lift: FloatArray, stated: float = math.nan, noise: float = NOISE) -> list[LiftTableFault]:
    faults = find_lift_table_faults(angle, lift, noise)
    if faults:
        return faults
    smoothed = motion_from_readings(angle, lift, noise).motion
    return find_smoothed_faults(angle, lift, noise, smoothed, halved(angle, lift, noise), stated, 5e-6)


def kinds(faults: list[LiftTableFault]) -> list[str]:
    return [fault.kind for fault in faults]


def test_a_sound_table_has_no_faults_however_its_readings_scatter() -> None:
    rng = np.random.default_rng(1)
    at = around()
    alarms = sum(bool(found(at, lobe(at - math.pi) + NOISE * rng.standard_normal(len(at)), LIFT)) for _ in range(100))
    # a false alarm in one table of a hundred is what the allowance is set to; five of a hundred would
    # be the 0.3 % tail of that
    assert alarms < 5


def test_the_lobe_alone_is_a_sound_table() -> None:
    at = np.radians(np.arange(-75.0, 76.0, 2.0))
    assert found(at, lobe(at), LIFT) == []


def test_angles_that_fall_back_or_repeat_are_named_and_hide_the_rest() -> None:
    at = around()
    lift = lobe(at - math.pi)
    lift[0] = -1.0
    swapped = at.copy()
    swapped[[10, 11]] = at[[11, 10]]
    assert found(swapped, lift) == [LiftTableFault("falls back", 10, 11, at[10])]
    twice = at.copy()
    twice[21] = at[20]
    assert found(twice, lift) == [LiftTableFault("repeats", 20, 21, at[20])]


def test_more_than_a_turn_is_a_mistake_in_the_angles() -> None:
    at = around(2.0, 400.0)
    assert found(at, lobe(at - math.pi)) == [LiftTableFault("beyond a turn", 0, len(at) - 1, at[-1])]
    # as when crank degrees are taken for the cam's
    crank = np.radians(np.arange(0.0, 720.0, 4.0))
    assert kinds(found(crank, lobe(crank / 2.0 - math.pi))) == ["beyond a turn"]


def test_lifts_below_zero_are_faults_only_past_what_the_readings_scatter() -> None:
    at = around()
    lift = lobe(at - math.pi)
    lift[3] = -3.0 * NOISE
    assert found(at, lift) == []
    lift[3] = -20.0 * NOISE
    assert found(at, lift) == [LiftTableFault("below zero", 3, 3, -20.0 * NOISE)]


def test_a_gauge_that_was_never_zeroed_shows_no_base_circle() -> None:
    at = around()
    faults = found(at, lobe(at - math.pi) + 1e-4)
    assert kinds(faults) == ["no base circle"]
    assert faults[0].value == pytest.approx(1e-4)


def test_a_gauge_that_moved_during_the_turn_does_not_close() -> None:
    at = around(2.0, 361.0)
    faults = found(at, lobe(at - math.pi) + np.linspace(0.0, 5e-5, len(at)))
    assert [(fault.kind, fault.first, fault.last) for fault in faults] == [("does not close", 0, len(at) - 1)]
    assert faults[0].value == pytest.approx(5e-5)


def test_a_lobe_read_in_part_has_an_open_end() -> None:
    at = np.radians(np.arange(-76.0, 30.0, 2.0))
    lift = lobe(at)
    assert found(at, lift) == [LiftTableFault("open end", len(at) - 1, len(at) - 1, lift[-1])]


def test_a_handful_of_readings_is_too_few() -> None:
    at = around(30.0)
    assert found(at, lobe(at - math.pi)) == [LiftTableFault("too few", 0, len(at) - 1, 5.0)]
    assert kinds(found(np.array([]), np.array([]))) == ["too few"]
    assert kinds(found(np.array([0.1]), np.array([1e-3]))) == ["too few"]


def test_a_peak_other_than_the_stated_lift_is_told_with_the_one_found() -> None:
    at = around()
    faults = found(at, lobe(at - math.pi), LIFT + 5e-5)
    assert [(fault.kind, fault.first) for fault in faults] == [("contradicts stated lift", len(at) // 2)]
    assert faults[0].value == pytest.approx(LIFT, abs=2e-6)


def test_a_stated_lift_is_met_by_a_peak_between_two_readings() -> None:
    # 5 degrees of cam apart, the highest reading is 25 um short of the peak
    at = np.radians(np.arange(0.0, 360.0, 5.0))
    lift = lobe(at - math.pi - np.radians(2.5))
    assert LIFT - lift.max() > 2e-5
    assert found(at, lift, LIFT) == []


def spacing_of(angle: FloatArray, lift: FloatArray) -> Spacing:
    smoothed = motion_from_readings(angle, lift, NOISE).motion
    return judge_spacing(angle, lift, smoothed, halved(angle, lift, NOISE))


@pytest.mark.parametrize("spacing", [1.0, 2.0, 3.0, 5.0])
def test_a_sharp_lobe_read_closely_is_not_coarse(spacing: float) -> None:
    at = around(spacing)
    assert spacing_of(at, lobe(at - math.pi, SHARP)).error_share < COARSE_ABOVE


@pytest.mark.parametrize("spacing", [7.0, 8.0, 9.0, 12.0])
def test_a_sharp_lobe_read_far_apart_is_no_fault_and_the_spacing_that_would_do_does(spacing: float) -> None:
    at = around(spacing)
    assert found(at, lobe(at - math.pi, SHARP)) == []
    judged = spacing_of(at, lobe(at - math.pi, SHARP))
    assert judged.error_share > COARSE_ABOVE
    assert judged.enough < np.radians(spacing)
    closer = np.arange(0.0, math.tau, judged.enough * 0.9)
    assert spacing_of(closer, lobe(closer - math.pi, SHARP)).error_share < COARSE_ABOVE


@pytest.mark.parametrize("shape", [GENTLE, SHARP], ids=["gentle", "sharp"])
@pytest.mark.parametrize("spacing", [5.0, 6.0, 8.0, 10.0])
@pytest.mark.parametrize("off", [0.0, 0.3, 0.5])
def test_the_error_of_a_coarse_table_is_inside_what_is_said_of_it(
    shape: Polynomial, spacing: float, off: float
) -> None:
    # own derivation: the polynomial's own second derivative; a table is wrong by no more than twice its uncertainty
    # where it brakes most, which is where it decides
    at = np.radians(np.arange(-80.0 + off * spacing, 81.0, spacing))
    lift = lobe(at, shape)
    smoothed = motion_from_readings(at, lift, NOISE).motion
    judged = judge_spacing(at, lift, smoothed, halved(at, lift, NOISE))
    told = with_error(smoothed, judged.error)
    x = np.linspace(-1.0, 1.0, 20_001)
    hardest = float((LIFT / HALF_WIDTH**2 * shape.deriv(2)(x)).min())
    place = int(told.acceleration.argmin())
    assert abs(told.acceleration[place] - hardest) <= 2.0 * told.acceleration_uncertainty[place]
    assert (told.acceleration_uncertainty >= smoothed.acceleration_uncertainty).all()


def test_statements_that_cannot_both_hold_are_told_from_readings_to_take_again() -> None:
    # a repeated angle has two lifts; a lobe read in part waits for the rest
    twice = around()
    twice[21] = twice[20]
    assert [fault.contradicts for fault in found(twice, lobe(twice - math.pi))] == [True]
    part = np.radians(np.arange(-76.0, 30.0, 2.0))
    assert [fault.contradicts for fault in found(part, lobe(part))] == [False]


def test_a_table_with_a_reading_not_taken_is_not_judged_past_its_angles() -> None:
    at = around()
    lift = lobe(at - math.pi)
    lift[90] = np.nan
    assert found(at, lift, LIFT + 1e-3) == []
