from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.polynomial import Polynomial
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from uncertainties import ufloat  # type: ignore[import-untyped]  # ships no types

from headbench.calc import FloatArray, IntArray
from headbench.calc.train.lift_table import motion_from_readings
from headbench.calc.train.valve_motion import Motion, stacked
from headbench.calc.valve_float.speed import (
    contact_force,
    float_speed,
    load_needed,
    load_over_lift,
    mass_allowed,
    speed_gained,
    speed_reserve,
)

HALF_WIDTH, LIFT = 1.2, 12e-3
SEAT_LOAD, RATE, MASS = 500.0, 50e3, 0.16
EXACT = np.zeros(1)


def one(value: float) -> FloatArray:
    return np.array([value])


def harmonic(samples: int = 181, lift: float = LIFT, uncertainty: float = 0.0) -> Motion:
    """lift/2 (1 + cos(pi angle/HALF_WIDTH)), one position."""
    angle = np.linspace(-HALF_WIDTH, HALF_WIDTH, samples)
    k, half = math.pi / HALF_WIDTH, lift / 2.0
    values = (
        angle,
        half * (1.0 + np.cos(k * angle)),
        -half * k * np.sin(k * angle),
        -half * k**2 * np.cos(k * angle),
        half * k**3 * np.sin(k * angle),
        np.full(samples, uncertainty),
    )
    return Motion(*(value[np.newaxis] for value in values))


def hump() -> Polynomial:
    """1 + sum c_i x^i, three derivatives 0 at +-1: the polynomial valve cam, coefficients solved for."""
    exponents = (2, 10, 18, 26)
    falling = [[math.prod(power - down for down in range(order)) for power in exponents] for order in range(4)]
    coefficients = np.zeros(exponents[-1] + 1)
    coefficients[0] = 1.0
    coefficients[list(exponents)] = np.linalg.solve(np.array(falling, dtype=np.float64), [-1.0, 0.0, 0.0, 0.0])
    return Polynomial(coefficients)


HUMP = hump()


def polydyne(samples: int = 181) -> Motion:
    x = np.linspace(-1.0, 1.0, samples)
    derivatives = [LIFT / HALF_WIDTH**order * (HUMP.deriv(order) if order else HUMP)(x) for order in range(4)]
    lift, velocity, acceleration, jerk = (value[np.newaxis] for value in derivatives)
    return Motion(HALF_WIDTH * x[np.newaxis], lift, velocity, acceleration, jerk, np.zeros((1, samples)))


def spring(motion: Motion, seat_load: float = SEAT_LOAD, rate: float = RATE) -> FloatArray:
    return seat_load + rate * motion.lift


def separates(crank_speed: float) -> bool:
    """Whether a mass pressed by a spring leaves a harmonic cam at a speed: its motion integrated in time.

    The cam is a very stiff, well damped spring that can push only (3 GN/m against 50 kN/m); the mass
    starts on it half way up the opening flank, where the harmonic cam asks for no acceleration.
    """
    stiffness, cam = 3e9, crank_speed / 2.0
    damping = 2.0 * math.sqrt(stiffness * MASS)
    k, half = math.pi / HALF_WIDTH, LIFT / 2.0

    def overlap(time: float, state: FloatArray) -> float:
        angle = -HALF_WIDTH / 2.0 + cam * time
        gone = half * (1.0 + math.cos(k * angle)) - state[0]
        closing = -half * k * cam * math.sin(k * angle) - state[1]
        return float(stiffness * gone + damping * closing)

    def falls(time: float, state: FloatArray) -> list[float]:
        return [state[1], (max(overlap(time, state), 0.0) - SEAT_LOAD - RATE * state[0]) / MASS]

    overlap.terminal = True  # type: ignore[attr-defined]  # solve_ivp reads it off the function
    start = [half - (SEAT_LOAD + RATE * half) / stiffness, half * k * cam]
    over_the_nose = HALF_WIDTH / cam
    ran = solve_ivp(falls, (0.0, over_the_nose), start, method="Radau", rtol=1e-8, atol=1e-12, events=overlap)
    assert ran.t_events is not None
    return len(ran.t_events[0]) > 0


def test_a_mass_thrown_off_a_harmonic_cam_leaves_it_at_the_float_speed() -> None:
    # own derivation: lowest speed at which the integrated motion loses contact, to a thousandth, by bisection
    low, high = 400.0, 1600.0
    assert not separates(low)
    assert separates(high)
    while high - low > 1e-3 * low:
        middle = (low + high) / 2.0
        low, high = (low, middle) if separates(middle) else (middle, high)
    motion = harmonic()
    parts = float_speed(motion, spring(motion), one(MASS), EXACT, EXACT)
    assert parts.crank_speed[0] == pytest.approx(low, rel=2e-3)


