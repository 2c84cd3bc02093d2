from __future__ import annotations

import math
from itertools import pairwise
from typing import Any, get_args

import mpmath  # type: ignore[import-untyped]  # ships no types
import numpy as np
import pytest
import sympy  # type: ignore[import-untyped]  # ships no types
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.motion_laws import MotionLaw, law_values, motion_from_law
from headbench.calc.valve_motion import SAMPLES

LAWS: tuple[MotionLaw, ...] = get_args(MotionLaw)
U = sympy.Symbol("u", nonnegative=True)


def polynomial_between_dwells(still: int) -> Any:
    """The polynomial of least degree from 0 to 1 with that many derivatives 0 at both ends."""
    coefficients = sympy.symbols(f"c0:{2 * still + 2}")
    rise = sum(coefficient * U**power for power, coefficient in enumerate(coefficients))
    conditions = [rise.subs(U, 0), rise.subs(U, 1) - 1]
    for order in range(1, still + 1):
        conditions += [sympy.diff(rise, U, order).subs(U, end) for end in (0, 1)]
    return rise.subs(sympy.solve(conditions, coefficients))


def sine_of_acceleration() -> Any:
    """Cycloidal: one full sine of acceleration, at rest at both ends."""
    size, speed = sympy.symbols("size speed")
    velocity = sympy.integrate(size * sympy.sin(2 * sympy.pi * U), (U, 0, U)) + speed
    rise = sympy.integrate(velocity, (U, 0, U))
    found = sympy.solve([velocity.subs(U, 0), rise.subs(U, 1) - 1], [size, speed])
    return sympy.simplify(rise.subs(found))


def three_sines_of_acceleration() -> Any:
    """Modified sine, from its definition: a quarter of a fast sine, half a slow one, a quarter of the fast one."""
    size = sympy.Symbol("size")
    fast, slow = 4 * sympy.pi, 4 * sympy.pi / 3
    pieces = [
        (size * sympy.sin(fast * U), 0, sympy.Rational(1, 8)),
        (size * sympy.cos(slow * (U - sympy.Rational(1, 8))), sympy.Rational(1, 8), sympy.Rational(7, 8)),
        (-size * sympy.cos(fast * (U - sympy.Rational(7, 8))), sympy.Rational(7, 8), 1),
    ]
    velocity, rise, parts = sympy.Integer(0), sympy.Integer(0), []
    for acceleration, start, end in pieces:
        here = velocity + sympy.integrate(acceleration, (U, start, U))
        there = rise + sympy.integrate(here, (U, start, U))
        parts.append((there, end >= U))
        velocity, rise = here.subs(U, end), there.subs(U, end)
    whole = sympy.solve(rise - 1, size)[0]
    return sympy.Piecewise(*[(part.subs(size, whole), condition) for part, condition in parts])


# every law from its definition, none of it from the kernel's formulas
DEFINITIONS: dict[MotionLaw, Any] = {
    "harmonic": (1 - sympy.cos(sympy.pi * U)) / 2,
    "cycloidal": sine_of_acceleration(),
    "3-4-5": polynomial_between_dwells(2),
    "4-5-6-7": polynomial_between_dwells(3),
    "modified sine": three_sines_of_acceleration(),
}


@pytest.mark.parametrize("law", LAWS)
def test_a_law_and_its_derivatives_are_those_of_its_definition(law: MotionLaw) -> None:
    at = [0.03, 0.11, 0.2, 0.37, 0.5, 0.64, 0.81, 0.9, 0.97]
    values = law_values(law, np.array(at))
    for order in range(4):
        exact = sympy.diff(DEFINITIONS[law], U, order)
        expected = [float(exact.subs(U, sympy.Rational(str(u))).evalf(30)) for u in at]
        assert values[order] == pytest.approx(expected, rel=1e-11, abs=1e-11)


