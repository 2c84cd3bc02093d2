"""Lift slips: a decimal point that slipped is told from a lift that is only odd."""

from __future__ import annotations

import math

import pytest

from headbench.calc.train.lift_slips import lift_is_possible


@pytest.mark.parametrize("lift", [0.31, 0.45, 0.55, 0.7])
def test_ten_times_off_is_impossible_either_way(lift: float) -> None:
    # lifts of 0.31 to 0.70 in are what most heads have: common practice, no source
    inches = [lift / 10.0, lift, lift * 10.0]
    assert [lift_is_possible(one * 0.0254) for one in inches] == [False, True, False]


@pytest.mark.parametrize("millimeters", [2.5, 3.0, 31.75])
def test_small_and_large_engines_have_odd_but_possible_lifts(millimeters: float) -> None:
    # lifts of 3 mm stand in motor scooters, 1.25 in in racing engines: common practice, no source
    assert lift_is_possible(millimeters / 1000.0)


def test_a_lift_nobody_gave_is_no_slip() -> None:
    assert lift_is_possible(math.nan)
