from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.pushrods import lifter_preload
from headbench.calc.pushrods.lifter_preload import (
    PRELOAD_MAXIMUM,
    PRELOAD_MINIMUM,
    STOCK_GRACE,
    most_preload,
    preload_range,
)

INCH = 0.0254
ACCEPT, BORDERLINE, NOT_MEASURED, REJECT = range(4)


@dataclass
class Stock:
    """What stock lengths come to, as arrays."""

    steps_shorter: FloatArray
    preload: FloatArray
    in_range: BoolArray
    common_steps: float
    common_preload: FloatArray
    common_in_range: BoolArray


def stock_lengths(preload: FloatArray, *numbers: float, **named: float) -> Stock:
    found = lifter_preload.stock_lengths(preload.tolist(), *numbers, **named)
    return Stock(
        np.array(found.steps_shorter), np.array(found.preload), np.array(found.in_range),
        found.common_steps, np.array(found.common_preload), np.array(found.common_in_range),
    )  # fmt: skip


@dataclass
class Judged:
    """What preloads are judged, as arrays."""

    verdict: IntArray
    damages: BoolArray
    limit: FloatArray
    at_most: BoolArray


def judge_preload(preload: FloatArray, *numbers: float, misses_reject: bool = False) -> Judged:
    """Every preload by itself."""
    found = [lifter_preload.judge_preload(one, *numbers, misses_reject=misses_reject) for one in preload.tolist()]
    return Judged(*(np.array([getattr(one, field.name) for one in found]) for field in fields(Judged)))


def test_the_usual_range_of_preload_is_the_default() -> None:
    # 0.020 to 0.060 in: from memory
    usual = [0.020, 0.060]
    assert [limit / INCH for limit in (PRELOAD_MINIMUM, PRELOAD_MAXIMUM)] == pytest.approx(usual, rel=1e-12)


def test_a_preload_in_range_keeps_its_pushrod_even_off_the_middle() -> None:
    stock = stock_lengths(np.array([0.020, 0.060, 0.059]) * INCH)
    assert stock.steps_shorter.tolist() == [0.0, 0.0, 0.0]
    assert stock.in_range.all()
    assert stock.common_steps == 0.0


def test_a_pushrod_a_step_shorter_brings_a_deep_preload_back() -> None:
    # by hand: 0.090 - 0.050 = 0.040 in, the middle; 0.140 - 0.100; lash of 0.010 in + 0.050
    stock = stock_lengths(np.array([0.090, 0.140, -0.010]) * INCH)
    assert stock.steps_shorter.tolist() == [1.0, 2.0, -1.0]
    assert stock.preload / INCH == pytest.approx(np.full(3, 0.040), abs=1e-12)
    assert stock.in_range.all()


def test_a_preload_between_two_steps_is_told_out_of_range() -> None:
    # by hand: 0.066 in is out; a step shorter 0.016 in is out too, and nearer to nothing than that there is none
    stock = stock_lengths(np.array([0.066]) * INCH)
    assert not stock.in_range[0]


@given(st.lists(st.floats(-0.1, 0.3), min_size=1, max_size=8), st.floats(0.01, 0.1))
def test_no_other_step_would_be_in_range_where_none_is_found(preloads: list[float], step: float) -> None:
    preload = np.array(preloads) * INCH
    stock = stock_lengths(preload, PRELOAD_MINIMUM, PRELOAD_MAXIMUM, step * INCH)
    others = preload[:, np.newaxis] - np.arange(-60, 61) * step * INCH
    # a hair inside, so that a limit met exactly does not decide
    reachable = ((others > PRELOAD_MINIMUM + 1e-9) & (others < PRELOAD_MAXIMUM - 1e-9)).any(axis=1)
    assert stock.in_range[reachable].all()


def test_one_length_for_all_serves_the_two_ends_of_the_row() -> None:
    # by hand: 0.080 and 0.104 in have their middle at 0.092; one step makes 0.030 and 0.054 in
    stock = stock_lengths(np.array([0.080, np.nan, 0.104]) * INCH)
    assert stock.common_steps == 1.0
    assert stock.common_in_range.tolist() == [True, False, True]
    assert math.isnan(stock.common_preload[1])