@pytest.mark.parametrize(
    ("law", "velocity", "acceleration", "jerk"),
    # acceleration: reference-values.md (4.9348, 6.2832, 5.7735, 7.5132), exact; Norton, Design of Machinery (MEM).
    # The others derived from the definitions by hand, and checked against them in the next test
    [
        ("harmonic", math.pi / 2, math.pi**2 / 2, math.pi**3 / 2),
        ("cycloidal", 2.0, 2 * math.pi, 4 * math.pi**2),
        ("3-4-5", 15 / 8, 10 / math.sqrt(3), 60.0),
        ("4-5-6-7", 35 / 16, 7.513188, 52.5),
        ("modified sine", 4 * math.pi / (4 + math.pi), 4 * math.pi**2 / (4 + math.pi), 16 * math.pi**3 / (4 + math.pi)),
    ],
)
def test_the_peaks_of_a_law_are_the_textbook_ones(
    law: MotionLaw, velocity: float, acceleration: float, jerk: float
) -> None:
    peaks = np.abs(law_values(law, np.linspace(0.0, 1.0, 100_001))).max(axis=1)
    assert peaks[1:] == pytest.approx([velocity, acceleration, jerk], rel=1e-7)


@pytest.mark.parametrize("law", LAWS)
def test_the_peaks_of_a_law_are_the_extremes_of_its_definition(law: MotionLaw) -> None:
    values = law_values(law, np.linspace(0.0, 1.0, 20_001))
    for order in (1, 2, 3):
        size = sympy.lambdify(U, sympy.Abs(sympy.diff(DEFINITIONS[law], U, order)), "mpmath")
        # referee: mpmath looks at every hundredth, then narrows down by golden section
        best = max(np.linspace(1e-9, 1.0 - 1e-9, 101).tolist(), key=size)
        low, high = max(best - 0.01, 1e-9), min(best + 0.01, 1.0 - 1e-9)
        for _ in range(60):
            left, right = high - (high - low) / mpmath.phi, low + (high - low) / mpmath.phi
            low, high = (low, right) if size(left) > size(right) else (left, high)
        assert np.abs(values[order]).max() == pytest.approx(float(size((low + high) / 2)), rel=1e-6)


@pytest.mark.parametrize("law", LAWS)
def test_a_stand_in_rises_from_its_seat_to_its_lift_and_back(law: MotionLaw) -> None:
    motion = motion_from_law(law, 0.012, 1.1, 1.3)
    assert motion.angle[[0, -1]] == pytest.approx([-1.1, 1.3])
    assert motion.lift[[0, -1]] == pytest.approx([0.0, 0.0], abs=1e-15)
    assert motion.velocity[[0, -1]] == pytest.approx([0.0, 0.0], abs=1e-14)
    assert motion.lift.max() == pytest.approx(0.012, rel=1e-12)
    assert motion.angle[motion.lift.argmax()] == pytest.approx(0.0)
    assert motion.lift.shape == (SAMPLES,)
    assert (motion.acceleration_uncertainty == 0.0).all()


@pytest.mark.parametrize("law", LAWS)
def test_each_derivative_of_a_stand_in_is_the_slope_of_the_one_before(law: MotionLaw) -> None:
    motion = motion_from_law(law, 0.012, 1.1, 1.3)
    inside = np.diff(motion.angle) > 0.0
    chain = [motion.lift, motion.velocity, motion.acceleration, motion.jerk]
    for value, slope in pairwise(chain):
        # trapezoids: off by 1 % of the largest where a kink of the modified sine falls inside a step
        grown = np.diff(value)[inside]
        mean = ((slope[:-1] + slope[1:]) / 2.0 * np.diff(motion.angle))[inside]
        assert grown == pytest.approx(mean, abs=2e-2 * np.abs(np.diff(value)).max())


@given(
    law=st.sampled_from(LAWS),
    lift=st.floats(1e-3, 2e-2),
    rise=st.floats(0.4, 2.0),
    fall=st.floats(0.4, 2.0),
    factor=st.floats(0.5, 2.0),
)
def test_a_stand_in_scales_with_lift_and_width_and_mirrors(
    law: MotionLaw, lift: float, rise: float, fall: float, factor: float
) -> None:
    motion = motion_from_law(law, lift, rise, fall)
    wider = motion_from_law(law, factor * lift, factor * rise, factor * fall)
    mirrored = motion_from_law(law, lift, fall, rise)
    assert wider.lift == pytest.approx(factor * motion.lift, rel=1e-9, abs=1e-15)
    assert wider.acceleration == pytest.approx(motion.acceleration / factor, rel=1e-9, abs=1e-12)
    assert mirrored.angle == pytest.approx(-motion.angle[::-1])
    assert mirrored.acceleration == pytest.approx(motion.acceleration[::-1], rel=1e-9, abs=1e-12)
    assert mirrored.jerk == pytest.approx(-motion.jerk[::-1], rel=1e-9, abs=1e-12)
