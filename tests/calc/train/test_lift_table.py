from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.polynomial import Polynomial
from scipy.interpolate import BSpline
from scipy.special import roots_legendre

from headbench.calc import FloatArray
from headbench.calc.train.lift_table import (
    cam_angle,
    is_whole_turn,
    lobe_alone,
    motion_from_readings,
    scatter_allowance,
)

HALF_WIDTH, LIFT = 1.2, 8e-3


def hump(exponents: tuple[int, ...]) -> Polynomial:
    """1 + sum c_i x^i, three derivatives 0 at +-1: the polynomial valve cam, coefficients solved for."""
    falling = [[math.prod(power - down for down in range(order)) for power in exponents] for order in range(4)]
    coefficients = np.zeros(exponents[-1] + 1)
    coefficients[0] = 1.0
    coefficients[list(exponents)] = np.linalg.solve(np.array(falling, dtype=np.float64), [-1.0, 0.0, 0.0, 0.0])
    return Polynomial(coefficients)


GENTLE, SHARP = hump((2, 6, 10, 14)), hump((2, 10, 18, 26))


def lobe(shape: Polynomial, angle: FloatArray, order: int = 0) -> FloatArray:
    x = angle / HALF_WIDTH
    inside = np.abs(x) < 1.0
    value: FloatArray = (shape.deriv(order) if order else shape)(np.where(inside, x, 0.0))
    return np.asarray(np.where(inside, LIFT / HALF_WIDTH**order * value, 0.0), dtype=np.float64)


def table(spacing_degrees: float, first_degrees: float = -76.0) -> FloatArray:
    angle: FloatArray = np.radians(np.arange(first_degrees, 76.0, spacing_degrees))
    return angle


@pytest.mark.parametrize("shape", [GENTLE, SHARP])
@pytest.mark.parametrize("spacing", [1.0, 2.0, 4.0])
def test_exact_readings_give_the_lobe_and_its_derivatives_back(shape: Polynomial, spacing: float) -> None:
    at = table(spacing)
    motion = motion_from_readings(at, lobe(shape, at), 1e-10).motion
    for order, found, allowed in (
        (0, motion.lift, 1e-5),
        (1, motion.velocity, 1e-4),
        (2, motion.acceleration, 2e-3),
        (3, motion.jerk, 3e-2),
    ):
        exact = lobe(shape, motion.angle, order)
        nose = lobe(shape, motion.angle) > LIFT / 2.0
        assert found[nose] == pytest.approx(exact[nose], abs=allowed * np.abs(exact).max())


@pytest.mark.parametrize("shape", [GENTLE, SHARP])
@pytest.mark.parametrize("noise", [1e-6, 3e-6, 1e-5])
@pytest.mark.parametrize("spacing", [0.5, 1.0, 2.0, 5.0])
def test_the_acceleration_is_wrong_by_what_its_uncertainty_says(
    shape: Polynomial, noise: float, spacing: float
) -> None:
    rng = np.random.default_rng(20_240)
    at = table(spacing)
    errors = []
    for _ in range(12):
        motion = motion_from_readings(at, lobe(shape, at) + noise * rng.standard_normal(len(at)), noise).motion
        nose = lobe(shape, motion.angle) > LIFT / 2.0
        error = motion.acceleration - lobe(shape, motion.angle, 2)
        errors.append((error / motion.acceleration_uncertainty)[nose])
    normalized = np.concatenate(errors)
    # a standard uncertainty: root mean square near 1 (twelve lobes, some ten independent values each)
    assert 0.75 < np.sqrt(np.mean(normalized**2)) < 1.35
    # and hardly anything beyond three of them
    assert np.mean(np.abs(normalized) > 3.0) < 0.03


def test_the_smoothed_lobe_is_missed_by_as_much_as_the_readings_scatter() -> None:
    # Reinsch 1967: S = n + sqrt(2 n), in units of the readings' variance
    rng = np.random.default_rng(3)
    at = np.radians(np.arange(-66.0, 67.0, 2.0))
    for noise in (1e-6, 1e-5, 3e-5):
        smoothed = motion_from_readings(at, lobe(SHARP, at) + noise * rng.standard_normal(len(at)), noise)
        assert smoothed.residual == pytest.approx(noise * math.sqrt(1.0 + math.sqrt(2.0 / len(at))), rel=1e-4)


