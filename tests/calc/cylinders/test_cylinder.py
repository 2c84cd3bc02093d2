from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.cylinders.cylinder import Chamber, Cylinder, compression
from headbench.calc.cylinders.piston_travel import piston_stroke

CC = 1e-6
MM = 1e-3
ACCEPT, BORDERLINE, NOT_MEASURED, REJECT = range(4)
# 400 cm2 by 1 cm: 400 cm3 swept
SQUARE = Cylinder(
    bore=2.0 * math.sqrt(400e-4 / math.pi),
    stroke=10.0 * MM,
    deck_clearance=0.2 * MM,
    dish_volume=5.0 * CC,
    dome_volume=1.0 * CC,
    gasket_thickness=1.0 * MM,
    opening_area=410e-4,
)


def test_a_bank_worked_by_hand() -> None:
    # by hand, cm3: gasket 41, deck 8, dish 5, dome 1; 47 of chamber make 100, the other's own clearance of 0.1 mm 96
    found = compression(SQUARE, [Chamber(47.0 * CC), Chamber(47.0 * CC, 0.1 * MM)])
    assert found.swept_volume == pytest.approx(400.0 * CC, rel=1e-12)
    assert found.gasket_volume == pytest.approx(41.0 * CC, rel=1e-12)
    assert found.crevice_volume == 0.0
    assert [over.clearance_volume / CC for over in found.pistons] == pytest.approx([100.0, 96.0], rel=1e-12)
    assert [over.static_ratio for over in found.pistons] == pytest.approx([5.0, 1.0 + 400.0 / 96.0], rel=1e-12)
    assert [over.quench / MM for over in found.pistons] == pytest.approx([1.2, 1.1], rel=1e-12)
    assert found.pistons[0].without_chamber / CC == pytest.approx(53.0, rel=1e-12)
    assert found.pistons[0].without_gasket / CC == pytest.approx(59.0, rel=1e-12)


def test_a_decked_block_and_a_thinner_gasket_bring_the_piston_nearer() -> None:
    # by hand: 1.2 mm less 0.25 off the block and 0.3 off the gasket
    (over,) = compression(SQUARE, [Chamber()], block_decked=0.25 * MM, gasket_thickness_change=-0.3 * MM).pistons
    assert over.quench / MM == pytest.approx(0.65, rel=1e-12)


@pytest.mark.parametrize(("minimum", "verdict"), [(0.0, ACCEPT), (1.2 * MM, ACCEPT), (1.3 * MM, REJECT)])
def test_a_quench_is_held_against_the_least_that_is_allowed(minimum: float, verdict: int) -> None:
    assert compression(SQUARE, [Chamber()], quench_minimum=minimum).pistons[0].quench_verdict == verdict


def test_a_piston_that_touches_is_rejected_whatever_is_allowed() -> None:
    touching = replace(SQUARE, deck_clearance=-1.0 * MM)
    assert compression(touching, [Chamber()]).pistons[0].quench_verdict == REJECT


def test_a_round_gasket_is_told_by_its_bore_and_a_ring_land_adds_its_crevice() -> None:
    # a disc of 104 mm by 1 mm, 8.4949 cm3 by hand; pi 0.1 m by 0.5 mm of gap by 6 mm, first order: 0.9425 cm3
    round_one = replace(SQUARE, bore=0.1, gasket_bore=0.104, opening_area=math.nan, ring_land=(0.1 - 1e-3, 6.0 * MM))
    found = compression(round_one, [Chamber()])
    assert found.gasket_volume / CC == pytest.approx(8.4949, abs=5e-5)
    assert found.crevice_volume / CC == pytest.approx(0.9425, rel=0.01)


@given(st.floats(-3e-3, 3e-3))
def test_an_offset_pin_sweeps_the_pistons_own_travel(offset: float) -> None:
    crank = replace(SQUARE, stroke=0.080, rod_length=0.150, pin_offset=offset)
    swept = compression(crank, []).swept_volume
    assert swept == pytest.approx(400e-4 * piston_stroke(0.080, 0.150, offset), rel=1e-9)


def test_a_valve_that_closes_at_the_bottom_makes_the_static_ratio_once_its_lift_is_known() -> None:
    crank = replace(SQUARE, stroke=0.080, rod_length=0.150, intake_closing=0.0, intake_closing_lift=0.0)
    (over,) = compression(crank, [Chamber(47.0 * CC)]).pistons
    assert over.effective_ratio == pytest.approx(over.static_ratio, rel=1e-12)
    unread = replace(crank, intake_closing_lift=math.nan)
    assert math.isnan(compression(unread, [Chamber(47.0 * CC)]).pistons[0].effective_ratio)


def test_what_cannot_be_has_no_ratio() -> None:
    # a dome that fills more than there is, and a rod that cannot turn
    (filled,) = compression(replace(SQUARE, dome_volume=1000.0 * CC), [Chamber(47.0 * CC)]).pistons
    assert math.isnan(filled.static_ratio)
    short = replace(SQUARE, rod_length=4.0 * MM, pin_offset=1.0 * MM)
    assert math.isnan(compression(short, [Chamber(47.0 * CC)]).swept_volume)


UNREAD = math.nan


@pytest.mark.parametrize(
    "cylinder",
    [
        replace(SQUARE, bore=UNREAD),
        replace(SQUARE, stroke=UNREAD),
        replace(SQUARE, deck_clearance=UNREAD),
        replace(SQUARE, gasket_thickness=UNREAD),
        replace(SQUARE, opening_area=UNREAD),
    ],
)
def test_a_reading_not_taken_leaves_the_ratio_open(cylinder: Cylinder) -> None:
    (over,) = compression(cylinder, [Chamber(47.0 * CC)]).pistons
    assert math.isnan(over.static_ratio)