def test_a_harmonic_cam_lets_go_at_its_nose() -> None:
    # own derivation, by hand: m LIFT/2 (pi/HALF_WIDTH)^2 w^2 = F_open there, and nowhere sooner as long as the load
    # grows less than in proportion to the lift above half of it
    motion = harmonic()
    parts = float_speed(motion, spring(motion), one(MASS), EXACT, EXACT)
    cam = math.sqrt((SEAT_LOAD + RATE * LIFT) / (MASS * LIFT / 2.0)) * HALF_WIDTH / math.pi
    assert parts.crank_speed[0] == pytest.approx(2.0 * cam, rel=1e-12)
    assert parts.angle[0] == pytest.approx(0.0, abs=1e-9)
    assert parts.lift[0] == pytest.approx(LIFT)
    assert parts.load[0] == pytest.approx(SEAT_LOAD + RATE * LIFT)


def test_a_cam_that_brakes_hardest_beside_its_nose_lets_go_there() -> None:
    # referee: scipy's brentq for the speed at which the smallest contact force, on a grid a hundred times
    # finer, is nothing
    motion, fine = polydyne(), polydyne(18_001)

    def least(crank_speed: float) -> float:
        force = spring(fine) + MASS * fine.acceleration * (crank_speed / 2.0) ** 2
        return float(force[(fine.acceleration < 0.0) & (fine.lift > 0.0)].min())

    exact = brentq(least, 300.0, 3000.0, xtol=1e-9)
    parts = float_speed(motion, spring(motion), one(MASS), EXACT, EXACT)
    assert parts.crank_speed[0] == pytest.approx(exact, rel=1e-5)
    assert 0.1 < abs(parts.angle[0]) < 1.1
    at = HALF_WIDTH * np.linspace(-1.0, 1.0, 18_001)
    assert parts.lift[0] == pytest.approx(float(np.interp(parts.angle[0], at, fine.lift[0])), rel=1e-4)
    assert parts.load[0] == pytest.approx(SEAT_LOAD + RATE * parts.lift[0], rel=1e-9)


def test_the_lift_it_happens_at_is_told_between_coarse_samples() -> None:
    motion, fine = polydyne(31), polydyne(18_001)
    parts = float_speed(motion, spring(motion), one(MASS), EXACT, EXACT)
    exact = float(np.interp(parts.angle[0], fine.angle[0], fine.lift[0]))
    assert parts.lift[0] == pytest.approx(exact, rel=3e-3)


@given(st.floats(0.1, 10.0), st.floats(0.1, 10.0), st.floats(0.2, 5.0))
def test_float_speed_goes_with_the_root_of_load_over_mass_and_lift(mass: float, load: float, lift: float) -> None:
    motion = polydyne()
    plain = float_speed(motion, spring(motion), one(MASS), EXACT, EXACT).crank_speed[0]
    higher = Motion(
        motion.angle, lift * motion.lift, motion.velocity, lift * motion.acceleration, motion.jerk, motion.jerk * 0.0
    )
    other = float_speed(higher, load * spring(motion), one(mass * MASS), EXACT, EXACT).crank_speed[0]
    assert other == pytest.approx(plain * math.sqrt(load / (mass * lift)), rel=1e-12)


@given(st.permutations(range(6)))
def test_positions_do_not_disturb_each_other(order: list[int]) -> None:
    motion = polydyne()
    head = Motion(*(np.repeat(getattr(motion, name), 6, axis=0) for name in Motion.__slots__))
    load = np.linspace(0.7, 1.3, 6)[:, np.newaxis] * spring(motion)
    mass = np.linspace(0.2, 0.1, 6)
    none = np.zeros(6)
    plain = float_speed(head, load, mass, none, none)
    again = float_speed(head, load[order], mass[order], none, none)
    assert np.array_equal(again.crank_speed, plain.crank_speed[order])
    assert np.array_equal(again.angle, plain.angle[order])
    alone = float_speed(motion, load[2:3], mass[2:3], EXACT, EXACT)
    assert alone.crank_speed[0] == plain.crank_speed[2]