def test_no_smoother_curve_misses_the_readings_by_so_little() -> None:
    # own derivation: the same problem as one dense least-squares fit (numpy), roughness as the sum over four points
    # on every piece, strength bisected on the residual; no band, no normal equations
    noise, rng = 5e-6, np.random.default_rng(11)
    at = np.radians(np.arange(-66.0, 67.0, 3.0))
    read = lobe(GENTLE, at) + noise * rng.standard_normal(len(at))
    smoothed = motion_from_readings(at, read, noise)
    pieces, degree = 64, 5
    knots = np.concatenate([[at[0]] * degree, np.linspace(at[0], at[-1], pieces + 1), [at[-1]] * degree])
    basis = BSpline(knots, np.eye(pieces + degree), degree)
    within, share = roots_legendre(4)
    width = (at[-1] - at[0]) / pieces
    points = (at[0] + width * (np.arange(pieces)[:, np.newaxis] + (within + 1.0) / 2.0)).ravel()
    rough = basis(points, 3) * np.sqrt(np.tile(share, pieces) * width / 2.0)[:, np.newaxis]

    def fit(strength: float) -> tuple[FloatArray, float]:
        system = np.vstack([basis(at), math.sqrt(strength) * rough])
        weights = np.linalg.lstsq(system, np.append(read, np.zeros(len(rough))), rcond=None)[0]
        return weights, float(((read - basis(at) @ weights) ** 2).sum())

    low, high = -16.0, 2.0
    target = (len(at) + math.sqrt(2.0 * len(at))) * noise**2
    for _ in range(30):
        middle = (low + high) / 2.0
        low, high = (middle, high) if fit(10.0**middle)[1] < target else (low, middle)
    weights = fit(10.0**low)[0]
    largest = np.abs(smoothed.motion.acceleration).max()
    # beside what stands above the scatter (z = 3.9 of 45 readings, any table of the normal distribution) it is held
    up = at[read > 3.9 * noise]
    on = (smoothed.motion.angle >= up[0]) & (smoothed.motion.angle <= up[-1])
    angle = smoothed.motion.angle[on]
    assert smoothed.motion.lift[on] == pytest.approx(basis(angle) @ weights, abs=1e-9)
    assert smoothed.motion.acceleration[on] == pytest.approx(basis.derivative(2)(angle) @ weights, abs=1e-4 * largest)


@settings(max_examples=25)
@given(st.floats(0.5, 2.0), st.floats(-1.0, 1.0))
def test_a_table_in_another_unit_or_from_another_mark_gives_the_same_lobe(factor: float, shift: float) -> None:
    rng = np.random.default_rng(5)
    at = table(2.0)
    read = lobe(SHARP, at) + 3e-6 * rng.standard_normal(len(at))
    plain = motion_from_readings(at, read, 3e-6).motion
    other = motion_from_readings(at + shift, factor * read, factor * 3e-6).motion
    largest = factor * np.abs(plain.acceleration).max()
    assert other.angle == pytest.approx(plain.angle + shift)
    assert other.lift == pytest.approx(factor * plain.lift, abs=1e-9)
    assert other.acceleration == pytest.approx(factor * plain.acceleration, abs=1e-5 * largest)
    assert other.acceleration_uncertainty == pytest.approx(factor * plain.acceleration_uncertainty, rel=1e-3)


def test_the_flanks_may_be_read_in_either_direction() -> None:
    rng = np.random.default_rng(6)
    at = table(2.0)
    read = lobe(SHARP, at - 0.1) + 3e-6 * rng.standard_normal(len(at))
    plain = motion_from_readings(at, read, 3e-6).motion
    mirrored = motion_from_readings(-at[::-1], read[::-1], 3e-6).motion
    largest = np.abs(plain.acceleration).max()
    assert mirrored.acceleration[::-1] == pytest.approx(plain.acceleration, abs=1e-5 * largest)


@pytest.mark.parametrize("start", [0.0, 40.0, 100.0, 130.0, 179.0, 200.0, 300.0])
def test_a_peak_keeps_the_angle_it_was_read_at(start: float) -> None:
    at = np.radians(start + np.arange(0.0, 360.0, 2.0))
    away = at % math.tau - math.pi
    motion = motion_from_readings(at, lobe(GENTLE, away), 1e-6).motion
    peak = motion.angle[motion.lift.argmax()]
    read = at[lobe(GENTLE, away).argmax()]
    assert at[0] <= peak <= at[-1]
    assert peak == pytest.approx(read, abs=np.radians(2.0))


@pytest.mark.parametrize("closed", [False, True])
def test_a_lobe_that_runs_over_the_end_of_the_turn_is_one_lobe(closed: bool) -> None:  # noqa: FBT001
    rng = np.random.default_rng(7)
    around = np.radians(np.arange(0.0, 360.0, 2.0))
    noise = 3e-6 * rng.standard_normal(len(around))
    in_one_piece = lobe(SHARP, around - math.pi) + noise
    # the same readings with the degree wheel turned by half a turn: the peak at 0, or at the whole turn
    half = len(around) // 2
    cut = np.roll(in_one_piece, half)
    angle = np.append(around, math.tau) if closed else around
    read = np.append(cut, cut[0]) if closed else cut
    whole = motion_from_readings(around, in_one_piece, 3e-6).motion
    joined = motion_from_readings(angle, read, 3e-6).motion
    largest = np.abs(whole.acceleration).max()
    assert np.abs(joined.angle - whole.angle) == pytest.approx(math.pi)
    assert joined.acceleration == pytest.approx(whole.acceleration, abs=1e-6 * largest)


