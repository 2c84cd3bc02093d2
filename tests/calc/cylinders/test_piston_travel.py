from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq, minimize_scalar

from headbench.calc.cylinders.compression_ratio import static_ratio, swept_volume
from headbench.calc.cylinders.piston_travel import (
    bottom_angle,
    effective_ratio,
    find_crank_faults,
    piston_stroke,
    piston_travel,
)

BORE, STROKE, ROD = np.array([0.1016]), np.array([0.0884]), 0.1448

angles = st.floats(-2.0 * math.pi, 4.0 * math.pi)
offsets = st.floats(-2e-3, 2e-3)


def pin_height(angle: float, throw: float, rod: float, offset: float) -> float:
    """Where a circle of the rod's length about the crank pin meets the line the piston pin runs on.

    Own derivation: the crank turns clockwise, so after top the crank pin goes right, the rod then leans
    on the left, which is the major thrust side. Found as a distance, by bracketing.
    """
    crank_pin = throw * math.sin(angle), throw * math.cos(angle)

    def too_far(height: float) -> float:
        return math.dist(crank_pin, (-offset, height)) - rod

    found = brentq(too_far, crank_pin[1], crank_pin[1] + 2.0 * rod, xtol=1e-15, rtol=8.9e-16)
    return float(found)


def dead_center(throw: float, rod: float, offset: float, near: float, sign: float) -> float:
    """Crank angle of the highest (sign -1) or lowest (sign 1) pin, searched for."""
    found = minimize_scalar(
        lambda angle: sign * pin_height(angle, throw, rod, offset),
        bounds=(near - 0.2, near + 0.2),
        method="bounded",
        options={"xatol": 1e-10},
    )
    return float(found.x)


@given(angles, offsets)
def test_travel_is_where_the_rod_reaches_the_bore(angle: float, offset: float) -> None:
    throw = float(STROKE[0]) / 2.0
    top = dead_center(throw, ROD, offset, 0.0, -1.0)
    expected = pin_height(top, throw, ROD, offset) - pin_height(top + angle, throw, ROD, offset)
    # the search for the top finds its angle to the square root of the rounding
    assert piston_travel(np.array([angle]), STROKE, ROD, offset)[0] == pytest.approx(expected, abs=2e-9)


@given(angles)
def test_without_offset_the_piston_moves_alike_on_both_sides_of_top(angle: float) -> None:
    before, after = piston_travel(np.array([-angle, angle]), STROKE, ROD, 0.0)
    assert before == pytest.approx(after, abs=1e-15)


@given(angles, offsets)
def test_a_mirrored_offset_is_a_crank_turning_back(angle: float, offset: float) -> None:
    one = piston_travel(np.array([angle]), STROKE, ROD, offset)
    other = piston_travel(np.array([-angle]), STROKE, ROD, -offset)
    assert one == pytest.approx(other, abs=1e-15)


@given(angles, offsets, st.floats(0.1, 10.0))
def test_travel_scales_with_the_engine(angle: float, offset: float, scale: float) -> None:
    small = piston_travel(np.array([angle]), STROKE, ROD, offset)
    large = piston_travel(np.array([angle]), scale * STROKE, scale * ROD, scale * offset)
    assert large == pytest.approx(scale * small, rel=1e-9, abs=1e-14)


def test_a_very_long_rod_moves_the_piston_as_a_harmonic() -> None:
    # limit of an endless rod: R (1 - cos q) (own derivation)
    angle = np.linspace(0.0, 2.0 * np.pi, 25)
    travel = piston_travel(angle, STROKE[0], 1e4, 0.0)
    assert travel == pytest.approx(0.5 * STROKE[0] * (1.0 - np.cos(angle)), abs=1e-6)