@given(st.floats(0.05, 0.5), st.floats(100.0, 900.0), st.floats(0.0, 1e5))
def test_at_the_float_speed_nothing_is_left_between_train_and_cam(mass: float, seat_load: float, rate: float) -> None:
    motion = harmonic()
    load = spring(motion, seat_load, rate)
    speed = float(float_speed(motion, load, one(mass), EXACT, EXACT).crank_speed[0])
    largest = float(load.max())
    assert contact_force(motion, load, one(mass), speed).least[0] == pytest.approx(0.0, abs=1e-3 * largest)
    assert contact_force(motion, load, one(mass), 1.01 * speed).least[0] < 0.0
    assert contact_force(motion, load, one(mass), 0.99 * speed).least[0] > 0.0


def test_the_force_trace_is_spring_plus_inertia() -> None:
    # by hand at the nose of a harmonic cam, 300 rad/s at the cam: 1100 N - m LIFT/2 (pi/1.2)^2 300^2
    motion = harmonic()
    forces = contact_force(motion, spring(motion), one(MASS), 600.0)
    braking = MASS * LIFT / 2.0 * (math.pi / HALF_WIDTH) ** 2 * 300.0**2
    nose = motion.lift.shape[1] // 2
    assert forces.inertia[0, nose] == pytest.approx(-braking)
    assert forces.contact[0, nose] == pytest.approx(1100.0 - braking)
    assert forces.least[0] == pytest.approx(1100.0 - braking)
    assert forces.least_angle[0] == pytest.approx(0.0, abs=1e-9)


@given(st.floats(0.5, 2.0))
def test_the_load_asked_for_holds_to_the_wanted_speed_and_no_further(times: float) -> None:
    motion = harmonic()
    load = spring(motion)
    speed = float_speed(motion, load, one(MASS), EXACT, EXACT).crank_speed
    wanted = times * float(speed[0])
    needed = load_needed(motion, load, one(MASS), speed, wanted)
    stiffer = float_speed(motion, needed.factor * load, one(MASS), EXACT, EXACT)
    assert stiffer.crank_speed[0] == pytest.approx(wanted, rel=1e-9)
    # a tighter set-up adds the same at every height: nothing is left where the cam is left first
    tighter = load + needed.added
    least = float((tighter + MASS * motion.acceleration * (wanted / 2.0) ** 2)[motion.acceleration < 0.0].min())
    assert least == pytest.approx(0.0, abs=1e-9 * float(load.max()))
    assert needed.open_load[0] == pytest.approx(tighter.max())


@given(st.floats(0.5, 2.0))
def test_the_mass_allowed_floats_at_the_wanted_speed(times: float) -> None:
    motion = polydyne()
    load = spring(motion)
    speed = float_speed(motion, load, one(MASS), EXACT, EXACT).crank_speed
    allowed = mass_allowed(one(MASS), speed, times * float(speed[0]))
    again = float_speed(motion, load, allowed, EXACT, EXACT).crank_speed
    assert again[0] == pytest.approx(times * speed[0], rel=1e-9)


@given(st.floats(1e-4, 0.1))
def test_the_speed_gained_is_what_the_lighter_train_reaches(saved: float) -> None:
    motion = polydyne()
    load = spring(motion)
    speed = float_speed(motion, load, one(MASS), EXACT, EXACT).crank_speed
    lighter = float_speed(motion, load, one(MASS - saved), EXACT, EXACT).crank_speed
    assert speed_gained(one(MASS), speed, one(saved))[0] == pytest.approx(float((lighter - speed)[0]), rel=1e-9)


def test_the_reserve_is_told_against_the_intended_speed() -> None:
    # by hand: 770/700 - 1, 630/700 - 1
    assert speed_reserve(np.array([770.0, 630.0, math.inf]), 700.0) == pytest.approx([0.1, -0.1, math.inf])


def test_the_uncertainty_is_propagated_to_first_order() -> None:
    # referee: the uncertainties library on the closed form at the nose
    motion = harmonic(uncertainty=1e-3)
    parts = float_speed(motion, spring(motion), one(MASS), one(15.0), one(0.002))
    braking = ufloat(LIFT / 2.0 * (math.pi / HALF_WIDTH) ** 2, 1e-3)
    speed = 2.0 * (ufloat(SEAT_LOAD + RATE * LIFT, 15.0) / (ufloat(MASS, 0.002) * braking)) ** 0.5
    assert parts.crank_speed[0] == pytest.approx(speed.nominal_value, rel=1e-9)
    assert parts.crank_speed_uncertainty[0] == pytest.approx(speed.std_dev, rel=1e-9)