def test_base_circle_far_from_the_lobe_does_not_matter() -> None:
    rng = np.random.default_rng(8)
    around = np.radians(np.arange(-180.0, 180.0, 1.0))
    read = lobe(SHARP, around) + 2e-6 * rng.standard_normal(len(around))
    near = np.abs(around) < np.radians(100.0)
    whole = motion_from_readings(around, read, 2e-6).motion
    alone = motion_from_readings(around[near], read[near], 2e-6).motion
    nose = np.abs(whole.angle) < 0.8
    largest = np.abs(whole.acceleration[nose]).max()
    again = np.interp(whole.angle, alone.angle, alone.acceleration)
    assert again[nose] == pytest.approx(whole.acceleration[nose], abs=2e-2 * largest)


def test_uneven_spacing_is_no_hindrance() -> None:
    rng = np.random.default_rng(9)
    at = np.sort(rng.uniform(-1.35, 1.35, 160))
    motion = motion_from_readings(at, lobe(GENTLE, at) + 1e-6 * rng.standard_normal(160), 1e-6).motion
    nose = np.abs(motion.angle) < 0.6
    error = (motion.acceleration - lobe(GENTLE, motion.angle, 2))[nose]
    assert np.abs(error / motion.acceleration_uncertainty[nose]).max() < 4.5


def test_a_reading_not_taken_leaves_the_motion_unknown() -> None:
    at = table(2.0)
    read = lobe(GENTLE, at)
    read[30] = np.nan
    smoothed = motion_from_readings(at, read, 1e-6)
    assert np.isnan(smoothed.residual)
    assert np.isnan(smoothed.motion.acceleration).all()


def test_the_lobe_is_cut_out_with_a_tenth_of_its_width_beside_it() -> None:
    around = np.radians(np.arange(-180.0, 180.0, 1.0))
    read = np.where(np.abs(around) < np.radians(59.5), 1e-3, 0.0)
    at, lift = lobe_alone(around, read, 1e-6)
    # by hand: lifted from -59 to 59, closed at -60 and 60, a tenth of 120 beside that
    assert np.degrees(at[[0, -1]]) == pytest.approx([-72.0, 72.0])
    assert lift.sum() == pytest.approx(119e-3)


def test_a_turn_is_whole_when_its_gap_is_no_wider_than_its_steps() -> None:
    assert is_whole_turn(np.radians(np.arange(0.0, 360.0, 5.0)))
    assert is_whole_turn(np.radians(np.arange(0.0, 361.0, 5.0)))
    assert not is_whole_turn(np.radians(np.arange(0.0, 350.0, 5.0)))


def test_crank_degrees_are_halved() -> None:
    assert np.degrees(cam_angle(np.radians([0.0, 108.0, 720.0]))) == pytest.approx([0.0, 54.0, 360.0])


@pytest.mark.parametrize("readings", [1, 20, 180, 720])
def test_the_allowance_is_overstepped_by_one_table_in_a_hundred(readings: int) -> None:
    # referee: the standard library's normal distribution; both tails, shared out among the readings
    z = scatter_allowance(1.0, readings)
    assert readings * 2.0 * (1.0 - NormalDist().cdf(z)) == pytest.approx(0.01, rel=1e-6)


@pytest.mark.parametrize("noise", [1e-7, 1e-6])
def test_a_lobe_that_shuts_at_once_leaves_no_ripple_on_the_base_circle(noise: float) -> None:
    # (1 - x^2)^1.5 steps in its second derivative at +-1, which no spline follows; exact: 0 beyond, and
    # L'' = -3 (1 - 2 x^2) / sqrt(1 - x^2), which slows down inside x = 0.7071 alone
    at = table(2.0)
    x = np.minimum(np.abs(at / math.radians(72.0)), 1.0)
    motion = motion_from_readings(at, LIFT * (1.0 - x**2) ** 1.5, noise).motion
    beyond = np.abs(motion.angle) > math.radians(72.0) + 1e-9
    assert beyond.sum() > 4
    for held in (motion.lift, motion.velocity, motion.acceleration, motion.jerk):
        assert not held[beyond].any()
    last_read = np.abs(motion.angle) > math.radians(70.0)
    assert (motion.acceleration[last_read] >= 0.0).all()
