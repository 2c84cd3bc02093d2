"""Lift figures: peaks and durations of lobes of closed form, and of a polynomial one by referees."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import CubicHermiteSpline
from scipy.optimize import brentq
from tests.calc.train.test_valve_motion import HALF_WIDTH, LIFT, harmonic, polydyne

from headbench.calc.train.lift_figures import cubic_between, durations, lift_figures
from headbench.calc.train.valve_motion import Motion


def test_the_figures_of_a_harmonic_lobe_are_those_of_its_formula() -> None:
    # own derivation: closed forms of LIFT/2 (1 + cos k angle): area LIFT HALF_WIDTH, height c at acos(2 c/LIFT - 1)/k
    heights = np.array([0.5e-3, 1.27e-3, 4e-3, 7.9e-3])
    figures = lift_figures(harmonic(), heights)
    k = math.pi / HALF_WIDTH
    passing = np.arccos(2.0 * heights / LIFT - 1.0) / k
    assert figures.peak_lift == pytest.approx(LIFT, rel=1e-12)
    assert figures.peak_angle == pytest.approx(0.0, abs=1e-9)
    assert figures.lift_area == pytest.approx(LIFT * HALF_WIDTH, rel=1e-9)
    assert figures.durations.opening_angle == pytest.approx(-passing, rel=1e-6)
    assert figures.durations.closing_angle == pytest.approx(passing, rel=1e-6)
    assert figures.durations.duration == pytest.approx(4.0 * passing, rel=1e-6)
    assert figures.peak_opening_velocity == pytest.approx(LIFT / 2.0 * k, rel=1e-7)
    assert figures.peak_closing_velocity == pytest.approx(-LIFT / 2.0 * k, rel=1e-7)
    assert figures.peak_acceleration == pytest.approx(LIFT / 2.0 * k**2, rel=1e-9)
    assert figures.peak_deceleration == pytest.approx(-LIFT / 2.0 * k**2, rel=1e-9)
    assert figures.peak_jerk == pytest.approx(LIFT / 2.0 * k**3, rel=1e-7)


def test_the_figures_hold_between_coarse_samples() -> None:
    # referee: scipy.optimize.brentq on a polynomial through none of the samples in question
    coarse, fine = polydyne(90), polydyne(90_001)
    figures = lift_figures(coarse, np.array([1.27e-3]))
    edge = brentq(lambda at: float(np.interp(at, fine.angle, fine.lift)) - 1.27e-3, 0.0, HALF_WIDTH)
    assert figures.durations.closing_angle[0] == pytest.approx(edge, rel=1e-5)
    assert figures.peak_lift == pytest.approx(LIFT, rel=1e-6)
    assert figures.lift_area == pytest.approx(float(np.trapezoid(fine.lift, fine.angle)), rel=1e-6)
    assert figures.peak_acceleration == pytest.approx(float(fine.acceleration.max()), rel=2e-3)


def test_the_lift_area_does_not_care_how_the_samples_are_spread() -> None:
    # own derivation: closed form LIFT HALF_WIDTH, samples crowded on one flank
    even = harmonic(90_001)
    picked = np.unique((90_000 * np.linspace(0.0, 1.0, 61) ** 3).astype(np.int64))
    uneven = Motion(*(getattr(even, name)[picked] for name in Motion.__slots__))
    assert lift_figures(uneven, np.array([1e-3])).lift_area == pytest.approx(LIFT * HALF_WIDTH, rel=1e-6)


def test_a_lift_that_is_never_reached_has_no_duration() -> None:
    figures = lift_figures(harmonic(), np.array([LIFT * 1.01]))
    assert figures.durations.duration.tolist() == [0.0]
    assert np.isnan(figures.durations.opening_angle).all()
    assert np.isnan(figures.durations.closing_angle).all()


def test_between_two_samples_runs_the_cubic_of_their_values_and_slopes() -> None:
    # referee: scipy's Hermite spline, whose pieces are powers of the angle instead of the fraction
    angle, values, slopes = np.array([0.3, 0.7, 1.6]), np.array([1.0, 4.0, 2.0]), np.array([3.0, -5.0, 7.0])
    step = np.diff(angle)
    found = cubic_between(step, values[:-1], values[1:], slopes[:-1], slopes[1:])
    referee = CubicHermiteSpline(angle, values, slopes).c[::-1]
    assert np.stack(found) == pytest.approx(referee * step ** np.arange(4)[:, np.newaxis])


@given(st.lists(st.floats(1e-5, 0.999 * LIFT), min_size=1, max_size=8), st.floats(-0.5, 0.5))
def test_durations_are_those_between_which_the_referee_passes_each_lift(lifts: list[float], skew: float) -> None:
    # referee: scipy.optimize.brentq on scipy's Hermite spline, one flank after the other; the flanks differ by the skew
    even = polydyne(182)
    flank = np.where(even.angle < 0.0, 1.0, 1.0 + skew)
    motion = Motion(
        even.angle * flank,
        even.lift,
        even.velocity / flank,
        even.acceleration,
        even.jerk,
        even.acceleration_uncertainty,
    )
    spline = CubicHermiteSpline(motion.angle, motion.lift, motion.velocity)
    found = durations(motion, np.array(lifts))
    for place, lift in enumerate(lifts):
        opens = brentq(lambda at, lift=lift: float(spline(at)) - lift, motion.angle[0], 0.0, xtol=1e-13)
        closes = brentq(lambda at, lift=lift: float(spline(at)) - lift, 0.0, motion.angle[-1], xtol=1e-13)
        assert found.opening_angle[place] == pytest.approx(opens, abs=1e-9)
        assert found.closing_angle[place] == pytest.approx(closes, abs=1e-9)
        assert found.duration[place] == pytest.approx(2.0 * (closes - opens), abs=1e-9)


def test_a_lift_read_on_a_sample_is_passed_there() -> None:
    # every sample's own lift, opening and closing: rounding must not push it out of both pieces beside it
    motion = polydyne(61)
    nose = int(motion.lift.argmax())
    inside = slice(10, nose - 2)
    found = durations(motion, motion.lift[inside])
    assert found.opening_angle == pytest.approx(motion.angle[inside], abs=1e-9)
    assert found.closing_angle == pytest.approx(-motion.angle[inside], abs=1e-9)


def test_a_lift_that_both_ends_stand_above_lasts_from_one_to_the_other() -> None:
    whole = polydyne(61)
    cut = Motion(*(getattr(whole, name)[20:-18] for name in Motion.__slots__))
    found = durations(cut, np.array([0.5 * float(min(cut.lift[0], cut.lift[-1]))]))
    assert (found.opening_angle[0], found.closing_angle[0]) == (cut.angle[0], cut.angle[-1])


def test_an_unknown_motion_has_unknown_figures() -> None:
    unknown = np.full(5, np.nan)
    figures = lift_figures(Motion(unknown, unknown, unknown, unknown, unknown, unknown), np.array([1e-3]))
    assert np.isnan(figures.peak_lift)
    assert np.isnan(figures.lift_area)
    assert np.isnan(figures.durations.duration).all()
