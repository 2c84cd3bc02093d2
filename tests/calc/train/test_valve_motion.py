from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.polynomial import Polynomial

from headbench.calc import FloatArray
from headbench.calc.train.valve_motion import Motion, at_valve, parabola_peak, scaled_to, stacked

HALF_WIDTH, LIFT = 1.2, 8e-3


def polydyne(samples: int = 241, lift: float = LIFT, half_width: float = HALF_WIDTH) -> Motion:
    """A lobe with one hump, lift (1 + sum c_i x^i) with exponents 2, 8, 14, 20 and three derivatives 0 at its ends.

    The classic polynomial valve cam (Stoddart, Polydyne cam design, Machine Design 1953; from memory);
    its coefficients are solved for here.
    """
    powers = (2, 8, 14, 20)
    falling = [[math.prod(power - down for down in range(order)) for power in powers] for order in range(4)]
    solved = np.linalg.solve(np.array(falling, dtype=np.float64), [-1.0, 0.0, 0.0, 0.0])
    coefficients = np.zeros(powers[-1] + 1)
    coefficients[0], coefficients[list(powers)] = 1.0, solved
    hump = Polynomial(coefficients)
    x = np.linspace(-1.0, 1.0, samples)
    return Motion(
        half_width * x,
        lift * hump(x),
        lift / half_width * hump.deriv(1)(x),
        lift / half_width**2 * hump.deriv(2)(x),
        lift / half_width**3 * hump.deriv(3)(x),
        np.full(samples, 1e-4),
    )


def harmonic(samples: int = 241) -> Motion:
    """LIFT/2 (1 + cos(pi angle/HALF_WIDTH)): the textbook harmonic lobe, written out."""
    angle = np.linspace(-HALF_WIDTH, HALF_WIDTH, samples)
    k = math.pi / HALF_WIDTH
    half = LIFT / 2.0
    return Motion(
        angle,
        half * (1.0 + np.cos(k * angle)),
        -half * k * np.sin(k * angle),
        -half * k**2 * np.cos(k * angle),
        half * k**3 * np.sin(k * angle),
        np.zeros(samples),
    )


def slope(angle: FloatArray, values: FloatArray) -> FloatArray:
    """Derivative by central differences of the fourth order, two samples lost on both ends."""
    step = angle[1] - angle[0]
    difference: FloatArray = (values[:-4] - 8.0 * values[1:-3] + 8.0 * values[3:-1] - values[4:]) / (12.0 * step)
    return difference


@given(st.floats(1.0, 2.0), st.floats(0.0, 5e-4))
def test_a_constant_rocker_ratio_multiplies_and_the_lash_is_lost(ratio: float, lash: float) -> None:
    lobe = polydyne()
    valve = at_valve(lobe, np.array([ratio]), np.array([0.0]), lash)
    open_ = ratio * lobe.lift > lash
    assert valve.lift[open_] == pytest.approx(ratio * lobe.lift[open_] - lash, rel=1e-12, abs=1e-15)
    for at_the_valve, at_the_lobe in (
        (valve.velocity, lobe.velocity),
        (valve.acceleration, lobe.acceleration),
        (valve.jerk, lobe.jerk),
        (valve.acceleration_uncertainty, lobe.acceleration_uncertainty),
    ):
        assert at_the_valve[open_] == pytest.approx(ratio * at_the_lobe[open_], rel=1e-12)
        assert (at_the_valve[~open_] == 0.0).all()
    assert (valve.lift[~open_] == 0.0).all()


def test_a_ratio_read_at_several_lifts_passes_through_its_readings() -> None:
    lobe = polydyne()
    lifts, ratios = np.array([1e-3, 3e-3, 5e-3, 7e-3]), np.array([1.48, 1.53, 1.56, 1.57])
    valve = at_valve(lobe, ratios, lifts, 0.0)
    opening = lobe.angle <= 0.0
    read = np.interp(lifts, lobe.lift[opening], valve.lift[opening])
    assert read == pytest.approx(lifts * ratios, rel=2e-4)


