"""Valve train: the lift at the valve."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline, make_interp_spline

from headbench.calc.train.valvetrain import LiftPath, rocker_ratio_over_lift, valve_lift, valve_returns_at


def test_lift_is_lobe_lift_times_ratio_less_lash() -> None:
    # hand arithmetic: 0.325 * 1.5 = 0.4875; 0.420 * 1.6 - 0.018 = 0.654
    lift = valve_lift(np.array([0.325, 0.420]), np.array([1.5, 1.6]), np.array([0.0, 0.018]))
    assert lift == pytest.approx([0.4875, 0.654], abs=1e-12)


def test_an_unknown_ratio_leaves_the_lift_unknown() -> None:
    assert np.isnan(valve_lift(np.array([0.325]), np.array([np.nan]), np.array([0.0])))[0]


def test_one_ratio_holds_at_every_lift() -> None:
    found = rocker_ratio_over_lift(np.array([1.5]), np.zeros(1), np.array([0.0, 4e-3]))
    assert found.tolist() == [[1.5, 1.5], [0.0, 0.0], [0.0, 0.0], [0.0, 0.0]]


def test_between_its_readings_the_ratio_is_a_natural_cubic_spline() -> None:
    # referee: scipy's interpolating spline of degree 3 with no second derivative at either end
    at, ratio = np.array([1e-3, 3e-3, 6e-3, 8e-3]), np.array([1.44, 1.48, 1.51, 1.50])
    referee = make_interp_spline(at, ratio, k=3, bc_type="natural")
    lift = np.array([1.5e-3, 4.4e-3, 7e-3])
    found = rocker_ratio_over_lift(ratio, at, lift)
    for order in range(4):
        assert found[order] == pytest.approx(referee(lift, order), rel=1e-9, abs=1e-9)


def test_beyond_its_readings_the_ratio_goes_straight_on() -> None:
    # hand arithmetic: two readings make a line of 0.1 in 6 mm; 3 mm past the last one it is 0.05 more
    found = rocker_ratio_over_lift(np.array([1.4, 1.5]), np.array([2e-3, 8e-3]), np.array([11e-3, -1e-3]))
    assert found[0] == pytest.approx([1.55, 1.35])
    assert found[1] == pytest.approx([0.1 / 6e-3] * 2)
    assert (found[2:] == 0.0).all()


READ_AT, READ = np.array([2e-3, 8e-3]), np.array([1.4, 1.5])
NOT_GIVEN = math.nan


@pytest.mark.parametrize(
    ("lobe_lift", "ratio"),
    [
        # hand arithmetic: a line of 0.1 in 6 mm; where no lobe lift is given that of the last reading stands for it
        (5e-3, 1.45),
        (11e-3, 1.55),
        (NOT_GIVEN, 1.5),
    ],
)
def test_the_ratio_at_full_lift_is_that_of_the_lobes_lift(lobe_lift: float, ratio: float) -> None:
    assert LiftPath(NOT_GIVEN, lobe_lift, READ, READ_AT, 0.0).full_ratio == pytest.approx(ratio)


def test_a_lift_measured_at_the_valve_goes_before_the_lobes() -> None:
    path = LiftPath(0.0117, 8e-3, np.array([1.5]), np.zeros(1), 5e-4)
    assert path.full_lift == 0.0117
    # hand arithmetic: 8 mm times 1.5 less half a millimeter
    assert replace(path, valve_lift=NOT_GIVEN).full_lift == pytest.approx(0.0115)


def test_the_lobes_lift_is_the_valves_and_its_lash_back_over_the_rocker() -> None:
    path = LiftPath(0.0115, NOT_GIVEN, np.array([1.5]), np.zeros(1), 5e-4)
    assert path.full_lobe_lift == pytest.approx(8e-3)
    assert replace(path, lobe_lift=8.1e-3).full_lobe_lift == 8.1e-3
    assert math.isnan(replace(path, valve_lift=NOT_GIVEN).full_lobe_lift)


@given(st.lists(st.tuples(st.floats(2e-4, 1e-3), st.floats(1.0, 2.0)), min_size=2, max_size=40))
def test_any_number_of_readings_makes_the_same_spline_as_the_referee(read: list[tuple[float, float]]) -> None:
    # referee: scipy's natural cubic spline, inside its readings
    at, ratio = np.cumsum([step for step, _ in read]), np.array([one for _, one in read])
    lift = np.linspace(at[0], at[-1], 37)
    found = rocker_ratio_over_lift(ratio, at, lift)
    referee = CubicSpline(at, ratio, bc_type="natural")
    assert found[0] == pytest.approx(referee(lift), rel=1e-9, abs=1e-9)
    assert found[1] == pytest.approx(referee(lift, 1), rel=1e-7, abs=1e-6)


@given(st.lists(st.tuples(st.floats(5e-4, 3e-3), st.floats(0.5, 2.0)), min_size=2, max_size=8), st.floats(1.0, 3.0))
def test_the_valve_returns_where_its_lift_by_the_referee_stops_growing(
    read: list[tuple[float, float]], beyond: float
) -> None:
    # referee: scipy's natural spline, carried on straight, in steps of a five hundredth of the way
    at, ratio = np.cumsum([step for step, _ in read]), np.array([one for _, one in read])
    spline, full = CubicSpline(at, ratio, bc_type="natural"), beyond * float(at[-1])
    lobe = np.linspace(0.0, full, 501)
    inside = np.clip(lobe, at[0], at[-1])
    back = np.flatnonzero(np.diff(lobe * (spline(inside) + spline(inside, 1) * (lobe - inside))) <= 0.0)
    found = valve_returns_at(ratio, at, full)
    assert found == pytest.approx(lobe[back[0]] if len(back) else math.nan, nan_ok=True)
