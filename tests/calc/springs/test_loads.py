"""Spring load: load loss, and readings that cannot be true."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import strategies as st

from headbench.calc.springs.loads import (
    differ_by_more_than_a_tester,
    find_reading_faults,
    load_loss,
)

loads = st.floats(10.0, 2000.0)


def faults(*readings: tuple[float, float]) -> list[tuple[str, int, int]]:
    height, load = np.array(readings).T
    return [*find_reading_faults(np.zeros(len(readings), dtype=np.int64), height * 1e-3, load)]


def test_a_spring_that_lost_a_tenth_has_lost_ten_percent() -> None:
    assert load_loss(np.array([108.0, 126.0]), np.array([120.0, 120.0])) == pytest.approx([10.0, -5.0])


def test_good_readings_in_any_order_have_no_fault() -> None:
    assert faults((40.0, 500.0), (30.0, 900.0), (35.0, 690.0)) == []


def test_a_load_that_falls_as_the_spring_is_compressed_is_named_with_both_readings() -> None:
    assert faults((40.0, 500.0), (30.0, 900.0), (28.0, 880.0)) == [("falls", 1, 2)]


def test_a_load_that_stays_as_the_spring_is_compressed_is_a_fault() -> None:
    assert faults((40.0, 500.0), (30.0, 500.0)) == [("flat", 0, 1)]


def test_every_fault_of_every_spring_is_found_and_springs_are_not_mixed_up() -> None:
    spring = np.array([0, 0, 1, 1, 2, 2])
    height = np.array([40.0, 30.0, 40.0, 30.0, 41.0, 38.0]) * 1e-3
    load = np.array([500.0, 400.0, 600.0, 900.0, 300.0, 300.0])
    assert sorted(find_reading_faults(spring, height, load)) == [("falls", 0, 1), ("flat", 4, 5)]


@pytest.mark.parametrize(
    ("one", "other", "differ"),
    # 2 lbf and 2 % of the larger load: common practice, no source
    [(50.0, 52.0, False), (50.0, 52.1, True), (300.0, 294.0, False), (300.0, 293.9, True), (293.9, 300.0, True)],
)
def test_a_tester_repeats_to_two_pounds_or_two_percent(one: float, other: float, differ: bool) -> None:  # noqa: FBT001 - a case
    pound = 4.4482216152605
    found = differ_by_more_than_a_tester(np.array([one, np.nan]) * pound, np.array([other, other]) * pound)
    assert found.tolist() == [differ, False]
