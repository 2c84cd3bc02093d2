from __future__ import annotations

import math
from dataclasses import replace

import pytest

from headbench.calc.movement.movement import Movement
from headbench.calc.movement.seats import Seat
from headbench.calc.pistons.clearances import ValveOverPiston, clearances_left, sunk_by, usual_minimum

MM = 1e-3
ACCEPT, BORDERLINE, NOT_MEASURED, REJECT = range(4)
CUT = Movement(depth=1.0 * MM)
CLAY = ValveOverPiston(minimum=2.0 * MM, clay=3.3 * MM)
# 60 degrees: half of what the head drops goes square to the pocket, twice as much in travel of the valve
LEANING = math.radians(60.0)


@pytest.mark.parametrize(
    ("valve", "after"),
    [
        (CLAY, 2.3),
        (replace(CLAY, crown="pocket", valve_angle=LEANING), 2.8),
        (replace(CLAY, clay=math.nan, dial=((0.0, 3.3 * MM),), valve_angle=LEANING), 1.3),
    ],
)
def test_a_flat_cut_takes_its_share_by_each_measure(valve: ValveOverPiston, after: float) -> None:
    (left,) = clearances_left([valve], CUT)
    assert left.after / MM == pytest.approx(after, rel=1e-9)


def test_a_sunk_valve_gives_back_what_it_sits_deeper() -> None:
    # a 60-degree seat sinks its valve by twice what was ground off it: 3.3 - 1.0 + 0.4
    ground = replace(CLAY, valve_angle=0.0, seat=Seat(ground=0.2 * MM, angle=LEANING))
    (left,) = clearances_left([ground], CUT)
    assert left.gained / MM == pytest.approx(0.4, rel=1e-9)
    assert left.after / MM == pytest.approx(2.7, rel=1e-9)


def test_clay_keeps_the_smallest_and_the_end_of_a_dials_run_proves_nothing() -> None:
    readings = ((-0.1, 3.0 * MM), (0.0, 3.5 * MM))
    clay, dial = clearances_left([CLAY, replace(CLAY, clay=math.nan, dial=readings, valve_angle=0.0)], Movement())
    assert (clay.bracketed, clay.verdict) == (True, ACCEPT)
    assert (dial.bracketed, dial.verdict) == (False, NOT_MEASURED)


def test_readings_too_far_apart_prove_nothing() -> None:
    apart = math.radians(40.0)
    readings = ((-apart, 4.0 * MM), (0.0, 3.0 * MM), (apart, 4.0 * MM))
    (left,) = clearances_left([replace(CLAY, clay=math.nan, dial=readings, valve_angle=0.0)], Movement())
    assert (left.bracketed, left.far_apart, left.verdict) == (True, True, NOT_MEASURED)


def test_a_timing_that_has_moved_leaves_nothing_accepted_and_a_miss_rejected() -> None:
    near = replace(CLAY, clay=2.9 * MM)
    assert [left.verdict for left in clearances_left([CLAY, near], CUT, timing_moved=True)] == [NOT_MEASURED, REJECT]


def test_an_angle_cut_asks_for_the_valve_and_a_flat_one_over_a_flat_crown_does_not() -> None:
    placed = replace(CLAY, distance_across=0.05)
    (flat,), (wedge,) = (clearances_left([placed], cut) for cut in (CUT, Movement(depth=1.0 * MM, slope=0.01)))
    assert not flat.needs_angle
    assert wedge.needs_angle
    assert math.isnan(wedge.after)


def test_an_angle_cut_dips_the_lowest_edge_of_the_valve() -> None:
    # by hand, inches: 0.047455 at 4.0; radius 1.01 and sin 16 - sin 15 = 0.016818 dip another 0.016986
    tilt = math.tan(math.radians(1.0))
    valve = ValveOverPiston(
        minimum=0.0, clay=0.130, valve_angle=math.radians(15.0), lean=1.0, head_diameter=2.02, distance_across=4.0
    )
    (left,) = clearances_left([valve], Movement(depth=0.030, place=3.0, slope=tilt))
    assert left.lost == pytest.approx(0.064441, abs=2e-6)
    assert math.degrees(left.angle_after) == pytest.approx(16.0, rel=1e-9)


def test_aluminum_rods_ask_for_more_than_is_usual() -> None:
    # 0.080 and 0.100 in: from memory
    assert usual_minimum("intake", None) / 0.0254 == pytest.approx(0.080, rel=1e-12)
    assert usual_minimum("exhaust", "steel") / 0.0254 == pytest.approx(0.100, rel=1e-12)
    assert usual_minimum("exhaust", "aluminum") > usual_minimum("exhaust", "steel")


def test_a_seat_that_was_not_touched_sinks_no_valve_however_little_is_known_of_it() -> None:
    assert sunk_by(Seat(), math.nan, math.nan).chamber_volume == 0.0
    # a disc of 50 mm by 0.5 mm: 0.9817 cm3
    assert sunk_by(Seat(sink=0.5 * MM), 0.050, 0.0).chamber_volume * 1e6 == pytest.approx(0.9817, abs=5e-5)
