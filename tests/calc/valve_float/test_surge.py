from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from headbench.calc import FloatArray
from headbench.calc.judging.verdicts import Verdict, at_least
from headbench.calc.train.valve_motion import Motion
from headbench.calc.valve_float.surge import crank_speed_at_ratio, surge_frequency, surge_harmonics, surge_ratio

HALF_WIDTH, LIFT = 1.2, 12e-3


def one(value: float) -> FloatArray:
    return np.array([value])


def harmonic(samples: int = 181, first: float = -HALF_WIDTH) -> Motion:
    """LIFT/2 (1 + cos(pi angle/HALF_WIDTH)), opening at an angle of choice."""
    angle = np.linspace(-HALF_WIDTH, HALF_WIDTH, samples)
    k, half = math.pi / HALF_WIDTH, LIFT / 2.0
    return Motion(
        angle + (first + HALF_WIDTH),
        half * (1.0 + np.cos(k * angle)),
        -half * k * np.sin(k * angle),
        -half * k**2 * np.cos(k * angle),
        half * k**3 * np.sin(k * angle),
        np.zeros(samples),
    )


@pytest.mark.parametrize(
    ("wire", "diameter", "coils", "rate", "frequency", "rounding"),
    [
        # Shigley's MED: 9th ed. (2011), Example 10-4 (from memory); 8th ed. (2008; edition from memory), solutions to
        # Problems 10-26 and 10-27; 0.284 lbf/in3 and 386 in/s2; the active coils weigh pi^2 d^2 D N_a gamma/4
        (0.092, 0.4705, 21.0, 48.1, 281.0, 0.5),
        (0.105, 12.004 * 0.105, 8.915, 10.0, 105.433, 0.01),
        (0.112, 13.851 * 0.112, 6.190, 10.0, 106.922, 0.01),
        (0.105, 11.899 * 0.105, 9.153, 10.0, 104.509, 0.01),
        (0.112, 13.732 * 0.112, 6.353, 10.0, 106.000, 0.01),
    ],
)
def test_surge_frequencies_are_those_of_worked_examples(
    wire: float, diameter: float, coils: float, rate: float, frequency: float, rounding: float
) -> None:
    inch, pound_force = 0.0254, 4.4482216152605
    weight = math.pi**2 * wire**2 * diameter * coils * 0.284 / 4.0
    found = surge_frequency(one(rate * pound_force / inch), one(weight * pound_force / (386.0 * inch)))
    assert found[0] == pytest.approx(frequency, abs=rounding)


def test_a_chain_of_small_masses_held_at_both_ends_vibrates_at_the_surge_frequency() -> None:
    # own derivation: 200 springs in a row with masses between, numpy's eigenvalues
    pieces, rate, mass = 200, 45e3, 0.075
    inner = pieces - 1
    stiffness = rate * pieces * (2.0 * np.eye(inner) - np.eye(inner, k=1) - np.eye(inner, k=-1))
    lowest = np.linalg.eigvalsh(stiffness).min() / (mass / pieces)
    assert surge_frequency(one(rate), one(mass))[0] == pytest.approx(math.sqrt(lowest) / math.tau, rel=3e-5)


@given(st.floats(1e3, 1e6), st.floats(1e-3, 1.0), st.floats(0.1, 10.0))
def test_surge_frequency_goes_with_the_root_of_rate_over_mass(rate: float, mass: float, factor: float) -> None:
    plain = surge_frequency(one(rate), one(mass))[0]
    assert surge_frequency(one(factor**2 * rate), one(mass))[0] == pytest.approx(factor * plain, rel=1e-12)
    assert surge_frequency(one(rate), one(factor**2 * mass))[0] == pytest.approx(plain / factor, rel=1e-12)


def test_the_ratio_counts_surges_in_a_turn_of_the_cam() -> None:
    # by hand: 6000 turns of the crank a minute are 50 turns of the cam a second; 500 Hz is ten of them
    assert surge_ratio(one(500.0), 6000.0 * math.tau / 60.0)[0] == pytest.approx(10.0, rel=1e-12)


