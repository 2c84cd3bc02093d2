from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.guide_boss.guide_boss import BossParts, BossThere, plan_boss, seal_to_spring

INCH = 0.0254
UNKNOWN = math.nan
PARTS = BossParts(*(one * INCH for one in (1.900, 0.600, -0.150, 0.350, 0.060, 0.030, 0.060)))
THERE = BossThere(*(one * INCH for one in (1.960, 0.900, 0.550, 0.300)))
LENGTH = st.integers(0, 3000).map(lambda one: one * 1e-3 * INCH)


def inches(length: float) -> float:
    return length / INCH


def test_one_valve_by_hand() -> None:
    found = plan_boss(THERE, PARTS)
    # 1.900 on 0.060 of locator and 0.030 of shims takes 1.990, 1.960 is there
    assert inches(found.pocket_depth) == pytest.approx(0.030)
    assert inches(found.floor_left) == pytest.approx(0.270)
    assert inches(found.shim_room) == pytest.approx(0.030)
    # the retainer's underside is at 1.960 - 0.150 = 1.810; at full lift at 1.210; 0.060 under that the seal's top,
    # 1.150; the guide 0.350 below that, 0.800
    assert inches(found.guide_height_wanted) == pytest.approx(0.800)
    assert inches(found.guide_cut) == pytest.approx(0.100)
    assert inches(found.guide_height_over_pocket) == pytest.approx(0.830)
    assert inches(found.guide_in_seal_after) == pytest.approx(0.450)
    assert (inches(found.retainer_to_seal), inches(found.clearance)) == pytest.approx((0.660, 0.060))


def test_where_there_is_room_nothing_is_cut_and_nothing_is_added() -> None:
    found = plan_boss(THERE._replace(guide_height=0.700 * INCH, bare_height=2.010 * INCH), PARTS)
    assert (found.guide_cut, found.pocket_depth) == (0.0, 0.0)
    # 2.010 - 0.150 - 0.700 - 0.350 = 0.810, less 0.600
    assert inches(found.clearance) == pytest.approx(0.210)
    assert inches(found.shim_room) == pytest.approx(0.050)


def test_without_a_bare_height_the_spring_stands_on_the_seat_as_it_is() -> None:
    found = plan_boss(THERE._replace(bare_height=UNKNOWN), PARTS)
    # 1.990 - 0.150 - 0.350 - 0.600 - 0.060
    assert inches(found.guide_height_wanted) == pytest.approx(0.830)
    assert inches(found.guide_cut) == pytest.approx(0.070)
    assert inches(found.guide_height_over_pocket) == pytest.approx(0.830)
    assert all(map(math.isnan, (found.pocket_depth, found.floor_left, found.shim_room)))


@pytest.mark.parametrize("place", range(1, 4))
def test_a_dimension_nobody_gave_leaves_the_guide_open(place: int) -> None:
    parts = BossParts(*(UNKNOWN if at == place else one for at, one in enumerate(PARTS)))
    found = plan_boss(THERE, parts)
    assert all(map(math.isnan, (found.guide_height_wanted, found.guide_cut, found.guide_height_after)))
    assert inches(found.pocket_depth) == pytest.approx(0.030)


@given(there=st.builds(BossThere, LENGTH, LENGTH, LENGTH, LENGTH), lift=LENGTH, more=LENGTH)
def test_more_lift_takes_as_much_more_off_and_leaves_the_clearance(there: BossThere, lift: float, more: float) -> None:
    first, second = (plan_boss(there, PARTS._replace(valve_lift=one)) for one in (lift, lift + more))
    assert second.guide_height_wanted == pytest.approx(first.guide_height_wanted - more)
    assert second.guide_cut >= first.guide_cut - 1e-12
    for one in (first, second):
        # whatever has to come off leaves exactly what was wanted, and what has not leaves more
        assert one.clearance == pytest.approx(PARTS.clearance) if one.guide_cut > 0.0 else True
        assert one.clearance > PARTS.clearance - 1e-12


@given(there=st.builds(BossThere, LENGTH, LENGTH, LENGTH, LENGTH), deeper=LENGTH)
def test_room_for_shims_is_cut_into_the_pocket_and_moves_neither_retainer_nor_guide(
    there: BossThere, deeper: float
) -> None:
    first, second = (plan_boss(there, PARTS._replace(shim_wish=one)) for one in (0.0, deeper))
    assert second.guide_cut == first.guide_cut
    assert second.retainer_to_seal == first.retainer_to_seal
    assert second.shim_room >= deeper - 1e-12


def test_the_gap_to_the_spring_is_by_the_wider_of_seal_and_boss() -> None:
    # half of 0.710 less 0.600
    assert inches(seal_to_spring(0.710 * INCH, 0.600 * INCH, 0.530 * INCH)) == pytest.approx(0.055)
    assert inches(seal_to_spring(0.710 * INCH, 0.530 * INCH, 0.690 * INCH)) == pytest.approx(0.010)
    assert inches(seal_to_spring(0.600 * INCH, 0.640 * INCH)) == pytest.approx(-0.020)
    assert math.isnan(seal_to_spring(UNKNOWN, 0.6))
    assert math.isnan(seal_to_spring(0.7, UNKNOWN))