@given(st.floats(-10e-3, 10e-3))
def test_dead_centers_are_where_a_search_finds_them(offset: float) -> None:
    throw = float(STROKE[0]) / 2.0
    top = dead_center(throw, ROD, offset, 0.0, -1.0)
    bottom = dead_center(throw, ROD, offset, math.pi, 1.0)
    assert bottom_angle(STROKE, ROD, offset)[0] == pytest.approx(bottom - top, abs=1e-6)
    stroke = pin_height(top, throw, ROD, offset) - pin_height(bottom, throw, ROD, offset)
    assert piston_stroke(STROKE, ROD, offset)[0] == pytest.approx(stroke, abs=1e-12)


@given(offsets)
def test_the_stroke_is_the_travel_to_the_bottom(offset: float) -> None:
    to_bottom = piston_travel(bottom_angle(STROKE, ROD, offset), STROKE, ROD, offset)
    assert to_bottom == pytest.approx(piston_stroke(STROKE, ROD, offset), rel=1e-12)


def test_a_valve_that_closes_at_the_bottom_makes_the_static_ratio() -> None:
    clearance = np.array([80e-6])
    static = static_ratio(swept_volume(BORE, STROKE), clearance)
    assert effective_ratio(BORE, STROKE, ROD, 0.0, 0.0, clearance) == pytest.approx(static, rel=1e-12)


def test_a_valve_that_closes_at_the_top_compresses_nothing() -> None:
    assert effective_ratio(BORE, STROKE, ROD, 0.0, math.pi, np.array([80e-6])) == pytest.approx(1.0, abs=1e-12)


def test_late_closing_worked_from_the_triangle() -> None:
    # own derivation: 60 degrees after bottom the crank pin stands R/2 below and R sin 60 beside the center;
    # the rod's rise by Pythagoras, the piston's travel from the top L + R less pin height
    throw, clearance = float(STROKE[0]) / 2.0, 80e-6
    height = math.sqrt(ROD**2 - 0.75 * throw**2) - 0.5 * throw
    volume = math.pi * float(BORE[0]) ** 2 / 4.0 * (ROD + throw - height)
    ratio = effective_ratio(BORE, STROKE, ROD, 0.0, math.radians(60.0), np.array([clearance]))
    assert ratio[0] == pytest.approx((volume + clearance) / clearance, rel=1e-12)


@given(st.floats(-5e-3, 5e-3), st.floats(0.1, 3.0))
def test_late_closing_with_an_offset_pin_is_where_the_rod_reaches_the_bore(offset: float, closing: float) -> None:
    throw, clearance = float(STROKE[0]) / 2.0, 80e-6
    top, bottom = (dead_center(throw, ROD, offset, near, sign) for near, sign in ((0.0, -1.0), (math.pi, 1.0)))
    travel = pin_height(top, throw, ROD, offset) - pin_height(bottom + closing, throw, ROD, offset)
    volume = math.pi * float(BORE[0]) ** 2 / 4.0 * travel
    ratio = effective_ratio(BORE, STROKE, ROD, offset, closing, np.array([clearance]))
    # the searches find the dead centers to about a ten millionth of a radian
    assert ratio[0] == pytest.approx((volume + clearance) / clearance, rel=1e-6)


@given(offsets, st.floats(0.0, 3.0))
def test_later_closing_never_compresses_more(offset: float, angle: float) -> None:
    closing = np.array([angle, angle + 0.01])
    earlier, later = effective_ratio(BORE, STROKE, ROD, offset, closing, np.array([80e-6]))
    assert later < earlier


def test_a_missing_reading_leaves_the_ratio_unknown() -> None:
    assert np.isnan(effective_ratio(BORE, STROKE, ROD, 0.0, math.nan, np.array([80e-6]))).all()
    assert np.isnan(effective_ratio(BORE, STROKE, ROD, 0.0, 1.0, np.array([np.nan]))).all()


def test_cranks_that_cannot_turn_are_named() -> None:
    faults = find_crank_faults(
        np.array([0.08, 0.08, 0.08, 0.08]),
        np.array([0.04, 0.0405, 0.15, np.nan]),
        np.array([0.0, -0.001, 0.0, 0.0]),
        np.array([1.0, 1.0, math.pi, 1.0]),
    )
    assert faults == [("rod_too_short", 0), ("rod_too_short", 1), ("closes_past_top", 2)]