def test_the_one_length_for_all_is_set_by_the_middle_of_the_row() -> None:
    # by hand: 0.040 and 0.140 in have their middle at 0.090, one step; the ends alone would ask for none or two
    stock = stock_lengths(np.array([0.040, 0.140]) * INCH)
    assert stock.common_steps == 1.0
    assert stock.common_preload / INCH == pytest.approx(np.array([-0.010, 0.090]), abs=1e-12)
    assert not stock.common_in_range.any()


def test_a_row_in_range_keeps_its_length_even_off_the_middle() -> None:
    stock = stock_lengths(np.array([0.060, np.nan, 0.059]) * INCH, stock_step=0.030 * INCH)
    assert stock.common_steps == 0.0


def test_preloads_not_read_get_no_pushrod() -> None:
    stock = stock_lengths(np.array([np.nan, np.nan]))
    assert np.isnan(stock.steps_shorter).all()
    assert not stock.in_range.any()
    assert math.isnan(stock.common_steps)


@pytest.mark.parametrize(
    ("preload", "step", "steps", "lands"),
    [
        # by hand, range 0.020 to 0.060 and 0.025 wanted: 0.075 - 0.050 = 0.025, not 0.050 which is nearer the middle
        (0.075, 0.025, 2.0, 0.025),
        # 0.050 is in range, 0.025 is nearer what is wanted
        (0.050, 0.025, 1.0, 0.025),
        # 0.014 would be nearest to 0.025 but is out of range; 0.064 is out too: the nearest is told
        (0.064, 0.050, 1.0, 0.014),
        # 0.010 is nearest to 0.025 but out of range: 0.045 is the nearest inside
        (0.080, 0.035, 1.0, 0.045),
        # lash of 0.030: 0.020 longer twice is 0.010 and out, three times 0.030
        (-0.030, 0.020, -3.0, 0.030),
    ],
)
def test_the_step_comes_nearest_to_the_wanted_preload_inside_the_range(
    preload: float, step: float, steps: float, lands: float
) -> None:
    stock = stock_lengths(np.array([preload]) * INCH, stock_step=step * INCH, target_preload=0.025 * INCH)
    assert stock.steps_shorter.tolist() == [steps]
    assert stock.preload[0] / INCH == pytest.approx(lands, abs=1e-12)


@given(
    st.lists(st.integers(-100, 300), min_size=1, max_size=8),
    st.integers(5, 100),
    st.integers(20, 60),
    st.integers(0, 40),
)
def test_no_other_step_inside_the_range_is_nearer_to_what_is_wanted(
    preloads: list[int], step: int, wanted: int, width: int
) -> None:
    # brute force in whole thousandths, the range from `wanted` down and up by the width, a thousandth of grace
    thousandths = np.array(preloads)
    low, high = wanted - width // 2, wanted + width - width // 2
    stock = stock_lengths(
        thousandths * 0.001 * INCH, low * 0.001 * INCH, high * 0.001 * INCH, step * 0.001 * INCH, wanted * 0.001 * INCH
    )
    for preload, steps, in_range in zip(preloads, stock.steps_shorter.tolist(), stock.in_range.tolist(), strict=True):
        lands = {k: preload - k * step for k in range(-120, 121)}
        inside = {k: value for k, value in lands.items() if low - 1 <= value <= high + 1}
        best = min(abs(value - wanted) for value in (inside or lands).values())
        assert abs(lands[round(steps)] - wanted) == best
        assert in_range == bool(inside)


def test_of_two_lengths_as_near_the_one_closer_to_the_present_is_taken() -> None:
    # by hand: 0.065 - 0.025 k with 0.0525 wanted: 0.065 and 0.040 are both 0.0125 off, in a range up to 0.080
    stock = stock_lengths(
        np.array([0.065]) * INCH, 0.020 * INCH, 0.080 * INCH, stock_step=0.025 * INCH, target_preload=0.0525 * INCH
    )
    assert stock.steps_shorter.tolist() == [0.0]


def test_the_one_length_for_all_keeps_every_preload_in_range_before_it_comes_nearest() -> None:
    # by hand: 0.062 and 0.088, steps of 0.020, 0.058 wanted: one step is nearest for their middle, 0.055, but leaves
    # 0.068; two leave 0.022 and 0.048, both in range
    stock = stock_lengths(np.array([0.062, 0.088]) * INCH, stock_step=0.020 * INCH, target_preload=0.058 * INCH)
    assert stock.common_steps == 2.0
    assert stock.common_in_range.all()


