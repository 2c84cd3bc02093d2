"""Spring load: load loss, and readings that cannot be true."""

from __future__ import annotations

import math

import pytest

from headbench.calc.springs.loads import (
    differ_by_more_than_a_tester,
    find_reading_faults,
    load_loss,
)


def faults(*readings: tuple[float, float]) -> list[tuple[str, int, int]]:
    return [*find_reading_faults([height * 1e-3 for height, _ in readings], [load for _, load in readings])]


def test_a_spring_that_lost_a_tenth_has_lost_ten_percent() -> None:
    assert [load_loss(load, 120.0) for load in (108.0, 126.0)] == pytest.approx([10.0, -5.0])
    assert math.isnan(load_loss(math.nan, 120.0))


def test_good_readings_in_any_order_have_no_fault() -> None:
    assert faults((40.0, 500.0), (30.0, 900.0), (35.0, 690.0)) == []


def test_a_load_that_falls_as_the_spring_is_compressed_is_named_with_both_readings() -> None:
    assert faults((40.0, 500.0), (30.0, 900.0), (28.0, 880.0)) == [("falls", 1, 2)]


def test_a_load_that_stays_as_the_spring_is_compressed_is_a_fault() -> None:
    assert faults((40.0, 500.0), (30.0, 500.0)) == [("flat", 0, 1)]


def test_every_fault_is_found_those_that_fall_first() -> None:
    # from tall to short: 500, 400 (falls), 400 (flat), 900, 700 (falls)
    readings = ((38.0, 400.0), (30.0, 700.0), (42.0, 500.0), (40.0, 400.0), (34.0, 900.0))
    assert faults(*readings) == [("falls", 2, 3), ("falls", 4, 1), ("flat", 3, 0)]


@pytest.mark.parametrize(
    ("one", "other", "differ"),
    # 2 lbf and 2 % of the larger load: common practice, no source
    [(50.0, 52.0, False), (50.0, 52.1, True), (300.0, 294.0, False), (300.0, 293.9, True), (293.9, 300.0, True)],
)
def test_a_tester_repeats_to_two_pounds_or_two_percent(one: float, other: float, differ: bool) -> None:  # noqa: FBT001 - a case
    pound = 4.4482216152605
    assert differ_by_more_than_a_tester(one * pound, other * pound) is differ
    assert not differ_by_more_than_a_tester(math.nan, other * pound)
    assert not differ_by_more_than_a_tester(one * pound, math.nan)
