from __future__ import annotations

import math

import pytest

from headbench.calc.judging.grid import GRID
from headbench.calc.stems.stems import Stem, work_stems

INCH = 0.0254
NAN = math.nan


def stem(height: float, maximum: float = 0.010, **readings: float) -> Stem:
    lengths = {name: value if name == "seat_angle" else value * INCH for name, value in readings.items()}
    return Stem(height * INCH, maximum * INCH, **lengths)


def test_a_seat_is_cut_by_the_cosine_of_its_angle() -> None:
    stems = [stem(1.900, 0.0, sink_left=0.01, seat_angle=math.radians(30.0)), stem(1.904, 0.0)]
    worked = work_stems(stems, 0.0)
    # 0.004 x cos 30 = 0.0034641016
    assert worked.after[0].seat_cut / INCH == pytest.approx(0.0034641016, abs=1e-9)
    assert worked.after[0].height / INCH == pytest.approx(1.904)
    assert worked.proven


def test_the_window_is_that_of_the_plan() -> None:
    # tips alone do it: the lowest stays, and what stands 0.006 over its window comes down to its top
    worked = work_stems([stem(1.900), stem(1.908)], 0.002 * INCH)
    assert worked.low / INCH == pytest.approx(1.900)
    assert worked.high / INCH == pytest.approx(1.902)


def test_what_is_off_a_tip_adds_up_and_its_groove_comes_nearer() -> None:
    worked = work_stems([stem(1.900), stem(1.903, tip_ground=0.004, groove_to_tip=0.110)], 0.0)
    assert worked.after[1].tip_ground / INCH == pytest.approx(0.007)
    assert worked.after[1].groove_to_tip / INCH == pytest.approx(0.107)


def test_a_stem_unread_leaves_the_others_worked_and_nothing_proven() -> None:
    worked = work_stems([stem(1.900), stem(NAN), stem(1.906)], 0.0)
    assert worked.after[2].tip_grind / INCH == pytest.approx(0.006)
    assert math.isnan(worked.after[1].tip_grind)
    assert math.isnan(worked.after[1].height)
    assert not worked.proven


def test_no_stem_read_is_no_number() -> None:
    worked = work_stems([stem(NAN)], 0.0)
    assert math.isnan(worked.low)
    assert math.isnan(worked.spread)
    assert not worked.proven


@pytest.mark.parametrize("unread", [{"tip_ground": NAN}, {"groove_minimum": 0.060}])
def test_a_plan_that_grinds_a_tip_of_unknown_depth_is_not_proven_and_one_that_leaves_it_is(
    unread: dict[str, float],
) -> None:
    assert not work_stems([stem(1.900), stem(1.906, **unread)], 0.0).proven
    assert work_stems([stem(1.900, **unread), stem(1.906)], 0.0).proven


def test_readings_that_contradict_prove_nothing() -> None:
    stems = [stem(height, installed_height=1.7) for height in (1.900, 1.900, 1.920)]
    worked = work_stems(stems, 0.0)
    assert worked.misread == [2]
    assert not worked.proven


def test_readings_that_cannot_be_compared_for_want_of_one_prove_nothing() -> None:
    stems = [stem(1.900, installed_height=1.7), stem(1.900, installed_height=1.7, tip_ground=NAN)]
    assert not work_stems(stems, 0.0).proven


def test_a_stem_that_could_be_cut_further_is_not_what_holds_the_others_apart() -> None:
    # 1.930 comes down to 1.920, 1.900 stays: 1.925 stops there too, with 0.005 of its tip left
    worked = work_stems([stem(1.900), stem(1.930), stem(1.925)], 0.010 * INCH)
    assert [one.stuck for one in worked.after] == [True, True, False]
    assert worked.spread / INCH == pytest.approx(0.020)


def test_a_stem_that_was_sunk_as_far_as_it_may_holds_the_others_apart() -> None:
    worked = work_stems([stem(1.900, 0.0, sink_left=0.004), stem(1.910, 0.0)], 0.0)
    assert worked.after[0].height / INCH == pytest.approx(1.904)
    assert [one.stuck for one in worked.after] == [True, True]


def test_a_tip_with_a_nanometer_left_is_not_at_its_end() -> None:
    worked = work_stems([stem(1.900), Stem(1.902 * INCH, GRID)], 0.002 * INCH)
    assert worked.after[1].tip_grind == 0.0
    assert not worked.after[1].stuck
