"""Installed height: what the micrometer shows, less the deduction, less the shims."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.shim_rule import Good, best_by_rule, runner_up_by_rule

from headbench.calc.heights.installed_height import (
    Height,
    ShimsAtHand,
    bare_by_check,
    bare_height,
    installed_height,
    open_height,
    set_heights,
    thickest_stack,
    within_height,
)
from headbench.calc.heights.pockets import Side, Sided, Suits
from headbench.calc.heights.shims import Stacks, stacks_of
from headbench.calc.judging.grid import on_grid

INCH = 0.0254
SIZES = [0.015 * INCH, 0.030 * INCH, 0.060 * INCH]
lengths = st.floats(1e-3, 0.1)


def height_of(measured: float, target: float, read: float = math.nan) -> Height:
    bare = bare_height(measured, 0.090 * INCH)
    suits = Suits((within_height(target, 0.010 * INCH),))
    (height,) = set_heights([bare], [target], ShimsAtHand(SIZES, 0.060 * INCH), [suits], [read]).each
    return height


def test_a_position_is_worked_as_on_paper() -> None:
    # hand arithmetic: 1.871 - 0.090 = 1.781; 1.781 - 1.750 = 0.031 -> 0.030; 1.781 - 0.030 = 1.751
    height = height_of(1.871 * INCH, 1.750 * INCH)
    assert height.bare_height / INCH == pytest.approx(1.781, abs=1e-12)
    assert height.needed / INCH == pytest.approx(0.031, abs=1e-12)
    assert height.shims == (1,)
    assert height.installed_height / INCH == pytest.approx(1.751, abs=1e-12)
    assert height.deviation / INCH == pytest.approx(0.001, abs=1e-12)
    assert height.short_by == 0.0


def test_the_runner_up_is_the_next_nearest_stack() -> None:
    # 0.031 needed: 0.030 misses by 0.001, then 0.045 by 0.014 and 0.015 by 0.016
    height = height_of(1.871 * INCH, 1.750 * INCH)
    assert height.runner_up == (1, 0)
    assert height.runner_up_height / INCH == pytest.approx(1.781 - 0.045, abs=1e-12)


def test_a_short_position_stands_at_its_bare_height_and_says_by_how_much() -> None:
    height = height_of(1.830 * INCH, 1.750 * INCH)
    assert height.shims == ()
    assert height.installed_height / INCH == pytest.approx(1.740, abs=1e-12)
    assert height.short_by / INCH == pytest.approx(0.010, abs=1e-12)


def test_a_missing_reading_stays_missing_to_the_end() -> None:
    for measured, target in ((math.nan, 0.045), (0.045, math.nan)):
        height = height_of(measured, target)
        assert math.isnan(height.installed_height)
        assert math.isnan(height.deviation)
        assert math.isnan(height.shim_stack)
        assert math.isnan(height.runner_up_height)
        assert (height.shims, height.runner_up, height.ran_out) == ((), None, False)
        assert math.isnan(open_height(height.installed_height, 0.012))


def test_a_height_read_after_assembly_counts() -> None:
    height = height_of(1.871 * INCH, 1.750 * INCH, 1.755 * INCH)
    assert height.installed_height / INCH == pytest.approx(1.755, abs=1e-12)
    assert height.figured_height / INCH == pytest.approx(1.751, abs=1e-12)
    assert height.deviation / INCH == pytest.approx(0.005, abs=1e-12)


def test_a_stack_that_does_not_suit_gives_way_to_the_next_that_does() -> None:
    # 0.040 needed: 0.045 is nearest; where a spring needs 1.753 at least, 0.030 stands at 1.760
    bare, target = 1.790 * INCH, 1.750 * INCH
    suits = Suits((within_height(target, 0.010 * INCH),), no_shorter_than(1.753 * INCH))
    (height,) = set_heights([bare], [target], ShimsAtHand(SIZES, 0.060 * INCH), [suits], [math.nan]).each
    assert height.shims == (1,)
    # 0.045 is next nearest, but stands too short; 0.015 does not
    assert height.runner_up == (0,)


def test_a_locator_that_was_not_in_place_comes_off_too() -> None:
    # hand arithmetic: 1.885 - (-0.050) - 0.060 = 1.875
    bare = bare_height(1.885 * INCH, -0.050 * INCH, 0.060 * INCH)
    assert bare / INCH == pytest.approx(1.875, abs=1e-12)


@given(measured=lengths, deduction=st.floats(-0.005, 0.005), change=st.floats(0.0, 0.005))
def test_a_deduction_moves_every_height_by_the_same_amount(measured: float, deduction: float, change: float) -> None:
    before, after = bare_height(measured, deduction), bare_height(measured, deduction + change)
    assert before - after == pytest.approx(change, abs=1e-15)


@given(height=lengths, stack=st.floats(0.0, 0.002), lift=st.floats(0.0, 0.02))
def test_shim_and_lift_both_shorten_the_spring(height: float, stack: float, lift: float) -> None:
    at_lift = open_height(installed_height(height, stack), lift)
    assert at_lift + lift + stack == pytest.approx(height, abs=1e-15)


@pytest.mark.parametrize(
    ("height", "side"),
    # 1.750 and 0.010 either way
    [(1.760, Side.RIGHT), (1.740, Side.RIGHT), (1.7601, Side.TOO_TALL), (1.7399, Side.TOO_SHORT)],
)
def test_a_tolerance_says_which_way_a_height_is_off(height: float, side: Side) -> None:
    assert within_height(1.750 * INCH, 0.010 * INCH)(height * INCH) is side


def test_the_thickest_stack_is_the_thickest_that_may_be_laid() -> None:
    # by hand: three shims at most of 0.060 are 0.180; of 0.100 at most 0.060 + 0.030 are 0.090
    assert thickest_stack(ShimsAtHand(SIZES, 1.0)) / INCH == pytest.approx(0.180, abs=1e-12)
    assert thickest_stack(ShimsAtHand(SIZES, 0.100 * INCH)) / INCH == pytest.approx(0.090, abs=1e-12)
    assert thickest_stack(ShimsAtHand(SIZES, 0.010 * INCH)) == 0.0


def test_where_there_is_one_thickness_only_there_is_no_runner_up() -> None:
    suits = Suits((within_height(1.750 * INCH, 0.010 * INCH),))
    (height,) = set_heights([1.790 * INCH], [1.750 * INCH], ShimsAtHand([], 1.0), [suits], [math.nan]).each
    assert (height.shims, height.runner_up) == ((), None)
    assert math.isnan(height.runner_up_height)


TARGET = 0.045
QUARTER = 6350e-9


@dataclass(frozen=True)
class Job:
    """One position: the sizes at hand, the bare height, and how far everything may be off."""

    stacks: Stacks
    at_hand: ShimsAtHand
    bare: float
    tolerance: float


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    """Shims in quarters of 0.001 in, some so near to one another that many stacks count as equal to the nearest."""
    if draw(st.booleans()):
        sizes = draw(st.lists(st.integers(1, 240), min_size=1, max_size=5, unique=True))
        needed = draw(st.one_of(st.integers(-60, 300).map(lambda one: one * QUARTER), st.floats(-0.5e-3, 3e-3)))
        most, tolerance = draw(st.integers(1, 300)), draw(st.integers(0, 60))
    else:
        # shims alike, thin ones to add to them, and a pocket that takes little more than is needed
        middle = draw(st.integers(20, 120))
        alike, thin = st.integers(middle - 10, middle), st.integers(1, 8)
        sizes = draw(st.lists(st.one_of(alike, thin), min_size=2, max_size=6, unique=True))
        needed, most = middle * QUARTER, middle + draw(st.integers(-2, 6))
        tolerance = draw(st.integers(0, 6))
    thicknesses, count = [size * QUARTER for size in sizes], draw(st.integers(1, 4))
    at_hand = ShimsAtHand(thicknesses, most * QUARTER, count)
    return Job(stacks_of(thicknesses, most * QUARTER, count), at_hand, TARGET + needed, tolerance * QUARTER)


def assert_as_by_rule(job: Job, suits: Suits) -> None:
    """Best and runner-up as a search over every stack there is finds them."""
    wanted = on_grid(job.bare - TARGET)
    good = good_on(job.bare, suits)
    clears = clears_on(job.bare, suits)
    best = best_by_rule(wanted, job.stacks, good, clears)
    second = runner_up_by_rule(wanted, job.stacks, good, best, clears)
    (height,) = set_heights([job.bare], [TARGET], job.at_hand, [suits], [math.nan]).each
    assert height.shims == job.stacks.shims[best]
    assert height.runner_up == (None if second is None else job.stacks.shims[second])


def good_on(bare: float, suits: Suits) -> Good:
    return lambda total: suits.is_good(bare - total * 1e-9)


def clears_on(bare: float, suits: Suits) -> Good:
    return lambda total: not suits.breaks(bare - total * 1e-9)


def no_shorter_than(shortest: float) -> Sided:
    return lambda height: Side.TOO_SHORT if height < shortest else Side.RIGHT


def load_window(low: float, high: float, rate: float, progression: float) -> Sided:
    """A load that falls as the spring gets taller, 500 N at the target, wanted between two ends."""

    def side(height: float) -> Side:
        off = TARGET - height
        load = 500.0 + rate * off + progression * off**3
        if low <= load <= high:
            return Side.RIGHT
        return Side.TOO_SHORT if load > high else Side.TOO_TALL

    return side


windows = st.builds(
    lambda middle, half, rate, progression: load_window(middle - half, middle + half, rate, progression),
    st.floats(380.0, 620.0),
    st.floats(0.0, 40.0),
    st.floats(5e3, 80e3),
    st.floats(0.0, 1e10),
)


@given(jobs())
def test_the_stack_within_a_tolerance_is_the_best_of_all_there_are(job: Job) -> None:
    assert_as_by_rule(job, Suits((within_height(TARGET, job.tolerance),)))


@given(jobs(), windows)
def test_the_stack_within_a_load_window_is_the_best_of_all_there_are(job: Job, window: Sided) -> None:
    assert_as_by_rule(job, Suits((window,)))


@given(jobs(), windows, st.integers(-80, 80))
def test_the_stack_within_height_or_load_that_leaves_room_is_the_best_of_all_there_are(
    job: Job, window: Sided, room: int
) -> None:
    by_height = within_height(TARGET, job.tolerance)
    assert_as_by_rule(job, Suits((by_height, window), no_shorter_than(TARGET + room * QUARTER)))


@given(jobs(), st.integers(-80, 80))
def test_where_nothing_is_right_what_breaks_nothing_goes_before_what_is_nearer(job: Job, room: int) -> None:
    suits = Suits((lambda _: Side.TOO_TALL,), no_shorter_than(TARGET + room * QUARTER))
    assert_as_by_rule(job, suits)


def test_one_shim_that_misses_farther_does_not_hide_two_that_fit() -> None:
    # 0.0200 needed, to 0.0002: 0.0196 + 0.0005 misses 0.0001, the thickest there is; one shim of 0.0196 or of 0.0182
    # is less than 0.002 off that and counts as equal, so comes first, but does not fit
    thicknesses = [size * INCH for size in (0.0196, 0.0182, 0.0005)]
    at_hand = ShimsAtHand(thicknesses, 0.0201 * INCH)
    suits = Suits((within_height(TARGET, 0.0002 * INCH),))
    (height,) = set_heights([TARGET + 0.0200 * INCH], [TARGET], at_hand, [suits], [math.nan]).each
    assert height.shims == (0, 2)


def test_a_height_measured_with_its_shims_in_is_bare_by_as_much_as_they_are_thick() -> None:
    # 1.751 in over 0.030 and 0.015 in of shim
    assert bare_by_check(1.751 * INCH, 0.045 * INCH) / INCH == pytest.approx(1.796, abs=1e-12)
    assert math.isnan(bare_by_check(math.nan, 0.045))
    assert math.isnan(bare_by_check(1.751, math.nan))
