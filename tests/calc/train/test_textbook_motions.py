from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from typing import Any, get_args

import mpmath  # type: ignore[import-untyped]  # ships no types
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.train.lift_figures import lift_figures
from headbench.calc.train.textbook_motions import Profile, motion_from_profile, profile_values
from headbench.calc.train.valve_motion import SAMPLES

PROFILES: tuple[Profile, ...] = get_args(Profile)
Rise = Callable[[int, float], float]
"""Derivative of some order at some part of the way."""


def polynomial_between_dwells(still: int) -> Rise:
    """The polynomial of least degree from 0 to 1 with that many derivatives 0 at both ends."""
    size = 2 * still + 2
    conditions, wanted = mpmath.zeros(size), mpmath.zeros(size, 1)
    for order in range(still + 1):
        conditions[order, order] = mpmath.factorial(order)
        for power in range(order, size):
            conditions[still + 1 + order, power] = mpmath.ff(power, order)
    wanted[still + 1] = 1
    coefficients = [float(value) for value in mpmath.lu_solve(conditions, wanted)]
    rise = np.polynomial.Polynomial(coefficients)
    return lambda order, u: float(rise.deriv(order)(u) if order else rise(u))


def from_acceleration(shape: Callable[[Any], Any], *breaks: float) -> Rise:
    """The rise from rest to 1 whose acceleration has a shape that comes to rest again: integrated, and scaled."""

    def integrated(order: int, u: float) -> float:
        if order > 1:
            return float(mpmath.diff(shape, u, order - 2))
        kernel = shape if order else (lambda t: (u - t) * shape(t))
        return float(mpmath.quad(kernel, [0, *(b for b in breaks if b < u), u]))

    return lambda order, u: integrated(order, u) / integrated(0, 1.0)


def three_sines(u: Any) -> Any:
    """Modified sine, from its definition: a quarter of a fast sine, half a slow one, a quarter of the fast one."""
    fast, slow = 4 * mpmath.pi, 4 * mpmath.pi / 3
    if u <= 1 / 8:
        return mpmath.sin(fast * u)
    return mpmath.cos(slow * (u - 1 / 8)) if u <= 7 / 8 else -mpmath.cos(fast * (u - 7 / 8))


# every profile from its definition, none of it from the kernel's formulas
DEFINITIONS: dict[Profile, Rise] = {
    "harmonic": lambda order, u: float(mpmath.diff(lambda v: (1 - mpmath.cos(mpmath.pi * v)) / 2, u, order)),
    "cycloidal": from_acceleration(lambda u: mpmath.sin(2 * mpmath.pi * u)),
    "polynomial_345": polynomial_between_dwells(2),
    "polynomial_4567": polynomial_between_dwells(3),
    "modified sine": from_acceleration(three_sines, 1 / 8, 7 / 8),
}


@pytest.mark.parametrize("profile", PROFILES)
def test_a_profile_and_its_derivatives_are_those_of_its_definition(profile: Profile) -> None:
    at = [0.03, 0.11, 0.2, 0.37, 0.5, 0.64, 0.81, 0.9, 0.97]
    values = profile_values(profile, np.array(at))
    for order in range(4):
        expected = [DEFINITIONS[profile](order, u) for u in at]
        assert values[order] == pytest.approx(expected, rel=1e-11, abs=1e-11)


PEAKS: dict[Profile, tuple[float, float, float]] = {
    # velocity, acceleration, jerk. Acceleration: 4.9348, 6.2832, 5.7735, 7.5132, exact; Norton,
    # Design of Machinery, 5th ed. (2012), chapter 8 (from memory). The others derived by hand from the definitions that
    # the test before checks against: 4-5-6-7 accelerates by 420 u^2 (1 - u)^2 (1 - 2 u), hardest where 1 - 5 u + 5 u^2
    # is 0, at u = (1 - 1/sqrt(5))/2
    "harmonic": (math.pi / 2, math.pi**2 / 2, math.pi**3 / 2),
    "cycloidal": (2.0, 2 * math.pi, 4 * math.pi**2),
    "polynomial_345": (15 / 8, 10 / math.sqrt(3), 60.0),
    "polynomial_4567": (35 / 16, 420 * (1 / 5) ** 2 / math.sqrt(5), 52.5),
    "modified sine": (4 * math.pi / (4 + math.pi), 4 * math.pi**2 / (4 + math.pi), 16 * math.pi**3 / (4 + math.pi)),
}