@given(st.floats(50.0, 2000.0), st.floats(1.0, 40.0))
def test_the_speed_for_a_ratio_has_that_ratio(frequency: float, ratio: float) -> None:
    speed = crank_speed_at_ratio(one(frequency), ratio)
    assert surge_ratio(one(frequency), float(speed[0]))[0] == pytest.approx(ratio, rel=1e-12)


def test_a_ratio_that_a_job_names_is_a_limit_like_any_other() -> None:
    ratio = surge_ratio(np.array([650.0, 640.0, math.nan]), 6000.0 * math.tau / 60.0)
    assert at_least(ratio, 13.0).tolist() == [Verdict.ACCEPT, Verdict.REJECT, Verdict.NOT_MEASURED]


def test_the_harmonics_are_the_fourier_integrals_of_the_lift() -> None:
    # referee: scipy's quadrature of the closed-form lobe, an even function of the angle
    def lift(angle: float) -> float:
        return LIFT / 2.0 * (1.0 + math.cos(math.pi * angle / HALF_WIDTH))

    found = surge_harmonics(harmonic(), one(400.0), 600.0, 30)
    for order, amplitude in zip(found.order.tolist(), found.amplitude.tolist(), strict=True):
        integral = quad(lift, 0.0, HALF_WIDTH, weight="cos", wvar=order)[0]
        assert amplitude == pytest.approx(abs(2.0 / math.pi * integral), abs=1e-8 * LIFT + 1e-6 * amplitude)


def test_the_harmonics_hold_all_of_the_lift() -> None:
    # Parseval: mean^2 + half the sum of squares is the mean square over the turn, in closed form
    # LIFT^2 (3/8) 2 HALF_WIDTH/2 pi, mean LIFT HALF_WIDTH/2 pi
    found = surge_harmonics(harmonic(), one(400.0), 600.0, 100)
    mean = LIFT * HALF_WIDTH / math.tau
    square = LIFT**2 * 3.0 / 8.0 * 2.0 * HALF_WIDTH / math.tau
    assert mean**2 + (found.amplitude**2).sum() / 2.0 == pytest.approx(square, rel=1e-8)


@given(st.floats(-10.0, 10.0))
def test_the_harmonics_do_not_care_where_the_lobe_sits(first: float) -> None:
    plain = surge_harmonics(harmonic(), one(400.0), 600.0, 20).amplitude
    moved = surge_harmonics(harmonic(first=first), one(400.0), 600.0, 20).amplitude
    assert moved == pytest.approx(plain, rel=1e-6, abs=1e-10)


def test_an_angle_held_twice_is_no_hindrance() -> None:
    motion = harmonic()
    nose = len(motion.angle) // 2
    twice = Motion(*(np.insert(getattr(motion, name), nose, getattr(motion, name)[nose]) for name in Motion.__slots__))
    plain = surge_harmonics(motion, one(400.0), 600.0, 20)
    assert surge_harmonics(twice, one(400.0), 600.0, 20).amplitude == pytest.approx(plain.amplitude)


def test_each_harmonic_meets_the_surge_frequency_at_its_own_speed() -> None:
    found = surge_harmonics(harmonic(), np.array([400.0, 500.0]), 6000.0 * math.tau / 60.0, 12)
    # by hand: 500 Hz is the tenth harmonic of a cam at 50 turns a second, a crank at 6000 a minute
    assert found.crank_speed[1, 9] == pytest.approx(6000.0 * math.tau / 60.0)
    assert found.crank_speed.shape == (2, 12)
    assert found.nearest.tolist() == [8, 10]
    assert found.nearest_amplitude == pytest.approx(found.amplitude[[7, 9]])


def test_a_spring_not_known_or_far_beyond_the_orders_asked_for_has_no_amplitude() -> None:
    found = surge_harmonics(harmonic(), np.array([math.nan, 2000.0, 1.0]), 6000.0 * math.tau / 60.0, 12)
    assert found.nearest.tolist() == [0, 40, 1]
    assert np.isnan(found.nearest_amplitude).tolist() == [True, True, False]
    assert np.isnan(found.crank_speed[0]).all()


def test_an_unknown_motion_has_unknown_harmonics() -> None:
    unknown = np.full(9, np.nan)
    motion = Motion(unknown, unknown, unknown, unknown, unknown, unknown)
    assert np.isnan(surge_harmonics(motion, one(400.0), 600.0, 5).amplitude).all()
