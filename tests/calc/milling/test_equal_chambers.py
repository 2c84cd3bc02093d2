from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc import FloatArray
from headbench.calc.cylinders.chamber_shape import ChamberShape, from_area, from_pours
from headbench.calc.milling import equal_chambers as calc
from headbench.errors import NotReachable

CC = 1e-6
AREA = 50e-4
TABLE = from_pours(np.array([0.0, 0.5, 1.0, 1.5, 2.0]) * 1e-3, np.array([66.0, 62.8, 60.0, 57.6, 55.6]) * CC)


@dataclass
class Equal:
    """What makes a bank equal, its chambers as arrays."""

    cut_each: FloatArray
    common_cut: float
    chamber_volume: FloatArray
    volume_to_open: FloatArray
    spread: float
    complete: bool


def equal_chambers(volume: FloatArray, wanted: float | None, shape: ChamberShape, deepest: float) -> Equal:
    found = calc.equal_chambers(volume.tolist(), wanted, shape, deepest)
    return Equal(
        np.array(found.cut_each), found.common_cut, np.array(found.chamber_volume), np.array(found.volume_to_open),
        found.spread, found.complete,
    )  # fmt: skip


banks = st.lists(st.floats(61.0, 66.0), min_size=1, max_size=8).map(lambda volumes: np.array(volumes) * CC)


def test_a_bank_worked_by_hand() -> None:
    # 50 cm2 is 5 cc per millimeter: 64.5 down to 63.5 takes 0.2 mm, which leaves 63.0, 63.5 and 62.5 cc
    equal = equal_chambers(np.array([64.0, 64.5, 63.5]) * CC, None, from_area(AREA), math.inf)
    assert equal.common_cut == pytest.approx(0.2e-3, rel=1e-9)
    assert equal.cut_each == pytest.approx(np.array([0.1, 0.2, 0.0]) * 1e-3, rel=1e-9, abs=1e-15)
    assert equal.chamber_volume == pytest.approx(np.array([63.0, 63.5, 62.5]) * CC, rel=1e-9)
    assert equal.volume_to_open == pytest.approx(np.array([0.5, 0.0, 1.0]) * CC, rel=1e-6, abs=1e-15)
    assert equal.spread == pytest.approx(1.0 * CC, rel=1e-9)
    assert equal.complete


def test_equal_chambers_need_nothing() -> None:
    equal = equal_chambers(np.full(4, 64.0 * CC), None, TABLE, math.inf)
    assert (equal.common_cut, equal.spread) == (0.0, 0.0)
    assert equal.volume_to_open.tolist() == [0.0] * 4


def test_chambers_smaller_than_wanted_are_opened_and_not_cut() -> None:
    equal = equal_chambers(np.array([63.0, 63.5]) * CC, 64.0 * CC, TABLE, math.inf)
    assert equal.common_cut == 0.0
    assert equal.volume_to_open == pytest.approx(np.array([1.0, 0.5]) * CC, rel=1e-9)


@given(banks)
def test_after_the_common_cut_none_is_too_large_and_the_largest_is_right(volume: FloatArray) -> None:
    equal = equal_chambers(volume, None, TABLE, math.inf)
    assert equal.chamber_volume.max() == pytest.approx(volume.min(), rel=1e-9)
    assert (equal.volume_to_open >= -1e-9 * CC).all()


@given(banks)
def test_the_common_cut_is_the_deepest_of_the_single_ones(volume: FloatArray) -> None:
    equal = equal_chambers(volume, None, TABLE, math.inf)
    assert equal.common_cut == pytest.approx(equal.cut_each.max(), rel=1e-9, abs=1e-15)


@given(banks)
def test_one_cut_leaves_the_spread_as_it_was(volume: FloatArray) -> None:
    equal = equal_chambers(volume, None, TABLE, math.inf)
    assert equal.spread == pytest.approx(np.ptp(volume), abs=1e-12 * CC)


@given(banks)
def test_the_order_of_the_chambers_does_not_matter(volume: FloatArray) -> None:
    one, other = (equal_chambers(v, None, TABLE, math.inf) for v in (volume, volume[::-1]))
    assert one.common_cut == other.common_cut
    assert np.array_equal(one.volume_to_open, other.volume_to_open[::-1])


def test_an_unmeasured_chamber_is_told_and_has_no_answer() -> None:
    equal = equal_chambers(np.array([64.0, np.nan, 63.5]) * CC, None, TABLE, math.inf)
    assert not equal.complete
    assert np.isnan(equal.cut_each).tolist() == [False, True, False]
    assert np.isnan(equal.volume_to_open).tolist() == [False, True, False]
    assert equal.common_cut > 0.0


def test_a_bank_not_measured_at_all_has_no_answer() -> None:
    equal = equal_chambers(np.full(4, np.nan), None, TABLE, math.inf)
    assert math.isnan(equal.common_cut)
    assert math.isnan(equal.spread)
    assert not equal.complete


def test_too_deep_a_cut_tells_how_small_the_largest_can_become() -> None:
    with pytest.raises(NotReachable) as told:
        equal_chambers(np.array([66.0, 58.0]) * CC, None, TABLE, 1.0e-3)
    # a pour of the table: 60 cc at 1 mm
    assert told.value.nearest == pytest.approx(60.0 * CC, rel=1e-12)
