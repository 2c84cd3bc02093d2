from __future__ import annotations

import math
from dataclasses import replace

import pytest

from headbench.calc.movement.movement import Movement
from headbench.calc.movement.seats import Seat
from headbench.calc.pushrods.pushrods import Adjuster, Lifters, Pushrod, pushrods_after

INCH = 0.0254
ACCEPT, BORDERLINE, NOT_MEASURED, REJECT = range(4)
STRAIGHT = Pushrod(length=8.150 * INCH, angle=0.0, preload=0.034 * INCH, distance_across=3.0 * INCH)
DEEP = Lifters(plunger_travel=0.150 * INCH)


def test_a_cut_presses_the_old_pushrod_in_by_as_much() -> None:
    # by hand: 0.034 + 0.010, 8.150 - 0.010 keeps it
    (after,) = pushrods_after([STRAIGHT], DEEP, Movement(depth=0.010 * INCH)).pushrods
    assert after.preload / INCH == pytest.approx(0.044, rel=1e-9)
    assert after.for_same_preload / INCH == pytest.approx(8.140, rel=1e-12)
    assert after.verdict == ACCEPT
    assert math.isnan(after.to_order)


@pytest.mark.parametrize(
    ("preload", "step", "order"),
    [
        # by hand from 8.150, range 0.020 to 0.120: one step shorter; three longer make 0.090 of 0.060 of lash, nearer
        # the middle than the 0.040 of two; custom: 8.150 + 0.070 - 0.126
        (0.130, 0.050, 8.100),
        (-0.060, 0.050, 8.300),
        (0.126, 0.200, 8.094),
    ],
)
def test_a_pushrod_to_order_is_from_stock_where_one_does(preload: float, step: float, order: float) -> None:
    lifters = Lifters(plunger_travel=0.150 * INCH, stock_step=step * INCH)
    (after,) = pushrods_after([replace(STRAIGHT, preload=preload * INCH)], lifters, Movement()).pushrods
    assert after.to_order / INCH == pytest.approx(order, rel=1e-12)


def test_a_mock_up_counts_before_what_was_figured() -> None:
    # by hand: the present pushrod is 0.050 longer than the checking one
    mocked = replace(STRAIGHT, mock_up_length=8.100 * INCH, mock_up_preload=0.008 * INCH)
    (after,) = pushrods_after([mocked], DEEP, Movement(depth=0.030 * INCH)).pushrods
    assert after.judged / INCH == pytest.approx(0.058, rel=1e-9)
    assert after.preload / INCH == pytest.approx(0.064, rel=1e-9)


def test_after_an_angle_cut_a_mock_up_alone_is_accepted_and_ordered_by() -> None:
    wedge = Movement(depth=0.010 * INCH, place=3.0 * INCH, slope=0.002)
    mocked = replace(STRAIGHT, mock_up_length=8.150 * INCH, mock_up_preload=0.040 * INCH)
    off = replace(STRAIGHT, preload=0.130 * INCH)
    figured, proven, deep = pushrods_after([STRAIGHT, mocked, off], DEEP, wedge).pushrods
    assert (figured.verdict, proven.verdict) == (NOT_MEASURED, ACCEPT)
    assert math.isnan(deep.to_order)


def test_a_seat_that_was_ground_presses_by_the_rockers_ratio() -> None:
    # a lever of 1 to 1.5: 0.030 in up at the valve is 0.020 in down at the pushrod, by proportion
    sunk = replace(STRAIGHT, rocker_ratio=1.5, seat=Seat(sink=0.030 * INCH))
    open_one = replace(sunk, rocker_ratio=math.nan)
    known, unknown = pushrods_after([sunk, open_one], DEEP, Movement()).pushrods
    assert known.from_sunk_valve / INCH == pytest.approx(0.020, rel=1e-9)
    assert math.isnan(unknown.preload)


def test_an_adjuster_is_turned_and_no_pushrod_ordered() -> None:
    # by hand: 0.040 of preload too much at 0.050 a turn, and 0.010 of cut; 0.070 is the middle of 0.020 to 0.120
    deep = replace(STRAIGHT, preload=0.100 * INCH)
    (after,) = pushrods_after([deep], DEEP, Movement(depth=0.010 * INCH), Adjuster(0.050 * INCH)).pushrods
    assert after.turns_back == pytest.approx(-0.2, rel=1e-9)
    assert after.turns_to_target == pytest.approx(-0.8, rel=1e-9)
    assert math.isnan(after.to_order)


def test_a_head_that_stays_shortens_nothing_however_its_pushrods_stand() -> None:
    (after,) = pushrods_after([Pushrod(preload=0.034 * INCH)], DEEP, Movement()).pushrods
    assert after.preload == 0.034 * INCH


def test_one_length_serves_all_that_are_known() -> None:
    # by hand: 0.080 and 0.104 in have their middle at 0.092; one step makes 0.030 and 0.054 in
    row = [replace(STRAIGHT, preload=one * INCH) for one in (0.080, math.nan, 0.104)]
    after = pushrods_after(row, Lifters(), Movement())
    assert (after.common_steps, after.common_in_range) == (1.0, True)
    assert math.isnan(pushrods_after([Pushrod()], Lifters(), Movement()).common_steps)


def test_what_is_off_its_range_is_for_a_person_unless_the_job_says_otherwise() -> None:
    (after,) = pushrods_after([replace(STRAIGHT, preload=0.015 * INCH)], DEEP, Movement()).pushrods
    assert after.verdict == 1