@pytest.mark.parametrize("profile", PROFILES)
def test_the_peaks_of_a_profile_are_the_textbook_ones(profile: Profile) -> None:
    peaks = np.abs(profile_values(profile, np.linspace(0.0, 1.0, 100_001))).max(axis=1)
    assert peaks[1:] == pytest.approx(PEAKS[profile], rel=1e-7)


@pytest.mark.parametrize(("rise", "fall"), [(1.2, 1.2), (1.1, 1.3), (0.9, 1.7)])
@pytest.mark.parametrize("profile", PROFILES)
def test_the_figures_of_a_stand_in_are_the_closed_form_of_its_profile(
    profile: Profile, rise: float, fall: float
) -> None:
    # own derivation: y(u) over an angle stretches the nth derivative by lift/angle^n, on the opening and the closing
    # flank
    velocity, acceleration, jerk = PEAKS[profile]
    figures = lift_figures(motion_from_profile(profile, 0.012, rise, fall), np.array([1e-3]))
    narrow = min(rise, fall)
    assert figures.peak_opening_velocity == pytest.approx(velocity * 0.012 / rise, rel=1e-12)
    assert figures.peak_closing_velocity == pytest.approx(-velocity * 0.012 / fall, rel=1e-12)
    assert figures.peak_acceleration == pytest.approx(acceleration * 0.012 / narrow**2, rel=1e-12)
    assert figures.peak_deceleration == pytest.approx(-acceleration * 0.012 / narrow**2, rel=1e-12)
    assert figures.peak_jerk == pytest.approx(jerk * 0.012 / narrow**3, rel=1e-12)


@pytest.mark.parametrize("profile", PROFILES)
def test_a_stand_in_rises_from_its_seat_to_its_lift_and_back(profile: Profile) -> None:
    motion = motion_from_profile(profile, 0.012, 1.1, 1.3)
    assert motion.angle[[0, -1]] == pytest.approx([-1.1, 1.3])
    assert motion.lift[[0, -1]] == pytest.approx([0.0, 0.0], abs=1e-15)
    assert motion.velocity[[0, -1]] == pytest.approx([0.0, 0.0], abs=1e-14)
    assert motion.lift.max() == pytest.approx(0.012, rel=1e-12)
    assert motion.angle[motion.lift.argmax()] == pytest.approx(0.0)
    assert motion.lift.shape == (SAMPLES,)
    assert (motion.acceleration_uncertainty == 0.0).all()


@pytest.mark.parametrize("profile", PROFILES)
def test_each_derivative_of_a_stand_in_is_the_slope_of_the_one_before(profile: Profile) -> None:
    motion = motion_from_profile(profile, 0.012, 1.1, 1.3)
    inside = np.diff(motion.angle) > 0.0
    chain = [motion.lift, motion.velocity, motion.acceleration, motion.jerk]
    for value, slope in pairwise(chain):
        # trapezoids: off by 1 % of the largest where a kink of the modified sine falls inside a step
        grown = np.diff(value)[inside]
        mean = ((slope[:-1] + slope[1:]) / 2.0 * np.diff(motion.angle))[inside]
        assert grown == pytest.approx(mean, abs=2e-2 * np.abs(np.diff(value)).max())


@given(
    profile=st.sampled_from(PROFILES),
    lift=st.floats(1e-3, 2e-2),
    rise=st.floats(0.4, 2.0),
    fall=st.floats(0.4, 2.0),
    factor=st.floats(0.5, 2.0),
)
def test_a_stand_in_scales_with_lift_and_width_and_mirrors(
    profile: Profile, lift: float, rise: float, fall: float, factor: float
) -> None:
    motion = motion_from_profile(profile, lift, rise, fall)
    wider = motion_from_profile(profile, factor * lift, factor * rise, factor * fall)
    mirrored = motion_from_profile(profile, lift, fall, rise)
    assert wider.lift == pytest.approx(factor * motion.lift, rel=1e-9, abs=1e-15)
    assert wider.acceleration == pytest.approx(motion.acceleration / factor, rel=1e-9, abs=1e-12)
    assert mirrored.angle == pytest.approx(-motion.angle[::-1])
    assert mirrored.acceleration == pytest.approx(motion.acceleration[::-1], rel=1e-9, abs=1e-12)
    assert mirrored.jerk == pytest.approx(-motion.jerk[::-1], rel=1e-9, abs=1e-12)