def test_noise_in_the_lift_table_moves_the_float_speed_by_no_more_than_its_uncertainty_says() -> None:
    noise, rng = 3e-6, np.random.default_rng(42)
    at = np.radians(np.arange(-76.0, 77.0, 2.0))
    x = at / HALF_WIDTH
    exact_lift = np.where(np.abs(x) < 1.0, LIFT * HUMP(np.clip(x, -1.0, 1.0)), 0.0)
    true_motion = polydyne()
    true = float(float_speed(true_motion, spring(true_motion), one(MASS), EXACT, EXACT).crank_speed[0])
    tables = [
        motion_from_readings(at, exact_lift + noise * rng.standard_normal(len(at)), noise).motion for _ in range(60)
    ]
    head = stacked(tables, np.arange(60))
    none = np.zeros(60)
    parts = float_speed(head, spring(head), np.full(60, MASS), none, none)
    away = (parts.crank_speed - true) / parts.crank_speed_uncertainty
    # three standard uncertainties, and the low side it is said to err to
    assert np.abs(away).max() < 4.0
    assert np.mean(np.abs(away) < 3.0) > 0.95
    assert -2.0 < away.mean() < 0.0
    assert (parts.crank_speed_uncertainty / parts.crank_speed).max() < 0.05


def test_a_spring_that_is_never_called_upon_never_lets_go() -> None:
    motion = harmonic()
    eased = Motion(
        motion.angle, motion.lift, motion.velocity, np.abs(motion.acceleration), motion.jerk, motion.jerk * 0.0
    )
    parts = float_speed(eased, spring(motion), one(MASS), EXACT, EXACT)
    assert parts.crank_speed[0] == math.inf
    assert np.isnan(parts.angle[0])


def test_a_spring_without_load_at_full_lift_lets_go_at_once() -> None:
    motion = harmonic()
    load = np.maximum(500.0 - 60e3 * motion.lift, 0.0)
    parts = float_speed(motion, load, one(MASS), one(5.0), EXACT)
    assert parts.crank_speed[0] == 0.0
    # half of nothing times no end: there is no uncertainty to tell
    assert np.isnan(parts.crank_speed_uncertainty[0])
    needed = load_needed(motion, load, one(MASS), parts.crank_speed, 500.0)
    assert needed.factor[0] == math.inf


def test_what_was_not_measured_leaves_the_float_speed_unknown() -> None:
    motion = harmonic()
    load = spring(motion)
    assert np.isnan(float_speed(motion, load, one(math.nan), EXACT, EXACT).crank_speed[0])
    unknown = load.copy()
    unknown[0, load.shape[1] // 2] = np.nan
    assert np.isnan(float_speed(motion, unknown, one(MASS), EXACT, EXACT).crank_speed[0])
    assert np.isnan(contact_force(motion, unknown, one(MASS), 500.0).least[0])


def test_a_load_not_known_where_no_spring_is_needed_does_not_matter() -> None:
    motion = harmonic()
    load = spring(motion)
    unknown = np.where(motion.acceleration > 0.0, np.nan, load)
    with_all = float_speed(motion, load, one(MASS), EXACT, EXACT).crank_speed[0]
    assert float_speed(motion, unknown, one(MASS), EXACT, EXACT).crank_speed[0] == with_all


def test_a_valve_on_its_seat_is_not_held_by_the_cam() -> None:
    # the lobe asks for braking below the lash, where the valve does not follow it
    motion = harmonic()
    closed = np.zeros_like(motion.lift)
    below_lash = Motion(motion.angle, closed, motion.velocity, motion.acceleration, motion.jerk, closed)
    assert float_speed(below_lash, spring(motion), one(MASS), EXACT, EXACT).crank_speed[0] == math.inf


def test_every_position_is_pushed_by_its_own_spring_at_its_own_height() -> None:
    rate, free = np.array([40e3, 50e3]), np.array([0.055, 0.052])

    def load_at(position: IntArray, height: FloatArray) -> FloatArray:
        return rate[position] * (free[position] - height)

    lift = np.array([[0.0, 6e-3, 12e-3], [0.0, 5e-3, 10e-3]])
    # by hand: 40e3 (55 - 45) mm and 6, 12 mm more; 50e3 (52 - 44) mm and 5, 10 mm more
    load = load_over_lift(load_at, np.array([0.045, 0.044]), lift)
    assert load == pytest.approx(np.array([[400.0, 640.0, 880.0], [400.0, 650.0, 900.0]]))
    assert np.isnan(load_over_lift(load_at, np.array([math.nan, 0.044]), lift)[0]).all()
