"""Installed height: what the gauge shows, less the deduction, less the shims."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.installed_height import bare_height, installed_height, open_height, set_heights

INCH = 0.0254
SIZES = np.array([0.015, 0.030, 0.060]) * INCH
lengths = st.floats(1e-3, 0.1)


def test_a_position_is_worked_as_on_paper() -> None:
    # hand arithmetic: 1.871 - 0.090 = 1.781; 1.781 - 1.750 = 0.031 -> 0.030; 1.781 - 0.030 = 1.751
    heights = set_heights(
        np.array([1.871]) * INCH, np.array([0.090]) * INCH, np.array([1.750]) * INCH, SIZES, 0.060 * INCH, None
    )
    assert heights.bare_height[0] / INCH == pytest.approx(1.781, abs=1e-12)
    assert heights.needed[0] / INCH == pytest.approx(0.031, abs=1e-12)
    assert heights.shims.shims == ((1,),)
    assert heights.installed_height[0] / INCH == pytest.approx(1.751, abs=1e-12)
    assert heights.deviation[0] / INCH == pytest.approx(0.001, abs=1e-12)
    assert heights.short_by[0] == 0.0


def test_a_short_position_stands_at_its_bare_height_and_says_by_how_much() -> None:
    heights = set_heights(
        np.array([1.830]) * INCH, np.array([0.090]) * INCH, np.array([1.750]) * INCH, SIZES, 0.060 * INCH, None
    )
    assert heights.shims.shims == ((),)
    assert heights.installed_height[0] / INCH == pytest.approx(1.740, abs=1e-12)
    assert heights.short_by[0] / INCH == pytest.approx(0.010, abs=1e-12)


def test_a_missing_reading_stays_missing_to_the_end() -> None:
    missing, there = np.array([np.nan]), np.array([0.045])
    for measured, target in ((missing, there), (there, missing)):
        heights = set_heights(measured, np.zeros(1), target, SIZES, 0.060 * INCH, None)
        assert np.isnan(heights.installed_height[0])
        assert np.isnan(heights.deviation[0])
        assert np.isnan(open_height(heights.installed_height, np.array([0.012]))[0])


@given(measured=lengths, deduction=st.floats(0.0, 0.005), change=st.floats(0.0, 0.005))
def test_a_deduction_moves_every_height_by_the_same_amount(measured: float, deduction: float, change: float) -> None:
    before = bare_height(np.array([measured]), np.array([deduction]))
    after = bare_height(np.array([measured]), np.array([deduction + change]))
    assert before[0] - after[0] == pytest.approx(change, abs=1e-15)


@given(height=lengths, stack=st.floats(0.0, 0.002), lift=st.floats(0.0, 0.02))
def test_shim_and_lift_both_shorten_the_spring(height: float, stack: float, lift: float) -> None:
    at_lift = open_height(installed_height(np.array([height]), np.array([stack])), np.array([lift]))
    assert at_lift[0] + lift + stack == pytest.approx(height, abs=1e-15)
