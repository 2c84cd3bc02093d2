"""Two runs: the lower of the two, and where they disagree."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc import FloatArray
from headbench.calc.springs.one_curve import LoadCurve, curve_of_one_reading
from headbench.calc.springs.readings import curve_through, line_through
from headbench.calc.springs.two_runs import compare_runs, lower_of_two_runs

INCH = 0.0254
POUND = 4.4482216152605
Run = tuple[FloatArray, FloatArray]


def one_spring(height: FloatArray, load: FloatArray) -> LoadCurve:
    return curve_through(height.tolist(), load.tolist())


def lower_of(first: LoadCurve, height: FloatArray, load: FloatArray) -> LoadCurve:
    return lower_of_two_runs(first, height.tolist(), load.tolist())


def loads_at(curve: LoadCurve, heights: FloatArray) -> FloatArray:
    return np.array([curve.load_at(height) for height in heights.tolist()])


@st.composite
def readings(draw: st.DrawFn) -> Run:
    """Heights rising by 0.2 to 5 mm and loads falling by 5 to 500 N."""
    count = draw(st.integers(2, 8))
    steps = draw(st.lists(st.floats(0.2e-3, 5e-3), min_size=count, max_size=count))
    drops = draw(st.lists(st.floats(5.0, 500.0), min_size=count, max_size=count))
    height = 0.025 + np.cumsum(steps)
    load = 100.0 + np.cumsum(drops[::-1])[::-1]
    return height, load


@st.composite
def two_runs(draw: st.DrawFn) -> tuple[Run, Run]:
    """A run, and a second one between its heights."""
    first, (height, load) = draw(readings()), draw(readings())
    share = (height - height[0]) / (height[-1] - height[0])
    low, high = sorted((draw(st.floats(0.0, 1.0)), draw(st.floats(0.0, 1.0))))
    span = first[0][-1] - first[0][0]
    second = first[0][0] + span * (low + (max(high, low + 0.01) - low) * share)
    # heights that are compared are whole nanometers: nearer than that they are one
    return (first[0].round(9), first[1]), (second.round(9), load)


@given(two_runs())
def test_the_lower_of_two_runs_is_never_above_either(runs: tuple[Run, Run]) -> None:
    first, (height, load) = runs
    one = one_spring(*first)
    lower = lower_of(one, height, load)
    # at the heights of the second run it is the lower of the two readings; loads a micronewton apart count as one
    expected = np.minimum(loads_at(one, height), load)
    np.testing.assert_allclose(loads_at(lower, height), expected, rtol=1e-9, atol=2e-6)
    assert (loads_at(lower, first[0]) <= first[1] * (1.0 + 1e-9)).all()
    assert lower.in_doubt
    assert not any(lower.is_proven(where) for where in [*first[0].tolist(), *height.tolist()])


@given(two_runs())
def test_the_lower_of_two_runs_still_rises_as_the_spring_is_compressed(runs: tuple[Run, Run]) -> None:
    first, second = runs
    lower = lower_of(one_spring(*first), *second)
    load = loads_at(lower, np.linspace(lower.height[0], lower.height[-1], 60))
    assert (np.diff(load) <= 1e-9).all()


def test_a_second_run_through_a_line_lowers_it_too() -> None:
    # by hand: the line has 500 and 1000 at 0.040 and 0.030; the second run 450 at 0.040 and 1010 at 0.030
    line = line_through([0.040, 0.030], [500.0, 1000.0])
    lower = lower_of_two_runs(line, [0.040, 0.030], [450.0, 1010.0])
    assert [lower.load_at(height) for height in (0.040, 0.030)] == pytest.approx([450.0, 1000.0])


def test_two_single_readings_at_one_height_leave_the_lower_with_the_printed_rate() -> None:
    one = curve_of_one_reading(1.75 * INCH, 117.0 * POUND, 290.0 * POUND / INCH)
    lower = lower_of_two_runs(one, [1.75 * INCH], [90.0 * POUND])
    assert lower.load_at(1.70 * INCH) / POUND == pytest.approx(90.0 + 0.05 * 290.0)
    assert lower.in_doubt


def test_where_both_runs_push_nothing_the_lower_one_ends() -> None:
    one = curve_through([0.050, 0.030], [0.0, 1000.0])
    lower = lower_of_two_runs(one, [0.0502, 0.040], [0.0, 450.0])
    assert [lower.load_at(height) for height in (0.0501, 0.040, 0.030)] == pytest.approx([0.0, 450.0, 950.0])


def test_a_second_run_without_readings_leaves_the_first_in_doubt() -> None:
    one = curve_through([0.040, 0.030], [500.0, 1000.0])
    lower = lower_of_two_runs(one, [], [])
    heights = (0.028, 0.030, 0.0333, 0.040, 0.042)
    assert [lower.load_at(height) for height in heights] == [one.load_at(height) for height in heights]
    assert lower.in_doubt


def test_repeats_of_a_second_run_are_averaged_before_they_are_compared() -> None:
    one = curve_through([0.040, 0.030], [500.0, 1000.0])
    lower = lower_of_two_runs(one, [0.035, 0.035], [690.0, 710.0])
    # by hand: 700 where the first run has 750, and 50 less at its ends
    assert [lower.load_at(height) for height in (0.040, 0.035, 0.030)] == pytest.approx([450.0, 700.0, 950.0])


FIRST_RUN = curve_through([0.040, 0.030], [500.0, 1000.0])


@pytest.mark.parametrize(
    ("height", "load", "off", "differ"),
    # 2 % of 750 N are 15 N, of 1000 N 20 N; 2 lbf are less
    [
        (0.035, 736.0, -14.0, False),
        (0.035, 734.0, -16.0, True),
        (0.030, 1019.0, 19.0, False),
        (0.030, 979.0, -21, True),
    ],
)
def test_a_reading_again_differs_where_it_is_off_by_more_than_a_tester_repeats(
    height: float,
    load: float,
    off: float,
    differ: bool,  # noqa: FBT001 - a case
) -> None:
    (found,) = compare_runs(FIRST_RUN, [height], [load])
    assert found.off == pytest.approx(off, abs=1e-9)
    assert (found.differs, found.is_outside, found.falls_behind) == (differ, False, False)
    assert (found.height, found.load, found.end) == (height, load, height)


@pytest.mark.parametrize(
    ("height", "load", "end", "falls_behind"),
    [
        # pressed further than to 1000 N at 0.030 it must push more, let out further than to 500 N at 0.040 less
        (0.028, 1100.0, 0.030, False),
        (0.028, 900.0, 0.030, True),
        (0.028, 990.0, 0.030, False),
        (0.042, 400.0, 0.040, False),
        (0.042, 520.0, 0.040, True),
        (0.042, 505.0, 0.040, False),
    ],
)
def test_outside_the_first_run_only_a_spring_that_falls_behind_its_end_is_wrong(
    height: float,
    load: float,
    end: float,
    falls_behind: bool,  # noqa: FBT001 - a case
) -> None:
    (found,) = compare_runs(FIRST_RUN, [height], [load])
    assert (found.differs, found.is_outside, found.end) == (False, True, end)
    assert found.falls_behind is falls_behind


def test_a_reading_that_was_left_out_is_nothing_to_compare() -> None:
    for height in (0.035, 0.028, 0.042):
        (found,) = compare_runs(FIRST_RUN, [height], [math.nan])
        assert math.isnan(found.off)
        assert not found.differs
        assert not found.falls_behind