def test_a_ten_thousandth_beyond_the_range_needs_no_custom_pushrod() -> None:
    # by hand: 0.0698 - 0.050 = 0.0198, inside a thousandth of 0.020; 0.0688 - 0.050 = 0.0188 is not
    stock = stock_lengths(np.array([0.0698, 0.0688]) * INCH)
    assert stock.in_range.tolist() == [True, False]
    # a thousandth: common practice, no source
    assert pytest.approx(0.001, rel=1e-12) == STOCK_GRACE / INCH


def test_the_most_preload_is_the_plungers_travel_less_what_it_keeps() -> None:
    # by hand: 0.150 - 0.030
    assert most_preload(0.150 * INCH) / INCH == pytest.approx(0.120, rel=1e-12)
    assert most_preload(math.nan) == PRELOAD_MAXIMUM


@pytest.mark.parametrize(
    ("preload", "travel", "setting", "damages"),
    [
        # range 0.020 to 0.060 in; what is off it is a setting
        (0.040, math.nan, ACCEPT, False),
        (0.060, math.nan, ACCEPT, False),
        (0.065, math.nan, BORDERLINE, False),
        (0.0198, math.nan, BORDERLINE, False),
        (math.nan, math.nan, NOT_MEASURED, False),
        # none at all, lash, and a plunger on its bottom are not: common practice, no source
        (0.0, math.nan, REJECT, True),
        (-0.001, math.nan, REJECT, True),
        (0.150, 0.150, REJECT, True),
        (0.149, 0.150, BORDERLINE, False),
    ],
)
def test_off_the_range_is_a_setting_and_lash_or_a_bottomed_plunger_is_damage(
    preload: float, travel: float, setting: int, *, damages: bool
) -> None:
    read = np.array([preload]) * INCH
    judged = judge_preload(read, 0.020 * INCH, 0.060 * INCH, travel * INCH)
    assert (judged.verdict.tolist(), judged.damages.tolist()) == ([setting], [damages])
    asked = judge_preload(read, 0.020 * INCH, 0.060 * INCH, travel * INCH, misses_reject=True)
    assert asked.verdict.tolist() == [REJECT if setting == BORDERLINE else setting]


@pytest.mark.parametrize(
    ("lash", "low", "high", "verdict"),
    [
        # a solid lifter: lash is a preload below 0; none left holds the valve open
        (0.022, -0.026, -0.018, ACCEPT),
        (0.012, -0.026, -0.018, BORDERLINE),
        (0.0, -0.026, -0.018, REJECT),
        (-0.002, -0.026, -0.018, REJECT),
        # set to touch: zero lash is what is asked for, past it is not
        (0.0, -0.002, 0.0, ACCEPT),
        (-0.001, -0.002, 0.0, REJECT),
        # a hydraulic lifter set to touch
        (0.0, 0.0, 0.020, ACCEPT),
        (0.001, 0.0, 0.020, REJECT),
    ],
)
def test_what_must_touch_and_what_must_not(lash: float, low: float, high: float, verdict: int) -> None:
    judged = judge_preload(np.array([-lash]) * INCH, low * INCH, high * INCH, math.nan)
    assert judged.verdict.tolist() == [verdict]


def test_a_preload_is_held_against_the_nearer_end_of_its_range() -> None:
    judged = judge_preload(np.array([0.030, 0.050]) * INCH, 0.020 * INCH, 0.060 * INCH, math.nan)
    assert judged.limit / INCH == pytest.approx(np.array([0.020, 0.060]), rel=1e-12)
    assert judged.at_most.tolist() == [False, True]


def test_a_preload_off_its_range_is_a_setting_unless_the_job_says_otherwise() -> None:
    assert lifter_preload.judge_preload(0.015 * INCH, 0.020 * INCH, 0.060 * INCH, math.nan).verdict == 1


def test_a_preload_in_the_middle_is_held_against_the_least() -> None:
    # powers of two, so that the middle is met to the last digit
    quarter = 2.0**-11
    assert not lifter_preload.judge_preload(2.0 * quarter, quarter, 3.0 * quarter, math.nan).at_most
    assert lifter_preload.judge_preload(2.125 * quarter, quarter, 3.0 * quarter, math.nan).at_most


def test_no_preload_wanted_is_still_that_of_a_hydraulic_lifter() -> None:
    # lash would be below 0
    assert preload_range(math.nan, math.nan, 0.0, math.nan) == (0.0, most_preload(math.nan))
