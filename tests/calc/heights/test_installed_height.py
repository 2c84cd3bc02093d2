"""Installed height: what the micrometer shows, less the deduction, less the shims."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.heights.installed_height import (
    Heights,
    ShimsAtHand,
    bare_height,
    installed_height,
    open_height,
    set_heights,
    within_height,
)

INCH = 0.0254
SIZES = np.array([0.015, 0.030, 0.060]) * INCH
lengths = st.floats(1e-3, 0.1)


def heights_of(measured: FloatArray, target: FloatArray, read: FloatArray | None = None) -> Heights:
    bare = bare_height(measured, np.full(len(measured), 0.090 * INCH))
    suits = within_height(target, np.full(len(target), 0.010 * INCH))
    return set_heights(bare, target, ShimsAtHand(SIZES, 0.060 * INCH), suits, read)


def test_a_position_is_worked_as_on_paper() -> None:
    # hand arithmetic: 1.871 - 0.090 = 1.781; 1.781 - 1.750 = 0.031 -> 0.030; 1.781 - 0.030 = 1.751
    heights = heights_of(np.array([1.871]) * INCH, np.array([1.750]) * INCH)
    assert heights.bare_height[0] / INCH == pytest.approx(1.781, abs=1e-12)
    assert heights.needed[0] / INCH == pytest.approx(0.031, abs=1e-12)
    assert heights.shims == ((1,),)
    assert heights.installed_height[0] / INCH == pytest.approx(1.751, abs=1e-12)
    assert heights.deviation[0] / INCH == pytest.approx(0.001, abs=1e-12)
    assert heights.short_by[0] == 0.0


def test_the_runner_up_is_the_next_nearest_stack() -> None:
    # 0.031 needed: 0.030 misses by 0.001, then 0.045 by 0.014 and 0.015 by 0.016
    heights = heights_of(np.array([1.871]) * INCH, np.array([1.750]) * INCH)
    assert heights.runner_up == ((1, 0),)
    assert heights.runner_up_height[0] / INCH == pytest.approx(1.781 - 0.045, abs=1e-12)


def test_a_short_position_stands_at_its_bare_height_and_says_by_how_much() -> None:
    heights = heights_of(np.array([1.830]) * INCH, np.array([1.750]) * INCH)
    assert heights.shims == ((),)
    assert heights.installed_height[0] / INCH == pytest.approx(1.740, abs=1e-12)
    assert heights.short_by[0] / INCH == pytest.approx(0.010, abs=1e-12)


def test_a_missing_reading_stays_missing_to_the_end() -> None:
    missing, there = np.array([np.nan]), np.array([0.045])
    for measured, target in ((missing, there), (there, missing)):
        heights = heights_of(measured, target)
        assert np.isnan(heights.installed_height[0])
        assert np.isnan(heights.deviation[0])
        assert np.isnan(open_height(heights.installed_height, np.array([0.012]))[0])


def test_a_height_read_after_assembly_counts() -> None:
    heights = heights_of(np.array([1.871]) * INCH, np.array([1.750]) * INCH, np.array([1.755]) * INCH)
    assert heights.installed_height[0] / INCH == pytest.approx(1.755, abs=1e-12)
    assert heights.figured_height[0] / INCH == pytest.approx(1.751, abs=1e-12)
    assert heights.deviation[0] / INCH == pytest.approx(0.005, abs=1e-12)


def test_a_stack_that_does_not_suit_gives_way_to_the_next_that_does() -> None:
    # 0.040 needed: 0.045 is nearest; where a spring needs 1.753 at least, 0.030 stands at 1.760
    bare, target = np.array([1.790]) * INCH, np.array([1.750]) * INCH

    def suits(places: IntArray, heights: FloatArray) -> BoolArray:
        return np.asarray(within_height(target, np.array([0.010]) * INCH)(places, heights) & (heights >= 1.753 * INCH))

    heights = set_heights(bare, target, ShimsAtHand(SIZES, 0.060 * INCH), suits)
    assert heights.shims == ((1,),)
    assert heights.runner_up == ((1, 0),)


def test_a_locator_that_was_not_in_place_comes_off_too() -> None:
    # hand arithmetic: 1.885 - (-0.050) - 0.060 = 1.875
    bare = bare_height(np.array([1.885]) * INCH, np.array([-0.050]) * INCH, 0.060 * INCH)
    assert bare[0] / INCH == pytest.approx(1.875, abs=1e-12)


@given(measured=lengths, deduction=st.floats(-0.005, 0.005), change=st.floats(0.0, 0.005))
def test_a_deduction_moves_every_height_by_the_same_amount(measured: float, deduction: float, change: float) -> None:
    before = bare_height(np.array([measured]), np.array([deduction]))
    after = bare_height(np.array([measured]), np.array([deduction + change]))
    assert before[0] - after[0] == pytest.approx(change, abs=1e-15)


@given(height=lengths, stack=st.floats(0.0, 0.002), lift=st.floats(0.0, 0.02))
def test_shim_and_lift_both_shorten_the_spring(height: float, stack: float, lift: float) -> None:
    at_lift = open_height(installed_height(np.array([height]), np.array([stack])), np.array([lift]))
    assert at_lift[0] + lift + stack == pytest.approx(height, abs=1e-15)