@pytest.mark.parametrize(
    ("lifts", "ratios"),
    [
        ([1e-3, 7e-3], [1.45, 1.60]),
        ([1e-3, 3e-3, 5e-3, 7e-3], [1.48, 1.53, 1.56, 1.57]),
        ([0.0, 2e-3, 9e-3], [1.60, 1.55, 1.52]),
    ],
)
def test_the_derivatives_at_the_valve_are_the_slopes_of_its_lift(lifts: list[float], ratios: list[float]) -> None:
    # own derivation: differences of the lift itself, on a fine grid; the jerk steps where the ratio's third derivative
    # does, at the lifts it was read at, and differences across a step mean nothing
    valve = at_valve(polydyne(4801), np.array(ratios), np.array(lifts), 0.0)
    inside = slice(2, -2)
    for value, derivative, allowed in (
        (valve.lift, valve.velocity, 1e-6),
        (valve.velocity, valve.acceleration, 1e-4),
        (valve.acceleration, valve.jerk, 1e-5),
    ):
        off = np.abs(slope(valve.angle, value) - derivative[inside]) > allowed * np.abs(derivative).max()
        across_steps = 4 * 2 * len(lifts)
        assert off.sum() <= (across_steps if derivative is valve.jerk else 0)


def test_a_ratio_that_runs_straight_between_two_readings_runs_on_beyond_them() -> None:
    # own derivation: r = a + b l, so L = a l + b l^2 at every lift
    a, b = 1.4, 20.0
    lobe = polydyne()
    valve = at_valve(lobe, np.array([a + b * 2e-3, a + b * 5e-3]), np.array([2e-3, 5e-3]), 0.0)
    assert valve.lift == pytest.approx(a * lobe.lift + b * lobe.lift**2, rel=1e-9, abs=1e-15)
    assert valve.velocity == pytest.approx((a + 2.0 * b * lobe.lift) * lobe.velocity, rel=1e-9, abs=1e-15)
    jerk = (a + 2.0 * b * lobe.lift) * lobe.jerk + 6.0 * b * lobe.velocity * lobe.acceleration
    assert valve.jerk == pytest.approx(jerk, rel=1e-9, abs=1e-12)


@given(st.floats(-0.9, 0.9), st.floats(0.1, 100.0), st.floats(-50.0, 50.0), st.floats(0.2, 0.8))
def test_the_peak_of_a_parabola_is_found_exactly(top: float, bend: float, height: float, uneven: float) -> None:
    at = np.array([[-2.0, -1.0, -1.0 + 2.0 * uneven, 1.0, 2.0]])
    peak = parabola_peak(at, height - bend * (at - top) ** 2)
    assert peak.angle[0] == pytest.approx(top, abs=1e-9)
    assert peak.value[0] == pytest.approx(height, rel=1e-9, abs=1e-9)


def test_a_peak_at_an_end_or_beside_a_jump_or_unknown_is_left_alone() -> None:
    at = np.array([[0.0, 1.0, 2.0, 3.0], [0.0, 1.0, 1.0, 2.0], [0.0, 1.0, 2.0, 3.0], [0.0, 1.0, 2.0, 3.0]])
    values = np.array([[9.0, 5.0, 1.0, 0.0], [1.0, 4.0, 6.0, 5.0], [1.0, np.nan, 2.0, 0.0], [-np.inf, 4.0, 3.0, 1.0]])
    peak = parabola_peak(at, values)
    assert peak.value[[0, 1, 3]].tolist() == [9.0, 6.0, 4.0]
    assert peak.angle[[0, 1, 3]].tolist() == [0.0, 1.0, 1.0]
    assert np.isnan(peak.value[2])


@pytest.mark.parametrize("peak", [0.5 * LIFT, LIFT, 1.1 * LIFT])
def test_a_motion_scaled_to_a_lift_is_that_lift_times_the_same_shape(peak: float) -> None:
    # own derivation: the harmonic lobe of that lift, written out; one whose lift is not known stays as it is
    both = scaled_to(stacked([harmonic(), harmonic()], np.array([0, 1])), np.array([peak, np.nan]))
    k = math.pi / HALF_WIDTH
    assert both.lift[0] == pytest.approx(peak / 2.0 * (1.0 + np.cos(k * both.angle[0])), abs=1e-15)
    assert both.acceleration[0] == pytest.approx(-peak / 2.0 * k**2 * np.cos(k * both.angle[0]), abs=1e-12)
    assert np.array_equal(both.lift[1], harmonic().lift)


@given(st.lists(st.integers(0, 2), min_size=1, max_size=16))
def test_every_position_gets_its_own_lobe(which: list[int]) -> None:
    lobes = [polydyne(11, lift) for lift in (6e-3, 7e-3, 8e-3)]
    head = stacked(lobes, np.array(which))
    assert head.lift.max(axis=1) == pytest.approx([(6e-3, 7e-3, 8e-3)[lobe] for lobe in which])
    for name in ("angle", "velocity", "acceleration", "jerk", "acceleration_uncertainty"):
        assert np.array_equal(getattr(head, name), [getattr(lobes[lobe], name) for lobe in which])
